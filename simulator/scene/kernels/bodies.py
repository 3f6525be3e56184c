"""Solid bodies for the tracer: what a ray hits of them, and where they keep light away.

Rays go through a bounding-volume tree (embree); what they hit is then shaded by the same kernels
as cards. A body is known by the number of the card that stands for it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from simulator.scene.geometry import View
from simulator.scene.mesh import DRAWN, Mesh
from simulator.units import FloatArray, Image

LEFT = 0.9999
"""Share of the way to a light that is looked along."""


class Hits(NamedTuple):
    """What rays meet of the bodies: which rays (n,), card, material, depth and normal of each."""

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


@dataclass
class PackedBodies:
    """Bodies as arrays, one after the other."""

    meshes: tuple[Mesh, ...]
    corners: Image  # (t, 3, 3) normals of the corners of each triangle
    material: NDArray[np.uint8]  # (t,)
    owner: NDArray[np.int64]  # (t,) number of the body
    bounds: FloatArray  # (b, 2, 3)
    trees: dict[tuple[int, ...], _Tree | None] = field(default_factory=dict)

    def tree(self, *, static_only: bool = False, without: int = -1) -> _Tree | None:
        """The tree over all bodies, those that stand still, or all but the one of a card."""
        chosen = tuple(
            k
            for k, mesh in enumerate(self.meshes)
            if not (static_only and mesh.group > 0) and not (without >= 0 and mesh.card == without)
        )
        if chosen not in self.trees:
            self.trees[chosen] = self._grown(chosen)
        return self.trees[chosen]

    def _grown(self, chosen: tuple[int, ...]) -> _Tree | None:
        if not chosen:
            return None
        scene = EmbreeScene()
        corners = [self.meshes[k].vertices_m[self.meshes[k].triangles] for k in chosen]
        TriangleMesh(scene, np.concatenate(corners).astype(np.float32))
        return _Tree(scene, np.flatnonzero(np.isin(self.owner, chosen)))

    def hits(
        self, origin_m: FloatArray, directions: Image, *, static_only: bool = False
    ) -> Hits | None:
        """What rays (n, 3) from one point or from many meet first; depth in lengths of a ray."""
        tree = self.tree(static_only=static_only)
        if tree is None or len(directions) == 0:
            return None
        rays = np.ascontiguousarray(directions, np.float32)
        start = np.ascontiguousarray(np.broadcast_to(origin_m, rays.shape), np.float32)
        met = tree.scene.run(start, rays, output=True)
        ray = np.flatnonzero(met["primID"] >= 0)
        triangle = tree.triangle[met["primID"][ray]]
        u, v = met["u"][ray, None], met["v"][ray, None]
        a, b, c = self.corners[triangle].transpose(1, 0, 2)
        normal = a * (1.0 - u - v) + b * u + c * v
        normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), np.float32(1e-9))
        card = np.array([mesh.card for mesh in self.meshes], np.int16)[self.owner[triangle]]
        return Hits(
            ray, card, self._materials(triangle, u[:, 0], v[:, 0]), met["tfar"][ray], normal
        )

    def _materials(self, triangle: NDArray[np.int64], u: Image, v: Image) -> NDArray[np.uint8]:
        out = self.material[triangle].copy()
        first = np.searchsorted(self.owner, np.arange(len(self.meshes)))
        for k in np.unique(self.owner[triangle[out == DRAWN]]):
            mesh = self.meshes[k]
            assert mesh.texture is not None and mesh.places is not None
            on = np.flatnonzero((out == DRAWN) & (self.owner[triangle] == k))
            a, b, c = mesh.places[mesh.triangles[triangle[on] - first[k]]].transpose(1, 0, 2)
            place = a * (1.0 - u[on] - v[on])[:, None] + b * u[on, None] + c * v[on, None]
            rows, columns = mesh.texture.shape
            column = np.clip((place[:, 0] * columns).astype(int), 0, columns - 1)
            row = np.clip((place[:, 1] * rows).astype(int), 0, rows - 1)
            out[on] = mesh.texture[row, column]
        return out

    def hidden(
        self, points_m: FloatArray, towards_m: FloatArray, *, without: int = -1
    ) -> NDArray[np.bool_]:
        """Whether a body stands between points (n, 3) and those `towards_m` (n, 3) away from them.

        `without` leaves out the body of that card.
        """
        tree = self.tree(without=without)
        if tree is None or len(points_m) == 0:
            return np.zeros(len(points_m), np.bool_)
        met = tree.scene.run(
            np.ascontiguousarray(points_m, np.float32),
            np.ascontiguousarray(towards_m, np.float32),
            dists=np.full(len(points_m), LEFT, np.float32),
            query="OCCLUDED",
        )
        return np.asarray(met >= 0)


def pack_bodies(meshes: tuple[Mesh, ...]) -> PackedBodies | None:
    """Bodies packed for tracing; None if there are none."""
    if not meshes:
        return None
    return PackedBodies(
        meshes,
        np.concatenate([m.normals[m.triangles] for m in meshes]).astype(np.float32),
        np.concatenate([m.materials for m in meshes]),
        np.repeat(np.arange(len(meshes)), [len(m.triangles) for m in meshes]),
        np.stack([m.bounds_m for m in meshes]),
    )


def outline_box(mesh: Mesh, view: View) -> tuple[float, float, float, float] | None:
    """Box around a body in a pinhole picture; None if it reaches behind the lens."""
    xy, depth = view.project_undistorted(mesh.vertices_m)
    if np.any(depth <= 1e-6):
        return None
    (x0, y0), (x1, y1) = xy.min(axis=0), xy.max(axis=0)
    return (float(x0), float(y0), float(x1), float(y1))
