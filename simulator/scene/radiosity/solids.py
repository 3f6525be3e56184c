"""Solid bodies in the light field: clusters of triangles as patches, their corners as nodes.

Triangles of a body that lie together and look the same way make one patch for each of its two
sides. Light on the outside is told at every corner and interpolated over the triangles; the inside,
seen through panes at best, has the light of its patches.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.scene.mesh import DRAWN, Mesh
from simulator.scene.world import World
from simulator.units import FloatArray

PARTS = 9
"""Places of every patch from which it looks, as many as on the leaves of cards."""
CLUSTER_SHARE, LEAST_CLUSTER_M, MOST_CLUSTER_M = 1.0 / 6.0, 0.08, 0.8
"""Size of clusters over that of the body, and its limits [m]."""
APART_M, MOST_CUTS = 0.2, 12
"""Edges of triangles are cut so that nodes lie no farther apart than this [m], so often at most."""
MOST_KEPT = 32
"""Bodies whose patches and nodes are kept, for worlds that are built again and again."""
OFF_M = 0.002
"""How far off a facet light is looked for: it does not shade its own smooth skin [m]."""


MIXERS = np.array(
    [
        0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9,
        0x27D4EB2F165667C5, 0x85EBCA77C2B2AE63, 0xD6E8FEB86659FD93,
    ],
    np.uint64,
)  # fmt: skip
"""Odd factors that mix six numbers into one."""


class Solids(NamedTuple):
    """Patches and nodes of all bodies of a world.

    Patches (p,) come in pairs, outside and inside of a cluster: `parts_m` and `normals` (p, parts,
    3) of places on them, `share` (p, materials) of what they are made of. `leaf` (triangles,)
    number of the outside patch of every triangle of all bodies, one after the other, `normal`
    (triangles, 3) outwards, `offset` (bodies + 1,) where a body's triangles begin. Nodes follow
    side by side, outside and inside of each body: `begin` (2 bodies + 1,), `nodes_m` and `facing`
    (nodes, 3). A triangle cut `cuts` times along each edge has its nodes row by row from its first
    corner, along the edge to the second one and upwards to the third, from `first` on in `node`:
    their numbers within their side. `back` (triangles,) number of the inside node.
    """

    parts_m: FloatArray
    normals: FloatArray
    share: FloatArray
    leaf: NDArray[np.int32]
    normal: FloatArray
    offset: NDArray[np.int64]
    begin: NDArray[np.int64]
    nodes_m: FloatArray
    facing: FloatArray
    cuts: NDArray[np.int64]
    first: NDArray[np.int64]
    node: NDArray[np.int32]
    back: NDArray[np.int32]


def solids_of(world: World) -> Solids:
    """Patches and nodes of the bodies of a world."""
    solids = [_kept(mesh, len(world.materials)) for mesh in world.meshes]
    patches = np.cumsum([0, *(len(s.parts_m) for s in solids)])
    triangles = np.cumsum([0, *(len(s.leaf) for s in solids)])
    begin = [np.zeros(1, np.int64)]
    for one in solids:
        begin.append(begin[-1][-1] + one.begin[1:])

    def all_of(name: str, empty: tuple[int, ...]) -> FloatArray:
        return np.concatenate([np.zeros((0, *empty)), *(getattr(s, name) for s in solids)])

    leaf = [s.leaf + first for s, first in zip(solids, patches, strict=False)]
    listed = np.cumsum([0, *(len(s.node) for s in solids)])
    first = [s.first + k for s, k in zip(solids, listed, strict=False)]

    def numbers(name: str, kind: type) -> NDArray[Any]:
        return np.concatenate([np.zeros(0), *(getattr(s, name) for s in solids)]).astype(kind)

    return Solids(
        all_of("parts_m", (PARTS, 3)),
        all_of("normals", (PARTS, 3)),
        all_of("share", (len(world.materials),)),
        np.concatenate([np.zeros(0), *leaf]).astype(np.int32),
        all_of("normal", (3,)),
        triangles.astype(np.int64),
        np.concatenate(begin),
        all_of("nodes_m", (3,)),
        all_of("facing", (3,)),
        numbers("cuts", np.int64),
        np.concatenate([np.zeros(0), *first]).astype(np.int64),
        numbers("node", np.int32),
        numbers("back", np.int32),
    )


def _kept(mesh: Mesh, materials: int) -> Solids:
    """Patches and nodes of one body, kept by its content and place."""
    key = mesh.content, mesh.moved_m, mesh.inside, materials
    if key not in _known:
        if len(_known) >= MOST_KEPT:
            del _known[next(iter(_known))]
        _known[key] = _solid(mesh, materials)
    return _known[key]


_known: dict[tuple[bytes, tuple[float, float, float], int, int], Solids] = {}


def _solid(mesh: Mesh, materials: int) -> Solids:
    corners = mesh.vertices_m[mesh.triangles]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.maximum(np.linalg.norm(cross, axis=1), 1e-12)
    normal, middle = cross / area[:, None], corners.mean(axis=1)
    cluster = _clusters(mesh, normal, middle)
    places = _places(cluster, area)
    parts, facing = middle[places], normal[places]
    outside, inside = parts + OFF_M * facing, parts - OFF_M * facing
    nodes, cuts, first, node = _corners(mesh)
    share = _shares(mesh, cluster, area, materials)
    return Solids(
        np.stack([outside, inside], 1).reshape(-1, PARTS, 3),
        np.stack([facing, -facing], 1).reshape(-1, PARTS, 3),
        share,
        (2 * cluster).astype(np.int32),
        normal,
        np.array([0, len(normal)]),
        np.array([0, len(nodes), len(nodes) + len(parts)], dtype=np.int64),
        np.concatenate([nodes[:, :3] + OFF_M * nodes[:, 3:], inside[:, PARTS // 2]]),
        np.concatenate([nodes[:, 3:], -facing[:, PARTS // 2]]),
        cuts,
        first,
        node,
        cluster.astype(np.int32),
    )


def _clusters(mesh: Mesh, normal: FloatArray, middle: FloatArray) -> NDArray[np.int64]:
    """Number (triangles,) of the cluster of every triangle."""
    extent = float(np.ptp(mesh.vertices_m, axis=0).max())
    size = float(np.clip(extent * CLUSTER_SHARE, LEAST_CLUSTER_M, MOST_CLUSTER_M))
    cell = np.floor((middle - mesh.bounds_m[0]) / size).astype(np.int64)
    axis = np.argmax(np.abs(normal), axis=1)
    way = 2 * axis + (normal[np.arange(len(normal)), axis] > 0.0)
    key = ((cell[:, 0] * 4096 + cell[:, 1]) * 4096 + cell[:, 2]) * 8 + way
    return np.unique(key, return_inverse=True)[1].astype(np.int64)


def _places(cluster: NDArray[np.int64], area: FloatArray) -> NDArray[np.intp]:
    """Triangles (clusters, parts) on which the places of every cluster lie, evenly by area."""
    order = np.argsort(cluster, kind="stable")
    ends = np.cumsum(area[order])
    last = np.searchsorted(cluster[order], np.arange(cluster.max() + 1), side="right")
    first = np.concatenate([[0], last[:-1]])
    low, high = ends[first] - area[order[first]], ends[last - 1]
    share = (np.arange(PARTS) + 0.5) / PARTS
    wanted = low[:, None] + share * (high - low)[:, None]
    at = np.searchsorted(ends, wanted.ravel()).reshape(wanted.shape)
    return order[np.clip(at, first[:, None], last[:, None] - 1)]


def _corners(
    mesh: Mesh,
) -> tuple[FloatArray, NDArray[np.int64], NDArray[np.int64], NDArray[np.int32]]:
    """Places and normals (nodes, 6), equal ones only once, and `cuts`, `first` and `node`."""
    both = np.concatenate([mesh.vertices_m, mesh.normals], axis=1)[mesh.triangles]
    edges = np.linalg.norm(both[..., :3] - np.roll(both[..., :3], 1, axis=1), axis=2).max(axis=1)
    cuts = np.clip(np.ceil(edges / APART_M), 1, MOST_CUTS).astype(np.int64)
    many = (cuts + 1) * (cuts + 2) // 2
    first = np.concatenate([[0], np.cumsum(many)])
    every = np.empty((first[-1], 6))
    for m in np.unique(cuts):
        v, u = np.array([(j, i) for j in range(m + 1) for i in range(m + 1 - j)]).T / m
        weight = np.stack([1.0 - u - v, u, v], axis=1)
        at = np.flatnonzero(cuts == m)
        every[first[at, None] + np.arange(len(u))] = np.einsum("kc,tcx->tkx", weight, both[at])
    every[:, 3:] /= np.maximum(np.linalg.norm(every[:, 3:], axis=1, keepdims=True), 1e-9)
    key = np.rint(np.concatenate([every[:, :3] * 1e4, every[:, 3:] * 50.0], axis=1))
    # one number for the six of a row, far quicker to sort; two rows in 2^64 share it
    mixed = (key.astype(np.int64).view(np.uint64) * MIXERS).sum(axis=1, dtype=np.uint64)
    _, kept, which = np.unique(mixed, return_index=True, return_inverse=True)
    order = np.argsort(kept)  # as they come along the triangles
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    return every[kept[order]], cuts, first[:-1], place[which.reshape(-1)].astype(np.int32)


def _shares(mesh: Mesh, cluster: NDArray[np.int64], area: FloatArray, materials: int) -> FloatArray:
    """Shares (patches, materials) of area of the outsides and insides of clusters."""
    many = int(cluster.max()) + 1
    made_of = mesh.materials.astype(np.int64)
    if mesh.texture is not None and mesh.places is not None:
        drawn = np.flatnonzero(made_of == DRAWN)
        place = mesh.places[mesh.triangles[drawn]].mean(axis=1)
        rows, columns = mesh.texture.shape
        column = np.clip((place[:, 0] * columns).astype(int), 0, columns - 1)
        row = np.clip((place[:, 1] * rows).astype(int), 0, rows - 1)
        made_of[drawn] = mesh.texture[row, column]
    solid = made_of != DRAWN
    out = np.zeros((many, 2, materials))
    np.add.at(out, (cluster[solid], 0, made_of[solid]), area[solid])
    if mesh.inside >= 0:
        out[:, 1, mesh.inside] = 1.0
    else:
        out[:, 1] = out[:, 0]
    flat = out.reshape(-1, materials)
    return np.asarray(flat / np.maximum(flat.sum(axis=1, keepdims=True), 1e-12))


def materials_of(mesh: Mesh) -> NDArray[np.intp]:
    """Materials that a body shows anywhere."""
    parts: Sequence[NDArray[np.uint8]] = [mesh.materials]
    if mesh.texture is not None:
        parts = [mesh.materials, mesh.texture.ravel()]
    numbers = np.unique(np.concatenate(parts)).astype(np.intp)
    numbers = numbers[numbers != DRAWN]
    return numbers if mesh.inside < 0 else np.unique(np.append(numbers, mesh.inside))
