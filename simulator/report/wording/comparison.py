"""A comparison of cameras in words, and as it is saved."""

from __future__ import annotations

from typing import Any

from simulator.report.wording.catalogue import say_all
from simulator.report.wording.numbers import listed, pictures
from simulator.report.wording.verdict import worded
from simulator.scene.load import Scene
from simulator.studies.compare import Comparison, Standing, cheapest
from simulator.studies.provenance import versions


def answer(comparison: Comparison, scene: Scene) -> str:
    """Which camera does best before one scene, in a sentence."""
    rows = comparison.standings[scene.name]
    best = [row.camera for row in rows if row.rank == 1]
    reliable = [row.camera for row in rows if row.verdict == "legible"]
    text = f"{scene.model.title}: {listed(best)} {'are' if len(best) > 1 else 'is'} first, with"
    text += f" success in {pictures(rows[0].probability)}"
    if not reliable:
        text += "; none reaches the target reliably"
    elif len(reliable) < len(rows):
        text += f"; {listed(reliable)} {'reach' if len(reliable) > 1 else 'reaches'} the target"
    else:
        text += "; all reach the target"
    cheap = cheapest(rows)
    return text + (f"; the cheapest of these is {cheap}." if cheap else ".")


def standing(row: Standing) -> dict[str, Any]:
    """A camera's place as verdict.json holds it."""
    return {**vars(row), "reserve": None if row.reserve is None else row.reserve.to_dict()}


def comparison_table(comparison: Comparison) -> dict[str, Any]:
    """What verdict.json holds of a comparison."""
    return {
        "schema_version": 1,
        "study": "comparison",
        "title": f"{len(comparison.cameras)} cameras side by side: "
        + ", ".join(scene.model.title for scene in comparison.scenes),
        "question": comparison.scenes[0].model.question if len(comparison.scenes) == 1 else "",
        "answer": " ".join(answer(comparison, scene) for scene in comparison.scenes),
        "versions": versions(),
        "seed": comparison.seed,
        "held_fixed": say_all(comparison.held_fixed),
        "scenes": [
            {
                "scene": scene.name,
                "title": scene.model.title,
                "task": scene.model.task.name,
                "wanted_probability": scene.model.task.wanted_probability,
                "standings": [standing(row) for row in comparison.standings[scene.name]],
                "cheapest_that_serves": cheapest(comparison.standings[scene.name]),
            }
            for scene in comparison.scenes
        ],
        "verdicts": [
            worded(comparison.results[scene.name, camera.name].verdict).to_dict()
            for scene in comparison.scenes
            for camera in comparison.cameras
        ],
    }
