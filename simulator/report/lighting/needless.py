"""The short sheet and result of a lighting study that found that no lamp is needed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from simulator.judge.verdict import cautions
from simulator.report.inks import PAPER, SOFT, WORD_COLOURS
from simulator.report.lighting.charts import frame, tile, write
from simulator.report.lighting.words import (
    hour_lines,
    no_lamp_needed,
    without_words,
    written_words,
)
from simulator.report.pictures import origin_text, write_png
from simulator.report.wording import say_all
from simulator.scene.build import build_world
from simulator.studies.folder import result_folder
from simulator.studies.lighting.costs import Money
from simulator.studies.lighting.lamps import with_lamp
from simulator.studies.lighting.need import NoLamp
from simulator.studies.provenance import input_hash, versions

WIDTH_IN, HEIGHT_IN, DPI = 13.0, 7.9, 110
LEFT_IN, INNER_IN = 0.45, 12.1
ANYWAY = (
    "Leave the lamp out: without it the task already succeeds as surely as wanted. Nothing was"
    " sized; --anyway sizes a lamp all the same."
)


def needless_table(found: NoLamp, money: Money | None = None) -> dict[str, Any]:
    """What verdict.json holds where no lamp is needed."""
    model, q, before = found.scene.model, found.before.dark, found.before
    dark_scene = with_lamp(found.scene, None).model
    assumed = sum(t.source == "assumed" for t in found.camera.tolerances.values())
    hours = hour_lines(found.scene, None if money is None else money.dark)
    own = cautions(dark_scene, build_world(dark_scene))
    why = [without_words(found.scene, q)]
    if before.written is not None:
        why.append(written_words(found.scene, before.written))
    return {
        "schema_version": 1,
        "study": "lighting",
        "verdict": q.verdict,
        "scene": found.scene.name,
        "camera": found.camera.name,
        "seed": found.seed,
        "input_hash": input_hash(found.scene, found.camera),
        "versions": versions(),
        "title": f"Sizing a lamp: {model.title}",
        "question": model.question,
        "answer": no_lamp_needed(found.scene, q),
        "hours": hours,
        "engineer": (
            f"P = {q.probability:.3f} ({q.probability_low:.3f} to {q.probability_high:.3f})"
            f" without a lamp, wanted {model.task.wanted_probability:.2f}; no lamp was sized."
        ),
        "why": why,
        "changes": [ANYWAY],
        "conditions": [
            *hours,
            f"The camera is a generic archetype; {assumed} of its numbers are marked assumed.",
            f"{found.trials} repetitions of the whole camera; the interval is that of the"
            " repetitions, tolerances of camera and scene come on top.",
            "Only the hour of the scene was judged: in a darker one a lamp may be needed.",
        ],
        "cautions": say_all(own),
        "messages": {"cautions": [message.row() for message in own]},
        "tables": [],
        "pictures": [
            {
                "file": "pictures/as-it-is.png", "alt": "Predicted picture without a lamp",
                "caption": "Without a lamp (predicted).", "wide": False,
            }
        ],
        "lighting": {
            "needed": False,
            "probability_without": q.probability,
            "probability_without_low": q.probability_low,
            "probability_without_high": q.probability_high,
            "wanted_probability": model.task.wanted_probability,
        },
    }  # fmt: skip


def save_needless(folder: Path, found: NoLamp, money: Money | None = None) -> Path:
    """Write sheet, picture, inputs/ and verdict.json, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    told = needless_table(found, money)
    seen = found.before.dark.seen
    assert seen is not None
    with result_folder(folder) as place:
        _sheet(place / "sheet.png", found, told)
        for name in ("pictures", "inputs"):
            (place / name).mkdir()
        write_png(place / "pictures" / "as-it-is.png", seen.frame, origin_text(told))
        found.scene.save(place / "inputs" / "scene.toml")
        found.camera.save(place / "inputs" / "camera.toml")
        (place / "verdict.json").write_text(
            json.dumps(told, indent=2, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8"
        )
    return folder


def _sheet(path: Path, found: NoLamp, told: dict[str, Any]) -> None:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), dpi=DPI, facecolor=PAPER)

    def told_at(
        left: float, down: float, text: str, wide: float, size: float, **style: Any
    ) -> float:
        return write(figure, left, down, text, wide, (size, 0.9 * size), 3, **style) + 0.04

    q = found.before.dark
    y = told_at(LEFT_IN, 0.28, told["title"], INNER_IN, 19, weight="bold")
    about = f"{told['question']}  Camera: {found.camera.model.title}"
    y = told_at(LEFT_IN, y, about, INNER_IN, 11, color=SOFT)
    y = told_at(LEFT_IN, y, " ".join(told["hours"]), INNER_IN, 10)
    colour = WORD_COLOURS[q.verdict]
    y = told_at(LEFT_IN, y + 0.05, told["answer"], INNER_IN, 14, weight="bold", color=colour)
    top, high = y + 0.15, 4.2
    axes = figure.add_axes(
        (LEFT_IN / WIDTH_IN, 1.0 - (top + high) / HEIGHT_IN, 7.5 / WIDTH_IN, high / HEIGHT_IN)
    )
    frame(axes, "without a lamp", q, anchor="NW")
    right = LEFT_IN + 7.85
    axes = figure.add_axes(
        (right / WIDTH_IN, 1.0 - (top + 1.9) / HEIGHT_IN, 4.2 / WIDTH_IN, 1.9 / HEIGHT_IN)
    )
    tile(axes, f"the {found.scene.model.task.target}, pixel by pixel", q, size=9.5)
    y = told_at(right, top + 2.6, "Why", 4.2, 11.5, weight="bold")
    for text in told["why"]:
        y = told_at(right, y, text, 4.2, 9.6)
    y = told_at(LEFT_IN, top + high + 0.5, "What to do", INNER_IN, 11.5, weight="bold")
    told_at(LEFT_IN, y, told["changes"][0], INNER_IN, 9.6)
    told_at(
        LEFT_IN, HEIGHT_IN - 0.45,
        "Predicted from assumed, generic archetypes, not products; conditions and cautions stand in"
        " verdict.json and in the report.",
        INNER_IN, 8.5, color=SOFT,
    )  # fmt: skip
    figure.savefig(path, dpi=DPI, metadata=origin_text(told))
