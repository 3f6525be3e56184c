"""A ladder of light: what a camera does by itself as the light of a scene falls and comes back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from simulator.camera.auto_exposure import Meter, settle_exposure
from simulator.camera.in_scene import Mode, place_camera
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.judge.lighting import contributions, totals
from simulator.judge.target import find_target, main_material
from simulator.scene.build import build_world
from simulator.scene.load import Scene

STEPS_LUX = (300.0, 65.0, 10.0, 5.0, 1.0, 0.1)


@dataclass(frozen=True)
class Rung:
    """The camera at rest on one step of the ladder."""

    lux: float
    """Illuminance on the target [lx]."""
    falling: bool
    mode: Mode
    believed_lux: float
    """What the camera takes the light for by its own signal [lx]."""
    shutter_s: float
    gain_db: float
    f_number: float
    accumulated: int
    limited_by: str
    level: float
    """Metered level, as a share of white."""


def light_ladder(
    scene: Scene, camera: Camera, steps_lux: Sequence[float] = STEPS_LUX, *, up: bool = True
) -> list[Rung]:
    """Mode and exposure on every step of falling light and, with `up`, of rising light again.

    All lights of the scene are dimmed together, infrared too, so that the target of the task has
    each illuminance in turn. Between its thresholds the camera stays in the mode of the step
    before; every step is held long enough to settle (longer than the delay of the mode).

    Raises
    ------
    InputError
        If no visible light falls on the target, or a step is not above 0.
    """
    model = scene.model
    in_scene = place_camera(build_world(model), model.station, camera.model)
    entry = next(t for t in model.target if t.name == model.task.target)
    target = find_target(in_scene, entry)
    rows = contributions(
        in_scene,
        "day",
        target.card.centre_m,
        target.card.normal,
        main_material(target.card),
        target.card_index,
    )
    now_lux = totals(rows)[0]
    if now_lux <= 0.0:
        raise InputError(
            "No visible light falls on the target: a ladder of lux needs some.",
            file=scene.file,
            key="natural_light.illuminance_lux",
            given=now_lux,
            allowed="above 0",
            fix="give the natural light a value, or switch on a lamp",
        )
    wrong = [lux for lux in steps_lux if not 0.0 < lux < 1e6]
    if wrong:
        raise InputError(
            "A step of the ladder is not possible.", given=wrong[0], allowed="above 0, below 1e6"
        )
    meter = Meter(in_scene)
    mode: Mode = "day"
    falling = [(lux, True) for lux in sorted(steps_lux, reverse=True)]
    rising = [(lux, False) for lux in sorted(steps_lux)] if up else []
    levels = []
    for lux, falls in falling + rising:
        state = settle_exposure(in_scene, before=mode, meter=meter.scaled(lux / now_lux))
        mode, exposure = state.mode, state.exposure
        levels.append(
            Rung(
                lux,
                falls,
                mode,
                state.estimated_lux,
                exposure.shutter_s,
                exposure.gain_db,
                exposure.f_number,
                exposure.accumulated,
                exposure.limited_by,
                exposure.level,
            )
        )
    return levels
