"""The plans of a survey: where pixels are dense enough, and where the task succeeds."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from simulator.judge.density import CLASSES_PX_PER_M
from simulator.report.colour_map import success_colours
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
from simulator.report.pictures import save_figure
from simulator.report.wording import percent
from simulator.studies.survey.study import Survey, Surveyed
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
DPI = 110
LEAST_POINTS = 8
"""Contours of fewer points are specks and get no number."""
Ends = list[tuple[tuple[float, float], str]]


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


LAYERS = {"legibility": legibility_on_plan, "density": density_on_plan}
"""What the plans show, by the name of the plan; what is asked comes first."""


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
    half = 0.5 * float((high - low).max()) * 1.3 + 1.0
    cx, cy = (low + high) / 2.0
    return float(cx - half), float(cx + half), float(cy - half), float(cy + half)


def draw_layer(path: Path, surveyed: Survey, name: str, about: Mapping[str, str]) -> None:
    """One of the plans alone as a PNG, for a page."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.4, 7.6), dpi=DPI, facecolor=PAPER)
    panel(figure.add_axes((0.085, 0.13, 0.82, 0.82)), surveyed, name)
    legend(figure, surveyed, (0.045, 0.01), columns=3)
    save_figure(figure, path, dpi=DPI, metadata=dict(about))


def panel(axes: Axes, surveyed: Survey, name: str) -> None:
    """One plan with cameras, targets and contours."""
    left, right, low, high = extent = _extent(surveyed)
    x, y = np.linspace(left, right, CELLS), np.linspace(low, high, CELLS)
    places = np.stack(np.meshgrid(x, y), axis=-1)
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
    axes.set_aspect("equal")
    axes.set_xlabel("x on the plan [m]", size=9, color=SOFT)
    axes.set_ylabel("y on the plan [m]", size=9, color=SOFT)
    axes.tick_params(labelsize=8.5, colors=SOFT)
    axes.set_facecolor(OUTSIDE)
    return ends


def legend(figure: Figure, surveyed: Survey, place: tuple[float, float], columns: int) -> None:
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
    drawn = figure.legend(
        handles=marks, loc="lower left", bbox_to_anchor=place,
        ncols=min(columns, len(marks)),
        fontsize=8.5, frameon=True, facecolor=LEGEND, edgecolor="none", framealpha=1.0,
    )  # fmt: skip
    for text in drawn.get_texts():
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
