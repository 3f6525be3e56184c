"""A scene as a site: where things stand, who lights the target, how the light lies around it."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera
from simulator.judge.lighting import light_quantity, on_plane
from simulator.light.photometry import illuminance_lux
from simulator.scene.air import air_at
from simulator.scene.geometry import Card
from simulator.scene.kernels.irradiance import incident, packed_for_light
from simulator.scene.load import Scene
from simulator.scene.radiosity.field import light_field
from simulator.scene.world import World
from simulator.studies.placing import placed
from simulator.units import WAVELENGTH_NM, FloatArray

MAP_WIDTH_M, MAP_HEIGHT_M = 8.0, 4.0
"""Least width and height of the light map [m]."""
MAP_COLUMNS = 81
MOST_WIDTH_M, MOST_HEIGHT_M, MAP_ROOM_M = 60.0, 15.0, 0.5
"""Most width and height of the light map, and room around what it spans [m]."""


@dataclass(frozen=True)
class LightRow:
    """One light on the target's plane, and where it comes from.

    Bounced light counts after the ground's reflectance; `share` is that of the sum of all lights of
    the same unit.
    """

    name: str
    illuminance_lux: float | None
    """[lx]; None of a light without visible light."""
    irradiance_w_m2: float | None
    """[W/m2]; None of a visible light."""
    share: float
    distance_m: float | None
    entrance_deg: float | None

    @property
    def quantity(self) -> tuple[float, str]:
        """What falls on the plane, with its unit: [lx], or [W/m²] without visible light."""
        return light_quantity(self.illuminance_lux, self.irradiance_w_m2)


@dataclass(frozen=True)
class PlaneMap:
    """Light on the upright plane of the target.

    `across_m` (columns,) from the target to the camera's right and `up_m` (rows,) above the ground;
    `lux` and `irradiance_w_m2` (rows, columns), the latter of lamps that give no visible light.
    """

    across_m: FloatArray
    up_m: FloatArray
    lux: FloatArray
    irradiance_w_m2: FloatArray


@dataclass(frozen=True)
class Site:
    """Everything the site drawing and its table need."""

    scene: Scene
    in_scene: CameraInScene
    target: Card
    rows: list[LightRow]
    plane: PlaneMap

    @property
    def world(self) -> World:
        """The world of the scene."""
        return self.in_scene.world

    @property
    def lux(self) -> float:
        """Illuminance on the target's plane [lx], the sum of the rows in lux."""
        return sum(row.illuminance_lux or 0.0 for row in self.rows)

    @property
    def irradiance_w_m2(self) -> float:
        """Infrared irradiance on the target's plane [W/m2], the sum of the rows in W/m2."""
        return sum(row.irradiance_w_m2 or 0.0 for row in self.rows)

    def to_dict(self) -> dict[str, Any]:
        """Lights and their sums as plain values."""
        return {
            "target": self.scene.model.task.target,
            "lights": [asdict(row) for row in self.rows],
            "illuminance_lux": self.lux,
            "irradiance_w_m2": self.irradiance_w_m2,
        }


def survey_site(scene: Scene, camera: Camera) -> Site:
    """Light and geometry of a scene, without rendering a picture."""
    in_scene = placed(scene.model, camera.model)
    world = in_scene.world
    index = world.targets[scene.model.task.target][0]
    card = world.cards[index]
    return Site(scene, in_scene, card, _rows(world, card, index), _plane(in_scene, card))


def _visible(world: World) -> FloatArray:
    """Lux that one unit of each light gives (lights,); zero for infrared."""
    return np.array(
        [
            float(illuminance_lux(light.spectrum.power)) if light.spectrum.basis == "lux" else 0.0
            for light in world.lights
        ]
    )


def _units_of_light(
    world: World, points_m: FloatArray, normal: FloatArray, card: int | None = None
) -> FloatArray:
    """Units of light on points (n, lights); the air takes of visible light as of green, of infrared
    as of its mean."""
    cards, lights = packed_for_light(world)
    field = light_field(world)
    out = incident(points_m, normal, cards, lights, card, field=field)
    infrared = [i for i, light in enumerate(world.lights) if light.spectrum.basis == "w_m2"]
    if world.air is not None:
        for i in infrared:
            power = world.lights[i].spectrum.power
            mean_nm = float(WAVELENGTH_NM @ power / power.sum())
            sigma = air_at(world.air, mean_nm).extinction_per_m
            thinner = lights._replace(extinction=sigma)
            out[:, i] = incident(points_m, normal, cards, thinner, card, field=field)[:, i]
    return out


def _rows(world: World, card: Card, index: int) -> list[LightRow]:
    units = _units_of_light(world, card.centre_m, card.normal, index)[0]
    out = []
    for i, light in enumerate(world.lights):
        distance = entrance = None
        if light.kind == "point" and light.position_m is not None:
            to_light = light.position_m - card.centre_m
            distance = float(np.linalg.norm(to_light))
            cosine = float(to_light @ card.normal) / distance
            entrance = float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
        elif light.kind == "sun" and light.direction is not None:
            cosine = float(light.direction @ card.normal)
            entrance = float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
        lit = on_plane(light, float(units[i]))
        out.append(LightRow(light.name, *lit, 0.0, distance, entrance))
    out = _merged([row for row in out if world_shows(row.name, world)])
    sums: dict[str, float] = {}
    for value, unit in (row.quantity for row in out):
        sums[unit] = sums.get(unit, 0.0) + value
    rows = []
    for row in out:
        value, unit = row.quantity
        rows.append(replace(row, share=value / sums[unit] if sums[unit] > 0.0 else 0.0))
    return sorted(rows, key=lambda row: (row.illuminance_lux is None, -row.quantity[0]))


PART = " (part "
"""Openings light by several points, each named after the opening and this."""


def world_shows(name: str, world: World) -> bool:
    """Whether a light lights things: the bright face of an opening does so by its parts only."""
    return all(light.kind != "panel" for light in world.lights if light.name == name)


def _merged(rows: list[LightRow]) -> list[LightRow]:
    """One row for all parts of an opening: light adds up, distance and angle of the nearest."""
    out: dict[str, LightRow] = {}
    for row in sorted(rows, key=lambda r: r.distance_m or 0.0):
        name = row.name.split(PART)[0]
        if PART in row.name and name in out:
            first = out[name]
            out[name] = replace(
                first, illuminance_lux=(first.illuminance_lux or 0.0) + (row.illuminance_lux or 0.0)
            )
        else:
            out[name if PART in row.name else f"{len(out)} {name}"] = replace(row, name=name)
    return list(out.values())


def _plane(in_scene: CameraInScene, card: Card) -> PlaneMap:
    """Light on the upright plane, over camera, lamps and the picture's width at the target."""
    world, view = in_scene.world, in_scene.view
    level = np.array([card.normal[0], card.normal[1], 0.0])
    level /= np.linalg.norm(level)
    along = np.array([-level[1], level[0], 0.0])
    middle = np.array([card.centre_m[0], card.centre_m[1], 0.0]) + level * 0.05
    half = 0.5 * view.width_px / view.pixels_per_m(float(view.project(card.centre_m)[1]))
    spanned = [view.position_m, card.centre_m + half * along, card.centre_m - half * along]
    spanned += [light.position_m for light in world.lights if light.position_m is not None]
    places = np.stack(spanned)
    sideways = (places - middle) @ along
    left = min(float(sideways.min()) - MAP_ROOM_M, -MAP_WIDTH_M / 2.0)
    right = max(float(sideways.max()) + MAP_ROOM_M, MAP_WIDTH_M / 2.0)
    left, right = max(left, -MOST_WIDTH_M / 2.0), min(right, MOST_WIDTH_M / 2.0)
    high = min(max(MAP_HEIGHT_M, float(places[:, 2].max()) + MAP_ROOM_M), MOST_HEIGHT_M)
    across = np.linspace(left, right, MAP_COLUMNS)
    step = float(across[1] - across[0])
    up = np.linspace(0.05, high, max(round(high / step), 24))
    points = middle + across[None, :, None] * along + up[:, None, None] * np.array([0.0, 0.0, 1.0])
    units = _units_of_light(world, points.reshape(-1, 3), level)
    visible = _visible(world)
    infrared = np.array([light.spectrum.basis == "w_m2" for light in world.lights], dtype=float)
    shape = (up.size, across.size)
    return PlaneMap(across, up, (units @ visible).reshape(shape), (units @ infrared).reshape(shape))
