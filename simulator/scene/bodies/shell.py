"""A smooth skin through a stack of plan outlines, painted by where its places lie.

An outline is a rectangle with elliptic corners whose front and rear may bulge; its measures run
as smooth curves of the height, so that bonnet, windscreen and roof of a vehicle are one skin.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from simulator.scene.mesh import DRAWN, Mesh, grid_triangles, smooth_normals
from simulator.units import FloatArray

Curve = Sequence[tuple[float, float]]
"""Height and measure there [m]."""
TEXEL_M = 0.008


@dataclass(frozen=True)
class Profile:
    """Measures of a body by height; each a curve of points (height, measure) [m].

    `front`, `rear` where the outline begins and ends along y; `half` half its width; `bulge_front`,
    `bulge_rear` how far the middle stands before the corners; `corner` width and length of the
    corners' ellipses.
    """

    front: Curve
    rear: Curve
    half: Curve
    bulge_front: Curve
    bulge_rear: Curve
    corner_front: Curve
    corner_rear: Curve


def _at(curve: Curve, z: FloatArray) -> FloatArray:
    points = np.array(sorted(curve))
    if len(points) == 1:
        return np.full(z.shape, points[0, 1])
    values = PchipInterpolator(points[:, 0], points[:, 1], extrapolate=False)(
        np.clip(z, points[0, 0], points[-1, 0])
    )
    return np.asarray(values)


def levels(profile: Profile, count: int) -> FloatArray:
    """Heights (count,) at which a skin is cut: close where its outline changes fast."""
    low, high = min(p[0] for p in profile.half), max(p[0] for p in profile.half)
    fine = np.linspace(low, high, 2000)
    way = np.zeros(len(fine) - 1)
    for curve, weight in ((profile.front, 1.0), (profile.rear, 1.0), (profile.half, 1.5)):
        way += weight * np.abs(np.diff(_at(curve, fine)))
    way += 1.5 * np.diff(fine)
    along = np.concatenate([[0.0], np.cumsum(way)])
    return np.interp(np.linspace(0.0, along[-1], count), along, fine)


def skin(profile: Profile, *, high: int = 96, front: int = 24, side: int = 64) -> FloatArray:
    """Points (rows, columns, 3) of the skin, the top row first; columns go around, closed."""
    z = levels(profile, high)[::-1]
    half = _at(profile.half, z)
    y0, y1 = _at(profile.front, z), _at(profile.rear, z)
    b0, b1 = _at(profile.bulge_front, z), _at(profile.bulge_rear, z)
    c0, c1 = _at(profile.corner_front, z), _at(profile.corner_rear, z)
    length = y1 - y0
    corner = 10
    rim0, rim1 = np.minimum(c0, half * 0.9), np.minimum(c1, half * 0.9)
    deep0, deep1 = np.minimum(c0 * 1.1, length * 0.45), np.minimum(c1 * 1.1, length * 0.45)
    # a quarter turn of each corner, front face, side and rear face; right half first
    turn = np.linspace(0.0, np.pi / 2.0, corner)
    columns: list[tuple[FloatArray, FloatArray]] = []
    for t in np.linspace(0.0, 1.0, front // 2 + 1)[:-1]:
        columns.append((t * (half - rim0), y0))
    for a in turn:
        columns.append((half - rim0 * (1.0 - np.sin(a)), y0 + deep0 * (1.0 - np.cos(a))))
    for t in np.linspace(0.0, 1.0, side + 1)[1:-1]:
        columns.append((half, y0 + deep0 + t * (length - deep0 - deep1)))
    for a in turn:
        columns.append((half - rim1 * (1.0 - np.cos(a)), y1 - deep1 * (1.0 - np.sin(a))))
    for t in np.linspace(1.0, 0.0, front // 2 + 1)[1:]:
        columns.append((t * (half - rim1), y1))
    x = np.stack([c[0] for c in columns], axis=1)
    y = np.stack([np.broadcast_to(c[1], z.shape) for c in columns], axis=1)
    share = (x / half[:, None]) ** 2
    middle = np.clip((y - y0[:, None]) / length[:, None], 0.0, 1.0)
    y = y + share * (b0[:, None] * (1.0 - middle) ** 3 - b1[:, None] * middle**3)
    right = np.stack([x, y, np.broadcast_to(z[:, None], x.shape)], axis=2)
    left = right[:, -2:0:-1] * np.array([-1.0, 1.0, 1.0])
    return np.concatenate([right, left], axis=1)


def closed_at(points: FloatArray, z: float) -> FloatArray:
    """A row (1, columns, 3) drawn together over the middle of the first, at a height."""
    middle = points.mean(axis=0)
    return np.broadcast_to(np.array([0.0, middle[1], z]), (1, points.shape[0], 3)) + 0.02 * (
        points[None] - middle
    ) * np.array([1.0, 1.0, 0.0])


Paint = Callable[[FloatArray, FloatArray, FloatArray, FloatArray], NDArray[np.uint8]]


def painted(name: str, points: FloatArray, paint: Paint, *, inside: int) -> Mesh:
    """A skin (rows, columns, 3) whose materials are told by a function of the place.

    Parameters
    ----------
    paint
        Takes x, y, z and the normal's component across the length, each (rows, columns), and gives
        indices of materials; 255 leaves a hole.
    inside
        Material of its inner side.
    """
    rows, columns, _ = points.shape
    closed = np.concatenate([points, points[:, :1]], axis=1)
    triangles = grid_triangles(rows, columns + 1)
    normals = smooth_normals(closed.reshape(-1, 3), triangles).reshape(rows, columns + 1, 3)
    seam = normals[:, 0] + normals[:, -1]
    seam /= np.maximum(np.linalg.norm(seam, axis=1, keepdims=True), 1e-12)
    normals[:, 0] = normals[:, -1] = seam
    down = np.linalg.norm(np.diff(closed, axis=0), axis=2).max(axis=1)
    across = np.linalg.norm(np.diff(closed, axis=1), axis=2).max(axis=0)
    v = np.concatenate([[0.0], np.cumsum(np.maximum(down, 1e-4))])
    u = np.concatenate([[0.0], np.cumsum(np.maximum(across, 1e-4))])
    high, wide = int(v[-1] / TEXEL_M), int(u[-1] / TEXEL_M)
    row = np.interp((np.arange(high) + 0.5) / high * v[-1], v, np.arange(rows))
    column = np.interp((np.arange(wide) + 0.5) / wide * u[-1], u, np.arange(columns + 1))
    gx, gy = np.meshgrid(column.astype(np.float32), row.astype(np.float32))
    at = [
        cv2.remap(plane.astype(np.float32), gx, gy, cv2.INTER_LINEAR)
        for plane in (closed[:, :, 0], closed[:, :, 1], closed[:, :, 2], normals[:, :, 0])
    ]
    texture = paint(*(np.asarray(a, np.float64) for a in at))
    places = np.stack(np.meshgrid(u / u[-1], v / v[-1]), axis=2)
    return Mesh(
        name,
        closed.reshape(-1, 3),
        triangles,
        normals.reshape(-1, 3),
        np.full(len(triangles), DRAWN, np.uint8),
        places=places.reshape(-1, 2),
        texture=texture,
        inside=inside,
    )


def within(
    a: FloatArray, b: FloatArray, points: Sequence[tuple[float, float]]
) -> NDArray[np.bool_]:
    """Whether places (a, b) lie inside a polygon, by the crossings of a ray."""
    whole: NDArray[np.bool_] = np.zeros(a.shape, np.bool_)
    (low_a, low_b), (high_a, high_b) = np.min(points, axis=0), np.max(points, axis=0)
    near = (a >= low_a) & (a <= high_a) & (b >= low_b) & (b <= high_b)
    a, b = a[near], b[near]
    out: NDArray[np.bool_] = np.zeros(a.shape, np.bool_)
    n = len(points)
    for k in range(n):
        (x0, y0), (x1, y1) = points[k], points[(k + 1) % n]
        if y0 == y1:
            continue
        crosses = (b < y0) != (b < y1)
        out ^= crosses & (a < x0 + (b - y0) / (y1 - y0) * (x1 - x0))
    whole[near] = out
    return whole


def revolved(
    name: str,
    rim: Sequence[tuple[float, float]],
    centre_m: Sequence[float],
    material: int,
    *,
    steps: int = 40,
    colours: Mapping[int, int] | None = None,
) -> Mesh:
    """A body turned about an axis along x through a centre; rim points (along x, radius) [m].

    `colours` gives rings between two rim points, by number, another material.
    """
    turn = np.linspace(0.0, 2.0 * np.pi, steps, endpoint=False)
    points = np.array(
        [[(x, r * np.cos(a), r * np.sin(a)) for a in turn] for x, r in rim]
    ) + np.asarray(centre_m)
    triangles = grid_triangles(len(rim), steps, around=True)
    vertices = points.reshape(-1, 3)
    ring = (np.arange(len(triangles)) % ((len(rim) - 1) * steps)) // steps
    materials = np.full(len(triangles), material, np.uint8)
    for k, other in (colours or {}).items():
        materials[ring == k] = other
    return Mesh(name, vertices, triangles, smooth_normals(vertices, triangles), materials)
