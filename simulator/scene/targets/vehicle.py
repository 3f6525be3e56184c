"""Vehicle fronts as cards: a plausible pattern of paint, glass, plastic, rubber and lamps.

Sizes are those of common road vehicles (assumed): a car 1.80 x 1.45 m, a van 2.00 x 2.20 m, a truck
2.40 x 3.00 m. A front is one upright card, with a bonnet and a cabin card behind it where the
body has one. Drawings are our own and show no make.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.scene.geometry import Card, facing_normal, upright_card
from simulator.scene.targets.sketch import Sketch
from simulator.units import FloatArray

LENGTH_M = {"car": 4.4, "van": 5.4, "truck": 7.2}
"""Length of a vehicle (assumed) [m]."""
PLATE_GAP_M = 0.02
"""How far the plate stands before the body [m]."""


@dataclass(frozen=True)
class BodyMaterials:
    """Indices into the scene's material list."""

    paint: int
    glass: int
    plastic: int
    rubber: int
    lamp: int
    chrome: int
    red: int
    amber: int
    under: int
    """Matt black of what lies under a vehicle."""


@dataclass(frozen=True)
class VehicleParts:
    """Cards of a vehicle's front or rear, the places of its two lamps [m], and where they shine."""

    cards: list[Card]
    lamps_m: list[FloatArray]
    axis: FloatArray


def _car(m: BodyMaterials) -> tuple[Sketch, Sketch | None, float, tuple[float, float]]:
    front = Sketch(1.8, 0.86)
    front.pair([(0.62, 0.0), (0.86, 0.0), (0.86, 0.42), (0.62, 0.42)], m.rubber)
    front.polygon(
        [(-0.86, 0.2), (0.86, 0.2), (0.9, 0.45), (0.88, 0.72), (0.8, 0.8), (0.5, 0.86),
         (-0.5, 0.86), (-0.8, 0.8), (-0.88, 0.72), (-0.9, 0.45)], m.paint)  # fmt: skip
    front.box(-0.6, 0.22, 0.6, 0.34, m.plastic)
    front.box(-0.42, 0.62, 0.42, 0.72, m.plastic)
    for z in (0.645, 0.67, 0.695):
        front.box(-0.42, z - 0.004, 0.42, z + 0.004, m.chrome)
    front.pair([(0.5, 0.62), (0.82, 0.66), (0.82, 0.74), (0.54, 0.73)], m.lamp)
    front.pair([(0.64, 0.26), (0.8, 0.28), (0.8, 0.34), (0.66, 0.34)], m.plastic)
    cabin = Sketch(1.9, 0.65, 0.8)
    cabin.polygon(
        [(-0.8, 0.8), (0.8, 0.8), (0.76, 1.0), (0.6, 1.36), (0.5, 1.44), (-0.5, 1.44),
         (-0.6, 1.36), (-0.76, 1.0)], m.paint)  # fmt: skip
    cabin.polygon([(-0.72, 0.9), (0.72, 0.9), (0.54, 1.36), (-0.54, 1.36)], m.glass)
    cabin.pair([(0.76, 0.96), (0.93, 0.97), (0.93, 1.08), (0.78, 1.07)], m.paint)
    return front, cabin, 1.0, (0.68, 0.69)


def _van(m: BodyMaterials) -> tuple[Sketch, Sketch | None, float, tuple[float, float]]:
    front = Sketch(2.0, 1.12)
    front.pair([(0.68, 0.0), (0.92, 0.0), (0.92, 0.45), (0.68, 0.45)], m.rubber)
    front.polygon(
        [(-0.95, 0.24), (0.95, 0.24), (0.98, 0.6), (0.95, 0.98), (0.8, 1.12), (-0.8, 1.12),
         (-0.95, 0.98), (-0.98, 0.6)], m.paint)  # fmt: skip
    front.box(-0.95, 0.24, 0.95, 0.44, m.plastic)
    front.box(-0.45, 0.76, 0.45, 0.92, m.plastic)
    for z in (0.8, 0.84, 0.88):
        front.box(-0.45, z - 0.005, 0.45, z + 0.005, m.chrome)
    front.pair([(0.56, 0.74), (0.9, 0.78), (0.9, 0.96), (0.6, 0.92)], m.lamp)
    cabin = Sketch(2.3, 1.2, 1.05)
    cabin.polygon(
        [(-0.95, 1.05), (0.95, 1.05), (0.95, 1.6), (0.94, 2.12), (0.9, 2.2), (-0.9, 2.2),
         (-0.94, 2.12), (-0.95, 1.6)], m.paint)  # fmt: skip
    cabin.polygon([(-0.87, 1.2), (0.87, 1.2), (0.83, 1.92), (-0.83, 1.92)], m.glass)
    cabin.pair([(0.92, 1.25), (1.12, 1.25), (1.12, 1.6), (0.94, 1.6)], m.plastic)
    return front, cabin, 0.6, (0.75, 0.84)


def _truck(m: BodyMaterials) -> tuple[Sketch, Sketch | None, float, tuple[float, float]]:
    front = Sketch(2.7, 3.0)
    front.pair([(0.82, 0.0), (1.14, 0.0), (1.14, 0.5), (0.82, 0.5)], m.rubber)
    front.polygon(
        [(-1.18, 0.28), (1.18, 0.28), (1.2, 1.4), (1.16, 2.7), (1.02, 3.0), (-1.02, 3.0),
         (-1.16, 2.7), (-1.2, 1.4)], m.paint)  # fmt: skip
    front.box(-1.18, 0.28, 1.18, 0.74, m.plastic)
    front.box(-0.7, 0.82, 0.7, 1.34, m.plastic)
    for z in (0.92, 1.02, 1.12, 1.22):
        front.box(-0.7, z - 0.008, 0.7, z + 0.008, m.chrome)
    front.box(-1.06, 1.6, 1.06, 2.5, m.glass)
    front.pair([(0.02, 1.58), (0.05, 1.58), (0.75, 1.72), (0.74, 1.75)], m.plastic)
    front.pair([(0.78, 0.5), (1.1, 0.5), (1.1, 0.68), (0.78, 0.68)], m.lamp)
    front.pair([(1.2, 1.8), (1.34, 1.8), (1.34, 2.4), (1.2, 2.4)], m.plastic)
    front.box(-1.0, 2.62, 1.0, 2.74, m.plastic)
    return front, None, 0.0, (0.94, 0.59)


_STYLES = {"car": _car, "van": _van, "truck": _truck}
_BONNET = {"car": (0.77, 0.79), "van": (0.95, 0.92)}
"""Height of a bonnet's front edge, just under the front's shoulders, and half its width [m]."""


_UNDERBODY = {"car": (1.7, 4.2, 0.2), "van": (1.9, 5.2, 0.3), "truck": (2.3, 7.0, 0.6)}
"""Width, length and height over the ground of what shades the road under a vehicle [m]."""


def underbody(
    name: str,
    base: FloatArray,
    normal: FloatArray,
    across: FloatArray,
    material: int,
    style: str,
    group: int,
) -> Card:
    """A level card behind the front: no lamp shines through a vehicle onto the road below it."""
    width, length, height = _UNDERBODY[style]
    back = base - normal * (length + 0.005) + np.array([0.0, 0.0, height])
    return Card(
        f"{name} underbody",
        back - across * (width / 2.0),
        across,
        normal,
        width,
        length,
        np.full((1, 1), material, np.uint8),
        group,
    )


def body_axes(facing_deg: float) -> tuple[FloatArray, FloatArray]:
    """Where a body looks, and its right as seen by who looks at it: unit vectors (3,)."""
    phi = np.radians(facing_deg)
    return facing_normal(facing_deg), np.array([np.cos(phi), np.sin(phi), 0.0])


def stood(name: str, sketch: Sketch, base: FloatArray, facing_deg: float, group: int) -> Card:
    """A sketch stood upright over a ground point (3,)."""
    centre = base + np.array([0.0, 0.0, sketch.base_m + sketch.height_m / 2.0])
    return upright_card(
        name,
        centre,
        sketch.width_m,
        sketch.height_m,
        sketch.texture,
        facing_deg=facing_deg,
        group=group,
    )


def vehicle_parts(
    name: str,
    style: str,
    ground_point_m: FloatArray,
    facing_deg: float,
    materials: BodyMaterials,
    group: int,
) -> VehicleParts:
    """Cards of a vehicle whose front stands over a ground point.

    Parameters
    ----------
    ground_point_m
        Ground under the middle of the front (3,) [m]; its height is not used.
    facing_deg
        Where the vehicle looks; 0 towards the camera.
    """
    front, cabin, cabin_back_m, (lamp_x, lamp_z) = _STYLES[style](materials)
    normal, across = body_axes(facing_deg)
    base = np.array([ground_point_m[0], ground_point_m[1], 0.0])
    cards = [stood(f"{name} front", front, base, facing_deg, group)]
    if cabin is not None:
        back = base - normal * cabin_back_m
        cards.append(stood(f"{name} cabin", cabin, back, facing_deg, group))
        edge, half = _BONNET[style]
        rise = cabin.base_m + 0.1 - edge
        length = float(np.hypot(cabin_back_m, rise))
        down = (normal * cabin_back_m - np.array([0, 0, rise])) / length
        corner = base - normal * cabin_back_m + np.array([0, 0, edge + rise]) - across * half
        cards.append(
            Card(
                f"{name} bonnet",
                corner,
                across,
                down,
                2 * half,
                length,
                np.full((1, 1), materials.paint, np.uint8),
                group,
            )
        )
    cards.append(underbody(name, base, normal, across, materials.under, style, group))
    lamps = [
        base + normal * 0.01 + across * (side * lamp_x) + np.array([0.0, 0.0, lamp_z])
        for side in (-1.0, 1.0)
    ]
    return VehicleParts(cards, lamps, normal)
