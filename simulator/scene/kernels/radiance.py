"""Traces the world and adds up its light, one compiled pass over samples.

For every sample: the nearest opaque card, solid body or the ground; then for every light

    rate = E(point) x coefficient(light, material, channel) x lens fall-off

with E from inverse square, cosine and beam, shadows by a ray to the light, and for
retroreflective sheeting the extra luminance L = R_A E_perp / cos(nu) (CIE 54.2) with R_A at that
sample's observation and entrance angle. Sky, as far as it is seen between things, and bounced light
are looked up in the scene's light field (`radiosity`).
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.kernels import over_rows
from simulator.scene.kernels.blocks import (
    BLOCK,
    EDGE,
    EVEN,
    fill_blocks,
    find_creases,
    sort_samples,
    uneven_light,
)
from simulator.scene.kernels.light_map import folded
from simulator.scene.kernels.pack import KINDS, PackedLights, PackedScene, PackedView
from simulator.scene.kernels.seen import Sampling, Seen, seen_at
from simulator.scene.kernels.shading import NOTHING
from simulator.scene.kernels.surfaces import Cast, SurfaceLight
from simulator.units import FloatArray, Image

STATIC = 0
EVEN_NORMAL = 0.98
"""Cosine of the angle between normals at the corners of a block that is still even."""
EDGES_AT_ONCE = 32_768
"""Samples that are split at a time, to bound the memory."""


class _Painter:
    """Paints one traced layer: even parts by blocks, the rest sample by sample, edges split."""

    def __init__(  # type: ignore[no-untyped-def]
        self, sampling, scene, lights, view, weights, mode, known=None
    ):
        self.s = sampling
        self.scene, self.cards = scene, scene.cards
        self.view, self.mode = view, mode
        self.light = SurfaceLight(scene, lights, view, weights, mode == STATIC)
        s = sampling
        x = s.x0 + (np.arange(s.columns) + 0.5) * s.step
        y = s.y0 + (np.arange(s.rows) + 0.5) * s.step
        self.seen = seen_at(x, y, scene, view, mode == STATIC, grid=True, known=known)
        self.card, self.mats, self.depth, _ = self.seen
        self.cast: Cast | None = None
        self.wanted = np.ones((s.rows, s.columns), np.bool_)
        if mode != STATIC:
            self.wanted = self.belongs(self.card)

    def belongs(self, card: NDArray[np.int16]) -> NDArray[np.bool_]:
        """Whether what is seen belongs to the movement that is painted."""
        groups = np.append(self.cards.group, [0, 0])  # the ground, and the sky as index -1
        return np.asarray(groups[card] == self.mode)

    def rough(self) -> NDArray[np.bool_]:
        """Samples (rows, columns) whose surface has a grain."""
        has = np.append(self.cards.rough[:, 0] > 0.0, False)  # the sky as index -1 has none
        return np.asarray(has[self.card])

    def places(self, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> tuple[FloatArray, ...]:
        """Picture places of samples [px]."""
        s = self.s
        return s.x0 + (columns + 0.5) * s.step, s.y0 + (rows + 0.5) * s.step

    def lit(self, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> Image:
        """Rates (n, 3) of samples, before grain."""
        x, y = self.places(rows, columns)
        cast = self.cast
        if cast is not None:
            cast = Cast(*(plane[rows, columns] if len(plane) else plane[:, 0] for plane in cast))
        return self.light.lit_at(x, y, self.seen.at((rows, columns)), cast)

    def find_cast(self) -> None:
        """Find what bodies do to the light of all wanted samples, once for all paints."""
        j, i = np.nonzero(self.wanted)
        x, y = self.places(j, i)
        casts = self.light.cast_at(x, y, self.seen.at((j, i)))
        planes = []
        for values, rest in zip(casts, (1.0, 0.0), strict=True):
            plane = np.zeros((0, 1, values.shape[1]), np.float32)
            if len(values):
                plane = np.full((*self.wanted.shape, values.shape[1]), rest, np.float32)
                plane[j, i] = values
            planes.append(plane)
        self.cast = Cast(*planes)

    def smooth(self, blocks: tuple[int, ...]) -> NDArray[np.bool_]:
        """Blocks (rows, columns) over which a body hardly bends, and that are no panes."""
        assert self.seen.normal is not None and self.scene.bodies is not None
        high, wide = blocks
        at = self.seen.normal[::BLOCK, ::BLOCK, :3]
        first = at[:high, :wide]
        square = np.sum(first * first, axis=2)
        out = self.scene.bodies.panes[self.mats[::BLOCK, ::BLOCK][:high, :wide]] == 0.0
        for dj, di in ((0, 1), (1, 0), (1, 1)):
            other = at[dj : high + dj, di : wide + di]
            out &= np.sum(first * other, axis=2) >= EVEN_NORMAL * square
        return np.asarray(out | (square == 0.0))

    def even_parts(self, out: Image, kind: NDArray[np.uint8], even: NDArray[np.bool_]) -> None:
        """Light the corners and centres of even blocks and interpolate where they agree."""
        if not np.any(even):
            return
        high, wide = even.shape
        needed = np.zeros((high + 1, wide + 1), np.bool_)
        for dj, di in ((0, 0), (0, 1), (1, 0), (1, 1)):
            needed[dj : high + dj, di : wide + di] |= even
        corner = np.zeros((high + 1, wide + 1, 3), np.float32)
        j, i = np.nonzero(needed)
        corner[j, i] = self.lit(j * BLOCK, i * BLOCK)
        centre = np.zeros((high, wide, 3), np.float32)
        j, i = np.nonzero(even)
        centre[j, i] = self.lit(j * BLOCK + BLOCK // 2, i * BLOCK + BLOCK // 2)
        # the tip of a shadow may lie between the tested places, but not without touching a block
        # beside it: those blocks are lit sample by sample too
        uneven = np.zeros(even.shape, np.uint8)
        over_rows(uneven_light, high, even, corner, centre, uneven)
        uneven = cv2.dilate(uneven, np.ones((3, 3), np.uint8))
        steady = even & (uneven == 0)
        over_rows(fill_blocks, len(steady), kind, steady, corner, BLOCK, out)

    def edges(
        self, out: Image, cover: Image, rows: NDArray[np.intp], columns: NDArray[np.intp], fine: int
    ) -> None:
        """Split samples fine x fine, each part traced and lit by itself."""
        for first in range(0, rows.size, EDGES_AT_ONCE):
            some = slice(first, first + EDGES_AT_ONCE)
            self._some_edges(out, cover, rows[some], columns[some], fine)

    def _some_edges(
        self, out: Image, cover: Image, rows: NDArray[np.intp], columns: NDArray[np.intp], fine: int
    ) -> None:
        part = (np.arange(fine) + 0.5) / fine
        px, py = (a.ravel() for a in np.meshgrid(part, part))
        x = (self.s.x0 + (columns[:, None] + px) * self.s.step).ravel()
        y = (self.s.y0 + (rows[:, None] + py) * self.s.step).ravel()
        seen = seen_at(x, y, self.scene, self.view, self.mode == STATIC)
        keep = np.ones(x.size, np.bool_) if self.mode == STATIC else self.belongs(seen.card)
        rates = np.zeros((x.size, 3), np.float32)
        k = np.flatnonzero(keep)
        lit = self.light.lit_as_one(x, y, seen, keep, fine * fine)
        normal = None if seen.normal is None else seen.normal[k]
        rates[k] = self.light.grained(lit, x[k], y[k], seen.card[k], seen.depth[k], normal)
        out[rows, columns] = rates.reshape(rows.size, fine * fine, 3).mean(axis=1)
        cover[rows, columns] = keep.reshape(rows.size, fine * fine).mean(axis=1)

    def painted(self, fine: int, *, interpolated: bool = True) -> tuple[Image, Image]:
        """Rates (rows, columns, 3) and coverage (rows, columns)."""
        s = self.s
        out = np.zeros((s.rows, s.columns, 3), np.float32)
        cover = self.wanted.astype(np.float32)
        if fine == 1 and not interpolated:
            self.paint(out, self.wanted)
            return out, cover
        kind, even = sort_samples(self.card, self.mats, BLOCK)
        even &= interpolated
        if self.seen.normal is not None:
            over_rows(find_creases, s.rows, self.seen.normal, kind)
            even &= self.smooth(even.shape)
        if self.mode != STATIC:
            even &= self.wanted[::BLOCK, ::BLOCK][: even.shape[0], : even.shape[1]]
        self.even_parts(out, kind, even)
        split = (kind == EDGE) & (fine > 1)
        j, i = np.nonzero(split)
        self.edges(out, cover, j, i, fine)
        j, i = np.nonzero((kind != EVEN) & ~split & self.wanted)
        out[j, i] = self.lit(j, i)
        self.roughen(out, ~split & self.wanted)
        return out, cover

    def paint(self, out: Image, which: NDArray[np.bool_]) -> None:
        """Light some samples one by one, with their grain, in place."""
        j, i = np.nonzero(which)
        out[j, i] = self.lit(j, i)
        self.roughen(out, which)

    def roughen(self, out: Image, which: NDArray[np.bool_]) -> None:
        """Give some samples the grain of their surfaces, in place."""
        if np.any(self.cards.rough[:, 0] > 0.0):
            j, i = np.nonzero(which & self.rough())
            x, y = self.places(j, i)
            normal = None if self.seen.normal is None else self.seen.normal[j, i]
            out[j, i] = self.light.grained(
                out[j, i], x, y, self.card[j, i], self.depth[j, i], normal
            )

    def repainted(self, known: Traced, reshaped_card: int) -> tuple[Image, Image]:
        """As `painted(1)`, where a known layer of the same grid showed other things, the same in
        another paint, or a body (`reshaped_card`) in another shape; the rest is taken over."""
        changed = (self.card != known.seen.card) | (self.mats != known.seen.mats)
        if reshaped_card != NOTHING:
            changed |= self.card == reshaped_card
        elif known.cast is not None and not np.any(changed):
            self.cast = known.cast
        now, before = self.light.lights.coefficient, known.coefficient
        if now.shape == before.shape:
            changed |= np.any(now != before, axis=(0, 2))[self.mats]
        out = known.layer.rate.copy()
        out[changed] = 0.0
        self.paint(out, changed & self.wanted)
        return out, self.wanted.astype(np.float32)


def surfaces_at(places_px: FloatArray, scene: PackedScene, view: PackedView) -> NDArray[np.int16]:
    """Numbers (n,) of the cards seen at places (n, 2); one past the last for the ground, -1 sky.

    Where a body is seen, that of the card that stands for it.
    """
    x, y = np.ascontiguousarray(np.asarray(places_px, dtype=np.float64).T)
    return seen_at(x, y, scene, view, False).card


def materials_at(
    places_px: FloatArray, scene: PackedScene, view: PackedView
) -> tuple[NDArray[np.int16], NDArray[np.uint8]]:
    """Numbers of the cards (n,) as `surfaces_at` gives them, and of their materials (n,) there."""
    x, y = np.ascontiguousarray(np.asarray(places_px, dtype=np.float64).T)
    seen = seen_at(x, y, scene, view, False)
    return seen.card, seen.mats


class Layer(NamedTuple):
    """A traced layer.

    `rate` (rows, columns, 3) [e-/s per pixel], already multiplied by `cover` (rows, columns) in
    [0, 1]; `depth` (rows, columns) along the axis [m], infinite for the sky.
    """

    rate: Image
    cover: Image
    depth: Image


def _with_map(lights: PackedLights, weights: NDArray[np.float64]) -> PackedLights:
    """The lights with sky and bounced light folded for their strengths."""
    return lights._replace(
        light_map=folded(
            lights.light_map,
            lights.kind == KINDS["sky"],
            lights.coefficient,
            lights.amount * weights,
        )
    )


def trace_layer(
    sampling: Sampling,
    scene: PackedScene,
    lights: PackedLights,
    view: PackedView,
    *,
    mode: int,
    fine: int = 4,
    weights: NDArray[np.float64] | None = None,
    interpolated: bool = True,
) -> Layer:
    """Trace one layer of the scene.

    Parameters
    ----------
    mode
        `STATIC` (0): all that stands still, seen as if nothing else were there. A positive number:
        only what belongs to that movement, where nothing stands before it.
    fine
        Samples on an edge of things or materials are split fine x fine.
    weights
        Factor for every light (L,), one by default: light adds up, so a light may be dimmed
        or switched off here without building the scene again.
    interpolated
        Whether light is interpolated over blocks where it is even, if edges are split. Which blocks
        are depends on the light, so that layers of single lights add up exactly only without.
    """
    w = np.ones(lights.kind.shape[0]) if weights is None else np.asarray(weights, np.float64)
    painter = _Painter(sampling, scene, _with_map(lights, w), view, w, mode)
    rate, cover = painter.painted(fine, interpolated=interpolated and fine > 1)
    return Layer(rate, cover, painter.depth)


class Traced(NamedTuple):
    """A layer and what each of its samples shows.

    `coefficient` (lights, materials, 3) is that of the lights; `cast` (rows, columns, ...) what
    bodies do to the light, where it was asked for.
    """

    layer: Layer
    seen: Seen
    coefficient: NDArray[np.float32]
    cast: Cast | None = None

    def part(self, which: tuple[slice, slice]) -> Traced:
        """A part of all."""
        cast = self.cast
        if cast is not None:
            cast = Cast(*(plane[which] if len(plane) else plane for plane in cast))
        layer = Layer(*(plane[which] for plane in self.layer))
        return Traced(layer, self.seen.at(which), self.coefficient, cast)


def trace_samples(
    sampling: Sampling,
    scene: PackedScene,
    lights: PackedLights,
    view: PackedView,
    *,
    mode: int,
    weights: NDArray[np.float64] | None = None,
    known: Traced | None = None,
    paints_follow: bool = False,
    interpolated: bool = False,
    reshaped_card: int = NOTHING,
) -> Traced:
    """Trace one layer sample by sample, edges not split.

    Parameters
    ----------
    mode, weights
        As in `trace_layer`.
    known
        The same layer of the same scene with something else drawn on one of its cards, or with
        things in other paints: samples that show the same as there are taken from it.
    paints_follow
        Whether it is to be known for other paints, so that what bodies do to the light is kept.
    interpolated
        As in `trace_layer`; for searches.
    reshaped_card
        Card whose body has another shape in `known`: it is traced, all else is taken from there.
    """
    w = np.ones(lights.kind.shape[0]) if weights is None else np.asarray(weights, np.float64)
    before = None if known is None or reshaped_card != NOTHING else known.seen
    painter = _Painter(sampling, scene, _with_map(lights, w), view, w, mode, before)
    if known is None:
        if paints_follow:
            painter.find_cast()
        rate, cover = painter.painted(1, interpolated=interpolated)
    else:
        rate, cover = painter.repainted(known, reshaped_card)
    layer = Layer(rate, cover, painter.depth)
    return Traced(layer, painter.seen, lights.coefficient, painter.cast)
