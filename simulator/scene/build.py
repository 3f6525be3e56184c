"""From a scene file to the world the renderer traces: cards, materials, lights, movement."""

from __future__ import annotations

import numpy as np

from simulator.messages import Message
from simulator.scene.build_backlight import add_opening, solve_backlights
from simulator.scene.build_bodies import add_body, add_room, tell_clashes
from simulator.scene.build_lights import add_lamps, add_natural_light, spare_housings
from simulator.scene.build_site_photo import add_site_photo
from simulator.scene.build_targets import (
    add_chart,
    add_face,
    add_parcel,
    add_person,
    add_sign,
)
from simulator.scene.build_things import (
    add_photographs,
    add_plate,
    add_vehicle,
    add_vehicle_rear,
    add_vehicle_side,
    standing_card,
)
from simulator.scene.builder import Builder
from simulator.scene.model import (
    Gate,
    Ground,
    Plate,
    SceneModel,
    Target,
    VehicleFront,
    VehicleRear,
    VehicleSide,
    Wall,
)
from simulator.scene.model_targets import Face, Parcel, Person, Sign
from simulator.scene.model_things import Opening
from simulator.scene.unlikely import tell_unlikely
from simulator.scene.world import OpeningLights, World

DEFAULT_GROUND = "asphalt"


def build_world(scene: SceneModel) -> World:
    """Everything of a scene in world coordinates.

    Parameters
    ----------
    scene
        What the scene file says.

    Returns
    -------
    World
        Cards, materials, lights and movement, ready to be traced.

    Raises
    ------
    FileFormatError
        If a spectrum, material, sheeting or plate design does not exist, with its dotted key.
    InputError
        If a luminance ratio that was asked for cannot be reached.

    References
    ----------
    Each part names its own: lights in `simulator.light`, materials and targets in their tables.

    Examples
    --------
    >>> from simulator.scene import Scene
    >>> world = build_world(Scene.load("depot-gate-infrared").model)
    >>> sorted(world.targets)
    ['plate', 'truck']
    """
    b = Builder(scene)
    ground = _ground(b)
    add_natural_light(b, ground[0])
    add_lamps(b)
    openings: list[OpeningLights] = []
    for surface in scene.surface:
        match surface:
            case Wall() | Gate():
                b.cards.append(standing_card(b, surface))
            case Opening():
                openings.append(add_opening(b, surface))
    for room in scene.room:
        add_room(b, room)
    for body in scene.body:
        add_body(b, body)
    # plates first, so that what carries them finds their place
    for target in sorted(scene.target, key=lambda t: not isinstance(t, Plate)):
        _add_target(b, target)
    add_site_photo(b)
    add_photographs(b)
    tell_clashes(b)
    spare_housings(b)
    tell_unlikely(b)
    world = World(
        b.cards,
        b.materials,
        b.lights,
        b.emitters,
        np.stack(b.velocities),
        b.plates,
        *ground,
        targets=b.targets,
        assumptions=[
            *b.assumptions,
            *([scene.air.message()] if scene.air else []),
            *([Message("assumption.glossy-ground")] if b.materials[ground[0]].gloss else []),
        ],
        air=scene.air,
        heads=b.heads,
        openings=tuple(openings),
        meshes=tuple(b.meshes),
    )
    solve_backlights(world, np.asarray(scene.station.position_m))
    return world


def _add_target(b: Builder, target: Target) -> None:
    match target:
        case VehicleFront():
            add_vehicle(b, target)
        case VehicleRear():
            add_vehicle_rear(b, target)
        case VehicleSide():
            add_vehicle_side(b, target)
        case Face():
            add_face(b, target)
        case Person():
            add_person(b, target)
        case Sign():
            add_sign(b, target)
        case Parcel():
            add_parcel(b, target)
        case Plate():
            add_plate(b, target)
        case _:
            add_chart(b, target)


def _ground(b: Builder) -> tuple[int, float, float]:
    for surface in b.scene.surface:
        if isinstance(surface, Ground):
            index = b.material(surface.material, f"surface.{surface.name}.material")
            return index, surface.variation, surface.grain_m
    b.assumptions.append(Message("assumption.no-ground", {"material": DEFAULT_GROUND}))
    return b.material(DEFAULT_GROUND, "surface"), 0.0, 0.05
