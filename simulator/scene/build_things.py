"""Things of a scene: walls, gates, plates, vehicles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.light.sources import Emitter, LightSource
from simulator.light.spectra import spectrum
from simulator.scene.builder import Builder, named
from simulator.scene.geometry import CLEAR, Card, facing_normal, upright_card
from simulator.scene.model import Gate, Plate, VehicleFront, Wall
from simulator.scene.targets.plate import plate_card, plate_design
from simulator.scene.targets.vehicle import PLATE_GAP_M, BodyMaterials, vehicle_parts

HEADLIGHT_DIAMETER_M = 0.12


def standing_card(b: Builder, surface: Wall | Gate) -> Card:
    index = b.material(surface.material, f"surface.{surface.name}.material")
    texture: NDArray[np.uint8] = np.full((1, 1), index, dtype=np.uint8)
    variation, grain = 0.0, 0.05
    if isinstance(surface, Gate):
        texture = _bars(surface, index)
    else:
        variation, grain = surface.variation, surface.grain_m
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


def add_plate(b: Builder, plate: Plate) -> None:
    key = f"target.{plate.name}"
    design = named(f"{key}.design", lambda: plate_design(plate.design))
    sheeting = plate.sheeting if plate.sheeting is not None else design.sheeting
    layer = None if sheeting == "none" else sheeting
    black = "plate-black-ink"
    background = b.material(
        design.background, f"{key}.design", None if design.background == black else layer
    )
    ink = b.material(design.ink, f"{key}.design", None if design.ink == black else layer)
    group = b.group(plate.speed_kmh, plate.heading_deg)
    b.plates[plate.name] = len(b.cards)
    b.cards.append(plate_card(plate, background, ink, group))


def add_vehicle(b: Builder, vehicle: VehicleFront) -> None:
    key = f"target.{vehicle.name}"
    body = BodyMaterials(
        paint=b.material(vehicle.paint, f"{key}.paint"),
        glass=b.material("glass-dark", key),
        plastic=b.material("plastic-black", key),
        rubber=b.material("rubber", key),
        lamp=b.material("lamp-glass", key),
        chrome=b.material("chrome-dull", key),
    )
    if vehicle.carries is not None:
        plate = next(
            t for t in b.scene.target if isinstance(t, Plate) and t.name == vehicle.carries
        )
        facing, speed, heading = plate.facing_deg, plate.speed_kmh, plate.heading_deg
        # a plate that leans keeps its whole height before the body
        lean = (
            plate_design(plate.design).height_mm / 2000.0 * abs(np.sin(np.radians(plate.tilt_deg)))
        )
        foot = np.asarray(plate.position_m) - facing_normal(facing) * (PLATE_GAP_M + lean)
    else:
        assert vehicle.position_m is not None
        facing, speed, heading = vehicle.facing_deg, vehicle.speed_kmh, vehicle.heading_deg
        foot = np.asarray(vehicle.position_m)
    group = b.group(speed, heading)
    parts = vehicle_parts(vehicle.name, vehicle.style, foot, facing, body, group)
    b.cards.extend(parts.cards)
    if vehicle.headlights == "off":
        return
    spec = named(f"{key}.headlight_spectrum", lambda: spectrum(vehicle.headlight_spectrum))
    for side, place in zip(("left", "right"), parts.headlights_m, strict=True):
        b.lights.append(
            LightSource(
                f"{vehicle.name} {side} headlight",
                "point",
                spec,
                1.0,
                place,
                parts.axis,
                beam=vehicle.headlights,
                group=group,
            )
        )
        b.emitters.append(Emitter(len(b.lights) - 1, place, HEADLIGHT_DIAMETER_M, group))
