"""Charts of the sizing of a lamp: probability by intensity, light on the ground, other ways."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simulator.report.fitting import fit_text
from simulator.report.inks import INK, LAMP, LINES, PAPER, RULE, SOFT, WORD_COLOURS
from simulator.report.pictures import enlarged, save_figure
from simulator.report.wording import decibels, percent, shutter, three_digits, with_unit
from simulator.studies.lighting.study import Lighting, Way
from simulator.studies.quick import Quick, fitted

if TYPE_CHECKING:
    from matplotlib.axes import Axes

TILE_PX = (150, 420)
MOST_TILES = 20
DPI, TILE_IN = 130, 1.36


def draw_curve(path: Path, lighting: Lighting, about: dict[str, str]) -> None:
    """Probability by intensity as a PNG."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.2, 3.7), dpi=DPI, facecolor=PAPER)
    curve(figure.add_axes((0.085, 0.16, 0.83, 0.73)), lighting)
    save_figure(figure, path, dpi=DPI, metadata=about)


def draw_targets(path: Path, lighting: Lighting, about: dict[str, str]) -> None:
    """The target without, with and with twice the lamp, and by every other way, as a PNG."""
    from matplotlib.figure import Figure

    own = [
        ("without the lamp", lighting.before.judged, None),
        ("sized lamp", lighting.sized.judged, None),
        ("twice as strong", lighting.twice, None),
    ]  # fmt: skip
    tiles = own + [(way.name, way.judged, way) for way in shown_ways(lighting)]
    rows = -(-len(tiles) // 4)
    high = TILE_IN * rows + 0.05
    figure = Figure(figsize=(8.2, high), dpi=DPI, facecolor=PAPER)
    for k, (name, q, way) in enumerate(tiles):
        low = 1.0 - (TILE_IN * (k // 4) + 0.82) / high
        axes = figure.add_axes((0.01 + 0.248 * (k % 4), low, 0.236, 0.8 / high))
        tile(axes, name, q, way, size=7.2)
    save_figure(figure, path, dpi=DPI, metadata=about)


def draw_map(path: Path, lighting: Lighting, heading: str, about: dict[str, str]) -> None:
    """The lamp's light on the ground as a PNG."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.4, 7.6), dpi=120, facecolor=PAPER)
    title = fit_text(heading, 8.2, (14, 12, 10.5), 1, bold=True)
    figure.text(0.05, 0.975, title.text, size=title.size, weight="bold", color=INK, va="top")
    figure.text(
        0.05, 0.935,
        f"Light of the sized lamp alone on level ground, shadows counted;"
        f" {with_unit(lighting.chosen, lighting.kind.intensity_unit)}, {lighting.beam_deg:g}°",
        size=10, color=SOFT, va="top",
    )  # fmt: skip
    ground(figure.add_axes((0.09, 0.09, 0.78, 0.78)), lighting)
    save_figure(figure, path, dpi=120, metadata=about)


def bare(axes: Axes) -> None:
    """Axes without ticks, for a picture."""
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_color(RULE)  # a picture that is all white still has its edge


def frame(axes: Axes, name: str, q: Quick) -> None:
    """The whole picture, with mode and gain."""
    assert q.seen is not None
    axes.imshow(fitted(q.seen.frame, 720, 1280), interpolation="nearest")
    axes.set_anchor("NW")
    bare(axes)
    axes.set_xlabel(
        f"{name}: predicted picture, {q.mode} mode, {shutter(q.shutter_s)}, {decibels(q.gain_db)}",
        size=8.0, color=SOFT, loc="left",
    )  # fmt: skip


def tile(axes: Axes, name: str, q: Quick, way: Way | None = None, *, size: float = 8.0) -> None:
    """The target pixel by pixel, with what came of it."""
    assert q.seen is not None
    axes.imshow(fitted(enlarged(q.seen.frame, q.seen.box_px), *TILE_PX), interpolation="nearest")
    axes.set_anchor("N")
    bare(axes)
    white = 100 * q.seen.clipped_fraction
    line = f"{name}\nsucceeds in {percent(q.probability)}, {white:.0f} % white"
    if way is not None:
        parts = []
        if way.power_w:
            parts.append(with_unit(way.power_w, "W"))
        if way.intensity is not None:
            parts.append(with_unit(way.intensity, way.intensity_unit))
        if way.eye is not None:
            parts.append(way.eye.group)
        if way.sort == "held":
            parts = [f"held at {shutter(q.shutter_s)}, {decibels(q.gain_db)}", *parts[:1]]
        line += "\n" + (", ".join(parts) or "no lamp")
    axes.set_xlabel(line, size=size, color=WORD_COLOURS[q.verdict], labelpad=3, linespacing=1.2)


def curve(axes: Axes, lighting: Lighting) -> None:
    """Probability by intensity with what was chosen and where it works."""
    from matplotlib.ticker import FuncFormatter, NullFormatter

    s, unit = lighting.search, lighting.kind.intensity_unit
    x = np.array([value for value, _ in s.points])
    value, low, high = (
        np.array([getattr(q, name) for _, q in s.points])
        for name in ("probability", "probability_low", "probability_high")
    )
    wanted = lighting.scene.model.task.wanted_probability
    if s.least is not None:
        axes.axvspan(s.least, s.upper or x[-1], color=LINES[0], alpha=0.08, linewidth=0)
    axes.fill_between(x, low, high, color=LINES[0], alpha=0.2, linewidth=0)
    axes.plot(x, value, color=LINES[0], marker="o", markersize=3.5, linewidth=1.6)
    axes.axhline(wanted, color=INK, linewidth=1.0, linestyle=(0, (6, 3)))
    axes.text(
        1.01, wanted, f"target\n{percent(wanted)}", size=8.5, color=INK, va="center",
        transform=axes.get_yaxis_transform(),
    )  # fmt: skip
    before = lighting.before.judged.probability
    axes.axhline(before, color=SOFT, linewidth=1.0, linestyle=":")
    near = abs(before - wanted) < 0.16
    axes.text(
        1.01, before + (0.14 if before > wanted else -0.14) * near, f"no lamp\n{percent(before)}",
        size=8.5, color=SOFT,
        va="center", transform=axes.get_yaxis_transform(),
    )  # fmt: skip
    fresh = s.fresh
    below = max(0.0, fresh.probability - fresh.probability_low)
    above = max(0.0, fresh.probability_high - fresh.probability)
    axes.errorbar(
        [s.chosen], [fresh.probability], [[below], [above]],
        color=LINES[1], marker="D", markersize=6, linewidth=1.6, capsize=3,
    )  # fmt: skip
    axes.set_title(
        f"diamond: chosen, {with_unit(s.chosen, unit)}, on fresh noise; shaded: works",
        size=8.5, color=SOFT, loc="left",
    )  # fmt: skip
    axes.set_xscale("log")
    axes.xaxis.set_major_formatter(FuncFormatter(lambda v, _: three_digits(float(v))))
    axes.xaxis.set_minor_formatter(NullFormatter())
    axes.set_ylim(-0.03, 1.12)
    axes.set_xlabel(
        f"intensity on the axis [{unit}], beam {lighting.beam_deg:g}°", size=9, color=INK
    )
    axes.set_ylabel("share of pictures that succeed\n(band: its interval)", size=9, color=INK)
    axes.yaxis.set_major_formatter(FuncFormatter(lambda v, _: percent(float(v))))
    axes.grid(color=RULE, linewidth=0.6)
    axes.tick_params(labelsize=8.5, colors=SOFT)


def _steps(low: float, high: float) -> list[float]:
    first, last = int(np.floor(np.log10(low))), int(np.ceil(np.log10(high)))
    steps = [m * 10.0**d for d in range(first, last + 1) for m in (1, 2, 5)]
    return [s for s in steps if low < s < high]


def ground(axes: Axes, lighting: Lighting, *, small: bool = False) -> None:
    """Light on the ground from above, away from the camera to the right; contours of the light
    without shadows."""
    from matplotlib.colors import LogNorm
    from matplotlib.ticker import FuncFormatter

    g = lighting.light.ground
    unit, scale = lighting.kind.light_unit, 1.0
    if lighting.kind.infrared and float(g.free.max()) < 0.5:
        unit, scale = "mW/m²", 1e3
    free = g.free * scale
    high = float(free.max())
    low = high / 300.0
    light: NDArray[np.float64] = np.maximum(g.light * scale, low * 0.999)
    shown = axes.pcolormesh(
        g.y_m, g.x_m, light.T, cmap="cividis", norm=LogNorm(low, high), shading="gouraud",
        rasterized=True,
    )  # fmt: skip
    steps = _steps(low, high)
    if small and len(steps) > 5:
        steps = [s for s in steps if abs(np.log10(s) % 1.0 - 0.5) > 0.45] or steps[::2]
    lines = axes.contour(g.y_m, g.x_m, free.T, levels=steps, colors="white", linewidths=0.9)
    axes.clabel(lines, fmt=lambda v: three_digits(float(v)), fontsize=8)
    station, target, lamp = g.station_m, g.target_m, g.lamp_m
    for end in g.field_m:
        axes.plot([station[1], end[1]], [station[0], end[0]], color="white", lw=1.0, ls=(0, (5, 3)))
    axes.plot(target[1], target[0], marker="D", ms=6, mfc="none", mec="white", mew=1.5)
    axes.plot(station[1], station[0], marker="s", ms=6, color="white", mec=INK)
    axes.plot(lamp[1], lamp[0], marker="o", ms=6, color=LAMP, mec=INK)
    axes.annotate(
        lighting.scene.model.task.target, (target[1], target[0]), (0, 9), color="white", size=8.5,
        textcoords="offset points", ha="center",
    )  # fmt: skip
    axes.set_xlim(g.y_m[0], g.y_m[-1])
    axes.set_ylim(g.x_m[-1], g.x_m[0])
    axes.set_aspect("equal")
    axes.set_anchor("W")
    axes.set_xlabel(
        "away from the camera [m]; dot: lamp, dashes: sides of the picture"
        if small
        else "away from the camera [m]   (square: camera, dot: lamp, dashes: sides of the picture)",
        size=8 if small else 9, color=SOFT, loc="left" if small else "center",
    )  # fmt: skip
    axes.set_ylabel("to the camera's right [m]", size=8.5, color=SOFT)
    axes.tick_params(labelsize=8, colors=SOFT)
    bar = axes.figure.colorbar(
        shown, ax=axes, pad=0.02, fraction=0.045, ticks=steps,
        format=FuncFormatter(lambda v, _: three_digits(float(v))),
    )  # fmt: skip
    bar.set_label(f"{'irradiance' if lighting.kind.infrared else 'illuminance'} [{unit}]", size=8.5)
    bar.ax.tick_params(labelsize=8, colors=SOFT)
    bar.ax.minorticks_off()


def shown_ways(lighting: Lighting) -> list[Way]:
    """As many ways as have room: held lamps that fail stand back first."""
    room = MOST_TILES - sum(w.sort != "held" for w in lighting.ways)
    held = sorted(
        (w for w in lighting.ways if w.sort == "held"), key=lambda w: -w.judged.probability
    )
    shown = {w.name for w in held[: max(0, room)]}
    return [w for w in lighting.ways if w.sort != "held" or w.name in shown][:MOST_TILES]
