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

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from simulator.scene.pack import PackedCards, PackedLights, PackedView
from simulator.scene.shading import find, shade
from simulator.units import Image

STATIC = 0


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
def _paint(  # type: ignore[no-untyped-def]
    x0, y0, step, found, mats, depth, cards, lights, view, weights, mode, fine
):
    """Rates (rows, columns, 3) and coverage; samples on an edge are split fine x fine."""
    rows, columns = found.shape
    n = cards.offset.shape[0]
    out = np.empty((rows, columns, 3), np.float32)
    cover = np.empty((rows, columns), np.float32)
    static_only = mode == STATIC
    for j in prange(rows):
        y = y0 + (j + 0.5) * step
        for i in range(columns):
            x = x0 + (i + 0.5) * step
            f, m = found[j, i], mats[j, i]
            edge = False
            if fine > 1:
                for dj, di in ((0, -1), (0, 1), (-1, 0), (1, 0)):
                    y_, x_ = j + dj, i + di
                    if (
                        0 <= y_ < rows
                        and 0 <= x_ < columns
                        and (found[y_, x_] != f or mats[y_, x_] != m)
                    ):
                        edge = True
            split = fine if edge else 1
            share = 1.0 / (split * split)
            r, g, b, c = 0.0, 0.0, 0.0, 0.0
            for k in range(split * split):
                sx, sy, sf, sm, st = x, y, int(f), int(m), float(depth[j, i])
                if edge:
                    sx = x0 + (i + (k % split + 0.5) * share * split) * step
                    sy = y0 + (j + (k // split + 0.5) * share * split) * step
                    sf, sm, st = find(sx, sy, cards, view, static_only)
                if mode != STATIC and not (0 <= sf < n and cards.group[sf] == mode):
                    continue
                sr, sg, sb = shade(sx, sy, sf, sm, st, cards, lights, view, weights)
                r += sr
                g += sg
                b += sb
                c += 1.0
            out[j, i, 0], out[j, i, 1], out[j, i, 2] = r * share, g * share, b * share
            cover[j, i] = c * share
    return out, cover


def surface_at(x_px: float, y_px: float, cards: PackedCards, view: PackedView) -> int:
    """Number of the card seen at a place of the picture; n for the ground, -1 for the sky."""
    found, _, _ = _trace(x_px - 0.5, y_px - 0.5, 1.0, 1, 1, cards, view, False)
    return int(found[0, 0])


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
    s = sampling
    found, mats, depth = _trace(s.x0, s.y0, s.step, s.rows, s.columns, cards, view, mode == STATIC)
    rate, cover = _paint(s.x0, s.y0, s.step, found, mats, depth, cards, lights, view, w, mode, fine)
    return Layer(rate, cover, depth)
