"""A probability drawn as a bar from 0 to 100 %, with its interval and the target."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.judge.result import Verdict
from simulator.report.fitting import POINTS_PER_IN, text_width_pt
from simulator.report.flow import SMALL_PT, Box, Page, line_in
from simulator.report.inks import INK, SOFT, TRACK, WORD_COLOURS
from simulator.report.wording import percent

BAR_IN, OVER_IN = 0.13, 0.04
"""Height of the bar, and how far the target's line stands out."""


@dataclass(frozen=True)
class Scale:
    """The bar; `named` writes the target and the ends of the scale beside it."""

    value: float
    low: float
    high: float
    target: float
    colour: str
    named: bool = True
    keep: bool = False

    @classmethod
    def of(cls, verdict: Verdict, *, named: bool = True) -> Scale:
        """The probability of a verdict."""
        return cls(
            verdict.probability, verdict.probability_low, verdict.probability_high,
            verdict.task.wanted_probability, WORD_COLOURS[verdict.verdict], named,
        )  # fmt: skip

    def height(self, width: float) -> float:
        """The bar, and the lines above and below it."""
        lines = 2.0 * line_in(SMALL_PT) if self.named else 0.0
        return lines + BAR_IN + 2.0 * OVER_IN

    def draw(self, page: Page, x: float, y: float, width: float) -> None:
        """Draw it."""
        top = y + OVER_IN + (line_in(SMALL_PT) if self.named else 0.0)
        page.rectangle(Box(x, top, width, BAR_IN), TRACK)
        page.rectangle(Box(x, top, self.value * width, BAR_IN), self.colour)
        middle = top + BAR_IN / 2.0
        page.line(x + self.low * width, middle, x + self.high * width, middle, INK, 1.8)
        at = x + self.target * width
        page.line(at, top - OVER_IN, at, top + BAR_IN + OVER_IN, INK, 1.6)
        if not self.named:
            return
        name = f"target {percent(self.target)}"
        half = text_width_pt(name) * SMALL_PT / 100.0 / POINTS_PER_IN / 2.0
        beside = min(max(at, x + half), x + width - half)
        page.text(beside, y, name, SMALL_PT, align="center")
        below = top + BAR_IN + OVER_IN
        page.text(x, below, "0", SMALL_PT, colour=SOFT)
        page.text(x + width, below, "100 %", SMALL_PT, colour=SOFT, align="right")
