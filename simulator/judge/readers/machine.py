"""The machine: the installed text recogniser reads every picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.judge.readers.lines import text_lines
from simulator.judge.readers.quick_estimate import QuickEstimate
from simulator.judge.readers.reader import laid_beside, true_symbols
from simulator.judge.readers.recogniser import read_lines
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.readers.template_reader import TemplateReader
from simulator.judge.silhouette import luma_levels
from simulator.judge.target import JudgedText
from simulator.messages import Message


@dataclass(frozen=True)
class Recogniser:
    """A real text recogniser; of its answers to each line the surest counts.

    `estimate` is the template reader that stands in for it in the frames of a pass.
    """

    name: str
    assumption: Message
    estimate: TemplateReader
    most_pictures: int | None = None

    @property
    def quick(self) -> QuickEstimate:
        """The estimate that was fitted to it."""
        return self.estimate.quick

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
        """As `Reader.symbols`; it has no noise of its own, and no seed steers it."""
        shapes, truth = design_shapes(target.design), true_symbols(target)
        luma = luma_levels(pictures)
        out = np.empty((len(pictures), len(truth)), np.int64)
        for line in text_lines(target.cells_px - np.asarray(origin_px)):
            answers = read_lines(luma, line, shapes.alphabet, shapes.symbols)
            for n, read in enumerate(answers):
                surest = max(read, key=lambda answer: answer.confidence)
                out[n, line.cells] = laid_beside(surest.symbols, truth[line.cells].tolist())
        return out
