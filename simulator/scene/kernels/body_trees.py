"""Bounding-volume trees over the triangles of bodies, and what rays meet first of them."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from simulator.bounded import Bounded
from simulator.kernels import kernel, over_rows
from simulator.units import FloatArray, Image


class Tree(NamedTuple):
    """A bounding-volume tree over some of the bodies, and what its triangles are."""

    scene: Any
    triangle: NDArray[np.int64]
    """Number of each of its triangles among those of all bodies."""


MOST_TREES = 1_200_000
"""Triangles of all trees that are kept, for bodies that come again in other scenes: the eight heads
that a face is told from have 580 000."""
_TREES: Bounded[tuple[Any, int]] = Bounded(MOST_TREES, lambda kept: kept[1])


def content_of(corners: Image) -> bytes:
    return hashlib.blake2b(corners.tobytes(), digest_size=16).digest()


def embree_of(key: bytes, corners: Callable[[], Image]) -> Any:
    """The tree over triangles (t, 3, 3) of a content, kept here alone, made where it is not."""
    known = _TREES.get(key)
    if known is not None:
        return known[0]
    scene, triangles = EmbreeScene(robust=True), corners()
    TriangleMesh(scene, triangles)
    # building the tree belongs to the first ray: not to be left to many threads at once
    scene.run(np.zeros((1, 3), np.float32), np.ones((1, 3), np.float32))
    return _TREES.put(key, (scene, len(triangles)))[0]


class _Nearest(NamedTuple):
    """What rays (n,) meet first of some trees: triangle of all, -1 none, place in it, and depth."""

    triangle: NDArray[np.int64]
    u: Image
    v: Image
    depth: Image


def nearest_of(
    trees: Sequence[tuple[Tree, FloatArray]],
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
