"""Figures of a lesson: the curve over what changes, and the strip of pictures."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.report.fitting import fit_text
from simulator.report.inks import INK, PAPER, RULE, SOFT
from simulator.report.wording import three_digits
from simulator.studies.lessons.lesson import PROBABILITY, Curve, Taken, Taught

if TYPE_CHECKING:
    from matplotlib.axes import Axes

CURVE_DPI = 150
COLOURS = ("#1f5f8b", "#b5651d")
MARKS = ("o", "s")
FRAME_PX = (405, 720)
TARGET_PX = (300, 720)
COLUMNS = 3
ROOM = 0.3


def target_tile(taken: Taken) -> NDArray[np.uint8]:
    """The target with what is around it, as large as the tile holds (rows, columns, 3).

    Where it is enlarged, every pixel of the camera is a square.
    """
    frame = taken.seen.frame
    x0, y0, x1, y1 = taken.seen.box_px
    if y1 - y0 > x1 - x0:  # of a standing person the upper part
        y1 = y0 + min(y1 - y0, x1 - x0)
    room = ROOM * min(x1 - x0, y1 - y0) + 3
    rows, columns = TARGET_PX
    scale = min(columns / (x1 - x0 + 2 * room), rows / (y1 - y0 + 2 * room))
    scale = float(int(scale)) if scale >= 1.0 else scale
    high, wide = (min(round(n / scale), m) for n, m in zip(TARGET_PX, frame.shape[:2], strict=True))
    left = int(np.clip(round((x0 + x1 - wide) / 2), 0, frame.shape[1] - wide))
    top = int(np.clip(round((y0 + y1 - high) / 2), 0, frame.shape[0] - high))
    part = frame[top : top + high, left : left + wide]
    kind = cv2.INTER_NEAREST if scale >= 1.0 else cv2.INTER_AREA
    return np.asarray(cv2.resize(part, (columns, rows), interpolation=kind), dtype=np.uint8)


def small_frame(taken: Taken) -> NDArray[np.uint8]:
    """The whole picture, made to fit the tile."""
    frame = taken.seen.frame
    scale = FRAME_PX[1] / frame.shape[1]
    size = (FRAME_PX[1], round(frame.shape[0] * scale))
    kind = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(frame, size, interpolation=kind), dtype=np.uint8)


def tile(taken: Taken) -> NDArray[np.uint8]:
    """The whole frame above, the target below (rows, columns, 3)."""
    gap = np.full((10, FRAME_PX[1], 3), 255, np.uint8)
    return np.concatenate([small_frame(taken), gap, target_tile(taken)])


def draw_curve(path: Path, taught: Taught) -> None:
    """The lesson's curves over what changes, each with its own axis; bars where steps have names
    alone."""
    from matplotlib.figure import Figure

    lesson = taught.lesson
    figure = Figure(figsize=(7.4, 3.7), dpi=CURVE_DPI, facecolor=PAPER)
    left = figure.add_axes((0.1, 0.16, 0.79, 0.71))
    right = left.twinx()
    if lesson.axis:
        x = np.array([t.step.value for t in taught.steps])
        if lesson.log:
            _log(left, x, fractions="shutter" in lesson.axis)
        left.set_xlabel(lesson.axis, size=9.5, color=INK)
    else:
        x = np.arange(len(taught.steps), dtype=float)
        left.set_xticks(x, [fit_text(t.step.label, 1.1, (9,), 2).text for t in taught.steps])
    for k, (panel, curve) in enumerate(zip((left, right), lesson.curves, strict=True)):
        _draw(panel, curve, x, taught, k)
    if lesson.curves[0].name == PROBABILITY:
        left.axhline(taught.wanted, color=INK, linewidth=1.0, linestyle=(0, (6, 3)))
        left.text(
            0.994, taught.wanted - 0.015, f"wanted {taught.wanted:.2f}", size=8.5, color=INK,
            ha="right", va="top", transform=left.get_yaxis_transform(),
        )  # fmt: skip
    left.grid(color=RULE, linewidth=0.6)
    title = fit_text(lesson.title, 7.0, (12, 11, 10), 1, bold=True)
    figure.text(0.02, 0.975, title.text, size=title.size, weight="bold", color=INK, va="top")
    figure.savefig(path, dpi=CURVE_DPI, metadata={"Software": "nightproof", "Title": lesson.title})


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
        panel.set_yticks(y, [three_digits(float(v)) for v in y])
        panel.minorticks_off()
    elif curve.top is not None:
        panel.set_ylim(-0.02 * curve.top * bool(taught.lesson.axis), 1.06 * curve.top)
    else:
        panel.set_ylim(0.0, 1.12 * float(y.max()) if y.max() > 0.0 else 1.0)


def _log(panel: Axes, x: NDArray[Any], *, fractions: bool) -> None:
    panel.set_xscale("log")
    panel.set_xticks(x, [_fraction(v) if fractions else three_digits(v) for v in x])
    panel.minorticks_off()


def _fraction(value: float) -> str:
    """A short time as a fraction of a second."""
    return f"1/{1.0 / value:.0f}"


def draw_strip(path: Path, taught: Taught) -> None:
    """All steps on one sheet: whole picture, enlarged target, caption."""
    from matplotlib.figure import Figure

    steps = taught.steps
    tiles = [tile(t) for t in steps]
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
