"""Triangle meshes: solid bodies that stand in the world beside the cards."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from simulator.units import FloatArray

Indices = NDArray[np.int32]
DRAWN = 255
"""Material of a triangle whose texture says what it is made of."""


@dataclass(frozen=True)
class Mesh:
    """A body of triangles.

    Attributes
    ----------
    name
        What errors and results call it.
    vertices_m
        Corners (v, 3), world axes [m].
    triangles
        Corners of each triangle (t, 3), anticlockwise as seen from outside.
    normals
        Outward unit normal at each corner (v, 3); light falls on the body as on the smooth surface
        that has them.
    materials
        Index of the material of each triangle (t,); `DRAWN` where the texture tells.
    card
        Number of the card that stands for the body in results; that card itself is not seen.
    group
        Index of its velocity, 0 for what stands still.
    places, texture
        Place of each corner on a drawing (v, 2), across and down, 0 to 1, and the drawing: indices
        of materials (rows, columns), `DRAWN` where it has a hole. None for a body that needs none.
    inside
        Material of the back of all triangles; -1 if both sides are alike.
    first, moved_m
        The body where it stood first, if it has moved, and how far it has (3,) [m].
    apart
        Whether rays look for it by itself, since others stand in for it while all else stays.

    Examples
    --------
    >>> crate = box("crate", np.zeros(3), (1.0, 1.0, 1.0), material=3)
    >>> crate.triangles.shape, crate.vertices_m.max(axis=0).tolist()
    ((12, 3), [0.5, 0.5, 1.0])
    """

    name: str
    vertices_m: FloatArray
    triangles: Indices
    normals: FloatArray
    materials: NDArray[np.uint8]
    card: int = -1
    group: int = 0
    places: FloatArray | None = None
    texture: NDArray[np.uint8] | None = None
    inside: int = -1
    first: Mesh | None = None
    moved_m: tuple[float, float, float] = (0.0, 0.0, 0.0)
    apart: bool = False

    def moved(self, by_m: FloatArray) -> Mesh:
        """The same body somewhere else."""
        if not np.any(by_m):
            return self
        x, y, z = np.add(self.moved_m, by_m).tolist()
        return replace(self, vertices_m=self.vertices_m + by_m, first=self.shape, moved_m=(x, y, z))

    @property
    def shape(self) -> Mesh:
        """The body where it stood before it was `moved`, whose trees serve all places."""
        return self if self.first is None else self.first

    @cached_property
    def content(self) -> bytes:
        """Hash of its shape and what is drawn on it, but for how far it has moved."""
        if self.first is not None:
            return self.first.content
        digest = hashlib.blake2b(digest_size=16)
        for array in (self.vertices_m, self.triangles, self.normals, self.materials, self.places,
                      self.texture):  # fmt: skip
            if array is not None:
                digest.update(repr(array.shape).encode() + np.ascontiguousarray(array).tobytes())
        return digest.digest()

    def placed(self, foot_m: FloatArray, facing_deg: float, scale: float = 1.0) -> Mesh:
        """A body drawn over the origin, looking along -y, put over a point and turned.

        Parameters
        ----------
        foot_m
            Where its origin comes to stand (3,) [m].
        facing_deg
            Where it then looks: 0 back at the camera, 90 to the camera's right [deg].
        scale
            How much larger it becomes.
        """
        phi = np.radians(facing_deg)
        c, s = np.cos(phi), np.sin(phi)
        turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        return replace(
            self,
            vertices_m=scale * self.vertices_m @ turn.T + np.asarray(foot_m, float),
            normals=self.normals @ turn.T,
            first=None,
            moved_m=(0.0, 0.0, 0.0),
        )

    @cached_property
    def bounds_m(self) -> FloatArray:
        """Lowest and highest corner of the box around it (2, 3) [m]."""
        return np.stack([self.vertices_m.min(axis=0), self.vertices_m.max(axis=0)])


def smooth_normals(vertices_m: FloatArray, triangles: Indices) -> FloatArray:
    """Unit normals (v, 3): the mean over the triangles around each corner, by their areas."""
    a, b, c = (vertices_m[triangles[:, k]] for k in range(3))
    face = np.cross(b - a, c - a)
    out = np.zeros_like(vertices_m)
    for k in range(3):
        np.add.at(out, triangles[:, k], face)
    length = np.linalg.norm(out, axis=1, keepdims=True)
    return np.asarray(out / np.maximum(length, 1e-12))


def joined(name: str, parts: Sequence[Mesh]) -> Mesh:
    """One body of several parts; their textures are stacked into one."""
    start = np.cumsum([0, *(len(p.vertices_m) for p in parts)])
    texture, places = _stacked(parts)
    return Mesh(
        name,
        np.concatenate([p.vertices_m for p in parts]),
        np.concatenate([p.triangles + s for p, s in zip(parts, start, strict=False)]).astype(
            np.int32
        ),
        np.concatenate([p.normals for p in parts]),
        np.concatenate([p.materials for p in parts]),
        places=places,
        texture=texture,
        inside=max(p.inside for p in parts),
    )


def _stacked(parts: Sequence[Mesh]) -> tuple[NDArray[np.uint8] | None, FloatArray | None]:
    drawn = [p.texture for p in parts if p.texture is not None]
    if not drawn:
        return None, None
    high, wide = sum(t.shape[0] for t in drawn), max(t.shape[1] for t in drawn)
    texture = np.zeros((high, wide), np.uint8)
    top, places = 0, []
    for part in parts:
        if part.texture is None or part.places is None:
            places.append(np.zeros((len(part.vertices_m), 2)))
            continue
        rows, columns = part.texture.shape
        texture[top : top + rows, :columns] = part.texture
        places.append(
            part.places * np.array([columns / wide, rows / high]) + np.array([0.0, top / high])
        )
        top += rows
    return texture, np.concatenate(places)


def of_triangles(name: str, vertices_m: FloatArray, triangles: Indices, material: int) -> Mesh:
    """A smooth body of one material."""
    triangles = np.asarray(triangles, np.int32)
    return Mesh(
        name,
        np.asarray(vertices_m, np.float64),
        triangles,
        smooth_normals(np.asarray(vertices_m, np.float64), triangles),
        np.full(len(triangles), material, np.uint8),
    )


def grid_triangles(rows: int, columns: int, *, around: bool = False) -> Indices:
    """Triangles of a grid of corners (rows, columns); `around` joins the last column to the first.

    Seen from outside, rows go down where columns go to the right.
    """
    cells = np.meshgrid(np.arange(rows - 1), np.arange(columns if around else columns - 1))
    j, i = (np.ravel(a) for a in cells)
    k = (i + 1) % columns
    a, b, c, d = j * columns + i, j * columns + k, (j + 1) * columns + k, (j + 1) * columns + i
    return np.concatenate([np.stack([a, d, c], 1), np.stack([a, c, b], 1)]).astype(np.int32)


def of_grid(name: str, points_m: FloatArray, material: int, *, around: bool = False) -> Mesh:
    """A smooth skin through a grid of points (rows, columns, 3); see `grid_triangles`."""
    rows, columns, _ = points_m.shape
    return of_triangles(
        name, points_m.reshape(-1, 3), grid_triangles(rows, columns, around=around), material
    )


_CORNERS = np.array(
    [[x, y, z] for z in (0.0, 1.0) for y in (-0.5, 0.5) for x in (-0.5, 0.5)], dtype=np.float64
)
_SIDES = [
    ((0, 1, 5, 4), (0, -1, 0)), ((3, 2, 6, 7), (0, 1, 0)), ((2, 0, 4, 6), (-1, 0, 0)),
    ((1, 3, 7, 5), (1, 0, 0)), ((4, 5, 7, 6), (0, 0, 1)), ((2, 3, 1, 0), (0, 0, -1)),
]  # fmt: skip


def box(
    name: str, foot_m: FloatArray, size_m: tuple[float, float, float], *, material: int
) -> Mesh:
    """A box with sharp edges on the point under its middle (3,) [m]; width, depth, height [m]."""
    vertices, triangles, normals = [], [], []
    for k, (quad, normal) in enumerate(_SIDES):
        vertices.append(_CORNERS[list(quad)] * np.asarray(size_m) + np.asarray(foot_m, float))
        triangles += [(4 * k, 4 * k + 1, 4 * k + 2), (4 * k, 4 * k + 2, 4 * k + 3)]
        normals.append(np.tile(np.array(normal, float), (4, 1)))
    return Mesh(
        name,
        np.concatenate(vertices),
        np.array(triangles, np.int32),
        np.concatenate(normals),
        np.full(12, material, np.uint8),
    )
