"""Solid bodies for the tracer: what a ray hits of them, and where they keep light away.

Rays go through a bounding-volume tree (embree); what they hit is then shaded by the same kernels
as cards. A body is known by the number of the card that stands for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from simulator.kernels import over_rows
from simulator.scene.kernels.body_surfaces import BEHIND, Drawings, Facets, Hits, resolve
from simulator.scene.kernels.body_trees import Tree, content_of, embree_of, nearest_of
from simulator.scene.mesh import Mesh
from simulator.units import FloatArray, Image

HOLES = 5
"""Most holes in bodies that a ray passes."""
OWN_SKIN_M = np.float32(0.01)
"""A coat does not mirror what lies within this of it, its own smooth skin [m]."""
FACES_AT_ONCE = 20_000
"""Points from which a lamp's face is looked at together, to bound the memory."""
LEFT = 0.9999
"""Share of the way to a light that is looked along."""
SUN, POINT = 2, 3
"""Kinds of packed lights that throw shadows."""
FAR_M = 1.0e4
"""Way along which something may stand before the sun [m]."""
CORNERS = np.array([[0.95, 0.0], [-0.475, 0.823], [-0.475, -0.823]])
"""Places on a lamp's face that are looked at first, near its rim."""


def _face(many: int) -> FloatArray:
    """Places (many, 2) spread evenly over a unit disc: a spiral of the golden angle."""
    k = np.arange(many)
    radius, angle = np.sqrt((k + 0.5) / many), k * np.pi * (3.0 - np.sqrt(5.0))
    return np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)


FACE = _face(20)
"""Places on a lamp's face from which one that is partly hidden is looked at."""


class FaceLights(Protocol):
    """Lights as `pack.PackedLights` has them."""

    @property
    def kind(self) -> NDArray[np.int64]:
        """Kinds (lights,)."""

    @property
    def position(self) -> FloatArray:
        """Places (lights, 3) [m]."""

    @property
    def direction(self) -> FloatArray:
        """Directions (lights, 3)."""

    @property
    def radius(self) -> FloatArray:
        """Radii (lights,) of the luminous faces."""

    @property
    def housing(self) -> FloatArray:
        """How near bodies (lights,) do not shade a lamp [m]."""


class _Chosen(NamedTuple):
    """Triangles of some bodies: the content that their tree is kept by, and their numbers."""

    key: bytes
    triangle: NDArray[np.int64]


@dataclass(frozen=True)
class PackedBodies:
    """Bodies as arrays, one after the other.

    Bodies that have moved since they were packed share everything with those at their first place
    but `shift_m` (b, 3), how far each has gone, and `bounds`: rays are moved back by as much.
    """

    meshes: tuple[Mesh, ...]
    facets: Facets
    bounds: FloatArray  # (b, 2, 3)
    panes: Image  # (m,) share of light that a material of the scene lets through
    dense: NDArray[np.bool_]  # (t,) whether it keeps light away: neither a pane nor a hole
    drawings: Drawings
    shift_m: FloatArray
    chosen: dict[tuple[object, ...], _Chosen | None] = field(default_factory=dict)

    def placed(self, meshes: Sequence[Mesh]) -> PackedBodies:
        """The same bodies where they have moved to."""
        shift = np.array([m.moved_m for m in meshes])
        bounds = np.stack([m.shape.bounds_m for m in meshes]) + shift[:, None]
        return replace(self, meshes=tuple(meshes), shift_m=shift, bounds=bounds)

    def grown(
        self, *, static_only: bool = False, without: int = -1, dense: bool = False
    ) -> list[tuple[Tree, FloatArray]]:
        """Trees over all bodies, those that stand still, or all but the one of a card.

        One for the bodies that have moved alike, with how far they have. `dense` leaves out what
        lets light through.
        """
        alike: dict[tuple[object, ...], list[int]] = {}
        for k, mesh in enumerate(self.meshes):
            if (static_only and mesh.group > 0) or (without >= 0 and mesh.card == without):
                continue
            # each movement has a tree of its own at every moment, so that all moments share it
            alike.setdefault((mesh.group, mesh.moved_m, mesh.apart), []).append(k)
        out = []
        for bodies in alike.values():
            name = (dense, *bodies)
            if name not in self.chosen:
                taken = self._taken(bodies, dense)
                key = content_of(self._corners(bodies, taken)) if taken.size else None
                self.chosen[name] = None if key is None else _Chosen(key, taken)
            chosen = self.chosen[name]
            if chosen is not None:
                scene = embree_of(chosen.key, partial(self._corners, bodies, chosen.triangle))
                out.append((Tree(scene, chosen.triangle), self.shift_m[bodies[0]]))
        return out

    def _taken(self, bodies: Sequence[int], dense: bool) -> NDArray[np.int64]:
        """Triangles of some bodies; `dense` as in `grown`."""
        owned = np.isin(self.drawings.owner, bodies)
        return np.flatnonzero(owned & self.dense if dense else owned)

    def _corners(self, bodies: Sequence[int], taken: NDArray[np.int64]) -> Image:
        """Corners (t, 3, 3) of triangles of some bodies, where these were packed."""
        owned = np.flatnonzero(np.isin(self.drawings.owner, bodies))
        shapes = [self.meshes[k].shape for k in sorted(bodies)]
        corners = np.concatenate([m.vertices_m[m.triangles] for m in shapes])
        return np.ascontiguousarray(corners[np.searchsorted(owned, taken)], np.float32)

    def hits(
        self,
        origin_m: FloatArray,
        directions: Image,
        *,
        static_only: bool = False,
        beyond: Image | None = None,
    ) -> Hits | None:
        """What rays (n, 3) from one point meet first; depth in lengths of a ray.

        `origin_m` (3,) or (n, 3); `beyond` (n,) tells how far each ray has gone already, in its
        lengths.
        """
        trees = self.grown(static_only=static_only)
        if not trees or len(directions) == 0:
            return None
        rays = np.ascontiguousarray(directions, np.float32)
        n = len(rays)
        gone = np.zeros(n, np.float32) if beyond is None else (beyond + BEHIND).astype(np.float32)
        hits = Hits(
            np.full(n, -1, np.int16), np.zeros(n, np.uint8), np.full(n, np.inf, np.float32),
            np.zeros((n, 6), np.float32),
        )  # fmt: skip
        looking = np.arange(n)
        for k in range(HOLES):
            ways = rays if len(looking) == n else rays[looking]
            moved = None if k == 0 and beyond is None else gone[looking]
            hit = nearest_of(trees, _at(origin_m, looking, n), ways, moved)
            through = np.zeros(len(looking), np.bool_)
            over_rows(
                resolve, len(looking), looking, rays, hit, self.facets, self.drawings, gone,
                hits, through, least=4096,
            )  # fmt: skip
            # on behind the holes
            looking = looking[through]
            if looking.size == 0:
                break
        return hits

    def free(
        self, points_m: FloatArray, lights: FaceLights, light: int, *, without: int = -1
    ) -> FloatArray:
        """Share (n,) of a light's face that bodies leave to points (n, 3).

        The places `CORNERS` of the face are looked at, and where they differ, those of `FACE`.
        """
        housing = 0.0
        if lights.kind[light] == SUN:
            towards = np.broadcast_to(lights.direction[light] * FAR_M, points_m.shape)
            radius = lights.radius[light] * FAR_M
        else:
            towards = lights.position[light] - points_m
            radius, housing = lights.radius[light], lights.housing[light]

        def hidden(from_m: FloatArray, way: FloatArray) -> NDArray[np.bool_]:
            return self.hidden(from_m, way, without=without, housing_m=housing)

        if radius <= 0.0:
            return np.asarray(1.0 - hidden(points_m, towards))
        length = np.linalg.norm(towards, axis=1, keepdims=True)
        way = towards / np.maximum(length, 1e-12)
        a = np.cross(way, np.where(np.abs(way[:, 2:]) < 0.9, [[0.0, 0.0, 1.0]], [[1.0, 0.0, 0.0]]))
        a *= radius / np.linalg.norm(a, axis=1, keepdims=True)
        b = np.cross(way, a)

        def open_at(which: NDArray[np.intp], places: FloatArray) -> FloatArray:
            """Share of some places of the face that is seen from some of the points."""
            end = (
                towards[which, None]
                + places[:, :1] * a[which, None]
                + places[:, 1:] * b[which, None]
            ).reshape(-1, 3)
            start = np.repeat(points_m[which], len(places), axis=0)
            out_of_sight = hidden(start, end)
            return np.asarray(1.0 - out_of_sight.reshape(-1, len(places)).mean(axis=1))

        out = open_at(np.arange(len(points_m)), CORNERS)
        partly = np.flatnonzero((out > 0.0) & (out < 1.0))
        for first in range(0, partly.size, FACES_AT_ONCE):
            some = partly[first : first + FACES_AT_ONCE]
            out[some] = open_at(some, FACE)
        return out

    def dim(
        self, amounts: FloatArray, points_m: FloatArray, lights: FaceLights, *, without: int = -1
    ) -> None:
        """Take from amounts (n, lights) of light on points what bodies keep away, in place."""
        for i in np.flatnonzero(np.isin(lights.kind, [SUN, POINT])):
            lit = np.flatnonzero(amounts[:, i] > 0.0)
            amounts[lit, i] *= self.free(points_m[lit], lights, int(i), without=without)

    def hidden(
        self,
        points_m: FloatArray,
        towards_m: FloatArray,
        *,
        without: int = -1,
        housing_m: float = 0.0,
    ) -> NDArray[np.bool_]:
        """Whether a body stands between points (n, 3) and those `towards_m` (n, 3) away from them.

        `without` leaves out the body of that card, `housing_m` what is met so near the end.
        """
        out = np.zeros(len(points_m), np.bool_)
        if len(points_m) == 0:
            return out
        towards = np.ascontiguousarray(towards_m, np.float32)
        left = np.full(len(points_m), LEFT, np.float32)
        if housing_m > 0.0:
            length = np.linalg.norm(towards_m, axis=1)
            left = np.clip(1.0 - housing_m / np.maximum(length, 1e-9), 0.0, LEFT)
            left = left.astype(np.float32)
        for tree, shift in self.grown(without=without, dense=True):
            start = np.ascontiguousarray(points_m - shift, np.float32)
            out |= np.asarray(tree.scene.run(start, towards, dists=left, query="OCCLUDED")) >= 0
        return out

    def thrown(self, points_m: Image, rays: Image) -> Image:
        """What rays (n, 3) of unit length thrown back at points meet of the bodies (n, 5).

        Distance [m], 0 where none, triangle, place u, v in it, and 1 where its inside is met.
        """
        out = np.zeros((len(rays), 5), np.float32)
        trees = self.grown(dense=True)  # those of shadows: moving bodies where they are
        if not trees or len(rays) == 0:
            return out
        met = nearest_of(trees, points_m + OWN_SKIN_M * rays, rays, None)
        at = np.flatnonzero(met.triangle >= 0)
        triangle = met.triangle[at]
        out[at, 0] = met.depth[at] + OWN_SKIN_M
        out[at, 1] = triangle
        out[at, 2], out[at, 3] = met.u[at], met.v[at]
        out[at, 4] = np.einsum("ij,ij->i", self.facets.face[triangle], rays[at]) > 0.0
        return out


def _at(origin_m: FloatArray, which: NDArray[np.intp], many: int) -> FloatArray:
    """Where some of many rays begin, (3,) or (n, 3) [m]."""
    if origin_m.ndim == 1 or len(which) == many:
        return origin_m
    return origin_m[which]
