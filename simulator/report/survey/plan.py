"""A survey as a sheet: plan by pixel density, plan by legibility, and the table by risk."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.checked_file import CheckedFile
from simulator.judge.density import CLASSES_PX_PER_M
from simulator.report.colour_map import success_colours
from simulator.report.fitting import fit_text
from simulator.report.inks import (
    INK,
    LEGEND,
    MARK,
    OUTSIDE,
    PAPER,
    RULE,
    SOFT,
    WORD_COLOURS,
)
from simulator.report.labels import Labels
from simulator.report.pictures import write_png
from simulator.report.record import write_record
from simulator.report.survey.words import (
    HEAD,
    answer,
    file_stem,
    hours_of,
    picture_file,
    rows_of,
    shopping,
    verdict_table,
)
from simulator.report.wording import percent, say, say_all
from simulator.studies.folder import result_folder
from simulator.studies.provenance import versions
from simulator.studies.survey.study import Survey, Surveyed
from simulator.studies.tables import survey_dataset, survey_table, write_csv, write_netcdf
from simulator.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

DENSITIES = tuple(sorted(density for density, _ in CLASSES_PX_PER_M))
"""Densities of the contours, the classes of one edition [px/m]."""
LEAST_DENSITY, MOST_DENSITY = 10.0, 1000.0
"""Range of the map [px/m]; below it nothing is drawn."""
CELLS = 300
DENSITY_MAP = "Greys"
"""Densities are no verdict: grey, the denser the darker."""
BEYOND = 1.7
"""Cameras are drawn as far as this many distances of their target."""
WIDTH_IN, DPI, ROW_IN = 15.0, 110, 0.46
PLAN_IN = 6.0
LEAST_POINTS = 8
"""Contours of fewer points are specks and get no number."""
Ends = list[tuple[tuple[float, float], str]]


def save_survey(folder: Path, surveyed: Survey) -> Path:
    """Write the plans, positions.csv, positions.nc, inputs/ and verdict.json, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    with result_folder(folder) as place:
        draw_plan(place / "plan.png", surveyed)
        for name in LAYERS:
            draw_layer(place / f"plan-{name}.png", surveyed, name)
        (place / "pictures").mkdir()
        for row in surveyed.rows:
            if row.picture is not None:
                write_png(place / picture_file(row), row.picture, _about(surveyed))
        write_csv(place / "positions.csv", survey_table(surveyed))
        write_netcdf(place / "positions.nc", survey_dataset(surveyed))
        write_record(place, verdict_table(surveyed), _inputs(surveyed))
    return folder


def _inputs(surveyed: Survey) -> dict[str, CheckedFile[Any]]:
    files: dict[str, CheckedFile[Any]] = {}
    for row in surveyed.rows:
        stem = file_stem(row)
        files |= {f"scene-{stem}": row.scene, f"camera-{stem}": row.camera}
    return files


def to_plan(row: Surveyed, points_m: FloatArray) -> FloatArray:
    """Places on the plan (..., 2) of points of a scene (..., 2 or 3) [m]."""
    p, b = row.position, np.radians(row.position.bearing_deg)
    local = np.asarray(points_m, float)[..., :2] - row.in_scene.view.position_m[:2]
    right, ahead = np.array([np.cos(b), -np.sin(b)]), np.array([np.sin(b), np.cos(b)])
    return np.asarray(np.array([p.x_m, p.y_m]) + local[..., :1] * right + local[..., 1:2] * ahead)


def to_scene(row: Surveyed, places: FloatArray, height_m: float) -> FloatArray:
    """Points of a scene (..., 3) of places on the plan (..., 2), at a height [m]."""
    p, b = row.position, np.radians(row.position.bearing_deg)
    offset = np.asarray(places, float) - np.array([p.x_m, p.y_m])
    x = offset[..., 0] * np.cos(b) - offset[..., 1] * np.sin(b)
    y = offset[..., 0] * np.sin(b) + offset[..., 1] * np.cos(b)
    station = row.in_scene.view.position_m
    return np.stack([x + station[0], y + station[1], np.full(x.shape, height_m)], axis=-1)


def density_on_plan(row: Surveyed, places: FloatArray) -> FloatArray:
    """Pixel density (...) [px/m] at the target's height over places (..., 2); NaN out of picture.

    On a plane across the axis, of a lens without distortion. Things in the way do not count.
    """
    view = row.in_scene.view
    points = to_scene(row, places, float(row.target_m[2]))
    pixels, depth = view.project(points)
    with np.errstate(invalid="ignore", divide="ignore"):
        inside = (pixels >= 0.0) & (pixels <= [view.width_px, view.height_px])
        density = view.focal_px / depth
    far = np.linalg.norm((points - view.position_m)[..., :2], axis=-1) > BEYOND * _flat(row)
    return np.where(inside.all(axis=-1) & (depth > 0.0) & ~far, density, np.nan)


def _flat(row: Surveyed) -> float:
    return float(np.linalg.norm((row.target_m - row.in_scene.view.position_m)[:2]))


def legibility_on_plan(row: Surveyed, places: FloatArray) -> FloatArray:
    """Probability at the worst hour (...) by distance from the lens; NaN where it was not judged.

    Linear in the logarithm of the distance between those that were judged, and taken as the same
    over the width of the picture.
    """
    known = np.array([(d, p) for d, p in row.reach if not np.isnan(p)]).reshape(-1, 2)
    points = to_scene(row, places, float(row.target_m[2]))
    distance = np.linalg.norm((points - row.in_scene.view.position_m)[..., :2], axis=-1)
    out = np.interp(
        np.log(np.maximum(distance, 1e-6)), np.log(known[:, 0]), known[:, 1], np.nan, np.nan
    )
    return np.where(np.isnan(density_on_plan(row, places)), np.nan, out)


LAYERS = {"density": density_on_plan, "legibility": legibility_on_plan}
"""What the plans show, by the name of the plan."""


def _best(layers: list[FloatArray]) -> FloatArray:
    """The best camera everywhere; NaN where none looks."""
    stacked = np.stack(layers)
    best = np.where(np.isnan(stacked), -np.inf, stacked).max(axis=0)
    return np.where(np.isinf(best), np.nan, best)


def _extent(surveyed: Survey) -> tuple[float, float, float, float]:
    """Left, right, low, high of the plan [m], a square around all cameras and what they see."""
    points = []
    for row in surveyed.rows:
        station, view = row.in_scene.view.position_m, row.in_scene.view
        points.append(to_plan(row, station))
        for x in (0.0, view.width_px / 2.0, float(view.width_px)):
            way = view.direction(x, view.height_px / 2.0)[:2]
            way = way / np.linalg.norm(way) * BEYOND * _flat(row)
            points.append(to_plan(row, station[:2] + way))
    every = np.stack(points)
    low, high = every.min(axis=0), every.max(axis=0)
    half = 0.5 * float((high - low).max()) * 1.1 + 1.0
    cx, cy = (low + high) / 2.0
    return float(cx - half), float(cx + half), float(cy - half), float(cy + half)


def draw_plan(path: Path, surveyed: Survey) -> None:
    """Both plans and the table as a PNG."""
    from matplotlib.figure import Figure

    buy = [fit_text(text, 14.0, (9.2,), 9) for text in say_all(shopping(surveyed))]
    bought = 0.55 + sum(text.height_in + 0.05 for text in buy) if buy else 0.0
    line = fit_text(say(answer(surveyed)), 14.0, (12.5, 11.5, 10.5), 2, bold=True)
    top = 1.2 + 0.25 * line.text.count("\n")
    upper = top + PLAN_IN + 1.05
    table = 0.45 + ROW_IN * (len(surveyed.rows) + 1)
    height = upper + table + bought + 0.75
    figure = Figure(figsize=(WIDTH_IN, height), dpi=DPI, facecolor=PAPER)
    title = fit_text(surveyed.site.title, 14.0, (18, 15, 13), 1, bold=True)
    figure.text(
        0.03, 1 - 0.2 / height, title.text, size=title.size, weight="bold", color=INK, va="top"
    )
    figure.text(
        0.03, 1 - 0.56 / height, line.text, size=line.size, weight="bold", va="top",
        color=WORD_COLOURS[surveyed.rows[0].verdict],
    )  # fmt: skip
    for k, name in enumerate(LAYERS):
        place = ((0.75 + 7.25 * k) / WIDTH_IN, (height - top - PLAN_IN) / height)
        _panel(figure, (*place, PLAN_IN / WIDTH_IN, PLAN_IN / height), surveyed, name)
    _legend(figure, surveyed, (height - top - PLAN_IN - 0.57) / height)
    _table(figure, surveyed, height, upper)
    down = upper + table + 0.22
    if buy:
        figure.text(
            0.03, 1 - down / height, "What to change", size=11.5, weight="bold", color=INK,
            va="center",
        )  # fmt: skip
        down += 0.22
    for text in buy:
        figure.text(0.03, 1 - down / height, text.text, size=text.size, color=INK, va="top",
                    linespacing=1.25)  # fmt: skip
        down += text.height_in + 0.05
    foot = fit_text(
        "Density on a plane across each camera's axis at the height of its target. Success: the"
        " task's target moved along the ground, judged at some distances at the worst hour, taken"
        " as the same over the width of the picture. Where fields overlap the better camera counts;"
        " things that stand in the way do not. Archetypes, not products.", 14.0, (8.5, 8.0), 2,
    )  # fmt: skip
    figure.text(0.03, 0.5 / height, foot.text, size=foot.size, color=SOFT, va="top")
    figure.savefig(path, dpi=DPI, metadata=_about(surveyed))


def draw_layer(path: Path, surveyed: Survey, name: str) -> None:
    """One of the plans alone as a PNG, for a page."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.4, 7.6), dpi=DPI, facecolor=PAPER)
    _panel(figure, (0.085, 0.13, 0.82, 0.82), surveyed, name)
    _legend(figure, surveyed, 0.01, columns=3)
    figure.savefig(path, dpi=DPI, metadata=_about(surveyed))


def _about(surveyed: Survey) -> dict[str, str]:
    return {
        "Software": f"nightproof {versions()['nightproof']}", "Title": surveyed.site.title,
        "Comment": f"survey {surveyed.name}; seed {surveyed.seed}",
    }  # fmt: skip


def _panel(
    figure: Figure, place: tuple[float, float, float, float], surveyed: Survey, name: str
) -> None:
    """One plan with cameras, targets and contours."""
    left, right, low, high = extent = _extent(surveyed)
    x, y = np.linspace(left, right, CELLS), np.linspace(low, high, CELLS)
    places = np.stack(np.meshgrid(x, y), axis=-1)
    axes = figure.add_axes(place)
    ends = _map(axes, x, y, [LAYERS[name](row, places) for row in surveyed.rows], name)
    _cameras(axes, surveyed, extent, ends)


def _map(axes: Axes, x: FloatArray, y: FloatArray, layers: list[FloatArray], name: str) -> Ends:
    """Colour of the best camera everywhere, contours of each camera where it is the best.

    Returns an end of every contour with what it stands for.
    """
    from matplotlib.colors import LogNorm, Normalize
    from matplotlib.ticker import FuncFormatter

    density, values = name == "density", _best(layers)
    norm = LogNorm(LEAST_DENSITY, MOST_DENSITY) if density else Normalize(0.0, 1.0)
    shown = axes.pcolormesh(
        x, y, np.ma.masked_invalid(values), norm=norm, shading="nearest", rasterized=True,
        cmap=DENSITY_MAP if density else success_colours(),
    )  # fmt: skip
    levels = [float(v) for v in DENSITIES] if density else [0.1, 0.5, 0.9]
    ends: Ends = []
    for layer in layers:
        own = np.where(layer >= values, layer, np.nan)
        inside = own[~np.isnan(own)]
        steps = [v for v in levels if inside.size and inside.min() < v < inside.max()]
        if steps:
            lines = axes.contour(
                x, y, np.ma.masked_invalid(own), levels=steps, colors=INK, linewidths=0.7
            )
            for level, parts in zip(lines.levels, lines.allsegs, strict=True):
                part = max(parts, key=len, default=np.empty((0, 2)))
                if len(part) >= LEAST_POINTS:
                    end = max((part[0], part[-1]), key=lambda at: float(at[0]))
                    text = f"{level:g} px/m" if density else percent(level)
                    ends.append(((float(end[0]), float(end[1])), text))
    bar = axes.figure.colorbar(
        shown, ax=axes, pad=0.02, fraction=0.045, ticks=list(DENSITIES) if density else None,
        format=FuncFormatter(lambda v, _: f"{v:g}"),
    )  # fmt: skip
    bar.ax.minorticks_off()
    bar.ax.tick_params(labelsize=8, colors=SOFT)
    bar.set_label(
        "pixel density [px/m]" if density else "share of pictures that succeed at the worst hour",
        size=9,
    )
    title = "Pixel density at the target's height" if density else "Success at the worst hour"
    axes.set_title(title, loc="left", size=11.5, weight="bold", color=INK)
    axes.set_aspect("equal")
    axes.set_xlabel("x on the plan [m]", size=9, color=SOFT)
    axes.set_ylabel("y on the plan [m]", size=9, color=SOFT)
    axes.tick_params(labelsize=8.5, colors=SOFT)
    axes.set_facecolor(OUTSIDE)
    return ends


def _legend(figure: Figure, surveyed: Survey, low: float, columns: int = 9) -> None:
    """What the marks of both plans mean."""
    from matplotlib.lines import Line2D

    marks = [
        Line2D(
            [],
            [],
            marker="s",
            color=WORD_COLOURS[word],
            label=f"camera, {word}",
            linestyle="none",
            markeredgecolor="white",
            markersize=8,
        )
        for word in dict.fromkeys(row.verdict for row in surveyed.rows)
    ]
    marks += [
        Line2D([], [], marker="D", markersize=6, markerfacecolor=MARK, label="its target",
               markeredgecolor="white", linestyle="none"),
        Line2D([], [], color=SOFT, linewidth=0.8, label="sides of its picture"),
        Line2D([], [], color=INK, linewidth=0.9, label="contour, its number beside it"),
        Line2D([], [], marker="s", linestyle="none", color=OUTSIDE, markeredgecolor=RULE,
               markersize=9, label="not seen, or not judged there"),
    ]  # fmt: skip
    legend = figure.legend(
        handles=marks, loc="lower left", bbox_to_anchor=(0.045, low),
        ncols=min(columns, len(marks)),
        fontsize=8.5, frameon=True, facecolor=LEGEND, edgecolor="none", framealpha=1.0,
    )  # fmt: skip
    for text in legend.get_texts():
        text.set_color(INK)


def _cameras(
    axes: Axes, surveyed: Survey, extent: tuple[float, float, float, float], ends: Ends
) -> None:
    """Every camera with the sides of its picture, its target and its number in the table."""
    axes.set_xlim(*extent[:2])
    axes.set_ylim(*extent[2:])
    labels = Labels(axes, PAPER)
    for row in surveyed.rows:
        view, station = row.in_scene.view, row.in_scene.view.position_m
        place, target = to_plan(row, station), to_plan(row, row.target_m)
        for x in (0.0, float(view.width_px)):
            way = view.direction(x, view.height_px / 2.0)[:2]
            far = to_plan(row, station[:2] + way / np.linalg.norm(way) * BEYOND * _flat(row))
            axes.plot([place[0], far[0]], [place[1], far[1]], color=SOFT, lw=0.8)
        colour = WORD_COLOURS[row.verdict]
        axes.plot(*place, marker="s", ms=7, color=colour, mec="white")
        axes.plot(*target, marker="D", ms=5, mfc="none", mec="white", mew=1.4)
        labels.keep_clear((float(place[0]), float(place[1])))
    for k, row in enumerate(surveyed.rows):
        place = to_plan(row, row.in_scene.view.position_m)
        text = f"{k + 1} {row.position.name}"
        labels.put((float(place[0]), float(place[1])), text, INK, size=8.5)
    for end, text in ends:
        labels.put(end, text, INK, size=7.5, sides=((1, 0), (1, 1), (1, -1), (0, 1), (0, -1)))


COLUMNS = (0.0, 0.3, 2.6, 4.2, 4.9, 6.5, 8.0, 9.25, 11.1, 13.2)


def _table(figure: Figure, surveyed: Survey, height: float, down: float) -> None:
    axes = figure.add_axes((0.03, 0.0, 0.94, 1.0))
    axes.axis("off")
    axes.set_xlim(0, 0.94 * WIDTH_IN)
    axes.set_ylim(height, 0)
    axes.text(0, down, "By risk: the least margin at the worst hour first", size=11.5,
              weight="bold", color=INK, va="center")  # fmt: skip
    y = down + 0.3
    for x, name in zip(COLUMNS, HEAD, strict=True):
        axes.text(x, y, name, size=9, color=SOFT, va="center")
    for row, cells in zip(surveyed.rows, rows_of(surveyed), strict=True):
        y += ROW_IN
        axes.plot([0, 0.94 * WIDTH_IN], [y - ROW_IN / 2] * 2, color=RULE, lw=0.7)
        worst_light, typical_light = hours_of(row)
        light = fit_text(
            f"Worst hour: {worst_light}. Typical hour: {typical_light}.", 13.7, (8.0, 7.5, 7.0), 1
        )
        axes.text(COLUMNS[1], y + 0.11, light.text, size=light.size, color=SOFT, va="center")
        ends = (*COLUMNS[1:], 0.94 * WIDTH_IN)
        for x, end, cell, name in zip(COLUMNS, ends, cells, HEAD, strict=True):
            worst = name == "worst hour"
            fitted = fit_text(cell, end - x - 0.08, (9.2, 8.5, 7.8, 7.0), 1)
            axes.text(
                x, y - 0.08, fitted.text, size=fitted.size, va="center",
                color=WORD_COLOURS[row.verdict] if worst else INK,
                weight="bold" if worst else "normal",
            )  # fmt: skip
