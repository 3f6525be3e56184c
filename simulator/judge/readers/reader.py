"""What every reader of texts offers, and how answers are laid beside the truth."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from simulator.judge.readers.shapes import design_shapes
from simulator.judge.target import JudgedText
from simulator.messages import Message

if TYPE_CHECKING:
    from simulator.judge.readers.quick_estimate import QuickEstimate
    from simulator.judge.readers.template_reader import TemplateReader

NOTHING = -1
"""Stands for a character that was not read, or beside which one was read that is not there."""


class Reader(Protocol):
    """Reads delivered pictures; `assumption` is for the list of what was assumed."""

    @property
    def name(self) -> str:
        """Short name, as a scene file may give it."""

    @property
    def assumption(self) -> Message:
        """Who reads, and how that is known."""

    @property
    def quick(self) -> QuickEstimate:
        """How often it reads, from a few pictures, without reading: for searches."""

    @property
    def estimate(self) -> TemplateReader:
        """The template reader that stands in for this reader in the frames of a pass."""

    @property
    def most_pictures(self) -> int | None:
        """Pictures that it can be given in reasonable time; None for any number."""

    def symbols(
        self,
        pictures: NDArray[np.uint8],
        target: JudgedText,
        origin_px: tuple[float, float],
        *,
        seed: int,
        first: int = 0,
        shared_seed: int | None = None,
    ) -> NDArray[np.int64]:
        """What each character is taken for, (pictures, characters).

        Parameters
        ----------
        pictures
            Eight-bit pictures (n, rows, columns, 3) of the target's part of the frame.
        target
            The text as it lies in the whole picture.
        origin_px
            Left and top of the pictures in the whole picture, with part of a pixel.
        seed, first
            Steer noise of the reader's own, with the number of the first picture.
        shared_seed
            Steers the part of it that other pictures of the same pass share.

        Returns
        -------
        Numbers of symbols as in `shapes.symbol_numbers`; `NOTHING` where none fits.
        """


def laid_beside(answer: Sequence[int], truth: Sequence[int]) -> list[int]:
    """What each true symbol was read as, by the alignment with fewest changes.

    Levenshtein's distance (1966, from memory) with its path. A symbol that was left out counts as
    `NOTHING`, and so does the neighbour of one that was read where there is none, so that only the
    whole text read right gives the truth.

    Examples
    --------
    >>> laid_beside([4, 2, 7], [4, 5, 7])
    [4, 2, 7]
    >>> laid_beside([4, 7], [4, 5, 7])
    [4, -1, 7]
    >>> laid_beside([4, 5, 9, 7], [4, 5, 7])
    [4, -1, 7]
    """
    n, m = len(truth), len(answer)
    cost = np.zeros((n + 1, m + 1), np.int64)
    cost[:, 0], cost[0] = np.arange(n + 1), np.arange(m + 1)
    for i in range(1, n + 1):
        for k in range(1, m + 1):
            differs = int(truth[i - 1] != answer[k - 1])
            cost[i, k] = min(cost[i - 1, k - 1] + differs, cost[i - 1, k] + 1, cost[i, k - 1] + 1)
    out = [NOTHING] * n
    spoiled = []
    i, k = n, m
    while i > 0 or k > 0:
        if i > 0 and k > 0:
            differs = int(truth[i - 1] != answer[k - 1])
            if cost[i, k] == cost[i - 1, k - 1] + differs:
                i, k = i - 1, k - 1
                out[i] = int(answer[k])
                continue
        if k > 0 and cost[i, k] == cost[i, k - 1] + 1:
            k -= 1
            spoiled.append(max(0, i - 1))
        else:
            i -= 1
    for place in spoiled:
        out[place] = NOTHING
    return out


def true_symbols(target: JudgedText) -> NDArray[np.int64]:
    """Symbols (characters,) that stand there."""
    shapes = design_shapes(target.design)
    text = "".join(cell.character for cell in target.cells)
    return np.asarray(shapes.symbols[shapes.indices(text)])
