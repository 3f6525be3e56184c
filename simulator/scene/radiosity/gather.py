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

    `met` (places, directions) is 2 (what + 2) for directions below the horizon, one more for those
    above it, with `what` the leaf, `SKY` or `FAR_GROUND`. Directions of a place come in parts of
    equal length; `weight` (places, parts, 2) is the share of one direction of each, below and
    above. `close` (places,) share of directions that meet something within `CLOSE_M`.
    """

    met: NDArray[np.int32]
    weight: Image
    close: FloatArray

    @property
    def what(self) -> NDArray[np.int32]:
        """What is met (places, directions): a leaf, `SKY` or `FAR_GROUND`."""
        return (self.met >> 1) - 2

    @property
    def weights(self) -> Image:
        """Share (places, directions) of every direction; those of a place add up to one."""
        each = self.met.shape[1] // max(1, self.weight.shape[1])
        weight = np.repeat(self.weight, each, axis=1)
        return np.asarray(np.take_along_axis(weight, (self.met & 1)[..., None], axis=2)[..., 0])

    def share(self, what: int) -> FloatArray:
        """Share (places,) of the cosine-weighted hemisphere that meets sky or far ground."""
        out = np.zeros(len(self.met))
        over_rows(_share, len(out), self.met, self.weight, what, out)
        return out

    def gathered(self, values: NDArray[np.float32]) -> NDArray[np.float32]:
        """Weighted sums (places, k) of what leaves (leaves, k) send."""
        out = np.zeros((len(self.met), values.shape[1]), np.float32)
        over_rows(_gather, len(out), self.met, self.weight, values, out)
        return out


@kernel
def _share(first, last, met, weight, what, out):  # type: ignore[no-untyped-def]
    each = met.shape[1] // weight.shape[1]
    for p in range(first, last):
        for k in range(met.shape[1]):
            if (met[p, k] >> 1) - 2 == what:
                out[p] += weight[p, k // each, met[p, k] & 1]


@kernel
def _gather(first, last, met, weight, values, out):  # type: ignore[no-untyped-def]
    many, each = values.shape[1], met.shape[1] // weight.shape[1]
    for p in range(first, last):
        for k in range(met.shape[1]):
            j = (met[p, k] >> 1) - 2
            if j >= 0:
                w = weight[p, k // each, met[p, k] & 1]
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


def frames_about(normals: FloatArray) -> FloatArray:
    """Frames (k, 3, 3) whose third axis is the unit normal (k, 3): rows times directions turn."""
    side = np.eye(3)[np.argmin(np.abs(normals), axis=1)]
    x = np.cross(side, normals)
    x /= np.linalg.norm(x, axis=1, keepdims=True)
    return np.stack([x, np.cross(normals, x), normals], axis=1)


def shares(above: NDArray[np.int64], many: int, normals: FloatArray) -> FloatArray:
    """Weights (k, 2) of one direction below and above the horizon, right for the sky and ground of
    an open horizon: so many of `many` lie above it, about normals (k, 3)."""
    sky, below = 0.5 * (1.0 + normals[:, 2]), many - above
    whole = np.where(above > 0, sky, 0.0) + np.where(below > 0, 1.0 - sky, 0.0)
    each = [(1.0 - sky) / np.maximum(below, 1), sky / np.maximum(above, 1)]
    return np.stack(each, axis=1) / whole[:, None]


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
    n = len(points_m)
    met = np.empty((n, many), np.int32)
    close, above = np.zeros(n, np.int64), np.zeros(n, np.int64)
    if not n:
        return Seen(met, np.zeros((0, 1, 2), np.float32), close / many)
    spiral = np.stack([hemisphere(many, (t + 0.5) / turns) for t in range(turns)])
    block, turn, own = _blocks(normals, turns)
    starts = np.ascontiguousarray(points_m + OFF_M * normals)
    scene = Scenery.of(caster, leaves) if scene is None else scene
    frame = frames_about(own)
    at_once = max(1, RAYS_AT_ONCE // many)
    for a in range(0, n, at_once):
        b = min(a + at_once, n)
        origins = np.empty(((b - a) * many, 3), np.float32)
        directions = np.empty_like(origins)
        over_rows(
            _aim, b - a, starts[a:b], frame, block[a:b], turn[a:b], spiral, origins, directions,
            above[a:b],
        )  # fmt: skip
        triangle = caster.first_triangles(origins, directions).reshape(-1, many)
        over_rows(_meet, b - a, starts[a:b], directions, triangle, scene, met[a:b], close[a:b])
    weight = shares(above, many, own[block]).astype(np.float32)
    return Seen(met, weight[:, None], close / many)


def _blocks(
    normals: FloatArray, turns: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], FloatArray]:
    """Block (n,) of equal normals of every place, which spiral it uses, and the normals of all."""
    change = np.any(np.abs(np.diff(normals, axis=0)) > 1e-9, axis=1)
    starts = np.concatenate([[0], np.flatnonzero(change) + 1]).astype(np.int64)
    block = np.zeros(len(normals), np.int64)
    block[starts[1:]] = 1
    block = np.cumsum(block)
    turn = (np.arange(len(normals)) - starts[block]) % turns
    return block, turn, normals[starts]


class Scenery(NamedTuple):
    """What the kernels need to tell a leaf from a triangle."""

    surface: NDArray[np.int32]  # (triangles,)
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
        leaf = np.full(len(caster.surfaces), -1, np.int32)
        normal = np.zeros((len(leaf), 3))
        at = np.flatnonzero(caster.surfaces >= cards)
        number = solids.offset[caster.surfaces[at] - cards] + caster.first[at]
        leaf[at], normal[at] = len(leaves.box) + solids.leaf[number], solids.normal[number]
        ground = leaves.sides[-1]
        x, y = ground.corner_m[:2]
        return cls(
            caster.surfaces,
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
def _aim(  # type: ignore[no-untyped-def]
    first, last, starts, frame, block, turn, spiral, origins, directions, above
):
    """Fill in origins and directions of all rays; how many look above the horizon."""
    many = spiral.shape[1]
    for p in range(first, last):
        f = frame[block[p]]
        for k in range(many):
            s = spiral[turn[p], k]
            for c in range(3):
                origins[p * many + k, c] = starts[p, c]
                directions[p * many + k, c] = s[0] * f[0, c] + s[1] * f[1, c] + s[2] * f[2, c]
            if directions[p * many + k, 2] > 0.0:
                above[p] += 1


@kernel
def _meet(first, last, starts, directions, triangle, scene, met, close):  # type: ignore[no-untyped-def]
    """Leaf, sky or far ground that every ray meets; how many meet something very near."""
    many = triangle.shape[1]
    for p in range(first, last):
        px, py, pz = starts[p, 0], starts[p, 1], starts[p, 2]
        for k in range(many):
            d = directions[p * many + k]
            dx, dy, dz = d[0], d[1], d[2]
            what, t, number = SKY, np.inf, triangle[p, k]
            if number >= 0:
                leaf, card = scene.leaf[number], scene.surface[number]
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
            met[p, k] = 2 * (what + 2) + (1 if dz > 0.0 else 0)
            if t < CLOSE_M:
                close[p] += 1
