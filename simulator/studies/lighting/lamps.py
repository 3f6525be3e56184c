"""Lamps to be sized: kinds, beams and places, their light on the ground and what it dazzles."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np

from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.light.beams import beam_exponent, beam_flux
from simulator.light.photometry import illuminance_lux
from simulator.scene.kernels.irradiance import incident, packed_for_light
from simulator.scene.load import Scene
from simulator.scene.radiosity.field import light_field
from simulator.scene.world import World
from simulator.studies.placing import placed
from simulator.units import FloatArray

KindName = Literal["infrared-850", "infrared-940", "white"]
BESIDE_M = (0.3, 0.0, 0.2)
"""Place beside the lens where a lamp is usually mounted: right, forward, up [m] (assumed)."""
BEAM_STEP_DEG = 5.0
LEAST_RATIO = 0.05
"""Things that get less than this share of the target's light are not told as lit."""
MAP_COLUMNS, MAP_ROWS = 121, 161


@dataclass(frozen=True)
class LampKind:
    """A kind of lamp that can be sized.

    `first` and `last` are the light on the target between which the least one is sought
    [W/m2 or lx]. `output_per_watt` is light that leaves the lamp over electric power [W/W or lm/W].
    """

    name: KindName
    key: str
    intensity_unit: str
    light_unit: str
    flux_unit: str
    colour: Mapping[str, Any]
    output_per_watt: float
    """Assumed, as of the bundled archetypes."""
    first: float
    last: float

    @property
    def infrared(self) -> bool:
        """Whether its light is told in watts."""
        return self.light_unit == "W/m²"


KINDS: Final[dict[str, LampKind]] = {
    "infrared-850": LampKind(
        "infrared-850", "radiant_intensity_w_per_sr", "W/sr", "W/m²",
        "W", {"wavelength_nm": 850.0, "bandwidth_nm": 35.0}, 0.20,
        10**-4.5, 1.0,
    ),
    "infrared-940": LampKind(
        "infrared-940", "radiant_intensity_w_per_sr", "W/sr", "W/m²",
        "W", {"wavelength_nm": 940.0, "bandwidth_nm": 45.0}, 0.18,
        10**-4.5, 3.2,
    ),
    "white": LampKind(
        "white", "intensity_cd", "cd", "lx", "lm",
        {"spectrum": "led-4000k"}, 110.0,
        10**-2.0, 316.3,
    ),
}  # fmt: skip


def target_point(in_scene: CameraInScene, scene: Scene) -> FloatArray:
    """Middle of the target of the task (3,) [m]."""
    return in_scene.world.cards[in_scene.world.targets[scene.model.task.target][0]].centre_m


def field_angle_deg(in_scene: CameraInScene) -> float:
    """Horizontal angle of the picture [deg]."""
    view = in_scene.view
    a, b = (view.direction(x, view.height_px / 2.0) for x in (0.0, float(view.width_px)))
    cosine = float(a @ b) / float(np.linalg.norm(a) * np.linalg.norm(b))
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


def beam_for(in_scene: CameraInScene) -> float:
    """Beam whose half intensity reaches the sides of the picture, in steps of 5 [deg]."""
    return min(
        165.0, max(BEAM_STEP_DEG, BEAM_STEP_DEG * math.ceil(field_angle_deg(in_scene) / 5.0))
    )


def lamp_entry(
    kind: LampKind,
    name: str,
    intensity: float,
    beam_deg: float,
    aim_m: Sequence[float],
    at_m: Sequence[float] | None = None,
    beside_m: Sequence[float] = BESIDE_M,
) -> dict[str, Any]:
    """An illuminator as a scene file says it."""
    place = {"beside_camera_m": list(beside_m)} if at_m is None else {"position_m": list(at_m)}
    return {
        "name": name,
        **kind.colour,
        kind.key: float(intensity),
        "beam_deg": float(beam_deg),
        **place,
        "aim_m": [float(x) for x in aim_m],
    }


def profile_entry(
    use: str, name: str, aim_m: Sequence[float], at_m: Sequence[float] | None = None
) -> dict[str, Any]:
    """A bundled lamp in the place of the sized one."""
    place = {"beside_camera_m": list(BESIDE_M)} if at_m is None else {"position_m": list(at_m)}
    return {"name": name, "use": use, **place, "aim_m": [float(x) for x in aim_m]}


def with_lamp(scene: Scene, entry: Mapping[str, Any] | None) -> Scene:
    """The scene with its own illuminators off and another one, or none, in their place.

    Raises
    ------
    InputError
        For an entry that is at fault.
    """
    off = {f"illuminator.{old.name}.on": False for old in scene.model.illuminator}
    return scene.set(off, {} if entry is None else {f"illuminator.{entry['name']}": entry})


def free_name(scene: Scene) -> str:
    """A name for the lamp that no illuminator of the scene has."""
    taken = {light.name for light in scene.model.illuminator}
    return next(
        n for n in ("sized lamp", *(f"sized lamp {k}" for k in range(2, 99))) if n not in taken
    )


def axis_intensity(world: World, name: str) -> float:
    """Intensity of a lamp on its axis, in its own unit."""
    return next(light.strength for light in world.lights if light.name == name)


def flux_of(intensity: float, beam_deg: float) -> float:
    """Light of a whole cos^m beam [W or lm], 2 pi I0/(m + 1)."""
    return beam_flux(intensity, beam_exponent(beam_deg))


def edge_share(beam_deg: float, field_deg: float) -> float:
    """Intensity towards the side of the picture over that on the axis, cos^m(field/2)."""
    return float(math.cos(math.radians(field_deg / 2.0)) ** beam_exponent(beam_deg))


@dataclass(frozen=True)
class GroundMap:
    """Light of one lamp on level ground.

    `x_m` (columns,), `y_m` (rows,), `light` (rows, columns) [W/m2 or lx], `free` the same without
    shadows; `seen` tells which points the picture shows.
    """

    x_m: FloatArray
    y_m: FloatArray
    light: FloatArray
    free: FloatArray
    seen: FloatArray
    station_m: FloatArray
    target_m: FloatArray
    lamp_m: FloatArray
    field_m: FloatArray
    """Where the sides of the picture go (2, 2): ends of its edges over the ground, x and y [m]."""


@dataclass(frozen=True)
class HotSpot:
    """Something else in the picture that the lamp lights; its light over that of the target."""

    name: str
    ratio: float
    distance_m: float
    """From the lamp."""


@dataclass(frozen=True)
class LampLight:
    """Light of a lamp on the target, the ground and other things of the picture."""

    on_target: float
    distance_m: float
    """From the lamp to the target."""
    lamp_m: FloatArray
    ground: GroundMap
    hot_spots: tuple[HotSpot, ...]
    ground_ratio: float
    """Brightest ground in the picture over the target."""


def _unit_light(world: World, index: int) -> float:
    light = world.lights[index]
    return float(illuminance_lux(light.spectrum.power)) if light.spectrum.basis == "lux" else 1.0


def lamp_light(scene: Scene, camera: Camera, name: str) -> LampLight:
    """How a lamp of a scene lights the target, the ground and the things in the picture.

    Shadows, air and what surfaces throw back are counted.

    Raises
    ------
    InputError
        If the lamp does not light the target.
    """
    in_scene = placed(scene.model, camera.model)
    world, view = in_scene.world, in_scene.view
    index = next(i for i, light in enumerate(world.lights) if light.name == name)
    traced, lights = packed_for_light(world)
    unit = _unit_light(world, index)
    own = world.targets[scene.model.task.target][0]
    card = world.cards[own]
    lamp = world.lights[index].position_m
    assert lamp is not None
    field = light_field(world)
    on_target = unit * float(
        incident(card.centre_m, card.normal, traced, lights, own, field=field)[0, index]
    )
    # what bounces alone is no way to light a target
    if incident(card.centre_m, card.normal, traced, lights, own)[0, index] <= 0.0:
        raise InputError(
            "A lamp at this place does not light the target: it is shaded, or faces away.",
            argument="at",
            given=[round(float(x), 2) for x in lamp],
            allowed="a place with free sight of the target's front",
            fix="choose another place",
        )
    target = card.centre_m
    far = 1.45 * max(float(target[1]), 2.0)
    near = min(0.0, float(lamp[1]), float(view.position_m[1])) - 0.05 * far
    half = max(0.42 * far, abs(float(lamp[0])) + 1.0, abs(float(target[0])) + 1.0)
    x, y = np.linspace(-half, half, MAP_COLUMNS), np.linspace(near, far, MAP_ROWS)
    points = np.stack(np.broadcast_arrays(x[None, :], y[:, None], 0.0), axis=-1).reshape(-1, 3)
    up = np.array([0.0, 0.0, 1.0])
    light = unit * incident(points, up, traced, lights, field=field)[:, index].reshape(
        y.size, x.size
    )
    open_lights = lights._replace(blockers=np.zeros_like(lights.blockers))
    free = unit * incident(points, up, traced._replace(bodies=None), open_lights)[:, index].reshape(
        light.shape
    )
    seen = _in_picture(in_scene, points).reshape(light.shape)
    ends = []
    for column in (0.0, float(view.width_px)):
        towards = view.direction(column, view.height_px / 2.0)
        scale = (far - view.position_m[1]) / max(float(towards[1]), 1e-6)
        ends.append((view.position_m + towards * scale)[:2])
    ground = GroundMap(x, y, light, free, seen, view.position_m, target, lamp, np.stack(ends))
    ground_ratio = float(light[seen].max()) / on_target if np.any(seen) else 0.0
    spots = []
    for i, other in enumerate(world.cards):
        if other.group == card.group and card.group != 0:
            continue
        if i == own or other.normal @ (lamp - other.centre_m) <= 0.0:
            continue
        w, h = other.width_m, other.height_m
        places = np.stack(
            [other.point_m(w * a, h * b) for a in (0.1, 0.5, 0.9) for b in (0.1, 0.5, 0.9)]
        )
        places = places[_in_picture(in_scene, places)]
        if len(places):
            lit = incident(places, other.normal, traced, lights, i, field=field)
            most = unit * float(lit[:, index].max())
            nearest = float(np.linalg.norm(places - lamp, axis=1).min())
            spots.append(HotSpot(other.name, most / on_target, nearest))
    spots = sorted((s for s in spots if s.ratio >= LEAST_RATIO), key=lambda s: -s.ratio)
    distance = float(np.linalg.norm(lamp - target))
    return LampLight(on_target, distance, lamp, ground, tuple(spots[:3]), ground_ratio)


def _in_picture(in_scene: CameraInScene, points_m: FloatArray) -> FloatArray:
    place, depth = in_scene.view.project(points_m)
    with np.errstate(invalid="ignore"):
        inside = (place >= 0.0) & (place <= [in_scene.view.width_px, in_scene.view.height_px])
    return np.asarray(inside.all(axis=-1) & (depth > 0.0))
