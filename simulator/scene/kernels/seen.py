"""What the samples of a picture show: the nearest card, body or the ground along each ray."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.kernels import kernel, over_rows
from simulator.scene.kernels.pack import PackedScene, PackedView
from simulator.scene.kernels.shading import find
from simulator.units import FloatArray, Image

PLACES = 512
"""Places that are worth a thread of their own."""
ALIGNED = 1e-6
"""Grids count as lying on one another within so much of a sample."""


class Sampling(NamedTuple):
    """A grid of samples: sample (row, column) looks at pixel x0 + (column + 1/2) step, ..."""

    x0: float
    y0: float
    step: float
    rows: int
    columns: int

    def wider(self, room_px: int) -> Sampling:
        """A grid with some pixels more on every side, sample on sample."""
        more = round(room_px / self.step)
        return Sampling(
            self.x0 - more * self.step,
            self.y0 - more * self.step,
            self.step,
            self.rows + 2 * more,
            self.columns + 2 * more,
        )

    def part_of(self, known: Sampling) -> tuple[slice, slice] | None:
        """The part of a known grid that is this one; None unless all of it lies inside."""
        if known.step != self.step:
            return None
        x, y = (self.x0 - known.x0) / known.step, (self.y0 - known.y0) / known.step
        left, top = round(x), round(y)
        if abs(x - left) > ALIGNED or abs(y - top) > ALIGNED or left < 0 or top < 0:
            return None
        if left + self.columns > known.columns or top + self.rows > known.rows:
            return None
        return slice(top, top + self.rows), slice(left, left + self.columns)


@kernel
def _find_places(  # type: ignore[no-untyped-def]
    first, last, x, y, wide, cards, view, static_only, found, mats, depth
):
    """Surface, material and depth at places `first` to `last` - 1 of a list, or of a grid."""
    for p in range(first, last):
        i, j = (p % wide, p // wide) if wide > 0 else (p, p)
        f, m, t = find(x[i], y[j], cards, view, static_only)
        found[p] = f
        mats[p] = m
        depth[p] = t


class Seen(NamedTuple):
    """What places show: surface, material, depth, and the normal of a body, zero on cards.

    `normal` (..., 6) holds after it the triangle of all bodies, and the place u, v in it.

    `normal` is None where no body is seen at all.
    """

    found: NDArray[np.int16]
    mats: NDArray[np.uint8]
    depth: Image
    normal: Image | None

    def at(
        self, which: tuple[NDArray[np.intp], ...] | tuple[slice, slice] | NDArray[np.intp]
    ) -> Seen:
        """The same of some of the places."""
        normal = None if self.normal is None else self.normal[which]
        return Seen(self.found[which], self.mats[which], self.depth[which], normal)


def found_at(
    x: FloatArray,
    y: FloatArray,
    scene: PackedScene,
    view: PackedView,
    static_only: bool,
    *,
    grid: bool = False,
    beyond: Image | None = None,
) -> Seen:
    """What a list of places (n,), or a grid of them (rows, columns), shows.

    `beyond` (n,) tells from which depth on bodies count, for looking through their panes [m].
    """
    shape = (len(y), len(x)) if grid else (len(x),)
    found, mats = np.empty(shape, np.int16), np.empty(shape, np.uint8)
    depth = np.empty(shape, np.float32)
    over_rows(
        _find_places, found.size, x, y, len(x) if grid else 0, scene.cards, view, static_only,
        found.reshape(-1), mats.reshape(-1), depth.reshape(-1), least=PLACES,
    )  # fmt: skip
    return _with_bodies(x, y, scene, view, static_only, Seen(found, mats, depth, None), beyond)


def _with_bodies(
    x: FloatArray,
    y: FloatArray,
    scene: PackedScene,
    view: PackedView,
    static_only: bool,
    seen: Seen,
    beyond: Image | None,
) -> Seen:
    """The same, with the bodies that stand before what was found."""
    if scene.bodies is None:
        return seen
    shown = [m.card for m in scene.bodies.meshes if not (static_only and m.group > 0)]
    near: NDArray[np.bool_] = np.zeros(seen.found.shape, np.bool_)
    if seen.found.ndim == 2:
        for x0, y0, x1, y1 in scene.cards.seen_box[shown]:
            (i0, i1), (j0, j1) = np.searchsorted(x, [x0, x1]), np.searchsorted(y, [y0, y1])
            near[j0:j1, i0:i1] = True
        row, column = np.nonzero(near)
        px, py, place = x[column], y[row], row * len(x) + column
    else:
        for x0, y0, x1, y1 in scene.cards.seen_box[shown]:
            near |= (x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)
        place = np.flatnonzero(near)
        px, py = x[place], y[place]
    if place.size == 0:
        return seen
    met = scene.bodies.hits(
        view.position,
        _directions(px, py, view),
        static_only=static_only,
        beyond=None if beyond is None else beyond[place],
    )
    if met is None:
        return seen
    before = met.depth < seen.depth.reshape(-1)[place[met.ray]]
    at = place[met.ray[before]]
    if at.size == 0:
        return seen
    normal = np.zeros((seen.found.size, 6), np.float32)
    normal[at] = met.normal[before]
    seen.found.reshape(-1)[at] = met.card[before]
    seen.mats.reshape(-1)[at] = met.material[before]
    seen.depth.reshape(-1)[at] = met.depth[before]
    return seen._replace(normal=normal.reshape(*seen.found.shape, 6))


def _directions(x: FloatArray, y: FloatArray, view: PackedView) -> Image:
    """Ray of each place (n, 3), its component along the axis one."""
    places = np.stack([x - view.centre[0], y - view.centre[1]], axis=1)
    if view.bend != 0.0:
        places /= 1.0 + view.bend * np.sum(places**2, axis=1, keepdims=True)
    places += view.centre
    rays = places @ view.rays[:, :2].T + view.rays[:, 2]
    return np.asarray(rays.astype(np.float32))
