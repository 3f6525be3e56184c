"""What stands on the triangles of bodies: materials, textures, holes, normals."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.kernels import helper, kernel, over_rows
from simulator.scene.materials import Material
from simulator.scene.mesh import DRAWN, Mesh
from simulator.units import Image

BEHIND = np.float32(1e-4)
"""How far behind a hole a ray goes on, in lengths of the ray."""


class Hits(NamedTuple):
    """What rays (n,) meet of the bodies: card, -1 for none, material, depth and `normal` of each.

    `normal` (n, 6) holds the normal, the number of the triangle, and the place u, v in it.
    """

    card: NDArray[np.int16]
    material: NDArray[np.uint8]
    depth: Image
    normal: Image


class Drawings(NamedTuple):
    """What is drawn on the bodies: their textures, and where triangles lie on them."""

    material: NDArray[np.uint8]  # (t,)
    owner: NDArray[np.int64]  # (t,)
    places: Image  # (t, 3, 2) across and down, 0 to 1
    texels: NDArray[np.uint8]
    texture: NDArray[np.int64]  # (b, 3) start, rows, columns


class Facets(NamedTuple):
    """What the kernel that resolves hits needs to know of triangles and bodies."""

    corners: Image  # (t, 3, 3) normals of the corners of each triangle
    face: Image  # (t, 3) normal of each triangle
    card: NDArray[np.int16]  # (b,) card that stands for each body
    inside: NDArray[np.int64]  # (b,) material of the back of its triangles, -1 if as outside


@kernel
def resolve(  # type: ignore[no-untyped-def]
    first, last, looking, rays, hit, facets, drawings, gone, hits, through
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
        hits.card[ray], hits.material[ray] = facets.card[body], material
        hits.depth[ray] = depth
        normal = hits.normal[ray]
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


def drawings_of(meshes: Sequence[Mesh]) -> Drawings:
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


def keeps_light_away(mesh: Mesh, materials: Sequence[Material]) -> NDArray[np.bool_]:
    """Whether triangles (t,) of a body are neither panes nor holes."""
    return dense_of(drawings_of([mesh]), panes_of(materials))


def dense_of(drawings: Drawings, panes: Image) -> NDArray[np.bool_]:
    middle = np.empty(len(drawings.owner), np.uint8)
    over_rows(_look_up, len(middle), drawings, middle, least=4096)
    return (middle != DRAWN) & (panes[middle] == 0.0)


def panes_of(materials: Sequence[Material]) -> Image:
    out = np.zeros(256, np.float32)
    out[: len(materials)] = [m.transmittance for m in materials]
    return out
