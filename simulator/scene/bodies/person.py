"""A clothed person who stands or walks, without the head; drawn by us, nobody in particular.

Proportions of a usual adult of 1.75 m (assumed): shoulders at 1.44 m and 0.43 m wide, crotch at
0.80 m. Axes: the feet stand around the origin, the person looks along -y.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from simulator.scene.bodies.parts import ellipsoid, outward, tube
from simulator.scene.mesh import Mesh, joined, of_grid, smooth_normals
from simulator.units import FloatArray

USUAL_HEIGHT_M = 1.75
Joint = tuple[float, float, float, float]
"""x, y, z and radius of a limb at a joint [m]."""


@dataclass(frozen=True)
class Cloth:
    """Indices into the scene's material list."""

    skin: int
    upper: int
    lower: int
    shoes: int
    bag: int | None
    dark: int


@dataclass(frozen=True)
class _Pose:
    """Joints of legs and arms, left then right as the person has them, and how the feet stand."""

    legs: tuple[Sequence[Joint], Sequence[Joint]]
    arms: tuple[Sequence[Joint], Sequence[Joint]]
    feet: tuple[tuple[float, float, float, float], ...]
    """x, y, height of the ankle over a flat sole, and how far the heel is raised [deg]."""


_POSES = {
    "standing": _Pose(
        legs=(
            [(-0.085, 0.0, 0.93, 0.102), (-0.092, -0.012, 0.70, 0.088),
             (-0.097, -0.015, 0.50, 0.066), (-0.102, 0.02, 0.30, 0.060),
             (-0.107, 0.03, 0.085, 0.050)],
            [(0.085, 0.0, 0.93, 0.102), (0.095, -0.012, 0.70, 0.088), (0.10, -0.015, 0.50, 0.066),
             (0.105, 0.02, 0.30, 0.060), (0.11, 0.03, 0.085, 0.050)],
        ),
        arms=(
            [(-0.09, 0.022, 1.415, 0.052), (-0.16, 0.014, 1.40, 0.062),
             (-0.195, 0.01, 1.35, 0.061), (-0.222, 0.015, 1.24, 0.054),
             (-0.240, 0.02, 1.10, 0.047), (-0.248, -0.02, 0.97, 0.042),
             (-0.247, -0.06, 0.865, 0.036)],
            [(0.09, 0.022, 1.415, 0.052), (0.16, 0.014, 1.40, 0.062),
             (0.195, 0.01, 1.35, 0.061), (0.222, 0.015, 1.24, 0.054), (0.240, 0.02, 1.10, 0.047),
             (0.248, -0.02, 0.97, 0.042), (0.247, -0.06, 0.865, 0.036)],
        ),
        feet=((-0.115, 0.03, 0.0, 0.0), (0.118, 0.03, 0.0, 0.0)),
    ),
    "walking": _Pose(
        legs=(
            [(-0.085, 0.0, 0.93, 0.102), (-0.090, -0.10, 0.71, 0.088), (-0.092, -0.17, 0.51, 0.066),
             (-0.095, -0.22, 0.30, 0.058), (-0.098, -0.29, 0.10, 0.050)],
            [(0.085, 0.0, 0.93, 0.102), (0.090, 0.06, 0.71, 0.088), (0.090, 0.09, 0.52, 0.068),
             (0.092, 0.21, 0.35, 0.058), (0.095, 0.34, 0.19, 0.048)],
        ),
        arms=(
            [(-0.09, 0.022, 1.415, 0.052), (-0.16, 0.014, 1.40, 0.062),
             (-0.195, 0.01, 1.35, 0.061), (-0.220, 0.08, 1.25, 0.054), (-0.235, 0.14, 1.12, 0.047),
             (-0.230, 0.11, 0.99, 0.042), (-0.225, 0.07, 0.90, 0.036)],
            [(0.09, 0.022, 1.415, 0.052), (0.16, 0.014, 1.40, 0.062),
             (0.195, 0.01, 1.35, 0.061), (0.220, -0.07, 1.25, 0.054), (0.235, -0.12, 1.13, 0.047),
             (0.225, -0.22, 1.03, 0.042), (0.205, -0.29, 0.965, 0.036)],
        ),
        feet=((-0.10, -0.29, 0.02, -12.0), (0.10, 0.34, 0.10, 38.0)),
    ),
}  # fmt: skip


def _limb(joints: Sequence[Joint], material: int, *, fold_m: float = 0.0) -> Mesh:
    """A limb through joints, smooth between them; cloth hangs in folds on it."""
    j = np.asarray(joints, float)
    t, fine = np.arange(len(j)), np.linspace(0.0, len(j) - 1.0, 36)
    # a smooth way through the joints
    p = np.stack([np.interp(fine, t, j[:, k]) for k in range(4)], axis=1)
    for _ in range(6):
        p[1:-1] = 0.25 * p[:-2] + 0.5 * p[1:-1] + 0.25 * p[2:]
    mesh = tube(material, p[:, :3].tolist(), p[:, 3].tolist(), around=26)
    return _folded(mesh, fold_m) if fold_m > 0.0 else mesh


def _folded(mesh: Mesh, depth_m: float) -> Mesh:
    """Folds of cloth: waves along and across, deepest where a limb bends."""
    x, y, z = mesh.vertices_m.T
    wave = np.sin(46.0 * z + 5.0 * np.sin(14.0 * x + 9.0 * y)) * np.sin(
        31.0 * x - 17.0 * y + 11.0 * z
    )
    wave += 0.7 * np.sin(83.0 * z + 4.0 * np.sin(23.0 * (x + y)) + 2.0)
    vertices = mesh.vertices_m + (depth_m * wave)[:, None] * mesh.normals
    return replace(mesh, vertices_m=vertices, normals=smooth_normals(vertices, mesh.triangles))


def _torso(material: int, rings: Sequence[tuple[float, float, float, float]]) -> Mesh:
    """A trunk by rings of height, half width, half depth and how far they lie back [m]."""
    ring = np.asarray(rings, float)
    fine = np.linspace(ring[0, 0], ring[-1, 0], 60)
    w, d, back = (np.interp(fine, ring[:, 0], ring[:, k])[:, None] for k in (1, 2, 3))
    for _ in range(5):
        for values in (w, d, back):
            values[1:-1] = 0.25 * values[:-2] + 0.5 * values[1:-1] + 0.25 * values[2:]
    angle = np.linspace(0.0, 2.0 * np.pi, 56, endpoint=False)

    def bent(s: FloatArray) -> FloatArray:
        return np.asarray(np.sign(s) * np.abs(s) ** 0.82)

    points = np.stack(
        [
            w * bent(np.sin(angle)),
            back - d * bent(np.cos(angle)),
            np.broadcast_to(fine[:, None], (60, 56)),
        ],
        axis=2,
    )
    shut = [points[:1] * [1e-3, 1e-3, 1.0], points, points[-1:] * [1e-3, 1e-3, 1.0]]
    return _folded(outward(of_grid("torso", np.concatenate(shut), material, around=True)), 0.0022)


def _foot(material: int, sole: int, x: float, y: float, lift: float, raised_deg: float) -> Mesh:
    shoe = joined(
        "shoe",
        [
            ellipsoid(material, (0.0, -0.075, 0.048), (0.047, 0.145, 0.048), power=2.8),
            ellipsoid(material, (0.0, 0.01, 0.075), (0.042, 0.062, 0.06), power=2.6),
            ellipsoid(sole, (0.0, -0.070, 0.016), (0.052, 0.155, 0.016), power=4.0),
        ],
    )
    a = np.radians(raised_deg)
    c, s = np.cos(a), np.sin(a)
    turn = np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])
    return replace(
        shoe,
        vertices_m=shoe.vertices_m @ turn.T + np.array([x, y, lift]),
        normals=shoe.normals @ turn.T,
    )


def _hand(joints: Sequence[Joint], skin: int) -> list[Mesh]:
    (x0, y0, z0, _), (x1, y1, z1, _) = joints[-2:]
    way = np.array([x1 - x0, y1 - y0, z1 - z0])
    way /= np.linalg.norm(way)
    at = np.array([x1, y1, z1])
    palm = [at - 0.03 * way, at + 0.03 * way, at + 0.075 * way, at + 0.13 * way, at + 0.165 * way]
    thumb = [
        at + 0.03 * way,
        at + 0.07 * way + [0.0, -0.035, 0.0],
        at + 0.105 * way + [0, -0.04, 0],
    ]
    return [
        tube(skin, palm, [0.024, 0.030, 0.037, 0.030, 0.012]),
        tube(skin, thumb, [0.013, 0.014, 0.010], around=10),
    ]


def _bag(material: int, joints: Sequence[Joint]) -> list[Mesh]:
    x, y, z, _ = joints[-1]
    low = z - 0.16
    handle = [(x, y - 0.09, low - 0.10), (x, y - 0.06, low + 0.01), (x, y, low + 0.06),
              (x, y + 0.06, low + 0.01), (x, y + 0.09, low - 0.10)]  # fmt: skip
    return [
        ellipsoid(material, (x, y, low - 0.24), (0.075, 0.17, 0.155), power=4.5),
        tube(material, handle, 0.010, around=8),
    ]


@lru_cache(maxsize=16)
def person_body(cloth: Cloth, pose: str) -> Mesh:
    """A person of 1.75 m without the head, over the origin, looking along -y."""
    p = _POSES[pose]
    parts = [
        _torso(
            cloth.lower,
            [(0.79, 0.10, 0.075, 0.02), (0.84, 0.165, 0.115, 0.02), (0.92, 0.176, 0.122, 0.018),
             (1.0, 0.162, 0.112, 0.008)],
        ),
        _torso(
            cloth.upper,
            [(0.90, 0.182, 0.124, 0.016), (0.98, 0.172, 0.120, 0.01), (1.08, 0.163, 0.115, 0.0),
             (1.22, 0.180, 0.122, 0.0), (1.34, 0.192, 0.118, 0.012), (1.41, 0.165, 0.098, 0.022),
             (1.455, 0.112, 0.078, 0.030), (1.485, 0.070, 0.066, 0.034),
             (1.505, 0.062, 0.060, 0.036)],
        ),
    ]  # fmt: skip
    for leg, foot in zip(p.legs, p.feet, strict=True):
        parts.append(_limb(leg, cloth.lower, fold_m=0.003))
        parts.append(_foot(cloth.shoes, cloth.dark, *foot))
    for arm in p.arms:
        parts.append(_limb(arm, cloth.upper, fold_m=0.0026))
        parts += _hand(arm, cloth.skin)
    if cloth.bag is not None:
        parts += _bag(cloth.bag, p.arms[1])
    return joined("body", parts)
