"""Figures of a lesson: the curve over what changes, and the strip of pictures."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.report.fitting import fit_text
from simulator.report.numbers import three_digits
from simulator.report.sheet import INK, PAPER, RULE, SOFT
from simulator.studies.lesson import PROBABILITY, Curve, Taken, Taught
from simulator.studies.quick import fitted

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DPI = 130
COLOURS = ("#1f5f8b", "#b5651d")
MARKS = ("o", "s")
FRAME_PX = (405, 720)
TARGET_PX = (300, 720)
COLUMNS = 3
ROOM = 0.3
WIDE = 2.0
"""Width over height of the part that shows a standing person."""


def target_part(taken: Taken) -> NDArray[np.uint8]:
    """The target with some room around it, in whole pixels of the camera (rows, columns, 3)."""
    frame = taken.seen.frame
    x0, y0, x1, y1 = taken.seen.box_px
    if y1 - y0 > x1 - x0:  # of a standing person the upper part, with what is beside it
        high = min(y1 - y0, round(1.1 * (x1 - x0)))
        side = max(0, round((high * WIDE - (x1 - x0)) / 2.0))
        x0, x1, y1 = x0 - side, x1 + side, y0 + high
    room = round(ROOM * min(x1 - x0, y1 - y0)) + 3
    return frame[max(0, y0 - room) : y1 + room, max(0, x0 - room) : x1 + room]


def small_frame(taken: Taken) -> NDArray[np.uint8]:
    """The whole picture, made smaller, with a thin frame around the target."""
    frame = taken.seen.frame
    scale = FRAME_PX[1] / frame.shape[1]
    size = (FRAME_PX[1], round(frame.shape[0] * scale))
    kind = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(frame, size, interpolation=kind), dtype=np.uint8)


def tile(taken: Taken, *, whole: bool) -> NDArray[np.uint8]:
    """Picture of one step: the whole frame above, the enlarged target below (rows, columns, 3)."""
    part = fitted(target_part(taken), *TARGET_PX)
    below = np.full((part.shape[0], FRAME_PX[1], 3), 255, np.uint8)
    left = (FRAME_PX[1] - part.shape[1]) // 2
    below[:, left : left + part.shape[1]] = part
    if not whole:
        return below
    gap = np.full((10, FRAME_PX[1], 3), 255, np.uint8)
    return np.concatenate([small_frame(taken), gap, below])


def draw_curve(path: Path, taught: Taught) -> None:
    """The lesson's curves over what changes, each with its own axis; bars where steps have names
    alone."""
    from matplotlib.figure import Figure

    lesson = taught.lesson
    figure = Figure(figsize=(8.6, 4.1), dpi=DPI, facecolor=PAPER)
    left = figure.add_axes((0.095, 0.155, 0.805, 0.72))
    right = left.twinx()
    if lesson.axis:
        x = np.array([t.step.value for t in taught.steps])
        if lesson.log:
            _log(left, x)
        left.set_xlabel(lesson.axis, size=9.5, color=INK)
    else:
        x = np.arange(len(taught.steps), dtype=float)
        left.set_xticks(x, [fit_text(t.step.label, 1.35, (9,), 2).text for t in taught.steps])
    for k, (panel, curve) in enumerate(zip((left, right), lesson.curves, strict=True)):
        _draw(panel, curve, x, taught, k)
    if lesson.curves[0].name == PROBABILITY:
        left.axhline(taught.wanted, color=INK, linewidth=1.0, linestyle=(0, (6, 3)))
        left.text(
            0.994, taught.wanted - 0.015, f"wanted {taught.wanted:.2f}", size=8.5, color=INK,
            ha="right", va="top", transform=left.get_yaxis_transform(),
        )  # fmt: skip
    left.grid(color=RULE, linewidth=0.6)
    title = fit_text(lesson.title, 7.9, (12, 11, 10), 1, bold=True)
    figure.text(0.02, 0.975, title.text, size=title.size, weight="bold", color=INK, va="top")
    figure.savefig(path, dpi=DPI, metadata={"Software": "nightproof", "Title": lesson.title})


def _draw(panel: Axes, curve: Curve, x: NDArray[Any], taught: Taught, k: int) -> None:
    y = np.array([curve.value(t) for t in taught.steps])
    if taught.lesson.axis:
        panel.plot(
            x, y, color=COLOURS[k], marker=MARKS[k], markersize=5, linewidth=1.8,
            linestyle=("-", "--")[k],
        )  # fmt: skip
    else:
        places = x + (-0.19, 0.19)[k]
        panel.bar(places, y, width=0.34, color=COLOURS[k], hatch=("", "//")[k], edgecolor=PAPER)
        for place, value in zip(places, y, strict=True):
            panel.annotate(
                f"{value:.0f}", (place, value), (0, 2), textcoords="offset points", ha="center",
                size=8.5, color=COLOURS[k],
            )  # fmt: skip
    panel.set_ylabel(curve.name, size=9.5, color=COLOURS[k])
    panel.tick_params(axis="y", labelsize=8.5, colors=COLOURS[k])
    panel.tick_params(axis="x", labelsize=8.5, colors=SOFT)
    if curve.log:
        panel.set_yscale("log")
        _plain(panel.yaxis)
    elif curve.top is not None:
        panel.set_ylim(-0.02 * curve.top * bool(taught.lesson.axis), 1.06 * curve.top)
    else:
        panel.set_ylim(0.0, 1.12 * float(y.max()) if y.max() > 0.0 else 1.0)


def _log(panel: Axes, x: NDArray[Any]) -> None:
    panel.set_xscale("log")
    panel.set_xticks(x, [_shown(v) for v in x])
    panel.minorticks_off()


def _shown(value: float) -> str:
    """A value on an axis; short times as fractions of a second."""
    return f"1/{1.0 / value:.0f}" if value < 0.04 and 1.0 / value >= 30.0 else three_digits(value)


def _plain(which: Any) -> None:
    from matplotlib.ticker import FuncFormatter, NullFormatter

    which.set_major_formatter(FuncFormatter(lambda value, _: three_digits(float(value))))
    which.set_minor_formatter(NullFormatter())


def draw_strip(path: Path, taught: Taught) -> None:
    """All steps on one sheet: whole picture, enlarged target, caption."""
    from matplotlib.figure import Figure

    steps = taught.steps
    tiles = [tile(t, whole=True) for t in steps]
    high = max(t.shape[0] for t in tiles)
    lines = -(-len(steps) // COLUMNS)
    wide_in, caption_in, top_in = 4.0, 0.62, 0.75
    tile_in = wide_in * high / FRAME_PX[1]
    height = top_in + lines * (tile_in + caption_in)
    width = COLUMNS * (wide_in + 0.2) + 0.2
    figure = Figure(figsize=(width, height), dpi=110, facecolor=PAPER)
    title = fit_text(taught.lesson.title, width - 0.4, (15, 13, 11), 1, bold=True)
    figure.text(
        0.2 / width, 1 - 0.14 / height, title.text, size=title.size, weight="bold", color=INK,
        va="top",
    )  # fmt: skip
    about = fit_text(f"What changes: {taught.lesson.changes}.", width - 0.4, (10, 9, 8), 1)
    figure.text(0.2 / width, 1 - 0.46 / height, about.text, size=about.size, color=SOFT, va="top")
    for k, (taken, picture) in enumerate(zip(steps, tiles, strict=True)):
        row, column = divmod(k, COLUMNS)
        x = (0.2 + column * (wide_in + 0.2)) / width
        y = 1 - (top_in + row * (tile_in + caption_in)) / height
        size = wide_in * picture.shape[0] / FRAME_PX[1] / height
        panel = figure.add_axes((x, y - size, wide_in / width, size))
        panel.imshow(picture, interpolation="nearest", aspect="auto")
        panel.axis("off")
        y -= (tile_in + 0.05) / height
        figure.text(x, y, taken.step.label, size=10.5, weight="bold", color=INK, va="top")
        text = fit_text(taught.lesson.caption(taken), wide_in, (8.5, 8, 7), 2)
        figure.text(x, y - 0.2 / height, text.text, size=text.size, color=SOFT, va="top")
    figure.savefig(path, dpi=110, metadata={"Software": "nightproof", "Title": taught.lesson.title})
