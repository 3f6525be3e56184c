"""Solid bodies for the tracer: what a ray hits of them, and where they keep light away.

Rays go through a bounding-volume tree (embree); what they hit is then shaded by the same kernels
as cards. A body is known by the number of the card that stands for it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any, NamedTuple, Protocol

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from simulator.bounded import Bounded
from simulator.kernels import helper, kernel, over_rows
from simulator.scene.geometry import View
from simulator.scene.materials import Material
from simulator.scene.mesh import DRAWN, Mesh
from simulator.units import FloatArray, Image

MOST_PACKED = 400_000
"""Triangles of packed bodies that are kept, each for all the places that it moves to."""
HOLES = 5
"""Most holes in bodies that a ray passes."""
BEHIND = np.float32(1e-4)
"""How far behind a hole a ray goes on, in lengths of the ray."""
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


class Hits(NamedTuple):
    """What rays (n,) meet of the bodies: card, -1 for none, material, depth and `normal` of each.

    `normal` (n, 6) holds the normal, the number of the triangle, and the place u, v in it.
    """

    card: NDArray[np.int16]
    material: NDArray[np.uint8]
    depth: Image
    normal: Image


class _Tree(NamedTuple):
    """A bounding-volume tree over some of the bodies, and what its triangles are."""

    scene: Any
    triangle: NDArray[np.int64]
    """Number of each of its triangles among those of all bodies."""


MOST_TREES = 1_200_000
"""Triangles of all trees that are kept, for bodies that come again in other scenes: the eight heads
that a face is told from have 580 000."""
_TREES: Bounded[tuple[Any, int]] = Bounded(MOST_TREES, lambda kept: kept[1])


def _content_of(corners: Image) -> bytes:
    return hashlib.blake2b(corners.tobytes(), digest_size=16).digest()


def _embree_of(key: bytes, corners: Callable[[], Image]) -> Any:
    """The tree over triangles (t, 3, 3) of a content, kept here alone, made where it is not."""
    known = _TREES.get(key)
    if known is not None:
        return known[0]
    scene, triangles = EmbreeScene(robust=True), corners()
    TriangleMesh(scene, triangles)
    # building the tree belongs to the first ray: not to be left to many threads at once
    scene.run(np.zeros((1, 3), np.float32), np.ones((1, 3), np.float32))
    return _TREES.put(key, (scene, len(triangles)))[0]


class Drawings(NamedTuple):
    """What is drawn on the bodies: their textures, and where triangles lie on them."""

    material: NDArray[np.uint8]  # (t,)
    owner: NDArray[np.int64]  # (t,)
    places: Image  # (t, 3, 2) across and down, 0 to 1
    texels: NDArray[np.uint8]
    texture: NDArray[np.int64]  # (b, 3) start, rows, columns


class _Facets(NamedTuple):
    """What the kernel that resolves hits needs to know of triangles and bodies."""

    corners: Image  # (t, 3, 3) normals of the corners of each triangle
    face: Image  # (t, 3) normal of each triangle
    card: NDArray[np.int16]  # (b,) card that stands for each body
    inside: NDArray[np.int64]  # (b,) material of the back of its triangles, -1 if as outside


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
    facets: _Facets
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
    ) -> list[tuple[_Tree, FloatArray]]:
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
                key = _content_of(self._corners(bodies, taken)) if taken.size else None
                self.chosen[name] = None if key is None else _Chosen(key, taken)
            found = self.chosen[name]
            if found is not None:
                scene = _embree_of(found.key, partial(self._corners, bodies, found.triangle))
                out.append((_Tree(scene, found.triangle), self.shift_m[bodies[0]]))
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
        found = Hits(
            np.full(n, -1, np.int16), np.zeros(n, np.uint8), np.full(n, np.inf, np.float32),
            np.zeros((n, 6), np.float32),
        )  # fmt: skip
        looking = np.arange(n)
        for k in range(HOLES):
            ways = rays if len(looking) == n else rays[looking]
            moved = None if k == 0 and beyond is None else gone[looking]
            hit = _nearest(trees, _at(origin_m, looking, n), ways, moved)
            through = np.zeros(len(looking), np.bool_)
            over_rows(
                _resolve, len(looking), looking, rays, hit, self.facets, self.drawings, gone,
                found, through, least=4096,
            )  # fmt: skip
            # on behind the holes
            looking = looking[through]
            if looking.size == 0:
                break
        return found

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
        met = _nearest(trees, points_m + OWN_SKIN_M * rays, rays, None)
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


class _Nearest(NamedTuple):
    """What rays (n,) meet first of some trees: triangle of all, -1 none, place in it, and depth."""

    triangle: NDArray[np.int64]
    u: Image
    v: Image
    depth: Image


def _nearest(
    trees: Sequence[tuple[_Tree, FloatArray]],
    origin_m: FloatArray,
    ways: Image,
    gone: Image | None,
) -> _Nearest:
    """What rays (n, 3), already `gone` so far, meet first of all trees."""
    n = len(ways)
    out = _Nearest(
        np.full(n, -1, np.int64), np.zeros(n, np.float32), np.zeros(n, np.float32),
        np.full(n, np.inf, np.float32),
    )  # fmt: skip
    for tree, shift in trees:
        start = np.array(np.broadcast_to(origin_m - shift, ways.shape), np.float32)
        if gone is not None:
            start += ways * gone[:, None]
        met = tree.scene.run(start, ways, output=True)
        over_rows(
            _nearer, n, met["primID"], met["u"], met["v"], met["tfar"], tree.triangle, out,
            least=4096,
        )  # fmt: skip
    return out


@kernel
def _nearer(first, last, met, u, v, depth, numbers, out):  # type: ignore[no-untyped-def]
    """Take over hits of one tree that are nearer than those of others."""
    for p in range(first, last):
        if met[p] >= 0 and depth[p] < out.depth[p]:
            out.triangle[p] = numbers[met[p]]
            out.u[p], out.v[p], out.depth[p] = u[p], v[p], depth[p]


@kernel
def _resolve(  # type: ignore[no-untyped-def]
    first, last, looking, rays, hit, facets, drawings, gone, found, through
):
    """Card, material, depth and normal of hits; rays that meet a hole go on behind it."""
    for p in range(first, last):
        t, ray = hit.triangle[p], looking[p]
        if t < 0:
            continue
        u, v = hit.u[p], hit.v[p]
        depth = gone[ray] + hit.depth[p]
        body = drawings.owner[t]
        material = _material_at(drawings, t, u, v)
        if material == DRAWN:
            gone[ray] = depth + BEHIND
            through[p] = True
            continue
        face, inside = facets.face[t], facets.inside[body]
        if inside >= 0:
            along = face[0] * rays[ray, 0] + face[1] * rays[ray, 1] + face[2] * rays[ray, 2]
            if along > 0.0:
                material = inside
        at, w = facets.corners[t], np.float32(1.0) - u - v
        x = at[0, 0] * w + at[1, 0] * u + at[2, 0] * v
        y = at[0, 1] * w + at[1, 1] * u + at[2, 1] * v
        z = at[0, 2] * w + at[1, 2] * u + at[2, 2] * v
        length = max(np.float32(np.sqrt(x * x + y * y + z * z)), np.float32(1e-9))
        found.card[ray], found.material[ray] = facets.card[body], material
        found.depth[ray] = depth
        normal = found.normal[ray]
        normal[0], normal[1], normal[2] = x / length, y / length, z / length
        # float32 holds the numbers of 16 million triangles
        normal[3], normal[4], normal[5] = t, u, v


@helper
def _material_at(drawings, t, u, v):  # type: ignore[no-untyped-def]
    """Material at a place u, v of a triangle, holes `DRAWN`."""
    out = drawings.material[t]
    body = drawings.owner[t]
    rows, columns = drawings.texture[body, 1], drawings.texture[body, 2]
    if out != DRAWN or rows == 0:
        return out
    w = 1.0 - u - v
    at = drawings.places[t]
    x = at[0, 0] * w + at[1, 0] * u + at[2, 0] * v
    y = at[0, 1] * w + at[1, 1] * u + at[2, 1] * v
    column = min(max(int(x * columns), 0), columns - 1)
    row = min(max(int(y * rows), 0), rows - 1)
    return drawings.texels[drawings.texture[body, 0] + row * columns + column]


@kernel
def _look_up(first, last, drawings, out):  # type: ignore[no-untyped-def]
    """Materials in the middle of triangles, holes `DRAWN`."""
    third = np.float32(1.0 / 3.0)
    for t in range(first, last):
        out[t] = _material_at(drawings, t, third, third)


def _drawings(meshes: Sequence[Mesh]) -> Drawings:
    texels, texture, places, start = [], [], [], 0
    for mesh in meshes:
        own = np.zeros((0, 0), np.uint8) if mesh.texture is None else mesh.texture
        texture.append((start, *own.shape))
        texels.append(own.ravel())
        start += own.size
        at = np.zeros((len(mesh.vertices_m), 2)) if mesh.places is None else mesh.places
        places.append(at[mesh.triangles])
    return Drawings(
        np.concatenate([m.materials for m in meshes]),
        np.repeat(np.arange(len(meshes)), [len(m.triangles) for m in meshes]),
        np.concatenate(places).astype(np.float32),
        np.concatenate([*texels, np.zeros(1, np.uint8)]),
        np.array(texture, dtype=np.int64),
    )


def pack_bodies(meshes: Sequence[Mesh], materials: Sequence[Material]) -> PackedBodies | None:
    """Bodies packed for tracing; None if there are none.

    Those packed last are kept by their content: a tree takes longer to grow than a small picture
    to trace, and the same bodies are packed for every moment and every camera that is tried before
    them, wherever they have moved to.
    """
    if not meshes:
        return None
    key = _content(meshes, materials)
    known = _PACKED.get(key)
    if known is None:
        known = _PACKED.put(key, _pack(meshes, materials))
    return known.placed(meshes)


_PACKED: Bounded[PackedBodies] = Bounded(MOST_PACKED, lambda bodies: len(bodies.dense))


def _content(meshes: Sequence[Mesh], materials: Sequence[Material]) -> bytes:
    """Hash of all that a ray finds of bodies, but for how far they have moved."""
    found = hashlib.blake2b(repr([m.transmittance for m in materials]).encode(), digest_size=16)
    for m in meshes:
        found.update(repr((m.name, m.card, m.group, m.inside)).encode() + m.content)
    return found.digest()


def keeps_light_away(mesh: Mesh, materials: Sequence[Material]) -> NDArray[np.bool_]:
    """Whether triangles (t,) of a body are neither panes nor holes."""
    return _dense(_drawings([mesh]), _panes(materials))


def _dense(drawings: Drawings, panes: Image) -> NDArray[np.bool_]:
    middle = np.empty(len(drawings.owner), np.uint8)
    over_rows(_look_up, len(middle), drawings, middle, least=4096)
    return (middle != DRAWN) & (panes[middle] == 0.0)


def _panes(materials: Sequence[Material]) -> Image:
    out = np.zeros(256, np.float32)
    out[: len(materials)] = [m.transmittance for m in materials]
    return out


def _pack(meshes: Sequence[Mesh], materials: Sequence[Material]) -> PackedBodies:
    drawings, panes = _drawings(meshes), _panes(materials)
    return PackedBodies(
        tuple(meshes),
        _Facets(
            np.concatenate([m.normals[m.triangles] for m in meshes]).astype(np.float32),
            np.concatenate([_faces(m.shape) for m in meshes]).astype(np.float32),
            np.array([m.card for m in meshes], np.int16),
            np.array([m.inside for m in meshes], np.int64),
        ),
        np.stack([m.bounds_m for m in meshes]),
        panes,
        _dense(drawings, panes),
        drawings,
        np.array([m.moved_m for m in meshes]),
    )


def _faces(mesh: Mesh) -> FloatArray:
    """Outward normals (t, 3) of flat triangles, not of unit length."""
    a, b, c = (mesh.vertices_m[mesh.triangles[:, k]] for k in range(3))
    return np.cross(b - a, c - a)


def outline_box(mesh: Mesh, view: View) -> tuple[float, float, float, float] | None:
    """Box around a body in a pinhole picture; None if it reaches behind the lens."""
    xy, depth = view.project_undistorted(mesh.vertices_m)
    if np.any(depth <= 1e-6):
        return None
    (x0, y0), (x1, y1) = xy.min(axis=0), xy.max(axis=0)
    return (float(x0), float(y0), float(x1), float(y1))
