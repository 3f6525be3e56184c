"""The main job: one scene, one camera, one picture, one verdict."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.camera.load import Camera
from simulator.camera.patch import Traces, patch_light
from simulator.camera.pipeline import (
    State,
    frame_history,
    mosaic_of,
    settle_camera,
    shoot,
    with_patch,
)
from simulator.camera.rig import Rig
from simulator.errors import InputError
from simulator.judge.density import EDITION, density_class
from simulator.judge.figures import plate_figures
from simulator.judge.lighting import Contribution, contributions, totals
from simulator.judge.limits import MEANINGS, Limit, find_limits
from simulator.judge.reading import CONTRAST_NOISE
from simulator.judge.target import JudgedPlate, find_plate, plan_patch
from simulator.judge.trials import TRIALS, read_probability
from simulator.judge.verdict import cautions, verdict_word
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.scene.model import Plate
from simulator.studies.provenance import input_hash, versions

SCHEMA_VERSION = 1
LIMITS_BELOW = 0.98
"""Limits are sought only where the reading can still gain."""

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Result:
    """A prediction.

    `stages` holds every intermediate by name, each with its unit: "rate" (rows, columns, 3)
    [e-/s per pixel], "mosaic" (rows, columns) [DN], "frame" (rows, columns, 3) [8-bit levels],
    "patch_rate" [e-/s per pixel], "lights" (contributions on the target).
    """

    scene: Scene
    camera: Camera
    rig: Rig
    state: State
    target: JudgedPlate
    verdict: dict[str, Any]
    frame: NDArray[np.uint8]
    stages: dict[str, tuple[Any, str]] = field(repr=False)


def predict(
    scene: Scene,
    camera: Camera,
    seed: int = 0,
    progress: Progress | None = None,
    trials: int = TRIALS,
) -> Result:
    """Predict the picture and judge it.

    Parameters
    ----------
    seed
        Steers every random draw; the same inputs and seed give the same bytes.
    progress
        Called with what is being done and the share done so far.
    trials
        Independent repetitions of the whole camera for the probability.

    Raises
    ------
    InputError
        For a scene that cannot be built, lit or imaged; it names the file and key.
    """
    say = progress or (lambda text, share: None)
    try:
        return _predict(scene, camera, seed, say, trials)
    except InputError as error:
        if error.file is None:
            raise type(error)(
                error.problem,
                file=scene.file,
                key=error.key,
                given=error.given,
                allowed=error.allowed,
                mend=error.mend,
            ) from None
        raise


def _predict(scene: Scene, camera: Camera, seed: int, say: Progress, trials: int) -> Result:
    say("building the scene", 0.02)
    model = scene.model
    rig = Rig(build_world(model), model.station, camera.model)
    plate = next(t for t in model.target if isinstance(t, Plate) and t.name == model.task.target)
    target = find_plate(rig, plate)
    say("settling the exposure", 0.1)
    state = settle_camera(rig)
    say("tracing the picture", 0.2)
    history, light = frame_history(rig, state)
    plan, traces = plan_patch(rig, state, target), Traces()
    patch = patch_light(rig, state.mode, state.exposure.shutter_s, plan, light.veil, traces=traces)
    shown = with_patch(light, patch, plan.box_px[:2])
    history = [shown.rate if rate is light.rate else rate for rate in history]
    say("exposing and processing", 0.4)
    frame = shoot(rig, state, history, seed=seed)[0]
    say("reading the plate", 0.5)
    probability = read_probability(
        rig, state, target, seed=seed, trials=trials, veil=light.veil, plan=plan, traces=traces
    )
    limits: list[Limit] = []
    if probability.value < LIMITS_BELOW:
        say("asking what limits it", 0.7)
        limits = find_limits(
            rig, state, target, probability.value, plan=plan, traces=traces, seed=seed
        )
    say("adding up", 0.95)
    figures = plate_figures(rig, state, target, plan, patch, frame)
    rows = contributions(
        rig,
        state.mode,
        target.card.centre_m,
        target.card.normal,
        int(np.bincount(target.card.texture[target.card.texture.shape[0] // 2]).argmax()),
        target.card_index,
    )
    lux, irradiance = totals(rig, rows)
    density = density_class(rig.view.pixels_per_m(target.depth_m))
    exposure = state.exposure
    wanted = model.task.wanted_probability
    verdict: dict[str, Any] = {
        "schema_version": SCHEMA_VERSION,
        "scene": scene.name,
        "camera": camera.name,
        "title": model.title,
        "question": model.question,
        "seed": seed,
        "input_hash": input_hash(scene, camera),
        "versions": versions(),
        "exposure": {
            "mode": state.mode,
            "shutter_s": exposure.shutter_s,
            "gain_db": exposure.gain_db,
            "f_number": camera.model.lens.f_number,
            "metering": exposure.metering,
            "limited_by": exposure.limited_by,
            "estimated_lux": state.estimated_lux,
        },
        "geometry": {
            "distance_m": target.distance_m,
            "pixels_per_m": density.pixels_per_m,
            "field_width_m": rig.view.width_px / density.pixels_per_m,
            "density_class": density.density_class,
            "density_edition": EDITION,
        },
        "signal": {
            "illuminance_lux": lux,
            "irradiance_w_m2": irradiance,
            **vars(figures),
        },
        "target": {
            "kind": plate.kind,
            "text": plate.text,
            "box_px": list(target.box_px),
            "character_height_px": target.character_height_px,
        },
        "task": {"name": model.task.name, "wanted_probability": wanted},
        "verdict": verdict_word(probability.value, probability.low, probability.high, wanted),
        "probability": probability.value,
        "probability_low": probability.low,
        "probability_high": probability.high,
        "trials": probability.trials,
        "limits": [
            {
                "factor": limit.factor,
                "probability_without": limit.probability_without,
                "probability_only": limit.probability_only,
                "share": limit.share,
                "meaning": MEANINGS[limit.factor],
            }
            for limit in limits
        ],
        "remedies": [],
        "cautions": cautions(model, rig.world),
        "conditions": _conditions(rig, state, camera, probability.trials),
    }
    mosaic = mosaic_of(rig, state, history[-1], seed=seed)[0]
    stages: dict[str, tuple[Any, str]] = {
        "rate": (shown.rate, "e-/s per pixel"),
        "mosaic": (mosaic, "DN"),
        "frame": (frame, "8-bit levels"),
        "patch_rate": (patch, "e-/s per pixel"),
        "lights": (_lit(rows), "lx or W/m2 on the target"),
    }
    say("done", 1.0)
    return Result(scene, camera, rig, state, target, verdict, frame, stages)


def _lit(rows: list[Contribution]) -> list[Contribution]:
    return sorted(rows, key=lambda row: -row.electrons_per_s)


def _conditions(rig: Rig, state: State, camera: Camera, trials: int) -> list[str]:
    """What was assumed, in plain sentences."""
    assumed = sum(t.source == "assumed" for t in camera.tolerances.values())
    out = [
        "The camera is a generic archetype, not a product; "
        f"{assumed} of its numbers are marked assumed.",
        f"Focus stands at {rig.camera.lens.focus_m:g} m; lens and dome are clean and dry; the air"
        " is clear.",
        "Exposure, white balance and mode have settled before the picture is taken.",
        f"The interval is that of {trials} trials; it does not yet hold the tolerances of the"
        " profile and the scene.",
        "The reader knows where the plate is; its own noise is set by common practice"
        f" (contrast noise {CONTRAST_NOISE:g}), not by a reader you know.",
        "No loss to recording: the picture is judged before any compression.",
        *rig.world.assumptions,
    ]
    if rig.camera.day_night.mode == "auto":
        out.append(
            f"The camera takes the scene for {state.estimated_lux:.2g} lx by its own signal and"
            f" chose {state.mode} mode; between its two thresholds it would stay as it was, here"
            " day."
        )
    if np.any(rig.world.velocities):
        out.append("Everything that moves together smears as its judged target does.")
    return out
