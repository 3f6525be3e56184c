"""Defect correction: a pixel far off all its neighbours of the same colour takes their median."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.camera.model import Sensor
from simulator.camera.sensor_readout import Readout, noise_electrons
from simulator.kernels import helper, kernel, over_rows

DEVIATIONS = 6.0
"""Noise deviations beyond the outermost neighbour that make a pixel a defect (assumed)."""


@helper
def _cut(i, n):  # type: ignore[no-untyped-def]
    """Place of a neighbour; beyond the border the one across, two pixels inside."""
    if i < 0:
        return i + 4
    return i - 4 if i >= n else i


@helper
def _median_of_8(m, j, i, around):  # type: ignore[no-untyped-def]
    rows, columns = m.shape
    n = 0
    for dj in (-2, 0, 2):
        for di in (-2, 0, 2):
            if dj != 0 or di != 0:
                around[n] = m[_cut(j + dj, rows), _cut(i + di, columns)]
                n += 1
    # eight values by insertion: a library sort takes longer to compile than all the rest
    for k in range(1, 8):
        v = around[k]
        p = k
        while p > 0 and around[p - 1] > v:
            around[p] = around[p - 1]
            p -= 1
        around[p] = v
    return around[0], np.float32(0.5) * (around[3] + around[4]), around[7]


@kernel(allocates=True, fastmath=True)
def _correct(begin, end, mosaic, black, dark, gain, out):  # type: ignore[no-untyped-def]
    """`dark` and `gain` [DN^2, DN^2/DN]: the limit squared at black, and its growth with level."""
    _, rows, columns = mosaic.shape
    dark = dark - gain * black
    one = np.float32(1.0)
    suspect = np.empty(columns, np.uint8)
    around = np.empty(8, np.float32)
    for job in range(begin, end):
        b, j = job // rows, job % rows
        m = mosaic[b]
        for i in range(columns):
            out[b, j, i] = m[j, i]
            suspect[i] = 1
        inner = suspect[2 : columns - 2]
        here, up, down = m[j, 2 : columns - 2], m[_cut(j - 2, rows)], m[_cut(j + 2, rows)]
        up, down = up[2 : columns - 2], down[2 : columns - 2]
        left, right = m[j, : columns - 4], m[j, 4:]
        # four neighbours first, without a branch, so that the loop becomes vector code
        for i in range(columns - 4):
            c = np.int32(here[i])
            w, e = np.int32(left[i]), np.int32(right[i])
            n, s = np.int32(up[i]), np.int32(down[i])
            top, low = max(max(w, e), max(n, s)), min(min(w, e), min(n, s))  # noqa: PLW3301
            over, under = one * max(0, c - top), one * max(0, low - c)  # type: ignore[operator]
            far = over * over > dark + gain * np.float32(top)
            inner[i] = far | (under * under > dark + gain * np.float32(c))
        for i in range(columns):
            if suspect[i]:
                first, middle, last = _median_of_8(m, j, i, around)
                own = np.float32(m[j, i])
                off = max(own - last, first - own)
                edge = last if own > last else first
                if off > last - first and off * off > dark + gain * max(edge, black):
                    out[b, j, i] = np.uint16(middle + np.float32(0.5))


def correct_defects(
    mosaic: NDArray[np.uint16], sensor: Sensor, chain: Readout, shutter_s: float
) -> NDArray[np.uint16]:
    """Mosaics (frames, rows, columns) [DN] without pixels that stand out alone.

    A pixel is a defect if it lies beyond all eight neighbours of its colour by more than
    `DEVIATIONS` of the noise expected at the nearest of them in level, and by more than they differ
    among themselves. It takes their median. Points of light as small as a pixel are lost with the
    defects, as in real cameras.
    """
    if mosaic.shape[1] < 5 or mosaic.shape[2] < 5:
        return mosaic
    dark = float(noise_electrons(0.0, sensor, chain, shutter_s)) * chain.dn_per_e
    out = np.empty_like(mosaic)
    over_rows(
        _correct,
        mosaic.shape[0] * mosaic.shape[1],
        mosaic,
        np.float32(chain.black_dn),
        np.float32((DEVIATIONS * dark) ** 2),
        np.float32(DEVIATIONS**2 * chain.dn_per_e),
        out,
    )
    return out
