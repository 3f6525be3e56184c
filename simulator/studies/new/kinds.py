"""Kinds of new scenes: what stands in each, what is asked of it, and its usual answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

from simulator.studies.new.lights import NamedLight

KindName = Literal["gate", "car-park", "door", "room", "fence", "person"]


@dataclass(frozen=True)
class Answers:
    """What the questions ask for; lengths in metres."""

    kind: KindName = "gate"
    title: str = "A gate of my own"
    light: str = "town-night"
    distance_m: float = 15.0
    height_m: float = 3.0
    sideways_m: float = 0.5
    text: str = "A1B2 C3D"
    vehicle: str = "car"
    speed_kmh: float = 10.0
    infrared: str | None = "infrared-850-medium"
    lamp_lm: float = 0.0
    wanted_probability: float = 0.9


class Part(NamedTuple):
    """A comment and the tables below it."""

    comment: str
    table: Mapping[str, Any]


@dataclass(frozen=True)
class Kind:
    """A kind of scene.

    `asks` are the options that it takes besides title, light, distance and height; `usual` its
    answers where they are not those of `Answers`.
    """

    words: str
    question: str
    task: str
    target: str
    aim_z_m: float
    asks: tuple[str, ...]
    usual: Mapping[str, Any]
    things: Callable[[Answers, NamedLight], list[Part]]
    indoors: bool = False


NIGHT_LUX = 50.0
"""Natural light below which vehicles drive with dipped headlights (chosen by us)."""
CLOSED_LUX = 1.0
"""Natural light in a closed room: next to nothing comes in but by its door and windows [lx]."""
PLATE_M = 0.55
DESIGN = "dark-on-white-520x110"
"""Plate of a new scene."""
BEHIND_M = 2.0
"""How far a room reaches behind the camera [m]."""


def point(a: Answers, z_m: float) -> list[float]:
    """The place of the target at a height [m]."""
    return [a.sideways_m, a.distance_m, z_m]


def _headlights(lux: float, speed_kmh: float) -> str:
    return "dipped" if speed_kmh > 0.0 and lux < NIGHT_LUX else "off"


def _plate(a: Answers, light: NamedLight) -> Part:
    return Part(
        "# The plate that is judged, and the vehicle that carries it and moves with it.",
        {"target": [
            {"name": "plate", "kind": "plate", "text": a.text, "design": DESIGN,
             "position_m": point(a, PLATE_M), "facing_deg": 0.0, "speed_kmh": a.speed_kmh,
             "heading_deg": 0.0},
            {"name": "vehicle", "kind": "vehicle-front", "style": a.vehicle, "paint": "paint-grey",
             "carries": "plate", "headlights": _headlights(light.lux, a.speed_kmh)},
        ]},
    )  # fmt: skip


def _person(a: Answers, *, walks_deg: float | None, upper: str = "cotton-blue") -> Part:
    entry: dict[str, Any] = {
        "name": "visitor", "kind": "person", "position_m": point(a, 0.0), "upper": upper,
    }  # fmt: skip
    if walks_deg is not None and a.speed_kmh > 0.0:
        entry |= {"pose": "walking", "speed_kmh": a.speed_kmh, "heading_deg": walks_deg}
    return Part("# Who is judged.", {"target": [entry]})


def _ground(material: str, variation: float, *more: Mapping[str, Any]) -> Part:
    return Part(
        "# What the ground is made of, and how much its reflectance varies from place to place.",
        {"surface": [
            {"name": "ground", "kind": "ground", "material": material, "variation": variation},
            *more,
        ]},
    )  # fmt: skip


def _lamp(a: Answers, name: str, share: float, at: list[float], aim: list[float]) -> dict[str, Any]:
    return {
        "name": name, "spectrum": "led-4000k", "luminous_flux_lm": round(a.lamp_lm * share, 1),
        "beam_deg": 110.0, "position_m": at, "aim_m": aim, "on": True,
    }  # fmt: skip


def _lamp_beside(a: Answers) -> list[Part]:
    if a.lamp_lm <= 0.0:
        return []
    entry = _lamp(
        a, "lamp", 1.0, [a.sideways_m + 3.0, a.distance_m - 1.0, 4.5], point(a, 0.0)
    ) | {"spectrum": "led-3000k"}  # fmt: skip
    return [Part("# A lamp near the target; switch it off with on = false.", {"lamp": [entry]})]


def _wall_behind(a: Answers) -> dict[str, Any]:
    return {
        "name": "back wall", "kind": "wall", "material": "concrete",
        "position_m": [0.0, a.distance_m + 9.0, 0.0], "width_m": 24.0, "height_m": 3.5,
        "variation": 0.04,
    }  # fmt: skip


def _gate(a: Answers, light: NamedLight) -> list[Part]:
    return [*_lamp_beside(a), _ground("asphalt", 0.12, _wall_behind(a)), _plate(a, light)]


def _car_park(a: Answers, light: NamedLight) -> list[Part]:
    x, y = a.sideways_m, a.distance_m
    masts = [("left", x - 5.5, y - 5.0), ("right", x + 6.5, y - 3.0)]
    lamps = [
        _lamp(a, f"mast {side}", 0.5, [mx, my, 8.0], [x, y, 0.0]) for side, mx, my in masts
    ]  # fmt: skip
    posts = [
        {"name": f"post {side}", "kind": "lamp-post", "position_m": [mx, my + 0.5, 0.0],
         "height_m": 8.2, "diameter_m": 0.18, "arm_m": 0.3}
        for side, mx, my in masts
    ]  # fmt: skip
    lines = [
        {"name": f"bay line {k}", "kind": "block", "material": "paint-white",
         "position_m": [round(x + 2.6 * (k - 1.5), 3), y + 2.0, 0.0], "width_m": 0.1,
         "depth_m": 5.0, "height_m": 0.004}
        for k in range(4)
    ]  # fmt: skip
    parked = {
        "name": "parked", "kind": "vehicle-front", "style": "estate", "paint": "car-silver",
        "position_m": [x + 5.2, y + 0.3, 0.0], "facing_deg": 0.0,
    }  # fmt: skip
    plate = _plate(a, light)
    lit = [Part("# Lamps on masts; switch one off with on = false.", {"lamp": lamps})]
    return [
        *(lit if a.lamp_lm > 0.0 else []), _ground("asphalt", 0.12),
        Part("# Masts and bays.", {"body": [*posts, *lines]}),
        Part(plate.comment, {"target": [*plate.table["target"], parked]}),
    ]  # fmt: skip


def _indoors(
    a: Answers, light: NamedLight, *, to_wall_m: float, gap: tuple[str, float, float, float]
) -> list[Part]:
    """A room about the camera with lamps at its ceiling, and a door or window behind the target."""
    name, width, bottom, tall = gap
    x, y = a.sideways_m, a.distance_m
    wide, high = 8.0 + 2.0 * abs(x), max(3.0, a.height_m + 0.3)
    end = y + to_wall_m
    lamps = [
        _lamp(a, f"ceiling lamp {k}", 0.25, [round(x + dx, 3), round(share * y, 3), high - 0.06],
              [round(x + dx, 3), round(share * y, 3), 0.0])
        for k, (dx, share) in enumerate(((-2.0, 0.2), (2.0, 0.2), (-2.0, 0.75), (2.0, 0.75)), 1)
    ]  # fmt: skip
    opening = {
        "name": name, "kind": "opening", "position_m": [x, round(end + 0.1, 3), bottom],
        "width_m": width, "height_m": tall, "spectrum": light.spectrum,
        "illuminance_lux": light.lux, "against": "visitor",
    }  # fmt: skip
    room = {
        "name": "room", "position_m": [0.0, round((end - BEHIND_M) / 2.0, 3), 0.0],
        "width_m": wide, "depth_m": round(end + BEHIND_M, 3), "height_m": round(high, 3),
        "wall_material": "paint-white", "ceiling_material": "plaster-white",
        "gap": [{"wall": "back", "left_m": round(wide / 2.0 + x - width / 2.0, 3),
                 "bottom_m": bottom, "width_m": width, "height_m": tall}],
    }  # fmt: skip
    lit = [Part("# Lamps at the ceiling; switch one off with on = false.", {"lamp": lamps})]
    return [
        *(lit if a.lamp_lm > 0.0 else []),
        _ground("wood", 0.05),
        Part(
            f"# What is seen through the {name}: {light.words}, as bright as an even sky of"
            f"\n# {light.lux:g} lx ({light.source}). Another hour: --at with --place.",
            {"surface": [opening]},
        ),
        Part("# Walls and ceiling; the camera stands inside.", {"room": [room]}),
        _person(a, walks_deg=None),
    ]


def _door(a: Answers, light: NamedLight) -> list[Part]:
    return _indoors(a, light, to_wall_m=0.6, gap=("doorway", 1.2, 0.0, 2.2))


def _room(a: Answers, light: NamedLight) -> list[Part]:
    return _indoors(a, light, to_wall_m=1.5, gap=("window", 2.4, 0.9, 1.5))


def _fence(a: Answers, light: NamedLight) -> list[Part]:
    fence = {
        "name": "fence", "kind": "fence", "position_m": [0.0, a.distance_m + 3.0, 0.0],
        "width_m": 30.0, "height_m": 2.2,
    }  # fmt: skip
    hedge = {
        "name": "hedge", "kind": "hedge", "position_m": [-6.0, a.distance_m + 6.0, 0.0],
        "width_m": 5.0, "height_m": 1.4,
    }  # fmt: skip
    return [
        *_lamp_beside(a), _ground("grass", 0.2),
        Part("# The fence, and what grows behind it.", {"body": [fence, hedge]}),
        _person(a, walks_deg=90.0, upper="cotton-black"),
    ]  # fmt: skip


def _path(a: Answers, light: NamedLight) -> list[Part]:
    return [*_lamp_beside(a), _ground("concrete", 0.08, _wall_behind(a)), _person(a, walks_deg=0.0)]


OUTDOORS = ("sideways_m", "speed_kmh", "infrared", "lamp")
CARS = ("sideways_m", "text", "vehicle", "speed_kmh", "infrared", "lamp")
KINDS: dict[str, Kind] = {
    "gate": Kind(
        "a vehicle that comes to a gate", "Can the plate be read?", "read", "plate", 0.8, CARS, {},
        _gate,
    ),
    "car-park": Kind(
        "a car among others under lamps on masts", "Can the plate be read?", "read", "plate", 0.8,
        CARS, {"title": "A car park of my own", "infrared": None, "lamp_lm": 16_000.0,
               "height_m": 4.0, "speed_kmh": 5.0},
        _car_park,
    ),
    "door": Kind(
        "somebody in a door with the street behind",
        "Can the visitor be recognised against the street?", "recognise", "visitor", 1.5,
        ("sideways_m", "lamp"),
        {"title": "A door of my own", "light": "overcast-noon", "distance_m": 6.0,
         "height_m": 2.4, "sideways_m": 0.0, "speed_kmh": 0.0, "infrared": None,
         "lamp_lm": 5600.0},
        _door, indoors=True,
    ),
    "room": Kind(
        "somebody before the window of a room", "Can the visitor be identified?", "identify",
        "visitor", 1.5, ("sideways_m", "lamp"),
        {"title": "A room of my own", "light": "overcast-noon", "distance_m": 3.5,
         "height_m": 2.3, "sideways_m": 0.0, "speed_kmh": 0.0, "infrared": None,
         "lamp_lm": 8000.0, "wanted_probability": 0.8},
        _room, indoors=True,
    ),
    "fence": Kind(
        "somebody who walks along a fence", "Is the walker detected?", "detect", "visitor", 1.0,
        OUTDOORS,
        {"title": "A fence of my own", "distance_m": 40.0, "height_m": 4.0, "speed_kmh": 5.0},
        _fence,
    ),
    "person": Kind(
        "somebody who walks up to the camera", "Can the visitor be recognised?", "recognise",
        "visitor", 1.3, OUTDOORS,
        {"title": "A path of my own", "distance_m": 8.0, "speed_kmh": 4.0, "lamp_lm": 3000.0,
         "infrared": None},
        _path,
    ),
}  # fmt: skip
"""By name, as `nightproof new scene --kind` takes them."""
