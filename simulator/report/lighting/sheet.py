"""The sizing of a lamp on one page, and its light on the ground as a map."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.report.fitting import fit_text
from simulator.report.inks import PAPER, SOFT, WORD_COLOURS
from simulator.report.lighting.charts import (
    curve,
    draw_curve,
    draw_map,
    draw_targets,
    frame,
    ground,
    shown_ways,
    tile,
    write,
)
from simulator.report.lighting.costs import avoided, missing, need_words
from simulator.report.lighting.eyes import eye_cautions
from simulator.report.lighting.tables import verdict_table
from simulator.report.pictures import origin_text, write_png
from simulator.report.wording import three_digits, with_unit
from simulator.studies.folder import result_folder
from simulator.studies.lighting.study import Lighting
from simulator.studies.quick import Quick

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_IN, HEIGHT_IN, DPI = 13.0, 18.05, 110
LEFT_IN, INNER_IN = 0.45, 12.1
ROW_IN, ROWS = 1.22, 2
"""Height of a row of tiles, and how many have room at `HEIGHT_IN`."""


def save_lighting(folder: Path, found: Lighting) -> Path:
    """Write sheet, map, curve and targets as PNG, pictures/, inputs/ and verdict.json.

    Whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    told = verdict_table(found)
    with result_folder(folder) as place:
        draw_sheet(place / "sheet.png", found, told)
        draw_map(place / "map.png", found, told)
        draw_curve(place / "curve.png", found, told)
        draw_targets(place / "targets.png", found, told)
        pictures = place / "pictures"
        pictures.mkdir()
        for name, q in _pictured(found):
            if q.seen is not None:
                write_png(pictures / f"{name}.png", q.seen.frame, origin_text(told))
        inputs = place / "inputs"
        inputs.mkdir()
        found.scene.save(inputs / "scene.toml")
        found.sized_scene.save(inputs / "scene-with-lamp.toml")
        found.camera.save(inputs / "camera.toml")
        (place / "verdict.json").write_text(
            json.dumps(told, indent=2, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8"
        )
    return folder


def _pictured(found: Lighting) -> list[tuple[str, Quick]]:
    ways = [(w.name, w.judged) for w in (found.before, found.sized, *found.ways)]
    return [*ways, ("sized-lamp-twice", found.twice)]


def draw_sheet(path: Path, found: Lighting, told: dict[str, Any]) -> None:
    """The whole study on one page as a PNG."""
    from matplotlib.figure import Figure

    rows = -(-len(shown_ways(found)) // 5)
    high = HEIGHT_IN + (ROW_IN + 0.4) * max(0, rows - ROWS)
    figure = Figure(figsize=(WIDTH_IN, high), dpi=DPI, facecolor=PAPER)
    _heading(figure, found, told)
    before, sized = found.before.judged, found.sized.judged
    frame(_place(figure, LEFT_IN, 2.05, 5.95, 3.35), "without the lamp", before)
    frame(_place(figure, LEFT_IN + 6.15, 2.05, 5.95, 3.35), "with the sized lamp", sized)
    tiles = (
        ("without the lamp", before), ("sized lamp", sized), ("twice as strong", found.twice),
    )  # fmt: skip
    for k, (name, q) in enumerate(tiles):
        tile(_place(figure, LEFT_IN + 4.1 * k, 5.8, 3.9, 1.22), name, q)
    _title(figure, LEFT_IN, 7.53, "How strong: probability by intensity")
    curve(_place(figure, LEFT_IN + 0.55, 7.95, 4.9, 2.6), found)
    _title(figure, LEFT_IN + 6.6, 7.53, "Where the light falls: lamp alone, on the ground")
    ground(_place(figure, LEFT_IN + 7.1, 7.87, 4.6, 2.7), found, small=True)
    _title(figure, LEFT_IN, 11.11, "What else was tried, in the same place and at the same hour")
    for k, way in enumerate(shown_ways(found)):
        at = (LEFT_IN + 2.44 * (k % 5), 11.4 + ROW_IN * (k // 5))
        tile(_place(figure, *at, 2.3, 0.64), way.name, way.judged, way)
    _columns(figure, found, told)
    _footer(figure, found)
    figure.savefig(path, dpi=DPI, metadata=origin_text(told))


def _place(figure: Figure, left: float, down: float, wide: float, high: float) -> Axes:
    sheet = figure.get_figheight()
    return figure.add_axes(
        (left / WIDTH_IN, (sheet - down - high) / sheet, wide / WIDTH_IN, high / sheet)
    )


def _title(figure: Figure, left: float, down: float, text: str) -> None:
    write(figure, left, down, text, 6.2, (11.5, 10.5, 9.5), 1, weight="bold")


def _heading(figure: Figure, found: Lighting, told: dict[str, Any]) -> None:
    y = write(figure, LEFT_IN, 0.28, told["title"], INNER_IN, (19, 16, 14), 1, weight="bold")
    about = f"{told['question']}  Camera: {found.camera.model.title}"
    y = write(figure, LEFT_IN, y + 0.02, about, INNER_IN, (11, 10, 9), 2, color=SOFT)
    y = write(figure, LEFT_IN, y + 0.02, " ".join(told["hours"]), INNER_IN, (10, 9, 8), 2)
    write(
        figure, LEFT_IN, y + 0.08, told["answer"], INNER_IN, (14, 13, 12, 11, 10), 2,
        color=WORD_COLOURS[found.search.verdict], weight="bold",
    )  # fmt: skip


def _columns(figure: Figure, found: Lighting, told: dict[str, Any]) -> None:
    rows = -(-len(shown_ways(found)) // 5)
    top = 11.45 + ROW_IN * rows + 0.12
    room = figure.get_figheight() - 0.75 - top
    eye = eye_cautions(found)
    money = []
    dark = found.money.dark
    if dark is not None:
        money.append(
            f"{dark.yearly_h:.0f} h of darkness a year (sun below {dark.below_deg:g}°) at"
            f" {with_unit(found.power_w, 'W')}: {three_digits(dark.yearly_h * found.power_w / 1e3)}"
            " kWh a year."
        )
    money.append(avoided(found))
    need = missing(found)
    if found.before.judged.verdict == "legible":
        pass  # what is not needed need not be priced
    elif need:
        money.append(f"Not told, so not counted: {need_words(need)}.")
    else:
        money += [c for c in told["changes"] if c.startswith("Cheapest")]
    texts = (
        ("Why", told["why"][:6]),
        (
            "What to do",
            [
                c
                for c in told["changes"]
                if c != avoided(found) and not c.startswith(("Costs", "Cheapest"))
            ][:5],
        ),
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
        write(figure, left, top, title, 3.8, (11.5,), 1, weight="bold")
        y = top + 0.28
        for text in lines:
            y = write(figure, left, y, text, 3.85, (size,), 99) + 0.05


def _footer(figure: Figure, found: Lighting) -> None:
    text = (
        "Predicted from assumed, generic archetypes, not products; intervals are those of"
        f" {found.ask.trials} repetitions (fresh noise {2 * found.ask.trials}), tolerances come on"
        " top. Conditions, all tables and cautions stand in verdict.json and in the report."
        " Mains wiring and work at height are for trained people under local codes."
    )
    write(figure, LEFT_IN, figure.get_figheight() - 0.62, text, INNER_IN, (8.5, 8.0), 2, color=SOFT)
