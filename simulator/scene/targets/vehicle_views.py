"""Rears and sides of vehicles as cards; the same sizes as the fronts in `vehicle`, our own drawing.

A side is one upright card along the length of the vehicle, with a level card behind it so that no
lamp shines through the vehicle onto the road.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np

from simulator.scene.geometry import CLEAR, Card
from simulator.scene.targets.sketch import Sketch, smooth
from simulator.scene.targets.vehicle import (
    LENGTH_M,
    BodyMaterials,
    VehicleParts,
    body_axes,
    stood,
    underbody,
    vehicle_parts,
)
from simulator.units import FloatArray


def _car_rear(m: BodyMaterials) -> tuple[Sketch, tuple[float, float]]:
    s = Sketch(1.9, 1.46)
    s.pair([(0.6, 0.0), (0.84, 0.0), (0.84, 0.4), (0.6, 0.4)], m.rubber)
    s.polygon(
        [(-0.84, 0.22), (0.84, 0.22), (0.9, 0.45), (0.89, 0.8), (0.82, 0.96), (0.64, 1.36),
         (0.52, 1.45), (-0.52, 1.45), (-0.64, 1.36), (-0.82, 0.96), (-0.89, 0.8), (-0.9, 0.45)],
        m.paint)  # fmt: skip
    s.polygon([(-0.66, 1.0), (0.66, 1.0), (0.54, 1.34), (-0.54, 1.34)], m.glass)
    s.box(-0.84, 0.22, 0.84, 0.36, m.plastic)
    s.box(-0.86, 0.545, 0.86, 0.55, m.plastic)  # gap under the tailgate
    s.pair([(0.6, 0.76), (0.89, 0.74), (0.87, 0.92), (0.66, 0.9)], m.red)
    s.pair([(0.6, 0.785), (0.68, 0.78), (0.69, 0.84), (0.615, 0.84)], m.lamp)
    s.pair([(0.79, 0.755), (0.885, 0.75), (0.88, 0.8), (0.79, 0.805)], m.amber)
    s.pair([(0.66, 0.4), (0.8, 0.4), (0.8, 0.43), (0.66, 0.43)], m.red)
    s.box(-0.012, 1.02, 0.26, 1.034, m.plastic)  # wiper
    return s, (0.78, 0.86)


def _van_rear(m: BodyMaterials) -> tuple[Sketch, tuple[float, float]]:
    s = Sketch(2.1, 2.22)
    s.pair([(0.68, 0.0), (0.92, 0.0), (0.92, 0.45), (0.68, 0.45)], m.rubber)
    s.polygon(
        [(-0.97, 0.34), (0.97, 0.34), (0.98, 1.2), (0.9, 2.1), (0.78, 2.2), (-0.78, 2.2),
         (-0.9, 2.1), (-0.98, 1.2)], m.paint)  # fmt: skip
    s.box(-0.98, 0.34, 0.98, 0.52, m.plastic)
    s.pair([(0.08, 1.28), (0.78, 1.28), (0.72, 1.94), (0.08, 1.94)], m.glass)
    s.box(-0.005, 0.52, 0.005, 2.14, m.plastic)  # gap between the doors
    s.pair([(0.86, 0.66), (0.965, 0.66), (0.96, 1.14), (0.86, 1.14)], m.red)
    s.pair([(0.86, 0.8), (0.965, 0.8), (0.963, 0.9), (0.86, 0.9)], m.lamp)
    s.pair([(0.86, 1.0), (0.962, 1.0), (0.96, 1.14), (0.86, 1.14)], m.amber)
    s.pair([(0.79, 0.7), (0.83, 0.7), (0.83, 0.76), (0.79, 0.76)], m.plastic)  # hinges
    s.pair([(0.77, 1.9), (0.81, 1.9), (0.81, 1.96), (0.77, 1.96)], m.plastic)
    s.box(0.04, 1.02, 0.07, 1.16, m.plastic)  # handle
    return s, (0.91, 0.73)


def _truck_rear(m: BodyMaterials) -> tuple[Sketch, tuple[float, float]]:
    s = Sketch(2.5, 3.3)
    s.pair([(0.5, 0.0), (1.12, 0.0), (1.12, 0.9), (0.5, 0.9)], m.rubber)
    s.box(-1.22, 0.95, 1.22, 3.28, m.paint)
    s.box(-1.22, 0.95, 1.22, 1.08, m.plastic)
    s.box(-1.2, 0.4, 1.2, 0.56, m.plastic)  # bar that keeps cars from driving under
    s.box(-0.008, 1.08, 0.008, 3.24, m.plastic)
    for x in (0.2, 0.9):
        s.pair([(x, 1.1), (x + 0.03, 1.1), (x + 0.03, 3.22), (x, 3.22)], m.chrome)
    s.box(-1.18, 0.6, 1.18, 0.95, m.plastic)
    s.pair([(0.78, 0.66), (1.16, 0.66), (1.16, 0.86), (0.78, 0.86)], m.red)
    s.pair([(0.9, 0.66), (1.0, 0.66), (1.0, 0.86), (0.9, 0.86)], m.lamp)
    s.pair([(1.04, 0.66), (1.16, 0.66), (1.16, 0.86), (1.04, 0.86)], m.amber)
    return s, (0.84, 0.76)


def _wheel(s: Sketch, x: float, radius_m: float, m: BodyMaterials) -> None:
    s.disc(x, radius_m, radius_m * 1.12, m.plastic)
    s.disc(x, radius_m, radius_m, m.rubber)
    s.disc(x, radius_m, radius_m * 0.66, m.chrome)
    for k in range(5):
        a = 2.0 * np.pi * (k + 0.5) / 5.0
        s.disc(
            x + radius_m * 0.4 * np.cos(a), radius_m * (1 + 0.4 * np.sin(a)), radius_m * 0.15,
            m.plastic,
        )  # fmt: skip
    s.disc(x, radius_m, radius_m * 0.12, m.plastic)


def _car_side(m: BodyMaterials) -> Sketch:
    s = Sketch(LENGTH_M["car"], 1.48)
    s.polygon(
        smooth([(-2.16, 0.3), (-2.18, 0.5), (-2.1, 0.72), (-1.7, 0.86), (-1.05, 0.95),
                (-0.75, 1.1), (-0.2, 1.4), (0.3, 1.46), (1.0, 1.43), (1.6, 1.28), (2.0, 1.0),
                (2.14, 0.92), (2.17, 0.6), (2.14, 0.32), (1.9, 0.22), (0.0, 0.2), (-1.9, 0.22)]),
        m.paint)  # fmt: skip
    s.polygon([(-0.72, 0.98), (-0.14, 1.34), (0.18, 1.38), (0.2, 0.98)], m.glass)
    s.polygon([(0.27, 0.98), (0.25, 1.38), (0.95, 1.36), (1.2, 0.98)], m.glass)
    s.polygon([(1.27, 0.98), (1.05, 1.34), (1.4, 1.26), (1.66, 1.04)], m.glass)
    for x in (-0.78, 0.235, 1.2):
        s.box(x - 0.004, 0.34, x + 0.004, 0.97, m.plastic)
    s.box(-0.78, 0.335, 1.2, 0.342, m.plastic)
    for x in (0.02, 0.98):
        s.box(x, 0.86, x + 0.17, 0.885, m.plastic)  # handles
    s.polygon([(-0.74, 0.98), (-0.6, 0.99), (-0.6, 1.09), (-0.72, 1.08)], m.plastic)  # mirror
    s.polygon([(-2.12, 0.6), (-1.78, 0.68), (-1.74, 0.78), (-2.06, 0.72)], m.lamp)
    s.polygon([(2.14, 0.78), (1.86, 0.78), (1.9, 0.94), (2.1, 0.92)], m.red)
    for x in (-1.36, 1.3):
        _wheel(s, x, 0.32, m)
    return s


def _van_side(m: BodyMaterials) -> Sketch:
    s = Sketch(LENGTH_M["van"], 2.24)
    s.polygon(
        [(-2.64, 0.34), (-2.66, 0.8), (-2.5, 1.02), (-2.07, 1.1), (-2.05, 2.1), (-1.98, 2.19),
         (-1.6, 2.21), (2.56, 2.2), (2.66, 2.1), (2.66, 0.36)], m.paint)  # fmt: skip
    s.box(-2.64, 0.3, 2.66, 0.42, m.plastic)
    s.polygon([(-1.92, 1.26), (-1.84, 1.92), (-0.62, 1.92), (-0.62, 1.26)], m.glass)
    for x, top in ((-1.98, 1.2), (-0.54, 2.05), (0.62, 2.05)):
        s.box(x - 0.005, 0.44, x + 0.005, top, m.plastic)
    s.box(-0.54, 1.2, 2.5, 1.225, m.plastic)
    for x in (-0.78, -0.42):
        s.box(x, 1.12, x + 0.16, 1.15, m.plastic)
    s.polygon([(-1.92, 1.26), (-1.72, 1.26), (-1.72, 1.56), (-1.9, 1.54)], m.plastic)
    s.polygon([(-2.62, 0.82), (-2.28, 0.92), (-2.24, 1.06), (-2.52, 1.0)], m.lamp)
    s.box(2.58, 0.7, 2.66, 1.15, m.red)
    for x in (-1.72, 1.62):
        _wheel(s, x, 0.35, m)
    return s


def _truck_side(m: BodyMaterials) -> Sketch:
    s = Sketch(LENGTH_M["truck"], 3.32)
    s.box(-3.4, 0.72, 3.56, 0.95, m.plastic)
    s.box(-1.7, 0.98, 3.58, 3.3, m.paint)
    for x in (-0.6, 0.5, 1.6, 2.7):
        s.box(x - 0.006, 1.02, x + 0.006, 3.26, m.plastic)
    s.polygon(
        [(-3.58, 0.42), (-3.6, 1.5), (-3.46, 2.6), (-3.2, 2.9), (-1.9, 3.0), (-1.84, 0.42)],
        m.paint)  # fmt: skip
    s.polygon([(-3.46, 1.62), (-3.36, 2.44), (-2.6, 2.44), (-2.6, 1.62)], m.glass)
    for x in (-3.44, -2.5):
        s.box(x - 0.006, 0.9, x + 0.006, 2.6, m.plastic)
    s.box(-2.72, 1.42, -2.56, 1.46, m.plastic)
    s.box(-3.6, 0.36, -1.84, 0.5, m.plastic)
    s.box(-3.58, 0.56, -3.44, 0.76, m.lamp)
    s.box(-1.5, 0.5, 1.2, 0.56, m.chrome)  # guard
    s.box(-1.5, 0.68, 1.2, 0.74, m.chrome)
    s.box(3.5, 0.78, 3.58, 0.94, m.red)
    for x in (-2.7, 2.2):
        _wheel(s, x, 0.5, m)
    return s


_REARS: dict[str, Callable[[BodyMaterials], tuple[Sketch, tuple[float, float]]]] = {
    "car": _car_rear,
    "van": _van_rear,
    "truck": _truck_rear,
}
_SIDES: dict[str, Callable[[BodyMaterials], Sketch]] = {
    "car": _car_side,
    "van": _van_side,
    "truck": _truck_side,
}
_SIDE_WIDTH = {"car": 1.7, "van": 1.9, "truck": 2.3}


def rear_parts(
    name: str,
    style: str,
    ground_point_m: FloatArray,
    facing_deg: float,
    materials: BodyMaterials,
    group: int,
) -> VehicleParts:
    """Cards of a vehicle whose rear stands over a ground point (3,) [m].

    `facing_deg` says where the rear looks; 0 towards the camera.
    """
    sketch, (lamp_x, lamp_z) = _REARS[style](materials)
    normal, across = body_axes(facing_deg)
    base = np.array([ground_point_m[0], ground_point_m[1], 0.0])
    cards = [
        stood(f"{name} rear", sketch, base, facing_deg, group),
        underbody(name, base, normal, across, materials.under, style, group),
    ]
    lamps = [
        base + normal * 0.01 + across * (side * lamp_x) + np.array([0.0, 0.0, lamp_z])
        for side in (-1.0, 1.0)
    ]
    return VehicleParts(cards, lamps, normal)


def side_cards(
    name: str,
    style: str,
    ground_point_m: FloatArray,
    facing_deg: float,
    nose: Literal["left", "right"],
    materials: BodyMaterials,
    group: int,
) -> list[Card]:
    """Cards of a vehicle whose side stands over a ground point (3,) [m], the middle of its length.

    `facing_deg` says where that side looks; `nose` where its front points for one who looks at it.
    """
    sketch = _SIDES[style](materials)
    if nose == "right":
        sketch.texture = np.ascontiguousarray(sketch.texture[:, ::-1])
    normal, across = body_axes(facing_deg)
    base = np.array([ground_point_m[0], ground_point_m[1], 0.0])
    width, length = _SIDE_WIDTH[style], LENGTH_M[style] - 0.2
    back = base - normal * (width + 0.005) + np.array([0.0, 0.0, 0.25])
    floor = Card(
        f"{name} underbody",
        back - across * (length / 2.0),
        across,
        normal,
        length,
        width,
        np.full((1, 1), materials.under, np.uint8),
        group,
    )
    return [stood(f"{name} side", sketch, base, facing_deg, group), floor]


_FLANKS: dict[str, tuple[tuple[float, float, float], ...]] = {
    "car": ((0.86, 0.0, 0.95), (0.62, 0.93, 9.0)),
    "van": ((0.95, 0.0, 9.0),),
    "truck": ((1.18, 0.0, 9.0),),
}
"""Bands of a vehicle's flank: distance from the middle, lower and upper end [m]."""
_LEVELS: dict[str, tuple[tuple[str, float, float, float, float], ...]] = {
    "car": (("roof", 0.52, 1.43, 1.02, 3.2), ("shoulders", 0.85, 0.93, 1.02, 4.3)),
    "van": (("roof", 0.95, 2.19, 0.6, 5.2),),
    "truck": (("roof", 1.05, 2.98, 0.02, 1.6),),
}
"""Level parts: name, half width, height, where they begin and end behind the front [m]."""


def front_parts(
    name: str,
    style: str,
    ground_point_m: FloatArray,
    facing_deg: float,
    materials: BodyMaterials,
    group: int,
) -> VehicleParts:
    """A vehicle front with its flanks and roof, so that it has a body from any side.

    The same as `vehicle_parts` otherwise.
    """
    parts = vehicle_parts(name, style, ground_point_m, facing_deg, materials, group)
    normal, across = body_axes(facing_deg)
    base = np.array([ground_point_m[0], ground_point_m[1], 0.0])
    middle = base - normal * (LENGTH_M[style] / 2.0 + 0.02)
    sketch = _SIDES[style](materials)
    rows = sketch.texture.shape[0]
    heights = sketch.base_m + sketch.height_m * (1.0 - (np.arange(rows) + 0.5) / rows)
    drawn = sketch.texture
    for half, low, high in _FLANKS[style]:
        band = drawn.copy()
        band[(heights < low) | (heights > high)] = CLEAR
        for side, turn in ((1.0, 90.0), (-1.0, -90.0)):
            sketch.texture = np.ascontiguousarray(band if side > 0 else band[:, ::-1])
            place = middle + across * (side * half)
            label = f"{name} flank {'right' if side > 0 else 'left'}"
            parts.cards.append(stood(label, sketch, place, facing_deg + turn, group))
    for label, half, height, start, stop in _LEVELS[style]:
        corner = base - normal * stop + np.array([0.0, 0.0, height]) - across * half
        parts.cards.append(
            Card(
                f"{name} {label}",
                corner,
                across,
                normal,
                2 * half,
                stop - start,
                np.full((1, 1), materials.paint, np.uint8),
                group,
            )
        )
    return parts
