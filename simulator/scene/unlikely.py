"""What a scene may say but hardly means: places, speeds and aims that are told, not refused.

The limits are chosen by us: beyond them a slip of the unit or of the sign is likelier than the
place itself.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.messages import Message
from simulator.scene.builder import Builder
from simulator.scene.model_targets import Face, Person
from simulator.scene.model_things import Plate, VehicleFront, VehicleRear, VehicleSide
from simulator.units import FloatArray

HIGH_M = 30.0
"""Lenses hang lower; masts of floodlights end about here [m]."""
FAR_M = 500.0
"""Farthest place of a judged target [m]: 1 m covers 10 px of a 4K picture of 20 degrees there."""
UNDER_M = 0.05
"""How far below the ground an aim point is taken for the ground [m]."""
HANGING_M = 5.0
"""Height of a plate, vehicle or person over the ground that needs a bridge or a floor [m]."""
AT_LENS_M = 0.05
"""A light nearer to the lens than this is within the lens's own body [m]."""
ON_FOOT_KMH = 45.0
"""Speed of the fastest sprinter [km/h]."""
ON_ROAD_KMH = 250.0
"""Speed that cars for the road do not pass [km/h]."""
SUNNY_LUX = 130_000.0
"""Sun at the zenith with the clear sky around it [lx]."""

_VEHICLES = (Plate, VehicleFront, VehicleRear, VehicleSide)


def tell_unlikely(b: Builder) -> None:
    """Tell of what is likelier a slip than meant."""
    b.assumptions += [*_of_station(b), *_of_targets(b), *_of_lights(b)]


def _message(what: str, name: str, value: float, key: str) -> Message:
    return Message(f"assumption.unlikely-{what}", {"name": name, "value": value, "key": key})


def _of_station(b: Builder) -> list[Message]:
    station = b.scene.station
    found = []
    if station.height_m > HIGH_M:
        found.append(_message("height", "", station.height_m, "station.height_m"))
    if station.aim_m[2] < -UNDER_M:
        found.append(_message("aim", "", -station.aim_m[2], "station.aim_m"))
    lux = b.scene.natural_light.illuminance_lux
    if lux is not None and lux > SUNNY_LUX:
        found.append(_message("daylight", "", lux, "natural_light.illuminance_lux"))
    return found


def _middle(b: Builder, name: str) -> FloatArray | None:
    cards = [b.cards[i].centre_m for i in b.targets.get(name, ())]
    return np.mean(cards, axis=0) if cards else None


def _of_targets(b: Builder) -> list[Message]:
    found = []
    for target in b.scene.target:
        key = f"target.{target.name}"
        walks = isinstance(target, Face | Person)
        fastest = ON_FOOT_KMH if walks else ON_ROAD_KMH
        if target.speed_kmh > fastest:
            found.append(_message("speed", target.name, target.speed_kmh, f"{key}.speed_kmh"))
        middle = _middle(b, target.name)
        if middle is None:
            continue
        away_m = math.dist(middle, b.scene.station.position_m)
        if target.name == b.scene.task.target and away_m > FAR_M:
            found.append(_message("distance", target.name, away_m, f"{key}.position_m"))
        if isinstance(target, (*_VEHICLES, Face, Person)):
            low_m = min(float(b.cards[i].corners_m[:, 2].min()) for i in b.targets[target.name])
            if low_m > HANGING_M:
                found.append(_message("hanging", target.name, low_m, f"{key}.position_m"))
    return found


def _of_lights(b: Builder) -> list[Message]:
    """Lamps and illuminators as they hang."""
    kinds = {light.name: "lamp" for light in b.scene.lamp}
    kinds |= {light.name: "illuminator" for light in b.scene.illuminator}
    judged_m = _middle(b, b.scene.task.target)
    found = []
    for light in b.lights:
        if light.position_m is None or light.owner not in kinds:
            continue
        key = f"{kinds[light.owner]}.{light.name}"
        away_m = math.dist(light.position_m, b.scene.station.position_m)
        if away_m < AT_LENS_M:
            found.append(_message("at-lens", light.name, away_m, key))
        ahead = 1.0
        if kinds[light.owner] == "illuminator" and judged_m is not None:
            assert light.direction is not None
            ahead = float(light.direction @ (judged_m - light.position_m))
        if ahead < 0.0:
            found.append(_message("beam", light.name, -ahead, f"{key}.aim_m"))
    return found
