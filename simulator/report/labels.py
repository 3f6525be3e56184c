"""Labels of a drawing that keep clear of each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.report.fitting import POINTS_PER_IN, text_width_pt
from simulator.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes

GAP_PT, LINE_PT = 8.0, 12.0
SIDES = ((1, -1), (1, 1), (-1, 1), (-1, -1), (0, 1), (0, -1))
"""Where a label may stand from its place, the wanted one first: right below, right above, ..."""
FAR = 1e6


class Labels:
    """Places texts on axes whose limits are set, each where it covers least of what stands there.

    Boxes (n, 4) are left, low, right, high [pt] on the page.
    """

    def __init__(self, axes: Axes, paper: str) -> None:
        self.axes, self.paper = axes, paper
        self.scale = POINTS_PER_IN / axes.figure.dpi
        box = axes.get_window_extent()
        self.frame = np.array([box.x0, box.y0, box.x1, box.y1]) * self.scale
        self.taken: list[FloatArray] = []

    def _page(self, place: tuple[float, float]) -> FloatArray:
        return np.asarray(self.axes.transData.transform(place)) * self.scale

    def keep_clear(self, place: tuple[float, float], radius_pt: float = 5.0) -> None:
        """Nothing shall be written over this place."""
        x, y = self._page(place)
        self.taken.append(np.array([x - radius_pt, y - radius_pt, x + radius_pt, y + radius_pt]))

    def keep_line_clear(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Nothing shall be written over this line."""
        for share in np.linspace(0.0, 1.0, 60):
            place = tuple((1.0 - share) * np.array(start) + share * np.array(end))
            self.keep_clear((float(place[0]), float(place[1])), 1.0)

    def put(
        self,
        place: tuple[float, float],
        text: str,
        colour: str,
        *,
        size: float = 9.0,
        sides: tuple[tuple[int, int], ...] = SIDES,
    ) -> None:
        """Write a text beside a place; nothing outside the axes is named."""
        x, y = self._page(place)
        left, low, right, high = self.frame
        if not (left - 1 <= x <= right + 1 and low - 1 <= y <= high + 1):
            return
        width, height = text_width_pt(text) * size / 100.0 + 2.0, 1.3 * size
        best, least = (0.0, 0.0), np.inf
        for rank, (far, (sx, sy)) in enumerate((far, side) for far in (1, 2, 3) for side in sides):
            middle = np.array([
                x + sx * (GAP_PT + width / 2.0) if sx else x,
                y + sy * (LINE_PT * (far - 0.1)),
            ])  # fmt: skip
            half = np.array([width, height]) / 2.0
            box = np.concatenate([middle - half, middle + half])
            cost = 0.5 * rank + self._covered(box)
            if np.any(box[:2] < self.frame[:2]) or np.any(box[2:] > self.frame[2:]):
                cost += FAR
            if cost < least:
                best, least = (float(middle[0]), float(middle[1])), cost
                chosen = box
        self.taken.append(chosen)
        self.axes.annotate(
            text, (best[0] / self.scale, best[1] / self.scale), xycoords="figure pixels",
            size=size, color=colour, ha="center", va="center_baseline",
            bbox={"facecolor": self.paper, "edgecolor": "none", "alpha": 0.7, "pad": 0.6},
        )  # fmt: skip

    def _covered(self, box: FloatArray) -> float:
        """Area that a box shares with what stands there [pt2]."""
        if not self.taken:
            return 0.0
        taken = np.stack(self.taken)
        shared = np.minimum(taken[:, 2:], box[2:]) - np.maximum(taken[:, :2], box[:2])
        return float(np.prod(np.maximum(shared, 0.0), axis=1).sum())
