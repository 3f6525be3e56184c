"""Passenger cars: a hatchback and an estate, drawn by us after no make.

Axes of a body: it looks along -y, its foremost point stands at y = 0, the ground is z = 0.
"""

from __future__ import annotations

from dataclasses import dataclass
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

WHEEL_M, ARCH_M = 0.31, 0.37
"""Radius of a tyre and of the hole in the body around it [m]."""


@dataclass(frozen=True)
class CarShape:
    """What tells one car body from another [m]."""

    length: float
    rear_window: tuple[tuple[float, float], tuple[float, float]]
    """Height and y of the foot and the head of the rear window, y from the rear end."""
    roof_end: float
    """Where the roof's flat part ends, from the rear end."""
    axles: tuple[float, float]


HATCHBACK = CarShape(4.05, ((1.02, 0.16), (1.36, 0.50)), 0.95, (0.80, 3.36))
ESTATE = CarShape(4.62, ((1.00, 0.08), (1.38, 0.34)), 0.80, (0.86, 3.58))


def _profile(s: CarShape) -> Profile:
    n = s.length
    (foot_z, foot_y), (head_z, head_y) = s.rear_window
    return Profile(
        front=[(0.17, 0.20), (0.22, 0.09), (0.34, 0.02), (0.50, 0.0), (0.60, 0.01), (0.68, 0.06),
               (0.745, 0.17), (0.80, 0.36), (0.85, 0.62), (0.90, 0.90), (0.945, 1.10),
               (0.98, 1.18), (1.10, 1.38), (1.25, 1.63), (1.36, 1.83), (1.41, 2.00), (1.445, 2.25),
               (1.46, 2.45)],
        rear=[(0.17, n - 0.16), (0.24, n - 0.06), (0.40, n - 0.0), (0.56, n - 0.0),
              (0.70, n - 0.03), (0.92, n - 0.08), (foot_z, n - foot_y), (head_z, n - head_y),
              (1.42, n - head_y - 0.17), (1.445, n - s.roof_end), (1.46, n - s.roof_end - 0.25)],
        half=[(0.17, 0.76), (0.22, 0.82), (0.34, 0.865), (0.50, 0.88), (0.66, 0.885),
              (0.80, 0.88), (0.90, 0.86), (0.95, 0.825), (0.99, 0.79), (1.15, 0.725),
              (1.32, 0.64), (1.38, 0.59), (1.42, 0.52), (1.445, 0.44), (1.46, 0.34)],
        bulge_front=[(0.17, 0.10), (0.50, 0.12), (0.70, 0.20), (0.90, 0.26), (0.98, 0.16),
                     (1.36, 0.14), (1.46, 0.2)],
        bulge_rear=[(0.17, 0.07), (0.90, 0.08), (1.36, 0.10), (1.46, 0.2)],
        corner_front=[(0.17, 0.30), (0.60, 0.28), (0.75, 0.30), (0.90, 0.24), (0.99, 0.10),
                      (1.30, 0.10), (1.46, 0.25)],
        corner_rear=[(0.17, 0.26), (0.60, 0.24), (0.95, 0.20), (1.05, 0.14), (1.35, 0.14),
                     (1.46, 0.25)],
    )  # fmt: skip


def _windows(s: CarShape) -> list[list[tuple[float, float]]]:
    """Side windows (y, z)."""
    n = s.length
    (foot_z, foot_y), (head_z, head_y) = s.rear_window
    b = 2.34
    last = n - head_y - 0.10
    return [
        [(1.42, 0.99), (1.98, 1.345), (b - 0.05, 1.365), (b - 0.05, 0.985)],
        [(b + 0.05, 0.985), (b + 0.05, 1.367), (3.05, 1.36), (3.14, 1.02), (3.10, 0.99)],
        [(3.22, 1.03), (3.13, 1.355), (last, head_z - 0.03), (n - foot_y - 0.17, foot_z + 0.06)],
    ]


def _paint(s: CarShape, m: Materials, lit_rear: bool) -> object:
    n = s.length

    def paint(x: FloatArray, y: FloatArray, z: FloatArray, nx: FloatArray) -> NDArray[np.uint8]:
        out = np.full(x.shape, m.paint, np.uint8)
        a = np.abs(x)
        side = a > 0.5
        out[z < 0.235] = m.plastic
        # gaps of doors, bonnet and tailgate
        for door in (1.36, 2.34, 3.20):
            lean = door + 0.10 * np.clip(z - 0.9, 0.0, 1.0) if door == 3.20 else door
            out[side & (np.abs(y - lean) < 0.005) & (z > 0.30) & (z < 0.99) & (nx != 0)] = m.plastic
        out[side & (np.abs(z - 0.30) < 0.005) & (y > 1.36) & (y < 3.20)] = m.plastic
        out[(np.abs(a - (0.70 + 0.04 * z)) < 0.004) & (y < 1.1) & (z > 0.72) & (z < 0.96)] = (
            m.plastic
        )
        for handle in (2.12, 2.98):
            out[side & (np.abs(y - handle) < 0.09) & (np.abs(z - 0.865) < 0.014)] = m.chrome
        # windows, each with a dark rim
        for window in _windows(s):
            glass = side & within(y, z, window)
            middle = np.mean(window, axis=0)
            wide = [
                tuple(middle + 1.0 * (np.array(p) - middle) + 0.03 * np.sign(np.array(p) - middle))
                for p in window
            ]
            out[side & within(y, z, wide)] = m.plastic
            out[glass] = m.glass
        screen = [(-0.70, 1.0), (0.70, 1.0), (0.575, 1.362), (-0.575, 1.362)]
        ahead = (y < 2.2) & (z > 0.96)
        out[
            ahead & within(x, z, [(-0.76, 0.965), (0.76, 0.965), (0.60, 1.385), (-0.60, 1.385)])
        ] = m.plastic
        out[ahead & within(x, z, screen)] = m.glass
        for wiper, end in ((-0.62, 0.0), (-0.02, 0.60)):
            t = np.clip((x - wiper) / (end - wiper), 0.0, 1.0)
            out[ahead & (x > wiper) & (x < end) & (np.abs(z - 0.985 - 0.05 * t) < 0.008)] = (
                m.plastic
            )
        (foot_z, _), (head_z, _) = s.rear_window
        behind = (y > n - 1.2) & (z > foot_z - 0.05)
        out[
            behind
            & within(
                x,
                z,
                [
                    (-0.66, foot_z - 0.02),
                    (0.66, foot_z - 0.02),
                    (0.54, head_z + 0.01),
                    (-0.54, head_z + 0.01),
                ],
            )
        ] = m.plastic
        out[
            behind
            & within(
                x,
                z,
                [
                    (-0.62, foot_z + 0.015),
                    (0.62, foot_z + 0.015),
                    (0.51, head_z - 0.02),
                    (-0.51, head_z - 0.02),
                ],
            )
        ] = m.glass
        out[
            (np.abs(x) < 0.22)
            & (y > n - 0.5)
            & (np.abs(z - foot_z - 0.04 - 0.1 * x) < 0.006)
            & (x > -0.02)
        ] = m.plastic
        _front(out, x, y, z, m)
        _rear(out, x, y, z, n, m)
        for axle in s.axles:
            far = np.hypot(y - axle, z - WHEEL_M)
            out[side & (far < ARCH_M + 0.025) & (z < 0.8)] = m.plastic
            out[side & (far < ARCH_M)] = DRAWN
        return out

    del lit_rear
    return paint


def _front(
    out: NDArray[np.uint8], x: FloatArray, y: FloatArray, z: FloatArray, m: Materials
) -> None:
    a, ahead = np.abs(x), y < 0.75
    grille = ahead & within(a, z, [(-0.1, 0.60), (0.40, 0.60), (0.46, 0.70), (-0.1, 0.70)])
    out[grille] = m.plastic
    for height in (0.625, 0.65, 0.675):
        out[grille & (np.abs(z - height) < 0.005)] = m.chrome
    lower = ahead & within(a, z, [(-0.1, 0.25), (0.52, 0.25), (0.60, 0.37), (-0.1, 0.37)])
    out[lower] = m.plastic
    out[ahead & within(a, z, [(0.64, 0.30), (0.80, 0.33), (0.80, 0.41), (0.66, 0.39)])] = m.plastic
    lamp = ahead & within(
        a,
        z,
        [(0.47, 0.60), (0.74, 0.615), (0.875, 0.68), (0.86, 0.775), (0.70, 0.75), (0.50, 0.70)],
    )
    rim = ahead & within(
        a,
        z,
        [(0.46, 0.59), (0.75, 0.605), (0.89, 0.675), (0.87, 0.79), (0.69, 0.762), (0.49, 0.711)],
    )
    out[rim] = m.plastic
    out[lamp] = m.glass


def _rear(
    out: NDArray[np.uint8], x: FloatArray, y: FloatArray, z: FloatArray, n: float, m: Materials
) -> None:
    a, back = np.abs(x), y > n - 0.45
    out[back & (z > 0.235) & (z < 0.33)] = m.plastic
    gap = back & (np.abs(z - 0.50) < 0.005) & (a < 0.70)
    out[gap | (back & (np.abs(a - 0.70) < 0.004) & (z > 0.50) & (z < 0.98))] = m.plastic
    lamp = back & within(a, z, [(0.56, 0.74), (0.90, 0.70), (0.90, 0.96), (0.64, 0.92)])
    out[lamp] = m.red
    out[lamp & (z < 0.80)] = m.amber
    out[lamp & (z < 0.80) & (a < 0.68)] = m.lamp
    out[back & (a > 0.60) & (a < 0.78) & (np.abs(z - 0.40) < 0.018)] = m.red
    out[back & (a < 0.34) & (z > 0.60) & (z < 0.76)] = m.plastic  # recess of the plate
    out[back & (a < 0.10) & (np.abs(z - 0.775) < 0.012)] = m.chrome


@lru_cache(maxsize=16)
def car(s: CarShape, m: Materials) -> Mesh:
    """A car of some shape, over the origin, looking along -y."""
    points = skin(_profile(s))
    points = np.concatenate([closed_at(points[0], 1.468), points, closed_at(points[-1], 0.17)])
    body = outward(painted("body", points, _paint(s, m, False), inside=m.under))  # type: ignore[arg-type]
    parts = [body]
    for side in (-1.0, 1.0):
        for axle in s.axles:
            parts += [
                wheel(m, side * 0.765, axle, WHEEL_M, 0.20, side),
                arch_liner(m, side * 0.84, axle, WHEEL_M, ARCH_M + 0.012, side),
            ]
        parts += [
            lamp_bowl(m, (side * 0.60, 0.20, 0.668), 0.05),
            lamp_bowl(m, (side * 0.745, 0.30, 0.69), 0.055),
            mirror(m, side, (0.86, 1.50, 1.02), (0.10, 0.09, 0.075)),
            seat(m, side * 0.36, 2.35),
            headrest(m, side * 0.36, 2.58, 1.17),
            headrest(m, side * 0.36, 3.28, 1.10),
        ]
    parts += [
        slab(m.under, (0.0, 0.52, 0.56), (1.5, 0.30, 0.20)),  # housing of the lamps
        slab(m.under, (0.0, 1.42, 0.78), (1.44, 0.45, 0.20)),  # dashboard
        slab(m.seat, (0.0, 3.20, 0.50), (1.30, 0.22, 0.52)),  # back of the rear seats
        slab(m.seat, (0.0, 2.95, 0.42), (1.30, 0.5, 0.16)),
    ]
    return joined("car", parts)
