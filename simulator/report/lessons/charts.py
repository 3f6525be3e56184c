"""Figures of a lesson: two curves over what changes, and the strip of pictures."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.report.fitting import fit_text
from simulator.report.inks import INK, LINES, PAPER, RULE, SOFT
from simulator.report.pictures import save_figure
from simulator.report.wording.lessons import PROBABILITY, LessonWords
from simulator.report.wording.numbers import percent, three_digits
from simulator.studies.lessons.lesson import Taken, Taught

if TYPE_CHECKING:
    from matplotlib.axes import Axes

CURVE_DPI, STRIP_DPI = 150, 110
FRAME_PX = (405, 720)
TARGET_PX = (300, 720)
ROOM = 0.3
TILE_IN, GAP_IN, CAPTION_IN, TOP_IN = 4.0, 0.2, 0.62, 0.75


def columns_of(taught: Taught) -> int:
    """Pictures beside each other, so that the last row is full where it can be."""
    count = len(taught.steps)
    return next((n for n in (4, 3, 2) if count % n == 0 and count > n), 3)


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


def draw_curve(path: Path, taught: Taught, words: LessonWords) -> None:
    """The lesson's two figures over what changes, side by side; bars where steps have names."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.2, 3.6), dpi=CURVE_DPI, facecolor=PAPER)
    title = fit_text(words.title, 8.8, (12, 11, 10), 1, bold=True)
    figure.text(0.02, 0.975, title.text, size=title.size, weight="bold", color=INK, va="top")
    for k, name in enumerate(taught.lesson.curves):
        panel = figure.add_axes((0.065 + 0.5 * k, 0.17, 0.42, 0.64))
        panel.set_title(words.titles[name], size=9.5, color=INK, loc="left")
        if words.axis:
            _line(panel, taught, words, name, LINES[k])
        else:
            _bars(panel, taught, words, name, LINES[k])
        _scale(panel, taught, name)
    about = {"Software": "nightproof", "Title": words.title}
    save_figure(figure, path, dpi=CURVE_DPI, metadata=about)


def _values(taught: Taught, name: str) -> NDArray[np.float64]:
    return np.array([float(t.figures[name]) for t in taught.steps])


def _line(panel: Axes, taught: Taught, words: LessonWords, name: str, colour: str) -> None:
    x = np.array([float(t.step.value) for t in taught.steps])
    panel.plot(x, _values(taught, name), color=colour, marker="o", markersize=5, linewidth=1.8)
    if taught.lesson.log:
        panel.set_xscale("log")
        panel.minorticks_off()
    unit = f" {taught.lesson.unit}"
    panel.set_xticks(x, [text.removesuffix(unit) for text in words.labels])
    panel.set_xlabel(words.axis, size=9.5, color=INK)


def _bars(panel: Axes, taught: Taught, words: LessonWords, name: str, colour: str) -> None:
    y = _values(taught, name)
    panel.bar(range(len(y)), y, width=0.55, color=colour)
    for place, value in enumerate(y):
        panel.annotate(
            f"{value:.0f}", (place, value), (0, 2), textcoords="offset points", ha="center",
            size=8.5, color=INK,
        )  # fmt: skip
    panel.set_xticks(range(len(y)), [fit_text(t, 0.95, (9,), 2).text for t in words.labels])


def _scale(panel: Axes, taught: Taught, name: str) -> None:
    y = _values(taught, name)
    if name == PROBABILITY:
        wanted = 100.0 * taught.target_probability
        panel.axhline(wanted, color=INK, linewidth=1.0, linestyle=(0, (6, 3)))
        panel.text(
            1.01, wanted, f"target\n{percent(wanted / 100.0)}", size=8.5, color=INK, va="center",
            transform=panel.get_yaxis_transform(),
        )  # fmt: skip
    if y.min() > 0.0 and y.max() > 15.0 * y.min():
        panel.set_yscale("log")
        panel.set_yticks(y, [three_digits(float(v)) for v in y])
        panel.minorticks_off()
    else:
        full = 100.0 if name.endswith("percent") and y.max() > 50.0 else 1.06 * float(y.max())
        panel.set_ylim(-0.02 * full, 1.08 * full or 1.0)
    panel.grid(color=RULE, linewidth=0.6)
    panel.set_axisbelow(True)
    panel.tick_params(labelsize=8.5, colors=SOFT)
    for side in ("top", "right"):
        panel.spines[side].set_visible(False)


def draw_strip(path: Path, taught: Taught, words: LessonWords) -> None:
    """All steps on one sheet: whole picture, enlarged target, caption."""
    from matplotlib.figure import Figure

    gap = np.full((10, FRAME_PX[1], 3), 255, np.uint8)
    tiles = [np.concatenate([small_frame(t), gap, target_tile(t)]) for t in taught.steps]
    columns = columns_of(taught)
    high = TILE_IN * max(t.shape[0] for t in tiles) / FRAME_PX[1]
    height = TOP_IN - (-len(tiles) // columns) * (high + CAPTION_IN)
    width = columns * (TILE_IN + GAP_IN) + GAP_IN
    figure = Figure(figsize=(width, height), dpi=STRIP_DPI, facecolor=PAPER)

    def write(x: float, y: float, text: str, sizes: tuple[float, ...], wide: float, bold: bool,
              lines: int = 1) -> None:  # fmt: skip
        fitted = fit_text(text, wide, sizes, lines, bold=bold)
        figure.text(
            x / width, 1 - y / height, fitted.text, size=fitted.size, va="top",
            weight="bold" if bold else "normal", color=INK if bold else SOFT,
        )  # fmt: skip

    write(GAP_IN, 0.14, words.title, (15, 13, 11), width - 0.4, True)
    write(GAP_IN, 0.46, f"What changes: {words.changes}.", (10, 9, 8), width - 0.4, False)
    for k, picture in enumerate(tiles):
        row, column = divmod(k, columns)
        x = GAP_IN + column * (TILE_IN + GAP_IN)
        y = TOP_IN + row * (high + CAPTION_IN)
        size = TILE_IN * picture.shape[0] / FRAME_PX[1]
        panel = figure.add_axes(
            (x / width, 1 - (y + size) / height, TILE_IN / width, size / height)
        )
        panel.imshow(picture, interpolation="nearest", aspect="auto")
        panel.axis("off")
        write(x, y + high + 0.05, words.labels[k], (10.5,), TILE_IN, True)
        write(x, y + high + 0.25, words.captions[k], (8.5, 8), TILE_IN, False, 2)
    about = {"Software": "nightproof", "Title": words.title}
    save_figure(figure, path, dpi=STRIP_DPI, metadata=about)
