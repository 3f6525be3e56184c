"""False colour of the light on the target's plane, with labelled contours."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from simulator.report.inks import INK, SOFT
from simulator.report.wording import three_digits
from simulator.studies.survey.site import Site

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOUR_MAP = "viridis"
EVEN, FEW_STEPS = 1.05, 3
"""Light that differs by less than this factor is told as even; contours to aim for at least."""


def draw_light_map(
    figure: Figure, place: tuple[float, float, float, float], site: Site, what: str
) -> None:
    """False colour of the light on the target's upright plane, with labelled contours."""
    from matplotlib.colors import LogNorm
    from matplotlib.ticker import FuncFormatter

    axes = figure.add_axes(place)
    plane = site.plane
    values = np.maximum(getattr(plane, what), 1e-9)
    unit, quantity, title = {
        "lux": ("lx", "illuminance", "Light around the target, on it"),
        "irradiance_w_m2": ("W/m²", "irradiance", "Infrared around the target, on it"),
    }[what]
    high = float(np.percentile(values, 99.5))  # near a lamp the light has no end
    low = max(float(np.percentile(values, 2)), high / 1e3)
    high = max(high, low * 1.001)
    if high / low < 1.5:
        low, high = low / 1.5, high * 1.5
    shown = axes.pcolormesh(
        plane.across_m, plane.up_m, values, cmap=COLOUR_MAP, norm=LogNorm(low, high),
        shading="gouraud", rasterized=True,
    )  # fmt: skip
    steps = _round_steps(low, high)
    even = values.max() / values.min() < EVEN
    if even:
        axes.text(
            0.5, 0.72, "even over the plane", size=9, color="white", ha="center",
            transform=axes.transAxes,
        )  # fmt: skip
    elif steps:
        lines = axes.contour(
            plane.across_m, plane.up_m, values, levels=steps, colors="white", linewidths=0.9
        )
        axes.clabel(lines, fmt=lambda v: three_digits(float(v)), fontsize=8)
    centre = float(site.target.centre_m[2])
    axes.plot(0.0, centre, marker="D", ms=6, mfc="none", mec="white", mew=1.4)
    whole = site.lux if what == "lux" else site.irradiance_w_m2
    axes.set_title(
        f"{title}: {three_digits(whole)} {unit}", loc="left", size=10.5, weight="bold",
        color=INK,
    )  # fmt: skip
    axes.set_xlabel("from the target to the camera's right [m]", size=8.5, color=SOFT)
    axes.set_ylabel("height [m]", size=8.5, color=SOFT)
    axes.set_aspect("equal")
    ticks = steps if 2 <= len(steps) <= 8 else list(np.geomspace(low, high, 4))
    bar = figure.colorbar(
        shown, ax=axes, pad=0.02, fraction=0.035, ticks=ticks,
        format=FuncFormatter(lambda v, _: three_digits(float(f"{v:.2g}"))),
    )  # fmt: skip
    bar.outline.set_visible(False)
    bar.set_label(f"{quantity} [{unit}]", size=8.5, color=SOFT)
    bar.ax.tick_params(labelsize=8, colors=SOFT, which="both")
    bar.ax.minorticks_off()
    quiet(axes)


def _round_steps(low: float, high: float) -> list[float]:
    """1, 2, 5 in every decade between two values; more if that leaves fewer than three."""
    first, last = math.floor(math.log10(low)), math.ceil(math.log10(high))
    for every in ((1, 2, 5), (1, 1.5, 2, 3, 5, 7), (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8, 9)):
        steps = [m * 10.0**d for d in range(first, last + 1) for m in every]
        steps = [s for s in steps if low < s < high]
        if len(steps) >= FEW_STEPS:
            break
    return steps


def quiet(axes: Axes) -> None:
    """Axes without a frame, with small ticks."""
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.tick_params(labelsize=8.5, colors=SOFT, length=3)
