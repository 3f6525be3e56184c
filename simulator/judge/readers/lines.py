"""Lines of text as they lie in a picture: what a reader of whole lines is given."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.units import FloatArray

BESIDE = 0.5
"""A character stands beside another if it is less than this share of its height higher or lower."""


@dataclass(frozen=True, eq=False)
class TextLine:
    """One line of characters.

    `cells` are the places of its characters in the text; `to_heights` (3, 3) takes pixels of the
    picture to the straightened line, in character heights from its upper left; `aspect` is its
    length in heights, `height_px` the mean height of its characters.
    """

    cells: NDArray[np.int64]
    to_heights: FloatArray
    aspect: float
    height_px: float


def text_lines(cells_px: FloatArray) -> list[TextLine]:
    """Lines of a text whose characters (n, 4, 2) stand in the order of reading [px].

    A new line begins where a character does not stand beside the one before it.
    """
    down = cells_px[:, 3] - cells_px[:, 0]
    across = cells_px[:, 1] - cells_px[:, 0]
    starts = [0]
    for n in range(1, len(cells_px)):
        moved = cells_px[n, 0] - cells_px[n - 1, 0]
        along, below = np.linalg.solve(np.stack([across[n - 1], down[n - 1]], axis=1), moved)
        if along < 0.0 or abs(below) > BESIDE:
            starts.append(n)
    ends = [*starts[1:], len(cells_px)]
    return [_line(cells_px, np.arange(a, b)) for a, b in zip(starts, ends, strict=True)]


def _line(cells_px: FloatArray, cells: NDArray[np.int64]) -> TextLine:
    some = cells_px[cells]
    corners = np.array([some[0, 0], some[-1, 1], some[-1, 2], some[0, 3]])
    high = float(np.linalg.norm(some[:, 3] - some[:, 0], axis=1).mean())
    edges = (corners[1] - corners[0], corners[2] - corners[3])
    aspect = float(np.mean([np.linalg.norm(edge) for edge in edges])) / high
    upright = np.array([[0, 0], [aspect, 0], [aspect, 1], [0, 1]], np.float32)
    move = cv2.getPerspectiveTransform(corners.astype(np.float32), upright)
    return TextLine(cells, np.asarray(move, dtype=np.float64), aspect, high)
