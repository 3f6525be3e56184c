"""Solid bodies for the tracer: what a ray hits of them, and where they keep light away.

Rays go through a bounding-volume tree (embree); what they hit is then shaded by the same kernels
as cards. A body is known by the number of the card that stands for it.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple, Protocol

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from simulator.kernels import kernel, over_rows
from simulator.scene.geometry import View
from simulator.scene.materials import Material
from simulator.scene.mesh import DRAWN, Mesh
from simulator.units import FloatArray, Image

MOST_PACKED = 12
"""Packed bodies kept: those of the moments of one scene's frames."""
HOLES = 5
"""Most holes in bodies that a ray passes."""
BEHIND = np.float32(1e-4)
"""How far behind a hole a ray goes on, in lengths of the ray."""
OWN_SKIN_M = np.float32(0.01)
"""A coat does not mirror what lies within this of it, its own smooth skin [m]."""
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
    """What rays meet of the bodies: which rays (n,), card, material, depth and `normal` of each.

    `normal` (n, 6) holds the normal, the number of the triangle, and the place u, v in it.
    """

    ray: NDArray[np.intp]
    card: NDArray[np.int16]
    material: NDArray[np.uint8]
    depth: Image
    normal: Image


@dataclass
class _Tree:
    """A bounding-volume tree over some of the bodies, and what its triangles are."""

    scene: Any
    triangle: NDArray[np.int64]
    """Number of each of its triangles among those of all bodies."""


class Drawings(NamedTuple):
    """What is drawn on the bodies: their textures, and where triangles lie on them."""

    material: NDArray[np.uint8]  # (t,)
    owner: NDArray[np.int64]  # (t,)
    places: Image  # (t, 3, 2) across and down, 0 to 1
    texels: NDArray[np.uint8]
    texture: NDArray[np.int64]  # (b, 3) start, rows, columns


@dataclass
class PackedBodies:
    """Bodies as arrays, one after the other."""

    meshes: tuple[Mesh, ...]
    corners: Image  # (t, 3, 3) normals of the corners of each triangle
    face: Image  # (t, 3) normal of each triangle
    material: NDArray[np.uint8]  # (t,)
    owner: NDArray[np.int64]  # (t,) number of the body
    bounds: FloatArray  # (b, 2, 3)
    panes: Image  # (m,) share of light that a material of the scene lets through
    dense: NDArray[np.bool_]  # (t,) whether it keeps light away: neither a pane nor a hole
    drawings: Drawings
    trees: dict[tuple[object, ...], _Tree | None] = field(default_factory=dict)

    def tree(
        self, *, static_only: bool = False, without: int = -1, dense: bool = False
    ) -> _Tree | None:
        """The tree over all bodies, those that stand still, or all but the one of a card.

        `dense` leaves out what lets light through.
        """
        chosen = tuple(
            k
            for k, mesh in enumerate(self.meshes)
            if not (static_only and mesh.group > 0) and not (without >= 0 and mesh.card == without)
        )
        if (dense, chosen) not in self.trees:
            self.trees[dense, chosen] = self._grown(chosen, dense)
        return self.trees[dense, chosen]

    def _grown(self, chosen: tuple[int, ...], dense: bool) -> _Tree | None:
        taken = np.isin(self.owner, chosen)
        if dense:
            taken &= self.dense
        if not np.any(taken):
            return None
        scene = EmbreeScene(robust=True)
        corners = np.concatenate([m.vertices_m[m.triangles] for m in self.meshes])
        TriangleMesh(scene, corners[taken].astype(np.float32))
        # building the tree belongs to the first ray: not to be left to many threads at once
        scene.run(np.zeros((1, 3), np.float32), np.ones((1, 3), np.float32))
        return _Tree(scene, np.flatnonzero(taken))

    def hits(
        self,
        origin_m: FloatArray,
        directions: Image,
        *,
        static_only: bool = False,
        beyond: Image | None = None,
    ) -> Hits | None:
        """What rays (n, 3) from one point or from many meet first; depth in lengths of a ray.

        `beyond` (n,) tells how far each ray has gone already, in its lengths.
        """
        tree = self.tree(static_only=static_only)
        if tree is None or len(directions) == 0:
            return None
        rays = np.ascontiguousarray(directions, np.float32)
        start = np.array(np.broadcast_to(origin_m, rays.shape), np.float32)
        gone = np.zeros(len(rays), np.float32)
        if beyond is not None:
            gone += beyond + BEHIND
            start += rays * gone[:, None]
        looking = np.arange(len(rays))
        parts: list[Hits] = []
        for _ in range(HOLES):
            found, through = self._first(tree, looking, start, rays, gone)
            parts.append(found)
            # on behind the holes
            looking = through
            if looking.size == 0:
                break
            gone[looking] += BEHIND
            start[looking] = np.broadcast_to(origin_m, rays.shape)[looking] + (
                rays[looking] * gone[looking, None]
            )
        return Hits(*(np.concatenate(field) for field in zip(*parts, strict=True)))

    def _first(
        self, tree: _Tree, looking: NDArray[np.intp], start: Image, rays: Image, gone: Image
    ) -> tuple[Hits, NDArray[np.intp]]:
        """What some of the rays meet first, and those of them that pass a hole there."""
        met = tree.scene.run(start[looking], rays[looking], output=True)
        some = np.flatnonzero(met["primID"] >= 0)
        ray, triangle = looking[some], tree.triangle[met["primID"][some]]
        u, v = met["u"][some, None], met["v"][some, None]
        a, b, c = self.corners[triangle].transpose(1, 0, 2)
        normal = a * (1.0 - u - v) + b * u + c * v
        normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), np.float32(1e-9))
        # float32 holds the numbers of 16 million triangles
        normal = np.concatenate([normal, triangle[:, None].astype(np.float32), u, v], axis=1)
        owner = self.owner[triangle]
        card = np.array([mesh.card for mesh in self.meshes], np.int16)[owner]
        material = self._materials(triangle, u[:, 0], v[:, 0])
        inside = np.array([mesh.inside for mesh in self.meshes])[owner]
        back = np.einsum("ij,ij->i", self.face[triangle], rays[ray]) > 0.0
        hole = material == DRAWN
        back &= (inside >= 0) & ~hole
        material[back] = inside[back]
        depth = gone[ray] + met["tfar"][some]
        gone[ray[hole]] = depth[hole]
        seen = ~hole
        return (
            Hits(ray[seen], card[seen], material[seen], depth[seen], normal[seen]),
            ray[hole],
        )

    def _materials(self, triangle: NDArray[np.int64], u: Image, v: Image) -> NDArray[np.uint8]:
        return _materials(self.drawings, triangle, u, v)

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

        def open_at(which: NDArray[np.intp], place: FloatArray) -> FloatArray:
            end = towards[which] + place[0] * a[which] + place[1] * b[which]
            return np.asarray(1.0 - hidden(points_m[which], end))

        every = np.arange(len(points_m))
        first = sum(open_at(every, place) for place in CORNERS)
        out = np.asarray(first / len(CORNERS))
        partly = np.flatnonzero((out > 0.0) & (out < 1.0))
        if partly.size:
            out[partly] = np.mean([open_at(partly, place) for place in FACE], axis=0)
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
        tree = self.tree(without=without, dense=True)
        if tree is None or len(points_m) == 0:
            return np.zeros(len(points_m), np.bool_)
        share = np.full(len(points_m), LEFT, np.float32)
        if housing_m > 0.0:
            length = np.linalg.norm(towards_m, axis=1)
            share = np.clip(1.0 - housing_m / np.maximum(length, 1e-9), 0.0, LEFT)
        met = tree.scene.run(
            np.ascontiguousarray(points_m, np.float32),
            np.ascontiguousarray(towards_m, np.float32),
            dists=share.astype(np.float32),
            query="OCCLUDED",
        )
        return np.asarray(met >= 0)

    def thrown(self, points_m: Image, rays: Image) -> Image:
        """What rays (n, 3) of unit length thrown back at points meet of the bodies (n, 5).

        Distance [m], 0 where none, triangle, place u, v in it, and 1 where its inside is met.
        """
        out = np.zeros((len(rays), 5), np.float32)
        tree = self.tree(dense=True)  # that of shadows: moving bodies where they are
        if tree is None or len(rays) == 0:
            return out
        start = points_m + OWN_SKIN_M * rays
        met = tree.scene.run(start, rays, output=True)
        at = np.flatnonzero(met["primID"] >= 0)
        triangle = tree.triangle[met["primID"][at]]
        out[at, 0] = met["tfar"][at] + OWN_SKIN_M
        out[at, 1] = triangle
        out[at, 2], out[at, 3] = met["u"][at], met["v"][at]
        out[at, 4] = np.einsum("ij,ij->i", self.face[triangle], rays[at]) > 0.0
        return out


@kernel
def _look_up(first, last, triangle, u, v, drawings, out):  # type: ignore[no-untyped-def]
    """Materials at places u, v of triangles, holes `DRAWN`."""
    for p in range(first, last):
        t = triangle[p]
        out[p] = drawings.material[t]
        body = drawings.owner[t]
        rows, columns = drawings.texture[body, 1], drawings.texture[body, 2]
        if out[p] != DRAWN or rows == 0:
            continue
        w = 1.0 - u[p] - v[p]
        at = drawings.places[t]
        x = at[0, 0] * w + at[1, 0] * u[p] + at[2, 0] * v[p]
        y = at[0, 1] * w + at[1, 1] * u[p] + at[2, 1] * v[p]
        column = min(max(int(x * columns), 0), columns - 1)
        row = min(max(int(y * rows), 0), rows - 1)
        out[p] = drawings.texels[drawings.texture[body, 0] + row * columns + column]


def _materials(
    drawings: Drawings, triangle: NDArray[np.int64], u: Image, v: Image
) -> NDArray[np.uint8]:
    """Materials (n,) at places u, v of some triangles, holes `DRAWN`."""
    out = np.empty(len(triangle), np.uint8)
    over_rows(
        _look_up, len(triangle), triangle, np.ascontiguousarray(u), np.ascontiguousarray(v),
        drawings, out, least=4096,
    )  # fmt: skip
    return out


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
    to trace, and the same bodies are packed for every camera that is tried before them.
    """
    if not meshes:
        return None
    key = _content(meshes, materials)
    if key in _packed:
        _packed.move_to_end(key)
    else:
        _packed[key] = _pack(meshes, materials)
        if len(_packed) > MOST_PACKED:
            _packed.popitem(last=False)
    return _packed[key]


_packed: OrderedDict[bytes, PackedBodies] = OrderedDict()


def _content(meshes: Sequence[Mesh], materials: Sequence[Material]) -> bytes:
    """Hash of all that a ray finds of bodies."""
    found = hashlib.blake2b(repr([m.transmittance for m in materials]).encode(), digest_size=16)
    for m in meshes:
        found.update(repr((m.name, m.card, m.group, m.inside, len(m.triangles))).encode())
        for array in (m.vertices_m, m.triangles, m.normals, m.materials, m.places, m.texture):
            if array is not None:
                found.update(repr(array.shape).encode() + np.ascontiguousarray(array).tobytes())
    return found.digest()


def _pack(meshes: Sequence[Mesh], materials: Sequence[Material]) -> PackedBodies:
    drawings = _drawings(meshes)
    material, owner = drawings.material, drawings.owner
    third = np.full(len(owner), 1.0 / 3.0, np.float32)
    middle = _materials(drawings, np.arange(len(owner)), third, third)
    panes = np.zeros(256, np.float32)
    panes[: len(materials)] = [m.transmittance for m in materials]
    return PackedBodies(
        tuple(meshes),
        np.concatenate([m.normals[m.triangles] for m in meshes]).astype(np.float32),
        np.concatenate([_faces(m) for m in meshes]).astype(np.float32),
        material,
        owner,
        np.stack([m.bounds_m for m in meshes]),
        panes,
        (middle != DRAWN) & (panes[middle] == 0.0),
        drawings,
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
