"""What a camera does by itself as the light of a scene falls and comes back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from simulator.camera.auto_exposure import Meter, settle_exposure
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.judge.lighting import contributions, totals
from simulator.judge.target import find_target, main_material
from simulator.scene.load import Scene
from simulator.studies.placing import judged_entry, placed

LEVELS_LUX = (300.0, 100.0, 30.0, 10.0, 3.0, 1.0, 0.3, 0.1)
"""Half-decades from a well lit hall down to less than a full moon gives [lx]."""


@dataclass(frozen=True)
class LightLevel:
    """The camera at rest under one level of light."""

    lux: float
    """Illuminance on the target [lx]."""
    falling: bool
    mode: Mode
    estimated_lux: float
    """What the camera takes the light for by its own signal [lx]."""
    shutter_s: float
    gain_db: float
    f_number: float
    accumulated: int
    limited_by: str
    level: float
    """Metered level, as a share of white."""


def target_lux(in_scene: CameraInScene, scene: Scene) -> float:
    """Illuminance on the task's target by day as the scene says [lx].

    Raises
    ------
    InputError
        For a scene without visible light on its target.
    """
    target = find_target(in_scene, judged_entry(scene.model))
    card = target.card
    rows = contributions(
        in_scene, "day", card.centre_m, card.normal, main_material(card), target.card_index
    )
    lux = totals(rows)[0]
    if lux <= 0.0:
        raise InputError(
            "No visible light falls on the target: levels of light need some.",
            file=scene.file,
            key="natural_light.illuminance_lux",
            given=lux,
            allowed="above 0",
            fix="give the natural light a value, or switch on a lamp",
        )
    return lux


def settled_levels(
    scene: Scene, camera: Camera, levels_lux: Sequence[float] = LEVELS_LUX, *, up: bool = True
) -> list[LightLevel]:
    """Mode and exposure at every level of falling light and, with `up`, of rising light again.

    All lights of the scene are dimmed together, infrared too, so that the target of the task has
    each illuminance in turn. Between its thresholds the camera stays in the mode of the level
    before; every level is held long enough to settle (longer than the delay of the mode).

    Parameters
    ----------
    levels_lux
        Illuminances on the target [lx], in any order.
    up
        Whether the light comes back, by the same levels.

    Raises
    ------
    InputError
        For a scene without visible light on its target, or a level that is not possible.
    """
    in_scene = placed(scene.model, camera.model)
    now_lux = target_lux(in_scene, scene)
    wrong = [lux for lux in levels_lux if not 0.0 < lux < 1e6]
    if wrong or not levels_lux:
        raise InputError(
            "A level of light is not possible.",
            given=wrong[0] if wrong else "none",
            allowed="one or more illuminances above 0 and below 1e6 lx",
        )
    meter = Meter(in_scene)
    mode: Mode = "day"
    falling = [(lux, True) for lux in sorted(levels_lux, reverse=True)]
    rising = [(lux, False) for lux in sorted(levels_lux)] if up else []
    levels = []
    for lux, falls in falling + rising:
        state = settle_exposure(in_scene, before=mode, meter=meter.scaled(lux / now_lux))
        mode, exposure = state.mode, state.exposure
        levels.append(
            LightLevel(
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
