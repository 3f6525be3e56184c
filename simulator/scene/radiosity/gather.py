"""What places see: directions over the hemisphere, cast until they meet a leaf, far ground or sky.

Irradiance of a place with normal n is E = integral of L cos over the hemisphere. Directions spread
evenly over the disc that the hemisphere projects to have the density cos / pi (Malley's method,
after Nusselt's analogue: Cohen and Wallace, Radiosity and Realistic Image Synthesis, 1993), so that
E = pi times the mean of L, and a leaf's share of the directions is its form factor with all that
stands before it. The directions are those of a spiral of the golden angle, the same for every
place: no noise.

Above and below the horizon they are weighted so that their shares are (1 + n_z)/2 and (1 - n_z)/2
to the last digit: a place in the open sees just the sky and ground that it must.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.kernels import kernel, over_rows
from simulator.scene.kernels.light_map import leaf_at
from simulator.scene.radiosity.leaves import Leaves
from simulator.scene.rays import OFF_M, RayCaster, frames
from simulator.units import FloatArray, Image

SKY, FAR_GROUND = -1, -2
"""What directions meet that meet no leaf."""
GOLDEN_RAD = np.pi * (3.0 - np.sqrt(5.0))
GOLDEN_RATIO = 0.5 * (1.0 + np.sqrt(5.0))
RAYS_AT_ONCE = 200_000
CLOSE_M = 0.02
"""What is met within this distance hides a place [m]."""


class Seen(NamedTuple):
    """What places see in every direction.

    `met` (places, directions) leaf, `SKY` or `FAR_GROUND`; `kind` (places,) row of `weight` (kinds,
    directions) that a place uses: shares that add up to one; `close` (places,) share of directions
    that meet something within `CLOSE_M`.
    """

    met: NDArray[np.int32]
    kind: NDArray[np.int64]
    weight: Image
    close: FloatArray

    def share(self, what: int) -> FloatArray:
        """Share (places,) of the cosine-weighted hemisphere that meets sky or far ground."""
        return np.asarray(
            np.sum(self.weight[self.kind] * (self.met == what), axis=1, dtype=np.float64)
        )

    def gathered(self, values: NDArray[np.float32]) -> NDArray[np.float32]:
        """Weighted sums (places, k) of what leaves (leaves, k) send."""
        out = np.zeros((len(self.met), values.shape[1]), np.float32)
        over_rows(_gather, len(out), self.met, self.kind, self.weight, values, out)
        return out


@kernel
def _gather(first, last, met, kind, weight, values, out):  # type: ignore[no-untyped-def]
    many = values.shape[1]
    for p in range(first, last):
        for k in range(met.shape[1]):
            j = met[p, k]
            if j >= 0:
                w = weight[kind[p], k]
                for b in range(many):
                    out[p, b] += w * values[j, b]


def hemisphere(many: int, turn: float = 0.5) -> FloatArray:
    """Directions (many, 3) about z, of cosine-weighted density: a spiral of the golden angle.

    Parameters
    ----------
    many
        How many directions.
    turn
        Which of many spirals, 0 to 1: they lie between each other.
    """
    k = np.arange(many)
    r2 = (k + turn) / many
    radius, angle = np.sqrt(r2), k * GOLDEN_RAD + 2.0 * np.pi * turn / GOLDEN_RATIO
    return np.stack([radius * np.cos(angle), radius * np.sin(angle), np.sqrt(1.0 - r2)], axis=1)


def about(normals: FloatArray, directions: FloatArray) -> FloatArray:
    """Directions (k, n, 3) about z turned to be about unit normals (k, 3)."""
    side = np.eye(3)[np.argmin(np.abs(normals), axis=1)]
    x = np.cross(side, normals)
    x /= np.linalg.norm(x, axis=1, keepdims=True)
    frame = np.stack([x, np.cross(normals, x), normals], axis=1)
    return np.asarray(directions @ frame)


def shares(directions: FloatArray | Image, normals: FloatArray) -> FloatArray:
    """Weights (k, n) of directions (k, n, 3) about normals (k, 3), right for the sky and ground of
    an open horizon."""
    up = directions[..., 2] > 0.0
    sky = 0.5 * (1.0 + normals[:, 2:])
    above = up.sum(axis=1, keepdims=True)
    below = up.shape[1] - above
    out = np.where(up, sky / np.maximum(above, 1), (1.0 - sky) / np.maximum(below, 1))
    return np.asarray(out / out.sum(axis=1, keepdims=True))


def look(
    caster: RayCaster,
    leaves: Leaves,
    points_m: FloatArray,
    normals: FloatArray,
    many: int,
    turns: int = 1,
    scene: Scenery | None = None,
) -> Seen:
    """What places see.

    Parameters
    ----------
    points_m, normals
        Places (n, 3) [m] and unit normals (n, 3); places of one normal should follow each other.
    many
        Directions from each place.
    turns
        Places in a row look in other directions, each along a spiral of its own: so many places of
        one leaf together see what one would in all of them.
    scene
        What `Scenery.of` makes of caster and leaves, where it is known already.
    """
    met = np.empty((len(points_m), many), np.int32)
    close = np.zeros(len(points_m), np.int32)
    if not len(points_m):
        return Seen(met, np.zeros(0, np.int64), np.zeros((0, many), np.float32), close / many)
    kind, rays, weight = _aims(normals, many, turns)
    starts = np.ascontiguousarray(points_m + OFF_M * normals)
    scene = Scenery.of(caster, leaves) if scene is None else scene
    at_once = max(1, RAYS_AT_ONCE // many)
    for a in range(0, len(points_m), at_once):
        b = min(a + at_once, len(points_m))
        origins = np.empty(((b - a) * many, 3), np.float32)
        directions = np.empty_like(origins)
        over_rows(_aim, b - a, starts[a:b], kind[a:b], rays, origins, directions)
        triangle = caster.first_triangles(origins, directions).reshape(-1, many)
        over_rows(_meet, b - a, starts[a:b], kind[a:b], rays, triangle, scene, met[a:b], close[a:b])
    return Seen(met, kind, weight, close / many)


def _aims(normals: FloatArray, many: int, turns: int) -> tuple[NDArray[np.int64], Image, Image]:
    """Kind (n,) of every place, rays (kinds, many, 3) and weights (kinds, many)."""
    spiral = np.stack([hemisphere(many, (t + 0.5) / turns) for t in range(turns)])
    change = np.any(np.abs(np.diff(normals, axis=0)) > 1e-9, axis=1)
    starts = np.concatenate([[0], np.flatnonzero(change) + 1]).astype(np.int64)
    block = np.zeros(len(normals), np.int64)
    block[starts[1:]] = 1
    block = np.cumsum(block)
    kind = block * turns + (np.arange(len(normals)) - starts[block]) % turns
    own = normals[starts]
    rays = np.empty((len(own), turns, many, 3), np.float32)
    weight = np.empty((len(own), turns, many), np.float32)
    for t in range(turns):
        rays[:, t] = about(own, spiral[t])
        weight[:, t] = shares(rays[:, t], own)
    return kind, rays.reshape(-1, many, 3), weight.reshape(-1, many)


class Scenery(NamedTuple):
    """What the kernels need to tell a leaf from a triangle."""

    thing: NDArray[np.int32]  # (triangles,)
    leaf: NDArray[np.int32]  # (triangles,) outside leaf of a body's triangle, -1 on cards
    normal: NDArray[np.float32]  # (triangles, 3) outwards of a body's triangle
    frame: FloatArray  # (cards, 4, 3) corner, across and down over width and height, normal
    ground: FloatArray  # (4,) first and last x and y of the ground that is modelled
    raster: NDArray[np.int32]
    grid: NDArray[np.int64]
    split: FloatArray  # lines that cut leaves, and what lies on either side of them
    child: NDArray[np.int32]

    @classmethod
    def of(cls, caster: RayCaster, leaves: Leaves) -> Scenery:
        """Gathered from a caster and the leaves of the same world."""
        cards, solids = (len(leaves.sides) - 1) // 2, leaves.solids
        leaf = np.full(len(caster.things), -1, np.int32)
        normal = np.zeros((len(leaf), 3))
        at = np.flatnonzero(caster.things >= cards)
        number = solids.offset[caster.things[at] - cards] + caster.first[at]
        leaf[at], normal[at] = len(leaves.box) + solids.leaf[number], solids.normal[number]
        ground = leaves.sides[-1]
        x, y = ground.corner_m[:2]
        return cls(
            caster.things,
            leaf,
            normal.astype(np.float32),
            frames(caster.cards).reshape(-1, 4, 3),
            np.array([x, y, x + ground.width_m, y + ground.height_m]),
            leaves.raster,
            leaves.grid,
            leaves.split,
            leaves.child,
        )


@kernel
def _aim(first, last, starts, kind, rays, origins, directions):  # type: ignore[no-untyped-def]
    """Fill in origins and directions of all rays."""
    many = rays.shape[1]
    for p in range(first, last):
        for k in range(many):
            for c in range(3):
                origins[p * many + k, c] = starts[p, c]
                directions[p * many + k, c] = rays[kind[p], k, c]


@kernel
def _meet(first, last, starts, kind, rays, triangle, scene, met, close):  # type: ignore[no-untyped-def]
    """Leaf, sky or far ground that every ray meets; how many meet something very near."""
    for p in range(first, last):
        px, py, pz = starts[p, 0], starts[p, 1], starts[p, 2]
        for k in range(rays.shape[1]):
            dx, dy, dz = rays[kind[p], k, 0], rays[kind[p], k, 1], rays[kind[p], k, 2]
            what, t, number = SKY, np.inf, triangle[p, k]
            if number >= 0:
                leaf, card = scene.leaf[number], scene.thing[number]
                t = 1.0
                if leaf >= 0:
                    n = scene.normal[number]
                    what = leaf + (1 if dx * n[0] + dy * n[1] + dz * n[2] > 0.0 else 0)
                else:
                    f = scene.frame[card]
                    den = dx * f[3, 0] + dy * f[3, 1] + dz * f[3, 2]
                    ox, oy, oz = f[0, 0] - px, f[0, 1] - py, f[0, 2] - pz
                    t = (ox * f[3, 0] + oy * f[3, 1] + oz * f[3, 2]) / den if den != 0.0 else 0.0
                    hx, hy, hz = t * dx - ox, t * dy - oy, t * dz - oz
                    u = hx * f[1, 0] + hy * f[1, 1] + hz * f[1, 2]
                    v = hx * f[2, 0] + hy * f[2, 1] + hz * f[2, 2]
                    what = leaf_at(scene, 2 * card + (1 if den > 0.0 else 0), u, v)
            if dz < 0.0 and -pz / dz < t and pz >= 0.0:
                t = -pz / dz
                x, y, g = px + t * dx, py + t * dy, scene.ground
                if g[0] <= x < g[2] and g[1] <= y < g[3]:
                    u, v = (x - g[0]) / (g[2] - g[0]), (y - g[1]) / (g[3] - g[1])
                    what = leaf_at(scene, scene.grid.shape[0] - 1, u, v)
                else:
                    what = FAR_GROUND
            met[p, k] = what
            if t < CLOSE_M:
                close[p] += 1
