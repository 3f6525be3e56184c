"""A motorcycle, drawn by us after no make; axes as in `car`."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from simulator.scene.bodies.parts import Materials, ellipsoid, lamp_bowl, slab, tube, wheel
from simulator.scene.mesh import Mesh, joined

LENGTH_M, WHEEL_M = 2.10, 0.31
_FRONT, _REAR = 0.31, 1.75
Point = tuple[float, float, float]


@lru_cache(maxsize=8)
def motorcycle(m: Materials) -> Mesh:
    """A motorcycle on its wheels over the origin, looking along -y."""
    steel, paint = m.chrome, m.paint
    wheels = [
        wheel(m, 0.0, y, WHEEL_M, wide, side)
        for y, wide in ((_FRONT, 0.12), (_REAR, 0.16))
        for side in (-1.0, 1.0)
    ]
    pairs: list[tuple[Sequence[Point], float, int]] = [
        ([(0.085, _FRONT, WHEEL_M), (0.085, 0.50, 0.75), (0.07, 0.60, 0.98)], 0.026, steel),
        ([(0.08, 0.60, 1.0), (0.25, 0.66, 1.06), (0.37, 0.74, 1.03)], 0.014, steel),
        ([(0.29, 0.69, 1.05), (0.385, 0.75, 1.03)], 0.020, m.rubber),
        ([(0.24, 0.64, 1.06), (0.28, 0.60, 1.20)], 0.007, m.under),
        ([(0.09, 0.75, 0.80), (0.13, 1.05, 0.42), (0.11, 1.35, 0.40)], 0.022, m.plastic),
        ([(0.10, 1.30, 0.45), (0.12, _REAR, WHEEL_M)], 0.028, steel),
        ([(0.15, 1.0, 0.36), (0.19, 1.35, 0.30), (0.20, 1.95, 0.40)], 0.045, steel),
        ([(0.13, 1.62, 0.72), (0.12, _REAR - 0.06, WHEEL_M + 0.03)], 0.030, m.plastic),
    ]
    parts = list(wheels)
    for points, radius, material in pairs:
        for side in (-1.0, 1.0):
            parts.append(tube(material, [(side * x, y, z) for x, y, z in points], radius))
    parts += [
        ellipsoid(m.under, (0.0, 0.98, 0.52), (0.17, 0.26, 0.20), power=4.0),  # engine
        ellipsoid(steel, (0.0, 0.93, 0.66), (0.13, 0.12, 0.12), power=5.0),
        ellipsoid(paint, (0.0, 0.92, 0.88), (0.15, 0.27, 0.13), power=2.6),  # tank
        ellipsoid(m.under, (0.0, 1.42, 0.83), (0.14, 0.36, 0.06), power=3.0),  # seat
        ellipsoid(paint, (0.0, 1.78, 0.80), (0.10, 0.20, 0.07), power=3.0),
        ellipsoid(m.red, (0.0, 1.97, 0.80), (0.06, 0.02, 0.035), power=3.0),
        ellipsoid(paint, (0.0, _FRONT + 0.02, 0.61), (0.075, 0.22, 0.05), power=2.5),
        ellipsoid(m.plastic, (0.0, 0.50, 0.90), (0.10, 0.10, 0.11)),
        ellipsoid(m.lamp, (0.0, 0.43, 0.90), (0.085, 0.05, 0.085)),
        lamp_bowl(m, (0.0, 0.41, 0.90), 0.08),
        slab(m.plastic, (0.0, 1.96, 0.52), (0.20, 0.02, 0.16)),
        slab(m.under, (0.0, 1.92, 0.50), (0.08, 0.03, 0.28)),
    ]
    for side in (-1.0, 1.0):
        parts += [
            ellipsoid(m.plastic, (side * 0.31, 0.60, 1.22), (0.065, 0.02, 0.04), power=3.0),
            ellipsoid(m.amber, (side * 0.17, 0.52, 0.86), (0.03, 0.03, 0.025)),
            ellipsoid(m.amber, (side * 0.13, 1.93, 0.74), (0.03, 0.03, 0.025)),
        ]
    return joined("motorcycle", parts)
