"""The sizing of a lamp on one page, and its light on the ground as a map."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.report.fitting import fit_text
from simulator.report.lighting_tables import verdict_table
from simulator.report.lighting_words import DEFER, avoided, eye_words, missing
from simulator.report.numbers import three_digits
from simulator.report.pictures import enlarged, origin_text, write_png
from simulator.report.sheet import INK, PAPER, RULE, SOFT, WORD_COLOURS
from simulator.studies.folder import result_folder
from simulator.studies.lighting import Lighting, Way
from simulator.studies.quick import Quick, fitted

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_IN, HEIGHT_IN, DPI = 13.0, 17.6, 110
LEFT_IN, INNER_IN = 0.45, 12.1
TILE_PX = (150, 420)
MOST_TILES = 15


def save_lighting(folder: Path, found: Lighting) -> Path:
    """Write sheet.png, map.png, pictures/, inputs/ and verdict.json, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    told = verdict_table(found)
    with result_folder(folder) as place:
        draw_sheet(place / "sheet.png", found, told)
        draw_map(place / "map.png", found, told)
        pictures = place / "pictures"
        pictures.mkdir()
        for name, q in _pictured(found):
            if q.seen is not None:
                write_png(pictures / f"{name}.png", q.seen.frame, origin_text(told))
        inputs = place / "inputs"
        inputs.mkdir()
        for name, text in (
            ("scene", found.scene.to_toml()),
            ("scene-with-lamp", found.sized_scene.to_toml()),
            ("camera", found.camera.to_toml()),
        ):
            (inputs / f"{name}.toml").write_text(text, encoding="utf-8")
        (place / "verdict.json").write_text(
            json.dumps(told, indent=2, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8"
        )
    return folder


def _pictured(found: Lighting) -> list[tuple[str, Quick]]:
    ways = [(w.name, w.judged) for w in (found.before, found.sized, *found.ways)]
    return [*ways, ("sized-lamp-twice", found.twice)]


def draw_map(path: Path, found: Lighting, told: dict[str, Any]) -> None:
    """The lamp's light on the ground as a PNG."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.4, 7.6), dpi=120, facecolor=PAPER)
    title = fit_text(told["title"], 8.2, (14, 12, 10.5), 1, bold=True)
    figure.text(0.05, 0.975, title.text, size=title.size, weight="bold", color=INK, va="top")
    figure.text(
        0.05, 0.935,
        f"Light of the sized lamp alone on level ground, shadows counted;"
        f" {three_digits(found.chosen)} {found.kind.intensity_unit}, {found.beam_deg:g}°",
        size=10, color=SOFT, va="top",
    )  # fmt: skip
    _ground(figure.add_axes((0.09, 0.09, 0.78, 0.78)), found)
    figure.savefig(path, dpi=120, metadata=origin_text(told))


def draw_sheet(path: Path, found: Lighting, told: dict[str, Any]) -> None:
    """The whole study on one page as a PNG."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), dpi=DPI, facecolor=PAPER)
    _heading(figure, found, told)
    before, sized = found.before.judged, found.sized.judged
    _frame(_place(figure, LEFT_IN, 1.6, 5.95, 3.35), before, "without the lamp")
    _frame(_place(figure, LEFT_IN + 6.15, 1.6, 5.95, 3.35), sized, "with the sized lamp")
    tiles = (
        ("without the lamp", before), ("sized lamp", sized), ("twice as strong", found.twice),
    )  # fmt: skip
    for k, (name, q) in enumerate(tiles):
        _tile(_place(figure, LEFT_IN + 4.1 * k, 5.35, 3.9, 1.35), name, q)
    _title(figure, LEFT_IN, 7.08, "How strong: probability by intensity")
    _curve(_place(figure, LEFT_IN + 0.55, 7.5, 5.35, 2.6), found)
    _title(figure, LEFT_IN + 6.6, 7.08, "Where the light falls: lamp alone, on the ground")
    _ground(_place(figure, LEFT_IN + 7.1, 7.42, 4.6, 2.7), found, small=True)
    _title(figure, LEFT_IN, 10.66, "What else was tried, in the same place and at the same hour")
    for k, way in enumerate(found.ways[:MOST_TILES]):
        at = (LEFT_IN + 2.44 * (k % 5), 10.95 + 1.22 * (k // 5))
        _tile(_place(figure, *at, 2.3, 0.64), way.name, way.judged, way)
    _columns(figure, found, told)
    _footer(figure, found)
    figure.savefig(path, dpi=DPI, metadata=origin_text(told))


def _place(figure: Figure, left: float, down: float, wide: float, high: float) -> Axes:
    return figure.add_axes(
        (
            left / WIDTH_IN, (HEIGHT_IN - down - high) / HEIGHT_IN, wide / WIDTH_IN,
            high / HEIGHT_IN,
        )
    )  # fmt: skip


def _write(
    figure: Figure, left: float, down: float, text: str, wide: float, sizes: tuple[float, ...],
    lines: int, **style: Any,
) -> float:  # fmt: skip
    """A text in inches from the upper left corner; returns where the next one may begin."""
    told = fit_text(text, wide, sizes, lines, bold=style.get("weight") == "bold")
    figure.text(
        left / WIDTH_IN, 1.0 - down / HEIGHT_IN, told.text, size=told.size, va="top",
        linespacing=1.25, **{"color": INK, **style},
    )  # fmt: skip
    return down + told.height_in


def _title(figure: Figure, left: float, down: float, text: str) -> None:
    _write(figure, left, down, text, 6.2, (11.5, 10.5, 9.5), 1, weight="bold")


def _heading(figure: Figure, found: Lighting, told: dict[str, Any]) -> None:
    y = _write(figure, LEFT_IN, 0.28, told["title"], INNER_IN, (19, 16, 14), 1, weight="bold")
    about = f"{told['question']}  Camera: {found.camera.model.title}"
    y = _write(figure, LEFT_IN, y + 0.02, about, INNER_IN, (11, 10, 9), 2, color=SOFT)
    _write(
        figure, LEFT_IN, y + 0.08, told["answer"], INNER_IN, (14, 13, 12, 11, 10), 2,
        color=WORD_COLOURS[found.search.verdict], weight="bold",
    )  # fmt: skip


def _bare(axes: Axes) -> None:
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_visible(False)


def _frame(axes: Axes, q: Quick, name: str) -> None:
    assert q.seen is not None
    axes.imshow(fitted(q.seen.frame, 720, 1280), interpolation="nearest")
    axes.set_anchor("N")
    _bare(axes)
    axes.set_xlabel(
        f"{name}: predicted picture, {q.mode} mode, {q.gain_db:.0f} dB of gain",
        size=9.5, color=SOFT, loc="left",
    )  # fmt: skip


def _tile(axes: Axes, name: str, q: Quick, way: Way | None = None) -> None:
    """The target pixel by pixel, with what came of it."""
    assert q.seen is not None
    axes.imshow(fitted(enlarged(q.seen.frame, q.seen.box_px), *TILE_PX), interpolation="nearest")
    axes.set_anchor("N")
    _bare(axes)
    white = 100 * q.seen.clipped_share
    line = f"{name}: {100 * q.probability:.0f} of 100, {white:.0f} % white"
    if way is not None:
        parts = []
        if way.power_w:
            parts.append(f"{three_digits(way.power_w)} W")
        if way.intensity is not None:
            parts.append(f"{three_digits(way.intensity)} {way.intensity_unit}")
        if way.eye is not None:
            parts.append(way.eye.group)
        line = f"{name}\n{100 * q.probability:.0f} of 100, {white:.0f} % white"
        line += "\n" + (", ".join(parts) or "no lamp")
    axes.set_xlabel(line, size=8.3, color=WORD_COLOURS[q.verdict], labelpad=3, linespacing=1.2)


def _curve(axes: Axes, found: Lighting) -> None:
    from matplotlib.ticker import FuncFormatter, NullFormatter

    s, unit = found.search, found.kind.intensity_unit
    x = np.array([value for value, _ in s.points])
    value, low, high = (
        np.array([getattr(q, name) for _, q in s.points]) for name in ("probability", "low", "high")
    )
    wanted = found.scene.model.task.wanted_probability
    if s.least is not None:
        axes.axvspan(s.least, s.upper or x[-1], color="#1f5f8b", alpha=0.08, linewidth=0)
    axes.fill_between(x, low, high, color="#1f5f8b", alpha=0.2, linewidth=0)
    axes.plot(x, value, color="#1f5f8b", marker="o", markersize=3.5, linewidth=1.6)
    axes.axhline(wanted, color=INK, linewidth=1.0, linestyle=(0, (6, 3)))
    axes.text(
        0.01, wanted + 0.012, f"wanted {wanted:.2f}", size=8.5, color=INK, va="bottom",
        transform=axes.get_yaxis_transform(),
    )  # fmt: skip
    before = found.before.judged.probability
    axes.axhline(before, color=SOFT, linewidth=1.0, linestyle=":")
    axes.text(
        0.99, before + 0.012, f"without the lamp {before:.2f}", size=8.5, color=SOFT, va="bottom",
        ha="right", transform=axes.get_yaxis_transform(),
    )  # fmt: skip
    fresh = s.fresh
    axes.errorbar(
        [s.chosen], [fresh.probability],
        [[max(0.0, fresh.probability - fresh.low)], [max(0.0, fresh.high - fresh.probability)]],
        color="#b5651d", marker="D", markersize=6, linewidth=1.6, capsize=3,
    )  # fmt: skip
    axes.set_title(
        f"diamond: chosen, {three_digits(s.chosen)} {unit}, judged with fresh noise; shaded: works",
        size=8.5, color=SOFT, loc="left",
    )  # fmt: skip
    axes.set_xscale("log")
    axes.xaxis.set_major_formatter(FuncFormatter(lambda v, _: three_digits(float(v))))
    axes.xaxis.set_minor_formatter(NullFormatter())
    axes.set_ylim(-0.03, 1.12)
    axes.set_xlabel(f"intensity on the axis [{unit}], beam {found.beam_deg:g}°", size=9, color=INK)
    axes.set_ylabel("probability (band: interval)", size=9, color=INK)
    axes.grid(color=RULE, linewidth=0.6)
    axes.tick_params(labelsize=8.5, colors=SOFT)


def _steps(low: float, high: float) -> list[float]:
    first, last = int(np.floor(np.log10(low))), int(np.ceil(np.log10(high)))
    steps = [m * 10.0**d for d in range(first, last + 1) for m in (1, 2, 5)]
    return [s for s in steps if low < s < high]


def _ground(axes: Axes, found: Lighting, *, small: bool = False) -> None:
    """Light on the ground from above, away from the camera to the right; contours of the light
    without shadows."""
    from matplotlib.colors import LogNorm
    from matplotlib.ticker import FuncFormatter

    g = found.light.ground
    unit, scale = found.kind.light_unit, 1.0
    if found.kind.infrared and float(g.free.max()) < 0.5:
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
    axes.plot(lamp[1], lamp[0], marker="o", ms=6, color="#f4d35e", mec=INK)
    axes.annotate(
        found.scene.model.task.target, (target[1], target[0]), (0, 9), color="white", size=8.5,
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
    bar.set_label(f"{'irradiance' if found.kind.infrared else 'illuminance'} [{unit}]", size=8.5)
    bar.ax.tick_params(labelsize=8, colors=SOFT)
    bar.ax.minorticks_off()


def _columns(figure: Figure, found: Lighting, told: dict[str, Any]) -> None:
    rows = -(-min(len(found.ways), MOST_TILES) // 5)
    top = 11.0 + 1.22 * rows + 0.12
    room = HEIGHT_IN - 0.75 - top
    eye = [DEFER] if found.eye is None else [eye_words(found.eye), DEFER]
    if found.eye is None:
        eye = list(told["cautions"][:1])
    money = []
    dark = found.money.dark
    if dark is not None:
        money.append(
            f"{dark.yearly_h:.0f} h of darkness a year (sun below {dark.below_deg:g}°) at"
            f" {three_digits(found.power_w)} W: {three_digits(dark.yearly_h * found.power_w / 1e3)}"
            " kWh a year."
        )
    money.append(avoided(found))
    need = missing(found)
    if need:
        shown = need[:3] + ([f"and {len(need) - 3} more"] if len(need) > 3 else [])
        money.append("Not told, so not counted: " + "; ".join(shown) + ".")
    else:
        money += [c for c in told["changes"] if c.startswith("Cheapest")]
    texts = (
        ("Why", told["why"][:5]),
        ("What to do", [c for c in told["changes"] if c != avoided(found)][:4]),
        ("Eyes, energy, money", [*eye, *money]),
    )
    for size in (9.6, 9.2, 8.7, 8.2, 7.7, 7.2, 6.7):
        heights = [
            sum(fit_text(text, 3.85, (size,), 99).height_in + 0.05 for text in lines)
            for _, lines in texts
        ]
        if max(heights) <= room - 0.3:
            break
    for k, (title, lines) in enumerate(texts):
        left = LEFT_IN + 4.1 * k
        _write(figure, left, top, title, 3.8, (11.5,), 1, weight="bold")
        y = top + 0.28
        for text in lines:
            y = _write(figure, left, y, text, 3.85, (size,), 99) + 0.05


def _footer(figure: Figure, found: Lighting) -> None:
    text = (
        "Predicted from assumed, generic archetypes, not products; intervals are those of"
        f" {found.ask.trials} repetitions (fresh noise {2 * found.ask.trials}), tolerances come on"
        " top. Conditions, all tables and cautions stand in verdict.json and in the report."
        " Mains wiring and work at height are for trained people under local codes."
    )
    _write(figure, LEFT_IN, HEIGHT_IN - 0.62, text, INNER_IN, (8.5, 8.0), 2, color=SOFT)
