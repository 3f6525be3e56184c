"""Things of a scene: walls, gates, photographs, plates, vehicles."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simulator.errors import FileFormatError
from simulator.light.beams import beam_exponent
from simulator.light.photometry import illuminance_lux
from simulator.light.sources import Emitter, LightSource
from simulator.light.spectra import Spectrum, gaussian_emitter
from simulator.light.spectrum_kinds import lamp_spectrum
from simulator.messages import Message
from simulator.scene.bodies.parts import Materials
from simulator.scene.bodies.vehicle import STYLES, Vehicle, front_of, rear_of, side_of
from simulator.scene.builder import Builder, named
from simulator.scene.geometry import CLEAR, Card, facing_normal, upright_card
from simulator.scene.holes import cut_hole
from simulator.scene.materials import Material
from simulator.scene.model import Gate, Plate, VehicleFront, VehicleRear, VehicleSide, Wall
from simulator.scene.model_things import Photograph
from simulator.scene.targets.dirt import DIRT_LEVELS, soiled_texture
from simulator.scene.targets.photograph import COLOURS, read_photograph
from simulator.scene.targets.plate import plate_card, plate_design
from simulator.units import FloatArray

HEADLIGHT_DIAMETER_M = 0.12
REAR_LAMP_CD = {"tail": 8.0, "brake": 120.0}
"""Intensity of one rear lamp on its axis [cd]; UN R7 allows 4 to 17 and 60 to 260 (from memory)."""
REAR_LAMP_BEAM_DEG = 40.0
REAR_LAMP_DIAMETER_M = 0.12
HOLE_TEXELS = 2000
"""Most texels along a wall with a hole."""
HOLE_ERROR_M = 0.0005
"""How far the edge of a hole may lie from where it was asked for, if that many texels allow [m]."""
FEWEST_COLOURS = 8
PLATE_GAP_M = 0.02
"""How far the plate stands before the body [m]."""


def standing_card(b: Builder, surface: Wall | Gate) -> Card:
    index = b.material(surface.material, f"surface.{surface.name}.material")
    texture: NDArray[np.uint8] = np.full((1, 1), index, dtype=np.uint8)
    variation, grain = 0.0, 0.05
    if isinstance(surface, Gate):
        texture = _bars(surface, index)
    else:
        variation, grain = surface.variation, surface.grain_m
        if surface.opening_m is not None:
            texture = _with_hole(surface, index)
    x, y, z = surface.position_m
    return upright_card(
        surface.name,
        np.array([x, y, z + surface.height_m / 2.0]),
        surface.width_m,
        surface.height_m,
        texture,
        facing_deg=surface.facing_deg,
        variation=variation,
        grain_m=grain,
    )


def _with_hole(wall: Wall, index: int) -> NDArray[np.uint8]:
    """Texture of a wall, just fine enough for the edges of its hole."""
    assert wall.opening_m is not None
    left, bottom, width, height = wall.opening_m
    top = max(0.0, wall.height_m - bottom - height)
    hole_m = (left, top, left + width, top + height)
    columns = _texels_along(left, left + width, wall.width_m)
    rows = _texels_along(top, top + height, wall.height_m)
    texture = np.full((rows, columns), index, dtype=np.uint8)
    cut_hole(texture, hole_m, wall.width_m, wall.height_m)
    return texture


def _texels_along(start_m: float, end_m: float, length_m: float) -> int:
    """Fewest texels along a length of which edges lie at two places."""
    number = np.arange(1, HOLE_TEXELS + 1)
    edges = np.clip(np.array([start_m, end_m]) / length_m, 0.0, 1.0)[:, None] * number
    place = np.round(edges)
    error_m = np.abs(place - edges).max(axis=0) * length_m / number
    error_m[place[1] <= place[0]] = np.inf
    good = np.flatnonzero(error_m <= HOLE_ERROR_M)
    return int(number[good[0] if good.size else np.argmin(error_m)])


def _bars(gate: Gate, index: int) -> NDArray[np.uint8]:
    texel = min(0.01, gate.bar_width_m / 3.0)
    rows, columns = round(gate.height_m / texel), round(gate.width_m / texel)
    place = (np.arange(columns) + 0.5) * texel % (gate.bar_width_m + gate.bar_gap_m)
    texture = np.full((rows, columns), CLEAR, dtype=np.uint8)
    texture[:, place < gate.bar_width_m] = index
    rail = max(1, round(0.06 / texel))
    texture[:rail] = index
    texture[-2 * rail : -rail] = index
    return texture


def add_photographs(b: Builder) -> None:
    """Photographs as cards; each takes what room the other materials leave for its colours.

    Raises
    ------
    FileFormatError
        If a file is no picture, or the scene has too many materials already.
    """
    photographs = [s for s in b.scene.surface if isinstance(s, Photograph)]
    for k, photograph in enumerate(photographs):
        key = f"surface.{photograph.name}.file"
        # every photograph still to come gets its share of the room
        room = (CLEAR - len(b.materials)) // (len(photographs) - k)
        if room < FEWEST_COLOURS:
            raise FileFormatError(
                "The scene leaves no room for the colours of a photograph.",
                key=key,
                given=f"{len(b.materials)} materials already",
                allowed=f"{CLEAR - 1} materials in all, at least {FEWEST_COLOURS} of them for a"
                " photograph",
                fix="use fewer photographs or fewer different targets, skins, fabrics and paints",
            )
        _add_photograph(b, photograph, key, min(room, COLOURS))


def _add_photograph(b: Builder, photograph: Photograph, key: str, colours: int) -> None:
    read = partial(
        read_photograph, Path(photograph.file), photograph.white_reflectance, colours=colours
    )
    picture = named(key, read)
    first = len(b.materials)
    b.materials += [
        Material(
            f"{photograph.name} (colour {k + 1})",
            reflectance,
            sheeting=None,
            status="assumed",
            origin="colour of a photograph, scaled",
        )
        for k, reflectance in enumerate(picture.reflectances)
    ]
    seen = picture.indices != CLEAR
    texture = np.where(seen, picture.indices + np.uint8(first), np.uint8(CLEAR))
    rows, columns = texture.shape
    height_m = photograph.width_m * rows / columns
    x, y, z = photograph.position_m
    b.cards.append(
        upright_card(
            photograph.name,
            np.array([x, y, z + height_m / 2.0]),
            photograph.width_m,
            height_m,
            texture,
            facing_deg=photograph.facing_deg,
        )
    )
    b.assumptions.append(
        Message(
            "assumption.photograph",
            {
                "photograph": photograph.name,
                "colours": len(picture.reflectances),
                "white_reflectance": photograph.white_reflectance,
            },
        )
    )


def add_plate(b: Builder, plate: Plate) -> None:
    key = f"target.{plate.name}"
    design = named(f"{key}.design", lambda: plate_design(plate.design))
    sheeting = plate.sheeting if plate.sheeting is not None else design.sheeting
    layer = None if sheeting == "none" else sheeting
    black = "plate-black-ink"

    def materials(soiling: float) -> tuple[int, ...]:
        """Indices of background, ink and band under dirt."""
        names = (design.background, design.ink, design.band or design.background)
        return tuple(
            b.material(name, f"{key}.design", None if name == black else layer, soiling=soiling)
            for name in names
        )

    background, ink, band = materials(0.0)
    group = b.group(plate.speed_kmh, plate.heading_deg)
    card = plate_card(plate, background, ink, group, band)
    if plate.dirt_share > 0.0:
        levels = [materials(round(level * plate.dirt_share, 4)) for level in DIRT_LEVELS]
        texture = soiled_texture(card.texture, (background, ink, band), levels, plate.name)
        card = replace(card, texture=texture)
    b.plates[plate.name] = len(b.cards)
    b.add(plate.name, [card])


def _vehicle(b: Builder, vehicle: VehicleFront | VehicleRear | VehicleSide) -> Vehicle:
    key = f"target.{vehicle.name}"

    def outside(name: str, at: str = key) -> int:
        return b.material(name, at, soiling=vehicle.dirt_share)

    materials = Materials(
        paint=outside(vehicle.paint, f"{key}.paint"),
        glass=b.material("glass-vehicle", key),
        plastic=outside("plastic-black"),
        rubber=outside("rubber"),
        lamp=outside("lamp-glass"),
        chrome=outside("chrome-dull"),
        red=outside("lamp-red"),
        amber=outside("lamp-amber"),
        under=b.material("black-4", key),
        seat=b.material("polyester-black", key),
    )
    return STYLES[vehicle.style](materials)


def _place(b: Builder, vehicle: VehicleFront | VehicleRear) -> tuple[FloatArray, float, int]:
    """Ground point (3,) [m], facing [deg] and movement of a vehicle or of the plate it carries."""
    if vehicle.carries is None:
        assert vehicle.position_m is not None
        group = b.group(vehicle.speed_kmh, vehicle.heading_deg)
        return np.asarray(vehicle.position_m), vehicle.facing_deg, group
    plate = next(t for t in b.scene.target if isinstance(t, Plate) and t.name == vehicle.carries)
    # a plate that leans keeps its whole height before the body
    half_m = plate_design(plate.design).height_mm / 2000.0
    lean = half_m * abs(np.sin(np.radians(plate.tilt_deg)))
    foot = np.asarray(plate.position_m) - facing_normal(plate.facing_deg) * (PLATE_GAP_M + lean)
    return foot, plate.facing_deg, b.group(plate.speed_kmh, plate.heading_deg)


def add_vehicle(b: Builder, vehicle: VehicleFront) -> None:
    foot, facing, group = _place(b, vehicle)
    parts = front_of(_vehicle(b, vehicle), foot, facing)
    b.add_body(vehicle.name, replace(parts.mesh, name=vehicle.name), facing, group=group)
    if vehicle.headlights == "off":
        return
    key = f"target.{vehicle.name}.headlight_spectrum"
    spec = named(key, partial(lamp_spectrum, vehicle.headlight_spectrum))
    for side, place in zip(("left", "right"), parts.lamps_m, strict=True):
        b.lights.append(
            LightSource(
                f"{vehicle.name} {side} headlight",
                "point",
                spec,
                place,
                parts.axis,
                beam_factor=1.0,
                beam=vehicle.headlights,
                group=group,
                owner=vehicle.name,
            )
        )
        b.emitters.append(Emitter(len(b.lights) - 1, place, HEADLIGHT_DIAMETER_M, group))


def add_vehicle_rear(b: Builder, vehicle: VehicleRear) -> None:
    foot, facing, group = _place(b, vehicle)
    parts = rear_of(_vehicle(b, vehicle), foot, facing)
    b.add_body(vehicle.name, replace(parts.mesh, name=vehicle.name), facing, group=group)
    if vehicle.tail_lamps == "off":
        return
    red = red_lamp()
    for side, place in zip(("left", "right"), parts.lamps_m, strict=True):
        b.lights.append(
            LightSource(
                f"{vehicle.name} {side} rear lamp",
                "point",
                red,
                place,
                parts.axis,
                intensity_cd=REAR_LAMP_CD[vehicle.tail_lamps],
                exponent=beam_exponent(REAR_LAMP_BEAM_DEG),
                group=group,
                owner=vehicle.name,
            )
        )
        b.emitters.append(Emitter(len(b.lights) - 1, place, REAR_LAMP_DIAMETER_M, group))


def red_lamp() -> Spectrum:
    """Red light-emitting diodes, scaled to 1 lx: 630 nm, 18 nm wide (usual, from memory)."""
    diode = gaussian_emitter(630.0, 18.0)
    power = diode.power / illuminance_lux(diode.power)
    return Spectrum(name="red rear lamp", basis="lux", power=power)


def add_vehicle_side(b: Builder, vehicle: VehicleSide) -> None:
    # it drives along its own length, a quarter turn from where the side looks
    heading = vehicle.facing_deg + (-90.0 if vehicle.nose == "left" else 90.0)
    mesh = side_of(
        _vehicle(b, vehicle), np.asarray(vehicle.position_m), vehicle.facing_deg, vehicle.nose
    )
    group = b.group(vehicle.speed_kmh, heading)
    b.add_body(vehicle.name, replace(mesh, name=vehicle.name), vehicle.facing_deg, group=group)
