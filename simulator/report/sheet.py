"""The sheet: picture, enlarged target, verdict and reasons on one page."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.judge.explanation import density_note, main_limits, why_marginal
from simulator.judge.lighting import Contribution
from simulator.judge.result import RemedyRow, TargetBrief, Verdict
from simulator.report.fitting import Fitted, fit_text
from simulator.report.inks import INK, PAPER, RULE, SOFT, WORD_COLOURS
from simulator.report.limits_block import draw_limits
from simulator.report.pictures import origin_text, target_window
from simulator.report.wording import (
    capital,
    decibels,
    entry,
    f_number,
    percent,
    percent_range,
    pictures,
    shutter,
    snr,
    three_digits,
)
from simulator.report.wording.verdict import remedy_lines, said, shown_word, size_words
from simulator.studies.survey.site import PART

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_IN, HEIGHT_IN, DPI = 14.0, 9.9, 120
FRAME_COLUMNS = 1150
MAX_LIGHT_ROWS = 5
MAX_TARGET_ROWS = 4
LIMITS_FROM, LIMITS_TO = 0.155, 0.484
"""Where the limits end and begin, as shares of the sheet's height."""
FIXES = 0.1
"""Height that remedies take from the limits, as a share of the sheet's."""
FOOTER_LINES = 9
"""More lines of assumptions or cautions are set smaller."""
LEFT_IN, RIGHT_IN, GAP_IN = 8.55, 4.3, 0.3
"""Widths of the two blocks of the heading and of the gap between them."""
HEADING_IN = 0.97
HEADING_SIZES = (
    (17, 12, 10.5, 1, 1), (14, 11, 10, 1, 2), (13, 9.5, 10, 2, 2), (12, 8.2, 9.5, 2, 3),
    (10.5, 7.5, 9, 2, 3), (8.5, 6.5, 8, 2, 3), (7, 5, 7, 2, 4),
)  # fmt: skip
"""Sizes [pt] of title, question and camera, and lines of title and question, largest first."""


def draw_sheet(
    path: Path,
    verdict: Verdict,
    frame: NDArray[np.uint8],
    target: NDArray[np.uint8],
    lights: list[Contribution],
    camera_title: str,
) -> None:
    """Write the sheet as a PNG."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), dpi=DPI, facecolor=PAPER)
    _heading(figure, verdict, camera_title)
    _picture(figure.add_axes((0.03, 0.425, 0.575, 0.455)), verdict, frame)
    _target(figure.add_axes((0.635, 0.69, 0.335, 0.19)), verdict, target)
    _probability(figure.add_axes((0.645, 0.593, 0.315, 0.026)), verdict)
    _marginal(figure, verdict)
    _figures(figure.add_axes((0.03, 0.165, 0.27, 0.225)), verdict)
    middle = figure.add_axes((0.335, 0.165, 0.27, 0.225))
    _lights(middle, lights)
    _others(middle, verdict)
    high = LIMITS_TO if verdict.verdict == "marginal" else LIMITS_TO + 0.036
    low = LIMITS_FROM + (FIXES if verdict.remedies else 0.0)
    draw_limits(figure, verdict, (0.635, low, 0.335, high - low))
    _fixing(figure, verdict)
    _footer(figure, verdict)
    figure.savefig(path, dpi=DPI, metadata=origin_text(verdict))


def _fixing(figure: Figure, verdict: Verdict) -> None:
    """What would fix it, below the limits."""
    if not verdict.remedies:
        return
    figure.text(
        0.635, 0.243, "How to fix it, and the pictures that succeed then", size=10.5, weight="bold",
        color=INK, va="top",
    )  # fmt: skip
    y, count = 0.219, 0
    reaching = [row for row in verdict.remedies if row.reaches]
    for line in remedy_lines(verdict, 3):
        fitted = fit_text(line, 0.325 * WIDTH_IN, (8.5, 8.0, 7.5), 2)
        bottom = y - fitted.height_in / HEIGHT_IN
        if bottom < 0.133 and count:
            break
        figure.text(
            0.635, y, fitted.text, size=fitted.size, color=INK, va="top", linespacing=1.2
        )  # fmt: skip
        y, count = bottom - 0.001, count + 1
        effects = _effects(reaching[count - 1]) if count <= len(reaching) else None
        if effects and y - effects.height_in / HEIGHT_IN > 0.137:
            figure.text(
                0.635, y, effects.text, size=effects.size, color=SOFT, va="top", linespacing=1.15
            )  # fmt: skip
            y -= effects.height_in / HEIGHT_IN
        y -= 0.004


def _effects(remedy: RemedyRow) -> Fitted | None:
    """What else a remedy changes, as much of it as two lines hold; None if nothing does."""
    kept: Fitted | None = None
    told: list[str] = []
    for text in remedy.side_effects:
        told.append(text)
        fitted = fit_text(f"Side effects: {'; '.join(told)}", 0.325 * WIDTH_IN, (7.5, 7.0), 2)
        if not fitted.fits:
            break
        kept = fitted
    return kept


def _heading(figure: Figure, verdict: Verdict, camera_title: str) -> None:
    y = 0.985
    styles = (("bold", "normal", INK), ("normal", "italic", INK), ("normal", "normal", SOFT))
    for part, (weight, style, colour) in zip(
        _left_block(verdict.title, verdict.question, camera_title), styles, strict=True
    ):
        figure.text(
            0.03, y, part.text, size=part.size, weight=weight, style=style, color=colour,
            va="top", linespacing=1.15,
        )  # fmt: skip
        y -= part.height_in / HEIGHT_IN
    word = shown_word(verdict.verdict, verdict.task.name).upper()
    fitted = fit_text(word, RIGHT_IN, (21, 19, 17), 1, bold=True)
    figure.text(
        0.97, 0.955, word, size=fitted.size, weight="bold", ha="right", va="center",
        color=WORD_COLOURS[verdict.verdict],
    )  # fmt: skip
    done = capital(entry("task", verdict.task.name)["done"])
    text = f"{done} in {pictures(verdict.probability, verdict.task.wanted_probability)}"
    limits = main_limits(verdict)
    if limits:
        text += f"; main limit: {limits[0].factor}"
    fitted = fit_text(text, RIGHT_IN, (11.5, 10.5, 9.5, 8.5), 1)
    figure.text(0.97, 0.915, fitted.text, size=fitted.size, ha="right", va="center", color=INK)


def _left_block(title: str, question: str, camera: str) -> list[Fitted]:
    """Title, question and camera in the largest sizes at which they fit together."""
    for t, q, c, title_lines, question_lines in HEADING_SIZES:
        parts = [
            fit_text(title, LEFT_IN, (t,), title_lines, bold=True),
            fit_text(question, LEFT_IN, (q,), question_lines),
            fit_text(camera, LEFT_IN, (c,), 1),
        ]
        if all(p.fits for p in parts) and sum(p.height_in for p in parts) <= HEADING_IN:
            break
    return parts


def _picture(axes: Axes, verdict: Verdict, frame: NDArray[np.uint8]) -> None:
    from matplotlib.patches import Rectangle

    height, width = frame.shape[:2]
    columns = min(width, FRAME_COLUMNS)
    rows = round(height * columns / width)
    shown = frame
    if columns < width:
        shown = cv2.resize(frame, (columns, rows), interpolation=cv2.INTER_AREA)
    axes.imshow(shown, extent=(0, width, height, 0), interpolation="nearest")
    x0, y0, x1, y1 = target_window(verdict.target.box_px, (height, width))
    axes.add_patch(
        Rectangle((x0, y0), x1 - x0, y1 - y0, fill=False, edgecolor="#f4d35e", linewidth=1.4)
    )
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_anchor("NW")
    field = verdict.geometry.field_width_m
    axes.set_xlabel(
        f"predicted picture, {width} x {height} px, {field:.1f} m wide at the target",
        size=9, color=SOFT, loc="left",
    )  # fmt: skip
    _frame_off(axes)


def _target(axes: Axes, verdict: Verdict, target: NDArray[np.uint8]) -> None:
    axes.imshow(target, interpolation="nearest")
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_anchor("N")
    text = f"the target, pixel by pixel; {size_words(verdict.target)}"
    fitted = fit_text(text, 0.335 * WIDTH_IN, (9, 8.5, 8), 1)
    axes.set_xlabel(fitted.text, size=fitted.size, color=SOFT)
    _frame_off(axes)


def _probability(axes: Axes, verdict: Verdict) -> None:
    low, high = verdict.probability_low, verdict.probability_high
    value, wanted = verdict.probability, verdict.task.wanted_probability
    colour = WORD_COLOURS[verdict.verdict]
    axes.barh([0], [1.0], color="#eceff2", height=1.0)
    axes.barh([0], [value], color=colour, height=1.0)
    axes.plot([low, high], [0, 0], color=INK, linewidth=2.0, solid_capstyle="butt")
    axes.plot([wanted, wanted], [-0.9, 0.9], color=INK, linewidth=1.6)
    axes.text(
        wanted, 1.15, f"target {percent(wanted)}", ha="center", va="bottom", size=9, color=INK
    )
    axes.set_xlim(0, 1)
    axes.set_ylim(-0.9, 0.9)
    axes.set_yticks([])
    axes.set_xticks([0, 0.25, 0.5, 0.75, 1], ["0", "25", "50", "75", "100 %"])
    axes.tick_params(labelsize=8.5, colors=SOFT, length=3)
    of = "95 % interval of" if verdict.task.name == "read" else "spread over"
    what = "trials" if verdict.task.name == "read" else "pictures"
    spread = f"{of} {verdict.trials} {what}"
    if verdict.tolerance_draws:
        spread += ", tolerances included"
    axes.set_xlabel(
        f"{entry('task', verdict.task.name)['fact']} in {pictures(value, wanted)}\n"
        f"({spread}: {percent_range(low, high, wanted)})",
        size=9, color=INK,
    )  # fmt: skip
    _frame_off(axes)


def _marginal(figure: Figure, verdict: Verdict) -> None:
    """Why the verdict is marginal and what would settle it, below the probability."""
    why = why_marginal(verdict)
    if why is None:
        return
    text = " ".join(said(why, verdict.messages.to_settle))
    fitted = fit_text(text, 0.33 * WIDTH_IN, (8.0, 7.5, 7.0), 2)
    if not fitted.fits:
        fitted = fit_text(text, 0.33 * WIDTH_IN, (7.5, 7.0, 6.5), 3)
    figure.text(
        0.635, 0.532, fitted.text, size=fitted.size, color=INK, va="top", linespacing=1.15
    )  # fmt: skip


def _figures(axes: Axes, verdict: Verdict) -> None:
    e, g, s = verdict.exposure, verdict.geometry, verdict.signal
    light = f"{three_digits(s.illuminance_lux)} lx"
    if s.irradiance_w_m2 > 0.0:
        light += f", {s.irradiance_w_m2:.2g} W/m$^2$ infrared"
    kept = verdict.target.drawing_kept
    left = ("Modulation", f"{s.modulation:.2f}")
    if kept is not None:
        left = ("Detail of the face kept", percent(kept))
    rows = [
        ("Mode, shutter, gain", f"{e.mode}, {shutter(e.shutter_s)}, {decibels(e.gain_db)}"),
        ("Iris; limited by", f"{f_number(e.f_number)}; {e.limited_by}"),
        ("Distance", f"{g.distance_m:.1f} m"),
        ("Pixel density", f"{g.pixels_per_m:.0f} px/m: {g.density_class}"),
        ("  usable after blur", f"{s.effective_pixels_per_m:.0f} px/m"),
        ("Light on the target", light),
        ("Electrons, light / dark", f"{s.electrons_light:.0f} / {s.electrons_dark:.0f}"),
        ("Signal to noise", snr(s.snr_db)),
        left,
        ("Clipped to white", percent(s.clipped_fraction)),
        ("Motion blur", f"{s.motion_blur_px:.1f} px"),
    ]
    _table(axes, "The target in figures", rows, 0.46)
    both = f"class: {g.density_edition}; {g.density_class_2025} after the 2025 edition"
    axes.text(0.0, 0.035, both, size=7.5, color=SOFT, va="top")
    for note in said(density_note(verdict)):
        fitted = fit_text(note, 0.575 * WIDTH_IN, (7.5, 7.0), 1)
        axes.text(0.0, -0.02, fitted.text, size=fitted.size, color=INK, va="top")


def _lights(axes: Axes, lights: list[Contribution]) -> None:
    total = sum(row.electrons_per_s for row in lights) or 1.0
    shown = _shining(lights)[:MAX_LIGHT_ROWS]
    rows = []
    for row in shown:
        value, unit = row.quantity
        share = 100 * row.electrons_per_s / total
        rows.append((_shortened(row.name, 1.85), f"{three_digits(value)} {unit}, {share:.0f} %"))
    _table(axes, "What lights the target; share of the signal", rows, 0.52)


def _shining(lights: list[Contribution]) -> list[Contribution]:
    """Lights that give signal, the strongest first; the parts of an opening as one row."""
    out: dict[str, Contribution] = {}
    for row in lights:
        name = row.name.split(PART)[0]
        key = name if PART in row.name else f"{row.light} {name}"
        out[key] = row._replace(name=name) if key not in out else out[key].with_part(row)
    every = [row for row in out.values() if row.electrons_per_s > 0.0]
    return sorted(every, key=lambda row: -row.electrons_per_s)


def _others(axes: Axes, verdict: Verdict) -> None:
    """The scene's other targets, below the lights."""
    others = [row for row in verdict.targets if row.name != verdict.target.name]
    if not others:
        return
    shown = others[: MAX_TARGET_ROWS if len(others) <= MAX_TARGET_ROWS else MAX_TARGET_ROWS - 1]
    rows = [(_shortened(row.name, 1.65), _other(row)) for row in shown]
    if len(shown) < len(others):
        rows.append((f"and {len(others) - len(shown)} more", "in the result file"))
    _table(axes, "The other targets: density, level of 255", rows, 0.46, top=0.44)


def _other(row: TargetBrief) -> str:
    if row.box_px is None:
        return "not visible"
    text = f"{row.pixels_per_m:.0f} px/m, level {row.mean_level:.0f}"
    if row.probability is not None:
        text += f", read in {percent(row.probability)}"
    return text


def _shortened(text: str, width_in: float) -> str:
    """A name cut to a width at the size of the tables."""
    if fit_text(text, width_in, (9,), 1).fits:
        return text
    keep = len(text)
    while keep > 1 and not fit_text(text[:keep] + "...", width_in, (9,), 1).fits:
        keep -= 1
    return text[:keep] + "..."


def _table(
    axes: Axes, title: str, rows: list[tuple[str, str]], split: float, top: float = 1.0
) -> None:
    axes.axis("off")
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    axes.text(0.0, top, title, size=10.5, weight="bold", color=INK, va="top")
    step = 0.078
    for i, (label, value) in enumerate(rows):
        y = top - 0.115 - i * step
        axes.plot([0, 1], [y + 0.028, y + 0.028], color=RULE, linewidth=0.6)
        axes.text(0.0, y - 0.01, label, size=9, color=SOFT, va="center")
        axes.text(split, y - 0.01, value, size=9, color=INK, va="center")


def _frame_off(axes: Axes) -> None:
    for spine in axes.spines.values():
        spine.set_visible(False)


def _footer(figure: Figure, verdict: Verdict) -> None:
    for x, title, sentences, width in (
        (0.03, "Assumed", verdict.conditions, 128),
        (0.52, "Take care", verdict.cautions, 120),
    ):
        lines: list[str] = []
        for sentence in sentences:
            lines += textwrap.wrap(sentence, width, subsequent_indent="  ")
        size = 7.0 * min(1.0, FOOTER_LINES / max(1, len(lines)))
        figure.text(x, 0.136, title, size=8.5, weight="bold", color=INK, va="center")
        figure.text(x, 0.126, "\n".join(lines), size=size, color=SOFT, va="top", linespacing=1.25)
    origin = origin_text(verdict)
    figure.text(
        0.97, 0.006, f"{origin['Software']}; {origin['Comment'].split('; nightproof')[0]}",
        size=6.5, color=SOFT, ha="right", va="bottom",
    )  # fmt: skip
