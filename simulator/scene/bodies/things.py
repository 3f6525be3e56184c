"""What stands about: posts, fences, plants, windows and doors; all over the origin, looking along
-y, drawn by us."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from simulator.scene.bodies.parts import ellipsoid, slab, tube
from simulator.scene.mesh import Mesh, joined, of_triangles, smooth_normals

DRAWN = 8
"""Bodies of each kind that are kept once drawn."""


@lru_cache(maxsize=DRAWN)
def post(material: int, height_m: float, diameter_m: float, arm_m: float, lamp: int) -> Mesh:
    """A bollard, or a lamp post if it has an arm."""
    r = diameter_m / 2.0
    if arm_m <= 0.0:
        points = [(0.0, 0.0, z) for z in (0.0, height_m * 0.5, height_m * 0.97, height_m)]
        return joined("post", [
            tube(material, points, [r, r, r, r * 0.7], around=24),
            tube(lamp, [(0.0, 0.0, height_m * z) for z in (0.78, 0.86)], r * 1.02, around=24),
        ])  # fmt: skip
    top = height_m
    way = [(0.0, 0.0, 0.0), (0.0, 0.0, top * 0.6), (0.0, 0.0, top * 0.94), (0.0, -arm_m * 0.2, top),
           (0.0, -arm_m, top + 0.04)]  # fmt: skip
    head = slab(material, (0.0, -arm_m - 0.22, top + 0.01), (0.26, 0.56, 0.07))
    glass = slab(lamp, (0.0, -arm_m - 0.24, top - 0.002), (0.20, 0.42, 0.012))
    return joined("post", [
        tube(material, way, [r, r * 0.75, r * 0.6, r * 0.5, r * 0.45], around=20),
        tube(material, [(0.0, 0.0, 0.0), (0.0, 0.0, 0.5)], r * 1.5, around=20),
        head, glass,
    ])  # fmt: skip


@lru_cache(maxsize=DRAWN)
def fence(material: int, width_m: float, height_m: float, gap_m: float) -> Mesh:
    """Upright bars between two rails, a post every 2.5 m."""
    bars = [
        tube(material, [(x, 0.0, 0.06), (x, 0.0, height_m)], 0.008, around=6)
        for x in np.arange(-width_m / 2.0 + gap_m / 2.0, width_m / 2.0, gap_m)
    ]
    posts = [
        slab(material, (x, 0.0, 0.0), (0.06, 0.06, height_m + 0.05))
        for x in np.linspace(-width_m / 2.0, width_m / 2.0, max(2, round(width_m / 2.5) + 1))
    ]
    rails = [slab(material, (0.0, 0.0, z), (width_m, 0.03, 0.04)) for z in (0.12, height_m - 0.12)]
    return joined("fence", [*bars, *posts, *rails])


@lru_cache(maxsize=DRAWN)
def tree(leaves: int, bark: int, height_m: float, width_m: float, seed: int) -> Mesh:
    """A trunk with limbs and a crown of many leaves in clusters."""
    rng = np.random.default_rng([31, seed])
    crown = height_m * 0.62
    r = 0.022 * height_m
    trunk = [
        (0.0, 0.0, 0.0),
        (0.03, 0.0, crown * 0.5),
        (0.0, 0.04, crown),
        (0.0, 0.0, height_m * 0.9),
    ]
    parts = [tube(bark, trunk, [r * 1.3, r, r * 0.7, r * 0.2], around=14)]
    middles = []
    for k in range(46):
        a, up = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(-0.85, 1.0)
        out = np.sqrt(max(0.0, 1.0 - up * up)) * rng.uniform(0.45, 1.0)
        middles.append(
            np.array([width_m / 2.0 * out * np.cos(a), width_m / 2.0 * out * np.sin(a),
                      height_m * 0.66 + height_m * 0.31 * up * rng.uniform(0.7, 1.0)])
        )  # fmt: skip
        if k < 7:
            root = np.array([0.0, 0.0, crown * rng.uniform(0.55, 0.95)])
            parts.append(tube(bark, [root, 0.6 * middles[-1] + 0.4 * root, middles[-1]],
                              [r * 0.4, r * 0.25, r * 0.1], around=8))  # fmt: skip
    parts.append(_leaves(leaves, np.array(middles), width_m * 0.20, 190, rng))
    return joined("tree", parts)


def _leaves(
    material: int,
    middles_m: np.ndarray,
    reach_m: float,
    each: int,
    rng: np.random.Generator,
    leaf_m: float = 0.09,
) -> Mesh:
    """Single leaves around some points, as small triangles that look any way."""
    n = len(middles_m) * each
    way = rng.normal(size=(n, 3))
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    at = np.repeat(middles_m, each, axis=0) + way * reach_m * rng.uniform(0.5, 1.0, (n, 1))
    size = leaf_m * rng.uniform(0.6, 1.2, (n, 1))
    a, b = rng.normal(size=(2, n, 3))
    a /= np.linalg.norm(a, axis=1, keepdims=True)
    b -= a * np.sum(a * b, axis=1, keepdims=True)
    b /= np.linalg.norm(b, axis=1, keepdims=True)
    corners = np.stack([at - size * a, at + size * a, at + 1.4 * size * b], axis=1)
    corners[..., 2] = np.maximum(corners[..., 2], 0.0)
    # light falls on leaves about as on the crown they make
    normal = np.repeat(0.7 * way + 0.5 * np.cross(a, b), 3, axis=0)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    return Mesh(
        "leaves", corners.reshape(-1, 3), np.arange(3 * n, dtype=np.int32).reshape(-1, 3), normal,
        np.full(n, material, np.uint8),
    )  # fmt: skip


@lru_cache(maxsize=DRAWN)
def hedge(leaves: int, width_m: float, depth_m: float, height_m: float, seed: int) -> Mesh:
    """A clipped hedge: a rough block with leaves over it."""
    rng = np.random.default_rng([32, seed])
    core = ellipsoid(
        leaves, (0.0, 0.0, height_m / 2.0),
        (width_m / 2.0 - 0.05, depth_m / 2.0 - 0.05, height_m / 2.0 - 0.04),
        power=9.0,
    )  # fmt: skip
    count = int(
        min(16000, 420 * (width_m * height_m * 2 + depth_m * height_m * 2 + width_m * depth_m))
    )
    side = rng.integers(0, 3, count)
    u, v = rng.uniform(-0.5, 0.5, (2, count))
    sign = rng.choice([-0.5, 0.5], count)
    x = np.where(side == 0, sign, u) * width_m
    y = np.where(side == 1, sign, np.where(side == 0, u, v)) * depth_m
    z = np.where(side == 2, height_m, (np.where(side == 2, 0.0, v) + 0.5) * height_m)
    return joined("hedge", [core, _leaves(leaves, np.stack([x, y, z], 1), 0.05, 1, rng, 0.035)])


FRAME_M = 0.06
"""Width of a window's frame [m]."""


class Interior(NamedTuple):
    """What stands behind a window: materials, and where the room begins and ends [m]."""

    wall: int
    floor: int
    curtain: int
    from_m: float
    """Back of the wall, behind the pane [m]."""
    depth_m: float


@lru_cache(maxsize=DRAWN)
def window(
    frame: int, pane: int, width_m: float, height_m: float, sill: int, room: Interior | None
) -> Mesh:
    """Frame, mullion and panes that stand 4 cm before a wall, a sill below; a room behind."""
    f, d = FRAME_M, 0.05
    parts = [
        slab(pane, (0.0, 0.0, 0.02), (width_m - f, 0.012, height_m - 0.04))
        if room is None
        else _pane(pane, width_m - f, height_m - f),
        slab(frame, (0.0, -d / 2, 0.0), (width_m, d, f)),
        slab(frame, (0.0, -d / 2, height_m - f), (width_m, d, f)),
        slab(sill, (0.0, -0.08, -0.05), (width_m + 0.12, 0.17, 0.05)),
    ]
    uprights = [-width_m / 2 + f / 2, width_m / 2 - f / 2]
    if width_m > 0.9:
        uprights.append(0.0)
    parts += [slab(frame, (x, -d / 2, 0.0), (f, d, height_m)) for x in uprights]
    if room is not None:
        parts += _interior(room, width_m, height_m)
    return joined("window", parts)


def _pane(material: int, width_m: float, height_m: float) -> Mesh:
    """One sheet that looks along -y."""
    x, z = width_m / 2.0, FRAME_M / 2.0
    corners = np.array([(-x, 0, z), (x, 0, z), (x, 0, z + height_m), (-x, 0, z + height_m)])
    return of_triangles("pane", corners, np.array([[0, 1, 2], [0, 2, 3]], np.int32), material)


def _interior(room: Interior, width_m: float, height_m: float) -> list[Mesh]:
    """Back wall, sides, floor and ceiling of a room, wider than its window, and drawn curtains."""
    t, beside, below, above = 0.02, 0.7, 0.8, 0.5
    wide, tall, deep = width_m + 2.0 * beside, height_m + below + above, room.depth_m
    front, middle = room.from_m, room.from_m + deep / 2.0
    parts = [
        slab(room.wall, (0.0, front + deep, -below), (wide, t, tall)),
        slab(room.floor, (0.0, middle, -below - t), (wide, deep, t)),
        slab(room.wall, (0.0, middle, tall - below), (wide, deep, t)),
    ]
    for side in (-1.0, 1.0):
        parts.append(slab(room.wall, (side * wide / 2.0, middle, -below), (t, deep, tall)))
        # a curtain hangs open: folds that reach over a fifth of the window
        x = side * np.linspace(width_m / 2.0 + 0.1, 0.3 * width_m, 4)
        for k, place in enumerate(x):
            size = (0.28 * width_m / 4.0, 0.02, height_m + 0.25)
            parts.append(slab(room.curtain, (place, front + 0.08 + 0.03 * (k % 2), -0.2), size))
    return parts


@lru_cache(maxsize=DRAWN)
def door(frame: int, panel: int, width_m: float, height_m: float, metal: int) -> Mesh:
    """Frame, panel with two fields and a handle."""
    parts = [slab(panel, (0.0, -0.01, 0.0), (width_m - 0.1, 0.03, height_m - 0.05))]
    for x in (-1.0, 1.0):
        parts.append(slab(frame, (x * (width_m / 2 - 0.03), -0.03, 0.0), (0.07, 0.07, height_m)))
    parts.append(slab(frame, (0.0, -0.03, height_m - 0.07), (width_m, 0.07, 0.07)))
    for z, h in ((0.18, height_m * 0.36), (0.18 + height_m * 0.42, height_m * 0.42)):
        parts.append(slab(panel, (0.0, -0.022, z), (width_m - 0.42, 0.03, h)))
    parts.append(
        tube(metal, [(width_m * 0.34, -0.07, 1.05), (width_m * 0.34 - 0.12, -0.07, 1.05)], 0.011)
    )
    return joined("door", parts)


@lru_cache(maxsize=DRAWN)
def shutter(frame: int, slats: int, width_m: float, height_m: float) -> Mesh:
    """A roller shutter of slats between two guides, its box above."""
    z = np.arange(0.0, height_m - 0.25, 0.09)
    rows = np.concatenate([[(k, -0.012), (k + 0.045, -0.034), (k + 0.089, -0.012)] for k in z])
    x = np.array([-width_m / 2 + 0.05, width_m / 2 - 0.05])
    points = np.stack(
        [np.broadcast_to(x, (len(rows), 2)), np.broadcast_to(rows[:, 1:], (len(rows), 2)),
         np.broadcast_to(rows[:, :1], (len(rows), 2))], axis=2,
    )  # fmt: skip
    from_top = points[::-1]
    quads = []
    for k in range(len(from_top) - 1):
        quads.append(_strip(slats, from_top[k : k + 2]))
    guides = [
        slab(frame, (s * (width_m / 2 - 0.03), -0.04, 0.0), (0.09, 0.09, height_m))
        for s in (-1.0, 1.0)
    ]
    case = slab(frame, (0.0, -0.10, height_m - 0.30), (width_m, 0.22, 0.30))
    return joined("shutter", [*quads, *guides, case])


def _strip(material: int, corners: np.ndarray) -> Mesh:
    """One flat slat (2, 2, 3) with its own normal."""
    vertices = corners.reshape(-1, 3)
    triangles = np.array([[0, 2, 3], [0, 3, 1]], np.int32)
    normals = smooth_normals(vertices, triangles)
    if normals[0, 1] > 0.0:
        triangles, normals = triangles[:, ::-1].copy(), -normals
    return Mesh("slat", vertices, triangles, normals, np.full(2, material, np.uint8))
