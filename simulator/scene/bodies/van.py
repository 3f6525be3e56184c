"""A panel van and a box truck, drawn by us after no make; axes as in `car`."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from simulator.scene.bodies.parts import (
    Materials,
    arch_liner,
    headrest,
    lamp_bowl,
    mirror,
    outward,
    seat,
    slab,
    wheel,
)
from simulator.scene.bodies.shell import Profile, closed_at, painted, skin, within
from simulator.scene.mesh import DRAWN, Mesh, joined
from simulator.units import FloatArray

VAN_M, TRUCK_M = 5.4, 7.2
"""Lengths [m]."""
_VAN_WHEEL, _VAN_AXLES = 0.34, (0.95, 4.25)
_TRUCK_WHEEL, _TRUCK_AXLES = 0.48, (1.25, 5.35)
Texture = NDArray[np.uint8]

_VAN = Profile(
    front=[(0.22, 0.14), (0.30, 0.04), (0.50, 0.0), (0.72, 0.01), (0.86, 0.06), (0.98, 0.18),
           (1.06, 0.38), (1.13, 0.60), (1.20, 0.72), (1.50, 0.95), (1.80, 1.17), (1.98, 1.33),
           (2.08, 1.48), (2.16, 1.72), (2.20, 2.05)],
    rear=[(0.22, VAN_M - 0.08), (0.30, VAN_M - 0.01), (0.50, VAN_M), (1.20, VAN_M - 0.02),
          (1.90, VAN_M - 0.08), (2.08, VAN_M - 0.13), (2.16, VAN_M - 0.25), (2.20, VAN_M - 0.5)],
    half=[(0.22, 0.88), (0.30, 0.94), (0.50, 0.975), (0.90, 0.985), (1.20, 0.975), (1.60, 0.93),
          (1.95, 0.87), (2.08, 0.82), (2.16, 0.72), (2.20, 0.56)],
    bulge_front=[(0.22, 0.08), (0.60, 0.10), (1.00, 0.20), (1.20, 0.20), (2.00, 0.18), (2.20, 0.2)],
    bulge_rear=[(0.22, 0.02), (2.20, 0.04)],
    corner_front=[(0.22, 0.28), (0.90, 0.26), (1.20, 0.14), (2.05, 0.16), (2.20, 0.3)],
    corner_rear=[(0.22, 0.07), (2.0, 0.08), (2.20, 0.2)],
)  # fmt: skip


def _paint_van(m: Materials):  # type: ignore[no-untyped-def]
    n = VAN_M

    def paint(x: FloatArray, y: FloatArray, z: FloatArray, nx: FloatArray) -> Texture:
        out = np.full(x.shape, m.paint, np.uint8)
        a = np.abs(x)
        side, ahead, back = (a > 0.6) & (np.abs(nx) > 0.3), y < 1.7, y > n - 0.4
        out[z < 0.36] = m.plastic
        out[side & (np.abs(z - 0.62) < 0.035) & (y > 1.5) & (y < 4.9)] = m.plastic
        for gap, top in ((1.16, 1.2), (2.28, 2.02), (3.45, 2.02)):
            out[side & (np.abs(y - gap) < 0.006) & (z > 0.42) & (z < top)] = m.under
        out[side & (np.abs(z - 1.22) < 0.012) & (y > 3.45) & (y < 5.2)] = m.plastic  # rail
        for handle in (2.10, 2.48):
            out[side & (np.abs(y - handle) < 0.09) & (np.abs(z - 1.12) < 0.017)] = m.plastic
        door = [(1.06, 1.24), (1.50, 1.86), (2.18, 1.88), (2.18, 1.20)]
        out[side & within(y, z, [(0.98, 1.20), (1.46, 1.90), (2.21, 1.92), (2.21, 1.165)])] = (
            m.plastic
        )
        out[side & within(y, z, door)] = m.glass
        screen = ahead & (z > 1.14)
        out[screen & within(a, z, [(-0.1, 1.15), (0.88, 1.18), (0.80, 1.94), (-0.1, 1.98)])] = (
            m.plastic
        )
        out[screen & within(a, z, [(-0.1, 1.19), (0.84, 1.22), (0.77, 1.91), (-0.1, 1.95)])] = (
            m.glass
        )
        grille = ahead & within(a, z, [(-0.1, 0.70), (0.46, 0.70), (0.52, 0.88), (-0.1, 0.88)])
        out[grille] = m.plastic
        for height in (0.74, 0.79, 0.84):
            out[grille & (np.abs(z - height) < 0.007)] = m.chrome
        out[ahead & (z < 0.52)] = m.plastic
        out[ahead & within(a, z, [(-0.1, 0.28), (0.5, 0.28), (0.56, 0.40), (-0.1, 0.40)])] = m.under
        lamp = [(0.57, 0.70), (0.86, 0.74), (0.975, 0.86), (0.95, 1.04), (0.80, 0.98), (0.60, 0.86)]
        rim = [(0.555, 0.68), (0.87, 0.72), (0.99, 0.85), (0.97, 1.07), (0.79, 1.0), (0.585, 0.87)]
        out[ahead & within(a, z, rim)] = m.plastic
        out[ahead & within(a, z, lamp)] = m.glass
        _van_rear(out, a, x, z, back, m)
        for axle in _VAN_AXLES:
            far = np.hypot(y - axle, z - _VAN_WHEEL)
            out[side & (far < 0.43) & (z < 1.0)] = m.plastic
            out[side & (far < 0.405)] = DRAWN
        return out

    return paint


def _van_rear(
    out: Texture, a: FloatArray, x: FloatArray, z: FloatArray, back: NDArray[np.bool_], m: Materials
) -> None:
    out[back & (z < 0.50)] = m.plastic
    out[back & (a < 0.006) & (z > 0.50) & (z < 2.08)] = m.under
    out[back & within(a, z, [(0.07, 1.27), (0.80, 1.27), (0.75, 1.90), (0.07, 1.90)])] = m.plastic
    out[back & within(a, z, [(0.10, 1.30), (0.77, 1.30), (0.725, 1.87), (0.10, 1.87)])] = m.glass
    lamp = back & (a > 0.87) & (z > 0.66) & (z < 1.16)
    out[lamp] = m.red
    out[lamp & (z > 1.0)] = m.amber
    out[lamp & (z > 0.80) & (z < 0.90)] = m.lamp
    out[back & (np.abs(x - 0.055) < 0.018) & (z > 1.02) & (z < 1.16)] = m.plastic
    out[
        back & (np.abs(a - 0.80) < 0.03) & ((np.abs(z - 0.72) < 0.03) | (np.abs(z - 1.98) < 0.03))
    ] = m.plastic
    out[back & (a < 0.30) & (z > 0.54) & (z < 0.70)] = m.plastic


@lru_cache(maxsize=8)
def van(m: Materials) -> Mesh:
    """A van over the origin, looking along -y."""
    points = skin(_VAN, high=90, side=70)
    points = np.concatenate([closed_at(points[0], 2.21), points, closed_at(points[-1], 0.22)])
    parts = [outward(painted("body", points, _paint_van(m), inside=m.under))]
    for side in (-1.0, 1.0):
        for axle in _VAN_AXLES:
            parts += [
                wheel(m, side * 0.85, axle, _VAN_WHEEL, 0.22, side),
                arch_liner(m, side * 0.93, axle, _VAN_WHEEL, 0.41, side),
            ]
        parts += [
            lamp_bowl(m, (side * 0.70, 0.27, 0.82), 0.065),
            lamp_bowl(m, (side * 0.83, 0.36, 0.87), 0.065),
            mirror(m, side, (1.0, 1.22, 1.40), (0.11, 0.07, 0.17), plastic=True),
            seat(m, side * 0.45, 2.05, lift_m=0.45),
            headrest(m, side * 0.45, 2.25, 1.63),
        ]
    parts += [
        slab(m.under, (0.0, 0.62, 0.68), (1.7, 0.24, 0.34)),
        slab(m.under, (0.0, 1.05, 0.9), (1.66, 0.5, 0.28)),
        slab(m.plastic, (0.0, 2.38, 0.4), (1.70, 0.04, 1.6)),  # wall behind the seats
    ]
    return joined("van", parts)


_CAB = Profile(
    front=[(0.30, 0.10), (0.38, 0.03), (0.60, 0.0), (1.30, 0.02), (1.55, 0.05), (2.40, 0.24),
           (2.62, 0.36), (2.74, 0.60), (2.78, 0.9)],
    rear=[(0.30, 2.0), (2.60, 2.0), (2.74, 1.96), (2.78, 1.8)],
    half=[(0.30, 1.08), (0.40, 1.14), (1.40, 1.16), (2.30, 1.10), (2.60, 1.02), (2.74, 0.86),
          (2.78, 0.6)],
    bulge_front=[(0.30, 0.10), (2.78, 0.12)],
    bulge_rear=[(0.30, 0.0), (2.78, 0.0)],
    corner_front=[(0.30, 0.20), (1.4, 0.18), (2.5, 0.16), (2.78, 0.3)],
    corner_rear=[(0.30, 0.05), (2.78, 0.1)],
)  # fmt: skip


def _paint_cab(m: Materials):  # type: ignore[no-untyped-def]
    def paint(x: FloatArray, y: FloatArray, z: FloatArray, nx: FloatArray) -> Texture:
        out = np.full(x.shape, m.paint, np.uint8)
        a = np.abs(x)
        side, ahead = (a > 0.7) & (np.abs(nx) > 0.3) & (y > 0.3), y < 0.75
        out[ahead & (z < 0.74)] = m.plastic
        out[z < 0.45] = m.plastic
        grille = ahead & (a < 0.72) & (z > 0.84) & (z < 1.34)
        out[grille] = m.plastic
        for height in (0.92, 1.02, 1.12, 1.22):
            out[grille & (np.abs(z - height) < 0.011)] = m.chrome
        screen = [(-0.1, 1.50), (1.05, 1.50), (0.99, 2.38), (-0.1, 2.40)]
        out[ahead & within(a, z, [(-0.1, 1.46), (1.09, 1.46), (1.03, 2.42), (-0.1, 2.44)])] = (
            m.under
        )
        out[ahead & within(a, z, screen)] = m.glass
        lamp = ahead & (a > 0.76) & (a < 1.10) & (z > 0.52) & (z < 0.70)
        out[lamp] = m.glass
        out[ahead & (a < 0.28) & (z > 0.46) & (z < 0.62)] = m.under
        out[ahead & (a > 0.3) & (a < 0.7) & (z > 0.48) & (z < 0.62)] = m.under
        window = [(0.42, 1.54), (0.56, 2.32), (1.42, 2.32), (1.42, 1.54)]
        out[side & within(y, z, [(0.37, 1.50), (0.53, 2.36), (1.46, 2.36), (1.46, 1.50)])] = m.under
        out[side & within(y, z, window)] = m.glass
        for gap in (0.34, 1.54):
            out[side & (np.abs(y - gap) < 0.007) & (z > 0.9) & (z < 2.45)] = m.under
        out[side & (np.abs(y - 1.40) < 0.08) & (np.abs(z - 1.38) < 0.02)] = m.plastic
        far = np.hypot(y - _TRUCK_AXLES[0], z - _TRUCK_WHEEL)
        out[side & (far < 0.60)] = m.plastic
        out[side & (far < 0.57)] = DRAWN
        return out

    return paint


def _box_body(m: Materials) -> list[Mesh]:
    """The load's box with its frame, doors and lamps, and what hangs under it."""
    y0, y1 = 2.12, TRUCK_M
    middle, length = (y0 + y1) / 2.0, y1 - y0
    parts = [
        slab(m.paint, (0.0, middle, 0.98), (2.42, length - 0.04, 2.30)),
        slab(m.plastic, (0.0, middle, 0.72), (0.9, length, 0.24)),  # chassis
        slab(m.chrome, (0.0, middle, 0.93), (2.46, length, 0.07)),
        slab(m.chrome, (0.0, middle, 3.24), (2.46, length, 0.06)),
        slab(m.plastic, (0.0, y1 - 0.10, 0.42), (2.36, 0.10, 0.13)),  # keeps cars from under it
        slab(m.under, (0.0, y1 - 0.01, 1.04), (0.02, 0.014, 2.18)),
        slab(m.under, (0.0, 1.0, 0.55), (1.5, 1.4, 0.4)),
    ]
    for side in (-1.0, 1.0):
        parts += [
            slab(m.red, (side * 1.0, y1 - 0.02, 0.68), (0.26, 0.05, 0.18)),
            slab(m.amber, (side * 1.15, y1 - 0.018, 0.68), (0.06, 0.05, 0.18)),
            slab(m.plastic, (side * 1.0, y1 - 0.06, 0.64), (0.46, 0.04, 0.26)),
            slab(m.chrome, (side * 1.20, y1 - 0.02, 1.0), (0.06, 0.05, 2.24)),
            slab(m.chrome, (side * 1.14, 3.6, 0.52), (0.04, 2.2, 0.10)),  # side guards
            slab(m.chrome, (side * 1.14, 3.6, 0.72), (0.04, 2.2, 0.10)),
            slab(m.under, (side * 1.16, _TRUCK_AXLES[1] + 0.62, 0.30), (0.34, 0.02, 0.5)),
        ]
        for x in (0.2, 0.85):
            parts.append(slab(m.chrome, (side * x, y1 + 0.0, 1.06), (0.035, 0.03, 2.12)))
    return parts


@lru_cache(maxsize=8)
def truck(m: Materials) -> Mesh:
    """A box truck over the origin, looking along -y."""
    points = skin(_CAB, high=64, side=28)
    points = np.concatenate([closed_at(points[0], 2.79), points, closed_at(points[-1], 0.30)])
    parts = [outward(painted("cab", points, _paint_cab(m), inside=m.under)), *_box_body(m)]
    for side in (-1.0, 1.0):
        parts += [
            wheel(m, side * 1.0, _TRUCK_AXLES[0], _TRUCK_WHEEL, 0.28, side),
            wheel(m, side * 1.02, _TRUCK_AXLES[1], _TRUCK_WHEEL, 0.30, side),
            wheel(m, side * 0.68, _TRUCK_AXLES[1], _TRUCK_WHEEL, 0.30, side),
            arch_liner(m, side * 1.12, _TRUCK_AXLES[0], _TRUCK_WHEEL, 0.575, side),
            lamp_bowl(m, (side * 0.85, 0.21, 0.61), 0.07),
            lamp_bowl(m, (side * 1.01, 0.25, 0.61), 0.06),
            mirror(m, side, (1.22, 0.42, 2.0), (0.10, 0.07, 0.26), plastic=True),
            seat(m, side * 0.55, 1.25, lift_m=0.85),
            headrest(m, side * 0.55, 1.45, 2.03),
        ]
    parts += [slab(m.under, (0.0, 0.62, 1.0), (1.9, 0.45, 0.42))]
    return joined("truck", parts)
