"""The part of the sheet that tells what limits the task: shares, figures and a sentence each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from simulator.judge.explanation import cost_explained, helpers, main_limits, no_single_fix
from simulator.judge.result import Limit, Verdict
from simulator.report.fitting import Fitted, fit_text
from simulator.report.inks import BAR, INK, RULE, SOFT, WORD_COLOURS
from simulator.report.wording import capital, entry
from simulator.report.wording.verdict import costs_listed, limit_effect, said

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

TITLE_IN, HEAD_IN, NAME_IN, GAP_IN = 0.2, 0.28, 0.17, 0.05
"""Heights of the title, of the heads of the columns, of a row's first line and of the gap below."""
BAR_FROM, BAR_TO = 0.27, 0.60
"""Where the bars of no and of all pictures end, as shares of the width."""
COLUMNS = (0.80, 1.0)
"""Right ends of the two probabilities."""
HEADS = (
    (BAR_FROM, "left", "costs, %\nof pictures"),
    (0.80, "right", "P if fixed\nalone"),
    (1.0, "right", "P if all else\nis fixed"),
)
SIZE_PT, WORDS_PT, NOTE_PT = 9.0, 8.0, 7.5


def draw_limits(figure: Figure, verdict: Verdict, box: tuple[float, float, float, float]) -> None:
    """Draw the limits that have a share worth a word, as many as fit, the first on top.

    Parameters
    ----------
    box
        Left, bottom, width and height, as shares of the figure.
    """
    axes = figure.add_axes(box)
    wide, high = (
        size * share for size, share in zip(figure.get_size_inches(), box[2:], strict=True)
    )
    axes.set_xlim(0, 1)
    axes.set_ylim(high, 0)
    axes.axis("off")
    axes.text(0, 0, "What limits it", size=10.5, weight="bold", color=INK, va="top")
    rows = main_limits(verdict)
    if not rows:
        axes.text(0, TITLE_IN, _nothing(verdict), size=9.5, color=INK, va="top")
        return
    for x, side, head in HEADS:
        axes.text(
            x, TITLE_IN + HEAD_IN - 0.05, head, size=NOTE_PT, color=SOFT, ha=side, va="bottom",
            linespacing=1.1,
        )  # fmt: skip
    y, shown = TITLE_IN + HEAD_IN, 0
    room = high - fit_text(_notes(verdict, rows[1:]), 0.98 * wide, (NOTE_PT, 7.0), 4).height_in
    for k, row in enumerate(rows):
        words = fit_text(_words(row, verdict), 0.99 * wide, (WORDS_PT, 7.5), 1)
        if not words.fits:
            words = fit_text(_words(row, verdict), 0.98 * wide, (WORDS_PT, 7.5), 2)
        below = y + NAME_IN + words.height_in + GAP_IN
        if below > room and k:
            break
        _row(axes, row, words, y, WORD_COLOURS[verdict.verdict] if k == 0 else BAR)
        y, shown = below, k + 1
    notes = fit_text(_notes(verdict, rows[shown:]), 0.98 * wide, (NOTE_PT, 7.0), 4)
    axes.text(0, y, notes.text, size=notes.size, color=SOFT, va="top", linespacing=1.25)


def _row(axes: Axes, row: Limit, words: Fitted, y: float, colour: str) -> None:
    axes.plot([0, 1], [y - 0.02, y - 0.02], color=RULE, linewidth=0.6)
    middle = y + NAME_IN / 2.0
    end = BAR_FROM + (BAR_TO - BAR_FROM) * min(1.0, row.share)
    axes.barh([middle], [end - BAR_FROM], left=BAR_FROM, height=0.11, color=colour)
    axes.text(0, middle, row.factor, size=SIZE_PT, color=INK, va="center")
    axes.text(
        end + 0.01, middle, f"{100 * row.share:.0f}", size=WORDS_PT, color=INK, va="center"
    )  # fmt: skip
    for x, value in zip(COLUMNS, (row.probability_without, row.probability_only), strict=True):
        axes.text(
            x, middle, f"{value:.2f}", size=SIZE_PT, color=INK, ha="right", va="center"
        )  # fmt: skip
    axes.text(
        0, y + NAME_IN, words.text, size=words.size, color=SOFT, va="top", linespacing=1.2
    )  # fmt: skip


def _words(row: Limit, verdict: Verdict) -> str:
    return capital(limit_effect(row, verdict.probability))


def _notes(verdict: Verdict, left_out: Sequence[Limit]) -> str:
    less = [f"Less: {costs_listed(left_out)}."] if left_out else []
    single = None if verdict.remedies else no_single_fix(verdict.limits)
    return " ".join([*less, *said(single, helpers(verdict), cost_explained(verdict))])


def _nothing(verdict: Verdict) -> str:
    return str(entry("cost", "none-known" if verdict.limits else "nothing-to-fix"))
