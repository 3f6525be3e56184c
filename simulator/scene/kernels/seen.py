"""What the samples of a picture show: the nearest card, body or the ground along each ray."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.kernels import kernel, over_rows
from simulator.scene.kernels.distortion import undistort
from simulator.scene.kernels.pack import PackedScene, PackedView
from simulator.scene.kernels.shading import find
from simulator.units import FloatArray, Image

PLACES = 512
"""Places that are worth a thread of their own."""
RAYS_AT_ONCE = 200_000
"""Rays to bodies that are held at a time."""
DEPTH_ALIKE = 1e-5
"""Depths that differ by no more than this share are those of one place."""
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
    first, last, x, y, wide, cards, view, static_only, card, mats, depth
):
    """Surface, material and depth at places `first` to `last` - 1 of a list, or of a grid."""
    for p in range(first, last):
        i, j = (p % wide, p // wide) if wide > 0 else (p, p)
        f, m, t = find(x[i], y[j], cards, view, static_only)
        card[p] = f
        mats[p] = m
        depth[p] = t


class Seen(NamedTuple):
    """What places show: surface, material, depth, and the normal of a body, zero on cards.

    `normal` (..., 6) holds after it the triangle of all bodies, and the place u, v in it.

    `normal` is None where no body is seen at all.
    """

    card: NDArray[np.int16]
    mats: NDArray[np.uint8]
    depth: Image
    normal: Image | None

    def at(
        self,
        which: tuple[NDArray[np.intp], ...]
        | tuple[slice, slice]
        | NDArray[np.intp]
        | NDArray[np.bool_],
    ) -> Seen:
        """The same of some of the places."""
        normal = None if self.normal is None else self.normal[which]
        return Seen(self.card[which], self.mats[which], self.depth[which], normal)


class _Places(NamedTuple):
    """Places of the picture (n,), or a grid of so many across and down, and what looks at them."""

    x: FloatArray
    y: FloatArray
    scene: PackedScene
    view: PackedView
    static_only: bool


def seen_at(
    x: FloatArray,
    y: FloatArray,
    scene: PackedScene,
    view: PackedView,
    static_only: bool,
    *,
    grid: bool = False,
    beyond: Image | None = None,
    known: Seen | None = None,
) -> Seen:
    """What a list of places (n,), or a grid of them (rows, columns), shows.

    `beyond` (n,) tells from which depth on bodies count, for looking through their panes [m];
    `known` what the same grid showed with something else drawn on a card.
    """
    shape = (len(y), len(x)) if grid else (len(x),)
    card, mats = np.empty(shape, np.int16), np.empty(shape, np.uint8)
    depth = np.empty(shape, np.float32)
    over_rows(
        _find_places, card.size, x, y, len(x) if grid else 0, scene.cards, view, static_only,
        card.reshape(-1), mats.reshape(-1), depth.reshape(-1), least=PLACES,
    )  # fmt: skip
    seen = Seen(card, mats, depth, None)
    at = _Places(x, y, scene, view, static_only)
    if known is not None and scene.bodies is not None:
        return _with_known(at, seen, known)
    return _with_bodies(at, seen, beyond)


def _with_known(
    at: _Places,
    seen: Seen,
    known: Seen,
) -> Seen:
    """The same on a grid, with bodies taken from what it showed before.

    They are asked for anew only where a card has left a gap.
    """
    body = (
        np.zeros(known.card.shape, np.bool_)
        if known.normal is None
        else np.any(known.normal[..., :3] != 0.0, axis=-1)
    )
    gap = ~body & (seen.depth > known.depth * np.float32(1.0 + DEPTH_ALIKE))
    kept = body & (known.depth <= seen.depth)
    _put(seen, kept, known.at(kept))
    if known.normal is not None:
        seen = seen._replace(normal=np.where(kept[..., None], known.normal, np.float32(0.0)))
    row, column = np.nonzero(gap)
    if row.size == 0:
        return seen
    some = at._replace(x=at.x[column], y=at.y[row])
    again = _with_bodies(some, seen.at((row, column)), None)
    _put(seen, (row, column), again)
    if again.normal is not None:
        normal = seen.normal
        if normal is None:
            normal = np.zeros((*seen.card.shape, 6), np.float32)
        normal[row, column] = again.normal
        seen = seen._replace(normal=normal)
    return seen


def _put(seen: Seen, where: Any, new: Seen) -> None:
    """Put surface, material and depth of some places, in place."""
    seen.card[where], seen.mats[where], seen.depth[where] = new.card, new.mats, new.depth


def _with_bodies(
    at: _Places,
    seen: Seen,
    beyond: Image | None,
) -> Seen:
    """The same, with the bodies that stand before what is seen."""
    bodies = at.scene.bodies
    if bodies is None:
        return seen
    shown = [m.card for m in bodies.meshes if not (at.static_only and m.group > 0)]
    boxes = at.scene.cards.seen_box[shown]
    if seen.card.ndim == 1:
        met = _before(at, seen, boxes, beyond)
        return seen if met is None else seen._replace(normal=met)
    # a band of rows after the other, to bound what is held of rays
    normal: Image | None = None
    rows, columns = seen.card.shape
    for top in range(0, rows, max(1, RAYS_AT_ONCE // columns)):
        band = slice(top, top + max(1, RAYS_AT_ONCE // columns))
        part = Seen(
            seen.card[band].reshape(-1), seen.mats[band].reshape(-1),
            seen.depth[band].reshape(-1), None,
        )  # fmt: skip
        some = at._replace(x=np.tile(at.x, len(at.y[band])), y=np.repeat(at.y[band], columns))
        met = _before(some, part, boxes, None)
        if met is not None:
            if normal is None:
                normal = np.zeros((rows, columns, 6), np.float32)
            normal[band] = met.reshape(-1, columns, 6)
    return seen._replace(normal=normal)


def _before(
    at: _Places,
    seen: Seen,
    boxes: FloatArray,
    beyond: Image | None,
) -> Image | None:
    """Put bodies before what places (n,) show, in place; their normals (n, 6), None without any."""
    x, y, scene = at.x, at.y, at.scene
    assert scene.bodies is not None
    near: NDArray[np.bool_] = np.zeros(len(x), np.bool_)
    for x0, y0, x1, y1 in boxes:
        near |= (x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)
    place = np.flatnonzero(near)
    if place.size == 0:
        return None
    rays = np.empty((place.size, 3), np.float32)
    over_rows(_aim, place.size, x, y, place, at.view, rays, least=4096)
    met = scene.bodies.hits(
        at.view.position, rays, static_only=at.static_only,
        beyond=None if beyond is None else beyond[place],
    )  # fmt: skip
    if met is None or not np.any(met.card >= 0):
        return None
    normal = np.zeros((len(x), 6), np.float32)
    over_rows(
        _put_before, len(place), place, met, seen.card, seen.mats, seen.depth, normal, least=4096
    )
    return normal


@kernel
def _put_before(first, last, place, met, card, mats, depth, normal):  # type: ignore[no-untyped-def]
    """Put bodies that rays met before what is seen at their places."""
    for k in range(first, last):
        p = place[k]
        if met.card[k] >= 0 and met.depth[k] < depth[p]:
            card[p], mats[p], depth[p] = met.card[k], met.material[k], met.depth[k]
            for c in range(6):
                normal[p, c] = met.normal[k, c]


@kernel
def _aim(first, last, x, y, place, view, rays):  # type: ignore[no-untyped-def]
    """Rays of some places, their components along the axis one."""
    for k in range(first, last):
        ux, uy, _ = undistort(x[place[k]], y[place[k]], view)
        for c in range(3):
            rays[k, c] = view.rays[c, 0] * ux + view.rays[c, 1] * uy + view.rays[c, 2]
