"""The way of the exposure control from frame to frame, as a figure."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from simulator.camera.control import LEAST_LEVEL, ExposurePath
from simulator.report.inks import FAIR, GOOD, INK, RULE, SOFT, TRACK
from simulator.report.wording import shutter

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LINE, SECOND = GOOD, FAIR
DPI = 120
SHUTTER_TICKS_S = (
    1e-4, 2.5e-4, 5e-4, 1e-3, 2e-3, 4e-3, 0.01, 0.02, 0.04, 0.08, 0.16, 0.32, 0.64, 1.28, 2.5, 5.0,
)  # fmt: skip


def plot_path(path: Path, found: ExposurePath, title: str) -> None:
    """Write level, shutter, gain and, if it moves, f-number over time as a PNG.

    Parameters
    ----------
    found
        What `camera.control.exposure_path` or `follow_scene` gave.
    """
    from matplotlib.figure import Figure

    iris = float(np.ptp(found.f_number)) > 1e-6
    count = 4 if iris else 3
    figure = Figure(figsize=(8.0, 1.6 + 1.75 * count), dpi=DPI, facecolor="white")
    axes = figure.subplots(count, 1, sharex=True)
    _level(axes[0], found)
    _steps(axes[1], found, found.shutter_s, "shutter")
    axes[1].set_yscale("log")
    _shutter_ticks(axes[1], found)
    _steps(axes[2], found, found.gain_db, "gain [dB]")
    _room(axes[2], found.gain_db, 1.0)
    if iris:
        _steps(axes[3], found, found.f_number, "f-number")
        _room(axes[3], found.f_number, 0.2)
    axes[-1].set_xlabel("time [s]", size=9.5, color=INK)
    axes[-1].set_xlim(0.0, _shown_s(found))
    figure.suptitle(title, x=0.12, ha="left", size=12, weight="bold", color=INK)
    figure.text(0.12, 1.0 - 0.5 / figure.get_figheight(), _words(found), size=9, color=SOFT)
    figure.subplots_adjust(
        left=0.12, right=0.97, bottom=0.55 / figure.get_figheight(),
        top=1.0 - 0.75 / figure.get_figheight(), hspace=0.22,
    )  # fmt: skip
    figure.savefig(path, dpi=DPI)


def _shown_s(found: ExposurePath) -> float:
    """As much time as tells the way, without a long rest [s]."""
    settling, last = found.settling_s(), float(found.time_s[-1])
    return last if settling is None else min(last, max(1.0, 2.5 * settling))


def _words(found: ExposurePath) -> str:
    settling, limit = found.settling_s(), found.limited_by[-1]
    text = "does not settle in this time" if settling is None else f"settles in {settling:.2g} s"
    text += " (within 1 dB of its last exposure)"
    return text if limit == "nothing" else f"{text}; stopped by {limit}"


def _level(axes: Axes, found: ExposurePath) -> None:
    band = 10.0 ** (found.hysteresis_db / 20.0)
    target = found.target_level
    axes.axhspan(target / band, target * band, color=TRACK)
    axes.axhline(target, color=SOFT, linewidth=0.9, linestyle=(0, (4, 3)))
    level = np.maximum(found.level, LEAST_LEVEL)
    axes.plot(found.time_s, level, color=LINE, linewidth=1.4, marker="o", markersize=2.6)
    low, high = min(level.min(), target / 2.0), max(level.max(), target * 2.0)
    axes.set_yscale("log")
    axes.set_ylim(low / 1.3, min(1.25, high * 1.3))
    ticks = [t for t in (0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0) if low / 1.3 <= t <= high * 1.3]
    axes.set_yticks(ticks, [f"{t:g}" for t in ticks])
    axes.minorticks_off()
    _plain(axes, "metered level\n(white = 1)")
    axes.text(
        1.0, 1.03, f"dashed: target {target:g}; grey: no reaction", size=8, color=SOFT,
        ha="right", transform=axes.transAxes,
    )  # fmt: skip


def _steps(axes: Axes, found: ExposurePath, values: np.ndarray, name: str) -> None:
    axes.step(found.time_s, values, where="mid", color=LINE, linewidth=1.4)
    _plain(axes, name)


def _shutter_ticks(axes: Axes, found: ExposurePath) -> None:
    low, high = found.shutter_s.min() / 1.5, found.shutter_s.max() * 1.5
    axes.set_ylim(low, high)
    ticks = [t for t in SHUTTER_TICKS_S if low <= t <= high]
    axes.set_yticks(ticks, [shutter(t) for t in ticks])
    axes.minorticks_off()
    if found.accumulated.max() > 1:
        axes.text(
            1.0, 1.03, f"up to {found.accumulated.max()} frames added up", size=8, color=SECOND,
            ha="right", transform=axes.transAxes,
        )  # fmt: skip


def _room(axes: Axes, values: np.ndarray, least: float) -> None:
    room = max(least, 0.08 * float(np.ptp(values)))
    axes.set_ylim(float(values.min()) - room, float(values.max()) + room)


def _plain(axes: Axes, name: str) -> None:
    axes.set_ylabel(name, size=9.5, color=INK)
    axes.tick_params(labelsize=8.5, colors=SOFT, length=3)
    axes.grid(axis="both", color=RULE, linewidth=0.5)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(RULE)
    axes.yaxis.set_label_coords(-0.085, 0.5)
