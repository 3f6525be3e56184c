"""Bodies packed for tracing, kept by their content."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

import numpy as np

from simulator.bounded import Bounded
from simulator.scene.geometry import View
from simulator.scene.kernels.bodies import PackedBodies
from simulator.scene.kernels.body_surfaces import Facets, dense_of, drawings_of, panes_of
from simulator.scene.materials import Material
from simulator.scene.mesh import Mesh
from simulator.units import FloatArray

MOST_PACKED = 400_000
"""Triangles of packed bodies that are kept, each for all the places that it moves to."""


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
    digest = hashlib.blake2b(repr([m.transmittance for m in materials]).encode(), digest_size=16)
    for m in meshes:
        digest.update(repr((m.name, m.card, m.group, m.inside)).encode() + m.content)
    return digest.digest()


def _pack(meshes: Sequence[Mesh], materials: Sequence[Material]) -> PackedBodies:
    drawings, panes = drawings_of(meshes), panes_of(materials)
    return PackedBodies(
        tuple(meshes),
        Facets(
            np.concatenate([m.normals[m.triangles] for m in meshes]).astype(np.float32),
            np.concatenate([_faces(m.shape) for m in meshes]).astype(np.float32),
            np.array([m.card for m in meshes], np.int16),
            np.array([m.inside for m in meshes], np.int64),
        ),
        np.stack([m.bounds_m for m in meshes]),
        panes,
        dense_of(drawings, panes),
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
