"""The sheet: picture, enlarged target, verdict and reasons on one page."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.judge.lighting import Contribution
from simulator.report.pictures import origin_text, target_window

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, SOFT, RULE, PAPER = "#1b2026", "#5b6570", "#d5d9de", "#ffffff"
WORD_COLOURS = {"legible": "#1f5f8b", "marginal": "#a8761a", "not legible": "#8e2f2a"}
WIDTH_IN, HEIGHT_IN, DPI = 14.0, 9.9, 120
FRAME_COLUMNS = 1150
MAX_LIGHT_ROWS = 5
LEAST_SHARE = 0.02


def shutter_text(shutter_s: float) -> str:
    """A shutter as people say it."""
    return f"1/{1.0 / shutter_s:.0f} s" if shutter_s < 0.3 else f"{shutter_s:.2g} s"


def draw_sheet(
    path: Path,
    verdict: dict[str, Any],
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
    _target(figure.add_axes((0.635, 0.67, 0.335, 0.21)), verdict, target)
    _probability(figure.add_axes((0.645, 0.575, 0.315, 0.026)), verdict)
    _figures(figure.add_axes((0.03, 0.165, 0.27, 0.225)), verdict)
    _lights(figure.add_axes((0.335, 0.165, 0.27, 0.225)), lights)
    _limits(figure.add_axes((0.715, 0.205, 0.19, 0.255)), verdict)
    _footer(figure, verdict)
    figure.savefig(path, dpi=DPI, metadata=origin_text(verdict))


def _heading(figure: Figure, verdict: dict[str, Any], camera_title: str) -> None:
    figure.text(0.03, 0.962, verdict["title"], size=17, weight="bold", color=INK, va="center")
    figure.text(0.03, 0.932, verdict["question"], size=12, color=INK, va="center", style="italic")
    figure.text(0.03, 0.903, camera_title, size=10.5, color=SOFT, va="center")
    word = verdict["verdict"]
    figure.text(
        0.97, 0.955, word.upper(), size=21, weight="bold", ha="right", va="center",
        color=WORD_COLOURS[word],
    )  # fmt: skip
    text = f"every character read in {100 * verdict['probability']:.0f} of 100 pictures"
    limits = [row for row in verdict["limits"] if row["share"] > LEAST_SHARE]
    if limits:
        text += f"; what limits it first: {limits[0]['factor']}"
    figure.text(0.97, 0.915, text, size=11.5, ha="right", va="center", color=INK)


def _picture(axes: Axes, verdict: dict[str, Any], frame: NDArray[np.uint8]) -> None:
    from matplotlib.patches import Rectangle

    height, width = frame.shape[:2]
    columns = min(width, FRAME_COLUMNS)
    rows = round(height * columns / width)
    shown = frame
    if columns < width:
        shown = cv2.resize(frame, (columns, rows), interpolation=cv2.INTER_AREA)
    axes.imshow(shown, extent=(0, width, height, 0), interpolation="nearest")
    x0, y0, x1, y1 = target_window(tuple(verdict["target"]["box_px"]), (height, width))
    axes.add_patch(
        Rectangle((x0, y0), x1 - x0, y1 - y0, fill=False, edgecolor="#f4d35e", linewidth=1.4)
    )
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_anchor("NW")
    field = verdict["geometry"]["field_width_m"]
    axes.set_xlabel(
        f"predicted picture, {width} x {height} px, {field:.1f} m wide at the target",
        size=9, color=SOFT, loc="left",
    )  # fmt: skip
    _frame_off(axes)


def _target(axes: Axes, verdict: dict[str, Any], target: NDArray[np.uint8]) -> None:
    axes.imshow(target, interpolation="nearest")
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_anchor("N")
    height = verdict["target"]["character_height_px"]
    axes.set_xlabel(
        f"the target, pixel by pixel; characters {height:.1f} px high", size=9, color=SOFT
    )
    _frame_off(axes)


def _probability(axes: Axes, verdict: dict[str, Any]) -> None:
    low, high = verdict["probability_low"], verdict["probability_high"]
    value, wanted = verdict["probability"], verdict["task"]["wanted_probability"]
    colour = WORD_COLOURS[verdict["verdict"]]
    axes.barh([0], [1.0], color="#eceff2", height=1.0)
    axes.barh([0], [value], color=colour, height=1.0)
    axes.plot([low, high], [0, 0], color=INK, linewidth=2.0, solid_capstyle="butt")
    axes.plot([wanted, wanted], [-0.9, 0.9], color=INK, linewidth=1.6)
    axes.text(wanted, 1.15, f"wanted {wanted:.2f}", ha="center", va="bottom", size=9, color=INK)
    axes.set_xlim(0, 1)
    axes.set_ylim(-0.9, 0.9)
    axes.set_yticks([])
    axes.set_xticks([0, 0.25, 0.5, 0.75, 1], ["0", "0.25", "0.5", "0.75", "1"])
    axes.tick_params(labelsize=8.5, colors=SOFT, length=3)
    axes.set_xlabel(
        f"probability that every character is read: {value:.2f}\n"
        f"(95 % interval of {verdict['trials']} trials: {low:.2f} to {high:.2f})",
        size=9, color=INK,
    )  # fmt: skip
    _frame_off(axes)


def _figures(axes: Axes, verdict: dict[str, Any]) -> None:
    e, g, s = verdict["exposure"], verdict["geometry"], verdict["signal"]
    light = f"{s['illuminance_lux']:.3g} lx"
    if s["irradiance_w_m2"] > 0.0:
        light += f" and {s['irradiance_w_m2']:.2g} W/m$^2$ infrared"
    shutter = shutter_text(e["shutter_s"])
    rows = [
        ("Mode, shutter, gain", f"{e['mode']}, {shutter}, {e['gain_db']:.0f} dB"),
        ("Exposure limited by", str(e["limited_by"])),
        ("Distance", f"{g['distance_m']:.1f} m"),
        ("Pixel density", f"{g['pixels_per_m']:.0f} px/m: {g['density_class']}"),
        ("  left after blur", f"{s['effective_pixels_per_m']:.0f} px/m"),
        ("Light on the plate", light),
        ("Electrons, light / dark", f"{s['electrons_light']:.0f} / {s['electrons_dark']:.0f}"),
        ("Signal to noise", f"{s['snr_db']:.1f} dB"),
        ("Modulation", f"{s['modulation']:.2f}"),
        ("Clipped to white", f"{100 * s['clipped_fraction']:.0f} %"),
        ("Motion blur", f"{s['motion_blur_px']:.1f} px"),
    ]  # fmt: skip
    _table(axes, "The plate in figures", rows, 0.46)
    axes.text(0.0, -0.01, f"class names: {g['density_edition']}", size=7.5, color=SOFT, va="top")


def _lights(axes: Axes, lights: list[Contribution]) -> None:
    total = sum(row.electrons_per_s for row in lights) or 1.0
    shown = [row for row in lights if row.electrons_per_s > 0.0][:MAX_LIGHT_ROWS]
    unit = {"lux": "lx", "w_m2": r"W/m$^2$"}
    rows = [
        (
            textwrap.shorten(row.name, 26, placeholder="..."),
            f"{row.amount:.3g} {unit[row.basis]}, {100 * row.electrons_per_s / total:.0f} %",
        )
        for row in shown
    ]
    _table(axes, "Who lights the plate; share of the signal", rows, 0.52)


def _table(axes: Axes, title: str, rows: list[tuple[str, str]], split: float) -> None:
    axes.axis("off")
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    axes.text(0.0, 1.0, title, size=10.5, weight="bold", color=INK, va="top")
    step = 0.078
    for i, (label, value) in enumerate(rows):
        y = 0.885 - i * step
        axes.plot([0, 1], [y + 0.028, y + 0.028], color=RULE, linewidth=0.6)
        axes.text(0.0, y - 0.01, label, size=9, color=SOFT, va="center")
        axes.text(split, y - 0.01, value, size=9, color=INK, va="center")


def _limits(axes: Axes, verdict: dict[str, Any]) -> None:
    limits = verdict["limits"]
    axes.set_title(
        "What limits it", size=10.5, weight="bold", color=INK, loc="left", x=-0.42, pad=20
    )
    if not limits:
        axes.axis("off")
        axes.text(-0.42, 1.0, "Nothing worth mending: the reading is\nas good as sure.",
                  size=9.5, color=INK, va="top", transform=axes.transAxes)  # fmt: skip
        return
    shares = [max(0.0, row["share"]) for row in limits]
    first = WORD_COLOURS[verdict["verdict"]]
    colours = [
        first if i == 0 and shares[0] > LEAST_SHARE else "#8fa3b3" for i in range(len(shares))
    ]
    axes.barh(range(len(shares)), shares, color=colours, height=0.62)
    for y, row in enumerate(limits):
        for x, key in ((1.10, "probability_without"), (1.28, "probability_only")):
            axes.text(x, y, f"{row[key]:.2f}", va="center", ha="right", size=8.5, color=INK)
    for x, text in ((1.10, "if\ngone"), (1.28, "if left\nalone")):
        axes.text(x, -0.75, text, va="bottom", ha="right", size=8, color=SOFT, linespacing=1.1)
    axes.set_yticks(range(len(limits)), [row["factor"] for row in limits], size=9, color=INK)
    axes.set_ylim(len(limits) - 0.5, -0.6)
    axes.set_xlim(0, 1)
    axes.set_xticks([0, 0.5, 1], ["0", "0.5", "1"])
    axes.tick_params(axis="x", labelsize=8.5, colors=SOFT, length=3)
    axes.tick_params(axis="y", length=0)
    axes.set_xlabel(
        "bar: share of the lost probability laid to it\n"
        "columns: probability with it alone removed, with it alone left",
        size=8, color=SOFT, x=0.5,
    )  # fmt: skip
    _frame_off(axes)


def _frame_off(axes: Axes) -> None:
    for spine in axes.spines.values():
        spine.set_visible(False)


def _footer(figure: Figure, verdict: dict[str, Any]) -> None:
    for x, title, key, width, size in (
        (0.03, "Assumed", "conditions", 112, 7.0),
        (0.52, "Take care", "cautions", 112, 7.0),
    ):
        lines: list[str] = []
        for sentence in verdict[key]:
            lines += textwrap.wrap(sentence, width, subsequent_indent="  ")
        figure.text(x, 0.136, title, size=8.5, weight="bold", color=INK, va="center")
        figure.text(x, 0.126, "\n".join(lines), size=size, color=SOFT, va="top", linespacing=1.25)
    origin = origin_text(verdict)
    figure.text(
        0.97, 0.006, f"{origin['Software']}; {origin['Comment'].split('; nightproof')[0]}",
        size=6.5, color=SOFT, ha="right", va="bottom",
    )  # fmt: skip
