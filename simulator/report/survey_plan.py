"""A survey as a sheet: plan by pixel density, plan by legibility, and the table by risk."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.judge.density import density_class
from simulator.judge.verdict import cautions, shown_word
from simulator.report.fitting import fit_text
from simulator.report.labels import Labels
from simulator.report.numbers import three_digits
from simulator.report.sheet import INK, PAPER, RULE, SOFT, WORD_COLOURS, shutter_text
from simulator.studies.folder import result_folder
from simulator.studies.provenance import versions
from simulator.studies.survey import Survey, Surveyed
from simulator.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

DENSITIES = (20, 40, 80, 125, 250, 500, 1000)
"""Densities of the contours [px/m]; the numbers stand on the lines."""
LEAST_DENSITY, MOST_DENSITY = 15.0, 1000.0
"""Range of the map [px/m]; below it nothing is drawn."""
CELLS = 300
BEYOND = 1.7
"""Cameras are drawn as far as this many distances of their target."""
WIDTH_IN, DPI, ROW_IN = 15.0, 110, 0.3
PLAN_IN = 6.0


def save_survey(folder: Path, found: Survey) -> Path:
    """Write plan.png, positions.csv, inputs/ and verdict.json, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    told = verdict_table(found)
    with result_folder(folder) as place:
        draw_plan(place / "plan.png", found)
        table = told["tables"][0]
        with (place / "positions.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([table["head"], *table["rows"]])
        inputs = place / "inputs"
        inputs.mkdir()
        for row in found.rows:
            stem = "".join(c if c.isalnum() else "-" for c in row.position.name)
            (inputs / f"scene-{stem}.toml").write_text(row.scene.to_toml(), encoding="utf-8")
            (inputs / f"camera-{stem}.toml").write_text(row.camera.to_toml(), encoding="utf-8")
        (place / "verdict.json").write_text(
            json.dumps(told, indent=2, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8"
        )
    return folder


def to_plan(row: Surveyed, points_m: FloatArray) -> FloatArray:
    """Places on the plan (..., 2) of points of a scene (..., 2 or 3) [m]."""
    p, b = row.position, np.radians(row.position.bearing_deg)
    local = np.asarray(points_m, float)[..., :2] - row.rig.view.position_m[:2]
    right, ahead = np.array([np.cos(b), -np.sin(b)]), np.array([np.sin(b), np.cos(b)])
    return np.asarray(np.array([p.x_m, p.y_m]) + local[..., :1] * right + local[..., 1:2] * ahead)


def to_scene(row: Surveyed, places: FloatArray, height_m: float) -> FloatArray:
    """Points of a scene (..., 3) of places on the plan (..., 2), at a height [m]."""
    p, b = row.position, np.radians(row.position.bearing_deg)
    offset = np.asarray(places, float) - np.array([p.x_m, p.y_m])
    x = offset[..., 0] * np.cos(b) - offset[..., 1] * np.sin(b)
    y = offset[..., 0] * np.sin(b) + offset[..., 1] * np.cos(b)
    station = row.rig.view.position_m
    return np.stack([x + station[0], y + station[1], np.full(x.shape, height_m)], axis=-1)


def density_on_plan(row: Surveyed, places: FloatArray) -> FloatArray:
    """Pixel density (...) [px/m] at the target's height over places (..., 2); NaN out of picture.

    On a plane across the axis, of a lens without distortion. Things in the way do not count.
    """
    view = row.rig.view
    points = to_scene(row, places, float(row.target_m[2]))
    pixels, depth = view.project(points)
    with np.errstate(invalid="ignore", divide="ignore"):
        inside = (pixels >= 0.0) & (pixels <= [view.width_px, view.height_px])
        density = view.focal_px / depth
    far = np.linalg.norm((points - view.position_m)[..., :2], axis=-1) > BEYOND * _flat(row)
    return np.where(inside.all(axis=-1) & (depth > 0.0) & ~far, density, np.nan)


def _flat(row: Surveyed) -> float:
    return float(np.linalg.norm((row.target_m - row.rig.view.position_m)[:2]))


def legibility_on_plan(row: Surveyed, places: FloatArray) -> FloatArray:
    """Probability at the worst hour (...) by distance from the lens; NaN where it was not judged.

    Linear in the logarithm of the distance between those that were judged, and taken as the same
    over the width of the picture.
    """
    known = np.array([(d, p) for d, p in row.reach if not np.isnan(p)]).reshape(-1, 2)
    points = to_scene(row, places, float(row.target_m[2]))
    distance = np.linalg.norm((points - row.rig.view.position_m)[..., :2], axis=-1)
    out = np.interp(
        np.log(np.maximum(distance, 1e-6)), np.log(known[:, 0]), known[:, 1], np.nan, np.nan
    )
    return np.where(np.isnan(density_on_plan(row, places)), np.nan, out)


def _best(layers: list[FloatArray]) -> FloatArray:
    """The best camera everywhere; NaN where none looks."""
    stacked = np.stack(layers)
    best = np.where(np.isnan(stacked), -np.inf, stacked).max(axis=0)
    return np.where(np.isinf(best), np.nan, best)


def _extent(found: Survey) -> tuple[float, float, float, float]:
    """Left, right, low, high of the plan [m], a square around all cameras and what they see."""
    points = []
    for row in found.rows:
        station, view = row.rig.view.position_m, row.rig.view
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


def draw_plan(path: Path, found: Survey) -> None:
    """Both plans and the table as a PNG."""
    from matplotlib.figure import Figure

    height = 1.15 + PLAN_IN + 0.85 + 0.45 + ROW_IN * (len(found.rows) + 1) + 0.75
    figure = Figure(figsize=(WIDTH_IN, height), dpi=DPI, facecolor=PAPER)
    title = fit_text(found.site.title, 14.0, (18, 15, 13), 1, bold=True)
    figure.text(
        0.03, 1 - 0.2 / height, title.text, size=title.size, weight="bold", color=INK, va="top"
    )
    line = fit_text(answer(found), 14.0, (12.5, 11.5, 10.5), 2, bold=True)
    figure.text(
        0.03, 1 - 0.56 / height, line.text, size=line.size, weight="bold", va="top",
        color=WORD_COLOURS[found.rows[0].verdict],
    )  # fmt: skip
    left, right, low, high = extent = _extent(found)
    x, y = np.linspace(left, right, CELLS), np.linspace(low, high, CELLS)
    places = np.stack(np.meshgrid(x, y), axis=-1)
    for k, (name, layer) in enumerate(
        (("density", density_on_plan), ("legibility", legibility_on_plan))
    ):
        axes = figure.add_axes(
            (
                (0.75 + 7.25 * k) / WIDTH_IN, (height - 1.5 - PLAN_IN) / height, PLAN_IN / WIDTH_IN,
                PLAN_IN / height,
            )
        )  # fmt: skip
        _map(axes, x, y, [layer(row, places) for row in found.rows], name)
        _cameras(axes, found, extent)
    _table(figure, found, height, 1.15 + PLAN_IN + 1.1)
    foot = fit_text(
        "Density on a plane across each camera's axis at the height of its target. Legibility: the"
        " task's target moved along the ground, judged at some distances at the worst hour, taken"
        " as the same over the width of the picture. Where fields overlap the better camera counts;"
        " things that stand in the way do not. Archetypes, not products.", 14.0, (8.5, 8.0), 2,
    )  # fmt: skip
    figure.text(0.03, 0.5 / height, foot.text, size=foot.size, color=SOFT, va="top")
    text = {
        "Software": f"nightproof {versions()['nightproof']}", "Title": found.site.title,
        "Comment": f"survey {found.name}; seed {found.seed}",
    }  # fmt: skip
    figure.savefig(path, dpi=DPI, metadata=text)


def _map(axes: Axes, x: FloatArray, y: FloatArray, layers: list[FloatArray], name: str) -> None:
    """Colour of the best camera everywhere, contours of each camera where it is the best."""
    from matplotlib.colors import LogNorm, Normalize
    from matplotlib.ticker import FuncFormatter

    density, values = name == "density", _best(layers)
    norm = LogNorm(LEAST_DENSITY, MOST_DENSITY) if density else Normalize(0.0, 1.0)
    shown = axes.pcolormesh(
        x, y, np.ma.masked_invalid(values), cmap="cividis", norm=norm, shading="nearest",
        rasterized=True,
    )  # fmt: skip
    levels = [float(v) for v in DENSITIES] if density else [0.1, 0.5, 0.9]
    for layer in layers:
        own = np.where(layer >= values, layer, np.nan)
        inside = own[~np.isnan(own)]
        steps = [v for v in levels if inside.size and inside.min() < v < inside.max()]
        if steps:
            lines = axes.contour(
                x, y, np.ma.masked_invalid(own), levels=steps, colors="white", linewidths=0.9
            )
            axes.clabel(lines, fmt=lambda v: f"{v:g} px/m" if density else f"{v:g}", fontsize=7.5)
    bar = axes.figure.colorbar(
        shown, ax=axes, pad=0.02, fraction=0.045, ticks=list(DENSITIES) if density else None,
        format=FuncFormatter(lambda v, _: f"{v:g}"),
    )  # fmt: skip
    bar.ax.minorticks_off()
    bar.ax.tick_params(labelsize=8, colors=SOFT)
    bar.set_label(
        "pixel density [px/m]" if density else "probability of the task at the worst hour", size=9
    )
    title = "Pixel density at the target's height" if density else "Legibility at the worst hour"
    axes.set_title(title, loc="left", size=11.5, weight="bold", color=INK)
    axes.set_aspect("equal")
    axes.set_xlabel("x on the plan [m]", size=9, color=SOFT)
    axes.set_ylabel("y on the plan [m]", size=9, color=SOFT)
    axes.tick_params(labelsize=8.5, colors=SOFT)
    axes.set_facecolor("#f4f5f7")


def _cameras(axes: Axes, found: Survey, extent: tuple[float, float, float, float]) -> None:
    """Every camera with the sides of its picture, its target and its number in the table."""
    axes.set_xlim(*extent[:2])
    axes.set_ylim(*extent[2:])
    labels = Labels(axes, PAPER)
    for row in found.rows:
        view, station = row.rig.view, row.rig.view.position_m
        place, target = to_plan(row, station), to_plan(row, row.target_m)
        for x in (0.0, float(view.width_px)):
            way = view.direction(x, view.height_px / 2.0)[:2]
            end = to_plan(row, station[:2] + way / np.linalg.norm(way) * BEYOND * _flat(row))
            axes.plot([place[0], end[0]], [place[1], end[1]], color=SOFT, lw=0.8)
        colour = WORD_COLOURS[row.verdict]
        axes.plot(*place, marker="s", ms=7, color=colour, mec="white")
        axes.plot(*target, marker="D", ms=5, mfc="none", mec="white", mew=1.4)
        labels.keep_clear((float(place[0]), float(place[1])))
    for k, row in enumerate(found.rows):
        place = to_plan(row, row.rig.view.position_m)
        text = f"{k + 1} {row.position.name}"
        labels.put((float(place[0]), float(place[1])), text, INK, size=8.5)


HEAD = ["", "position", "task", "wanted", "worst hour", "typical hour", "density [px/m]",
        "shutter, gain at worst", "what stands in the way", "price"]  # fmt: skip
COLUMNS = (0.0, 0.3, 2.6, 4.2, 4.9, 6.5, 8.0, 9.15, 10.95, 13.4)


def rows_of(found: Survey) -> list[list[str]]:
    """The table, the greatest risk first."""
    out = []
    for k, row in enumerate(found.rows):
        task = row.scene.model.task
        density = row.rig.view.focal_px / float(row.rig.view.project(row.target_m)[1])
        limits = [r["factor"] for r in row.limits if r["share"] > 0.05][:2]
        w, t = row.worst, row.typical
        out.append(
            [
                str(k + 1), row.position.name, f"{task.name} {task.target}", f"{row.wanted:.2f}",
                f"{w['probability']:.2f} ({w['low']:.2f} to {w['high']:.2f})",
                f"{t['probability']:.2f} ({t['low']:.2f} to {t['high']:.2f})",
                f"{density:.0f}, {density_class(density).density_class}",
                f"{shutter_text(w['shutter_s'])}, {w['gain_db']:.0f} dB, {w['mode']}",
                ", ".join(limits),
                "" if row.position.price is None else three_digits(row.position.price),
            ]
        )  # fmt: skip
    return out


def _table(figure: Figure, found: Survey, height: float, down: float) -> None:
    axes = figure.add_axes((0.03, 0.0, 0.94, 1.0))
    axes.axis("off")
    axes.set_xlim(0, 0.94 * WIDTH_IN)
    axes.set_ylim(height, 0)
    axes.text(0, down, "By risk: the least margin at the worst hour first", size=11.5,
              weight="bold", color=INK, va="center")  # fmt: skip
    y = down + 0.36
    for x, name in zip(COLUMNS, HEAD, strict=True):
        axes.text(x, y, name, size=9, color=SOFT, va="center")
    for row, cells in zip(found.rows, rows_of(found), strict=True):
        y += ROW_IN
        axes.plot([0, 0.94 * WIDTH_IN], [y - ROW_IN / 2] * 2, color=RULE, lw=0.7)
        ends = (*COLUMNS[1:], 0.94 * WIDTH_IN)
        for x, end, cell, name in zip(COLUMNS, ends, cells, HEAD, strict=True):
            worst = name == "worst hour"
            told = fit_text(cell, end - x - 0.08, (9.2, 8.5, 7.8, 7.0), 1)
            axes.text(
                x, y, told.text, size=told.size, va="center",
                color=WORD_COLOURS[row.verdict] if worst else INK,
                weight="bold" if worst else "normal",
            )  # fmt: skip


def answer(found: Survey) -> str:
    """The whole site in a sentence."""
    n = len(found.rows)
    fine = sum(row.verdict == "legible" for row in found.rows)
    text = f"{fine} of {n} positions serve at their worst hour"
    first = found.rows[0]
    if first.verdict == "legible":
        return f"{text}; the least margin is that of {first.position.name}."
    word = shown_word(first.verdict, first.scene.model.task.name)
    text += f"; the greatest risk is {first.position.name}: {word},"
    return f"{text} {100 * first.worst['probability']:.0f} of 100 pictures."


def shopping(found: Survey) -> list[str]:
    """What would mend the positions that fail."""
    out = []
    for row in found.rows:
        if row.verdict == "legible":
            continue
        limits = [r for r in row.limits if r["share"] > 0.05][:2]
        if limits:
            told = " and ".join(
                f"{r['factor']} (without it {100 * r['probability_without']:.0f} of 100)"
                for r in limits
            )
            out.append(f"{row.position.name}: what stands in the way is {told}.")
        for remedy in [r for r in row.remedies if r.get("reaches", True)][:2]:
            out.append(
                f"{row.position.name}: {remedy['lever']} from {remedy['from']} to {remedy['to']}"
                f" {remedy['unit']}: {100 * remedy['probability']:.0f} of 100 pictures."
            )
    return out


def verdict_table(found: Survey) -> dict[str, Any]:
    """What verdict.json holds of a survey."""
    told: list[str] = []
    for row in found.rows:
        told += cautions(row.scene.model, row.rig.world)
    hours = [
        f"{name.capitalize()} hour: {'; '.join(sets) if sets else 'the scenes as written'}."
        for name, sets in (
            ("worst", found.site.hours.worst), ("typical", found.site.hours.typical),
        )
    ]  # fmt: skip
    return {
        "schema_version": 1,
        "study": "survey",
        "site": found.name,
        "title": found.site.title,
        "question": found.site.question,
        "answer": answer(found),
        "engineer": "Sorted by probability at the worst hour less the probability wanted.",
        "seed": found.seed,
        "trials": found.trials,
        "versions": versions(),
        "why": [],
        "changes": shopping(found),
        "conditions": [
            *hours,
            "Positions with hours of their own are judged at those.",
            f"{found.trials} repetitions of the whole camera for each point; intervals are those of"
            " the repetitions, tolerances come on top.",
            "The maps leave out what stands in the way between camera and target.",
        ],
        "cautions": list(dict.fromkeys(told)),
        "tables": [
            {"caption": "Positions by risk", "head": ["rank", *HEAD[1:]], "rows": rows_of(found)},
            {
                "caption": "Probability at the worst hour by distance from the lens",
                "head": ["position", "distance [m]", "probability"],
                "rows": [
                    [row.position.name, f"{d:.1f}",
                     "out of the picture" if np.isnan(p) else f"{p:.2f}"]
                    for row in found.rows
                    for d, p in row.reach
                ],
            },
        ],
        "positions": [
            {
                "name": row.position.name, "scene": row.scene.name, "camera": row.camera.name,
                "price": row.position.price, "wanted_probability": row.wanted,
                "margin": row.margin, "worst": row.worst, "typical": row.typical,
                "limits": row.limits, "remedies": row.remedies,
            }
            for row in found.rows
        ],
    }  # fmt: skip
