"""Traces the world and adds up its light, one compiled pass over samples.

For every sample: the nearest opaque card or the ground; then for every light

    rate = E(point) x coefficient(light, material, channel) x lens fall-off

with E from inverse square, cosine and beam, shadows by a ray to the light, and for
retroreflective sheeting the extra luminance L = R_A E_perp / cos(nu) (CIE 54.2) with R_A at that
sample's observation and entrance angle. Sky and bounced light reach a surface of upward tilt n_z
with the view factors (1 + n_z)/2 and (1 - n_z)/2 of an open horizon; contact shadows of the sky
are left out.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from simulator.scene.kernels.pack import PackedCards, PackedLights, PackedView
from simulator.scene.kernels.shading import find, grain, shade
from simulator.units import FloatArray, Image

STATIC = 0
EVEN, ALONE, EDGE = 0, 1, 2
BLOCK = 4
"""Samples a side of an even block, whose light is interpolated from its corners if"""
STEEP = 1.3
"""the corners differ by no more than this factor, and"""
BENT = 0.003
"""the centre lies no farther than this share from their mean."""


class Sampling(NamedTuple):
    """A grid of samples: sample (row, column) looks at pixel x0 + (column + 1/2) step, ..."""

    x0: float
    y0: float
    step: float
    rows: int
    columns: int


@njit(cache=True, parallel=True, nogil=True)
def _trace(x0, y0, step, rows, columns, cards, view, static_only):  # type: ignore[no-untyped-def]
    """Surface, material and depth at the centre of every sample."""
    found = np.empty((rows, columns), np.int16)
    mats = np.empty((rows, columns), np.uint8)
    depth = np.empty((rows, columns), np.float32)
    for j in prange(rows):
        y = y0 + (j + 0.5) * step
        for i in range(columns):
            f, m, t = find(x0 + (i + 0.5) * step, y, cards, view, static_only)
            found[j, i] = f
            mats[j, i] = m
            depth[j, i] = t
    return found, mats, depth


@njit(cache=True, parallel=True, nogil=True)
def _find_places(x, y, cards, view, static_only):  # type: ignore[no-untyped-def]
    """As `_trace`, for a list of places."""
    many = x.shape[0]
    found = np.empty(many, np.int16)
    mats = np.empty(many, np.uint8)
    depth = np.empty(many, np.float32)
    for p in prange(many):
        f, m, t = find(x[p], y[p], cards, view, static_only)
        found[p] = f
        mats[p] = m
        depth[p] = t
    return found, mats, depth


@njit(cache=True, parallel=True, nogil=True)
def _light_places(x, y, found, mats, depth, cards, lights, view, weights):  # type: ignore[no-untyped-def]
    """Rates (n, 3) of a list of places, before grain."""
    many = x.shape[0]
    out = np.empty((many, 3), np.float32)
    for p in prange(many):
        r, g, b = shade(
            x[p], y[p], int(found[p]), int(mats[p]), float(depth[p]), cards, lights, view, weights
        )
        out[p, 0], out[p, 1], out[p, 2] = r, g, b
    return out


@njit(cache=True, parallel=True, nogil=True)
def _grain_places(out, x, y, found, depth, cards, view):  # type: ignore[no-untyped-def]
    """Multiply rates (n, 3) by the grain of their surfaces, in place."""
    for p in prange(x.shape[0]):
        factor = grain(x[p], y[p], int(found[p]), float(depth[p]), cards, view)
        for c in range(3):
            out[p, c] *= factor


@njit(cache=True, parallel=True, nogil=True)
def _grain_grid(out, x0, y0, step, found, depth, skip, cards, view):  # type: ignore[no-untyped-def]
    """The same for a whole grid, samples marked in `skip` left out."""
    for j in prange(out.shape[0]):
        for i in range(out.shape[1]):
            if skip[j, i]:
                continue
            x, y = x0 + (i + 0.5) * step, y0 + (j + 0.5) * step
            factor = grain(x, y, int(found[j, i]), float(depth[j, i]), cards, view)
            for c in range(3):
                out[j, i, c] *= factor


@njit(cache=True, parallel=True, nogil=True)
def _sort_samples(found, mats, block):  # type: ignore[no-untyped-def]
    """What each sample is: 0 inside an even block, 1 on its own, 2 on an edge; and even blocks.

    A block is even if its samples and the corners of its neighbours show one thing of one material.
    """
    rows, columns = found.shape
    kind = np.ones((rows, columns), np.uint8)
    for j in prange(rows):
        for i in range(columns):
            f, m = found[j, i], mats[j, i]
            if (
                (i > 0 and (found[j, i - 1] != f or mats[j, i - 1] != m))
                or (i + 1 < columns and (found[j, i + 1] != f or mats[j, i + 1] != m))
                or (j > 0 and (found[j - 1, i] != f or mats[j - 1, i] != m))
                or (j + 1 < rows and (found[j + 1, i] != f or mats[j + 1, i] != m))
            ):
                kind[j, i] = 2
    high, wide = (rows - 1) // block, (columns - 1) // block
    even = np.zeros((high, wide), np.bool_)
    for bj in prange(high):
        for bi in range(wide):
            j0, i0 = bj * block, bi * block
            f, m = found[j0, i0], mats[j0, i0]
            same = True
            for j in range(j0, j0 + block + 1):
                for i in range(i0, i0 + block + 1):
                    if found[j, i] != f or mats[j, i] != m:
                        same = False
            even[bj, bi] = same
    return kind, even


@njit(cache=True, parallel=True, nogil=True)
def _uneven_light(even, corner, centre):  # type: ignore[no-untyped-def]
    """Even blocks whose corners and centre do not agree."""
    out = np.zeros(even.shape, np.uint8)
    for bj in prange(even.shape[0]):
        for bi in range(even.shape[1]):
            if not even[bj, bi]:
                continue
            for c in range(3):
                p, q = corner[bj, bi, c], corner[bj, bi + 1, c]
                s, t = corner[bj + 1, bi, c], corner[bj + 1, bi + 1, c]
                mean = np.float32(0.25) * (p + q + s + t)
                high, low = max(p, q, s, t), min(p, q, s, t)
                if high > STEEP * low or abs(centre[bj, bi, c] - mean) > BENT * mean:
                    out[bj, bi] = 1
    return out


@njit(cache=True, parallel=True, nogil=True)
def _fill_blocks(out, kind, steady, corner, block):  # type: ignore[no-untyped-def]
    """Interpolate the steady blocks; the rest stays to be lit one by one."""
    for bj in prange(steady.shape[0]):
        for bi in range(steady.shape[1]):
            if not steady[bj, bi]:
                continue
            for j in range(block):
                v = np.float32(j) / np.float32(block)
                for i in range(block):
                    u = np.float32(i) / np.float32(block)
                    y, x = bj * block + j, bi * block + i
                    kind[y, x] = EVEN
                    for c in range(3):
                        top = corner[bj, bi, c] * (1 - u) + corner[bj, bi + 1, c] * u
                        low = corner[bj + 1, bi, c] * (1 - u) + corner[bj + 1, bi + 1, c] * u
                        out[y, x, c] = top * (1 - v) + low * v


class _Painter:
    """Paints one traced layer: even parts by blocks, the rest sample by sample, edges split."""

    def __init__(  # type: ignore[no-untyped-def]
        self, sampling, cards, lights, view, weights, mode
    ):
        self.s = sampling
        self.cards, self.lights, self.view, self.weights = cards, lights, view, weights
        self.mode = mode
        s = sampling
        self.found, self.mats, self.depth = _trace(
            s.x0, s.y0, s.step, s.rows, s.columns, cards, view, mode == STATIC
        )
        self.wanted = np.ones((s.rows, s.columns), np.bool_)
        if mode != STATIC:
            self.wanted = self.belongs(self.found)

    def belongs(self, found: NDArray[np.int16]) -> NDArray[np.bool_]:
        """Whether what was found belongs to the movement that is painted."""
        groups = np.append(self.cards.group, [0, 0])  # the ground, and the sky as index -1
        return np.asarray(groups[found] == self.mode)

    def places(self, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> tuple[FloatArray, ...]:
        """Picture places of samples [px]."""
        s = self.s
        return s.x0 + (columns + 0.5) * s.step, s.y0 + (rows + 0.5) * s.step

    def lit(self, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> Image:
        """Rates (n, 3) of samples, before grain."""
        x, y = self.places(rows, columns)
        at = (rows, columns)
        return np.asarray(
            _light_places(
                x, y, self.found[at], self.mats[at], self.depth[at],
                self.cards, self.lights, self.view, self.weights,
            )
        )  # fmt: skip

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
        uneven = cv2.dilate(_uneven_light(even, corner, centre), np.ones((3, 3), np.uint8))
        _fill_blocks(out, kind, even & (uneven == 0), corner, BLOCK)

    def edges(
        self, out: Image, cover: Image, rows: NDArray[np.intp], columns: NDArray[np.intp], fine: int
    ) -> None:
        """Split samples fine x fine, each part traced and lit by itself."""
        if rows.size == 0:
            return
        part = (np.arange(fine) + 0.5) / fine
        px, py = (a.ravel() for a in np.meshgrid(part, part))
        x = (self.s.x0 + (columns[:, None] + px) * self.s.step).ravel()
        y = (self.s.y0 + (rows[:, None] + py) * self.s.step).ravel()
        found, mats, depth = _find_places(x, y, self.cards, self.view, self.mode == STATIC)
        keep = np.ones(x.size, np.bool_) if self.mode == STATIC else self.belongs(found)
        rates = np.zeros((x.size, 3), np.float32)
        k = np.flatnonzero(keep)
        seen = _light_places(
            x[k], y[k], found[k], mats[k], depth[k],
            self.cards, self.lights, self.view, self.weights,
        )  # fmt: skip
        _grain_places(seen, x[k], y[k], found[k], depth[k], self.cards, self.view)
        rates[k] = seen
        out[rows, columns] = rates.reshape(rows.size, fine * fine, 3).mean(axis=1)
        cover[rows, columns] = keep.reshape(rows.size, fine * fine).mean(axis=1)

    def painted(self, fine: int) -> tuple[Image, Image]:
        """Rates (rows, columns, 3) and coverage (rows, columns)."""
        s = self.s
        out = np.zeros((s.rows, s.columns, 3), np.float32)
        cover = self.wanted.astype(np.float32)
        block = BLOCK if fine > 1 else max(s.rows, s.columns)
        kind, even = _sort_samples(self.found, self.mats, block)
        if fine > 1:
            if self.mode != STATIC:
                even &= self.wanted[::BLOCK, ::BLOCK][: even.shape[0], : even.shape[1]]
            self.even_parts(out, kind, even)
            j, i = np.nonzero(kind == EDGE)
            self.edges(out, cover, j, i, fine)
        own = (kind == ALONE if fine > 1 else kind != EVEN) & self.wanted
        j, i = np.nonzero(own)
        out[j, i] = self.lit(j, i)
        if np.any(self.cards.rough[:, 0] > 0.0):
            skip = (kind == EDGE) & (fine > 1) | ~self.wanted
            _grain_grid(
                out, s.x0, s.y0, s.step, self.found, self.depth, skip, self.cards, self.view
            )
        return out, cover


def surfaces_at(places_px: FloatArray, cards: PackedCards, view: PackedView) -> NDArray[np.int16]:
    """Numbers (n,) of the cards seen at places (n, 2); one past the last for the ground, -1 sky."""
    x, y = np.ascontiguousarray(np.asarray(places_px, dtype=np.float64).T)
    return np.asarray(_find_places(x, y, cards, view, False)[0])


def materials_at(
    places_px: FloatArray, cards: PackedCards, view: PackedView
) -> tuple[NDArray[np.int16], NDArray[np.uint8]]:
    """Numbers of the cards (n,) as `surfaces_at` gives them, and of their materials (n,) there."""
    x, y = np.ascontiguousarray(np.asarray(places_px, dtype=np.float64).T)
    found, materials, _ = _find_places(x, y, cards, view, False)
    return found, materials


class Layer(NamedTuple):
    """A traced layer.

    `rate` (rows, columns, 3) [e-/s per pixel], already multiplied by `cover` (rows, columns) in
    [0, 1]; `depth` (rows, columns) along the axis [m], infinite for the sky.
    """

    rate: Image
    cover: Image
    depth: Image


def trace_layer(
    sampling: Sampling,
    cards: PackedCards,
    lights: PackedLights,
    view: PackedView,
    *,
    mode: int,
    fine: int = 4,
    weights: NDArray[np.float64] | None = None,
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
    """
    w = np.ones(lights.kind.shape[0]) if weights is None else np.asarray(weights, np.float64)
    painter = _Painter(sampling, cards, lights, view, w, mode)
    rate, cover = painter.painted(fine)
    return Layer(rate, cover, painter.depth)
