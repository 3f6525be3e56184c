"""A world under its own lights at other strengths: nothing is built again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from simulator.errors import InputError, NameNotFoundError
from simulator.light.sources import NATURAL
from simulator.scene.build_backlight import solve_backlights
from simulator.scene.world import World
from simulator.units import FloatArray


def natural_lux(world: World) -> float:
    """Natural illuminance of level ground in the open [lx]: what the ground throws back is given by
    it (lights of kind "bounce")."""
    return sum(x.strength for x in world.lights if x.owner == NATURAL and x.kind == "bounce")


def over_natural(world: World, lux: float) -> float:
    """By how much natural light is to be stronger for so much of it on level ground [lx].

    Raises
    ------
    InputError
        For a scene without natural light, or a value that is not possible.
    """
    now = natural_lux(world)
    if now <= 0.0:
        raise InputError(
            "The scene has no natural light that could be made stronger.",
            argument="lux",
            key="natural_light.illuminance_lux",
            given=now,
            fix="give the scene some natural light",
        )
    if not 0.0 <= lux < np.inf:
        raise InputError(
            "This illuminance is not possible.", argument="lux", given=lux, allowed="0 or more"
        )
    return lux / now


def relit(world: World, factors: Mapping[str, float], station_m: FloatArray) -> World:
    """The same world with some of its lights stronger or weaker.

    Openings with a luminance ratio keep it: their luminance follows the light on their subject, as
    in a scene file. What `assumptions` says of the natural light is left as it was.

    Parameters
    ----------
    factors
        Strength, 0 or more, by owner of a light (`LightSource.owner`), 1 as it is.
    station_m
        Where the camera stands (3,) [m].

    Raises
    ------
    NameNotFoundError
        For an owner of no light.
    InputError
        For a strength that is not possible, or a luminance ratio that cannot be kept.
    """
    _check(world, factors)
    lights = [x.scaled(float(factors.get(x.owner, 1.0))) for x in world.lights]
    for one in world.openings:
        if one.opening.luminance_ratio is not None:
            # for a luminance of 1 cd/m2, as `solve_backlights` takes them
            now = lights[one.panel].strength
            for k in (one.panel, *one.parts):
                lights[k] = lights[k].scaled(1.0 / now)
    messages = [backlight.message() for backlight in world.backlights]
    other = replace(
        world,
        lights=lights,
        backlights=[],
        assumptions=[text for text in world.assumptions if text not in messages],
    )
    solve_backlights(other, station_m)
    return other


def _check(world: World, factors: Mapping[str, float]) -> None:
    owners = dict.fromkeys(light.owner for light in world.lights)
    held = {o.opening.name for o in world.openings if o.opening.luminance_ratio is not None}
    for owner, factor in factors.items():
        if owner not in owners:
            raise NameNotFoundError(
                "There is no such light, or it is switched off.",
                argument="lamps",
                given=owner,
                allowed=", ".join(name for name in owners if name != NATURAL) or "none here",
                fix="switch it on in the scene; a factor of 0 then switches it off",
            )
        if owner in held:
            raise InputError(
                f"The luminance of {owner!r} follows from its luminance ratio.",
                argument="lamps",
                given=owner,
                fix="give the opening a luminance_cd_m2 in the scene",
            )
        if not 0.0 <= factor < np.inf:
            raise InputError(
                f"The strength of {owner!r} is not possible.",
                argument="lamps",
                given=factor,
                allowed="0 or more, 1 as in the scene",
            )
