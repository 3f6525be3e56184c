"""What belongs to a pixel or column of one sensor and stays from frame to frame, by its place."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.camera.draws import mix, normal, uniform
from simulator.camera.model import Sensor
from simulator.kernels import kernel
from simulator.units import FloatArray

FIXED_PATTERN_KEY = 0x5EED


class HotPixels(NamedTuple):
    """Hot pixels of a part of the sensor, row by row.

    `first` (rows + 1,) where each row begins in the list; `column` (n,) counted from the left of
    the part, `share` (n,) of the mean dark current of hot pixels.
    """

    first: NDArray[np.int64]
    column: NDArray[np.int64]
    share: FloatArray


@kernel
def _find_hot(y0, x0, rows, columns, chance, fixed_key, first, column, share):  # type: ignore[no-untyped-def]
    """Fill in the hot pixels as far as they fit, and count them all."""
    key = (np.uint64(fixed_key) + np.uint64(1)) * np.uint64(0xD1342543DE82EF95)
    n = 0
    for j in range(rows):
        for i in range(columns):
            h = mix(key + np.uint64((y0 + j) * 65536 + x0 + i))
            if h < chance:
                if n < column.shape[0]:
                    _, u = uniform(h)
                    column[n], share[n] = i, -math.log(u)
                n += 1
        first[j + 1] = n
    return n


def pattern_key(piece: int) -> int:
    """Key of the fixed pattern; columns and hot pixels use the next two."""
    return FIXED_PATTERN_KEY + 16 * piece


def hot_pixels(
    sensor: Sensor, origin_px: tuple[int, int], rows: int, columns: int, piece: int = 0
) -> HotPixels:
    """Hot pixels of a part of the sensor: places fixed by a hash, currents exponential, mean one.

    That their dark currents have a long, about exponential tail is common practice, no source.
    """
    chance = sensor.hot_pixels_per_million * 1e-6
    if chance <= 0.0:
        return HotPixels(np.zeros(rows + 1, np.int64), np.zeros(0, np.int64), np.zeros(0))
    x0, y0 = origin_px
    limit = np.uint64(chance * 2.0**64)
    first = np.zeros(rows + 1, np.int64)
    room = int(1.2 * chance * rows * columns) + 64
    while True:
        column, share = np.empty(room, np.int64), np.empty(room)
        key = pattern_key(piece)
        n = _find_hot(y0, x0, rows, columns, limit, key, first, column, share)
        if n <= room:
            return HotPixels(first, column[:n], share[:n])
        room = n


@kernel(allocates=True)
def column_offsets(x0, columns, fixed_key):  # type: ignore[no-untyped-def]
    key = (np.uint64(fixed_key) + np.uint64(2)) * np.uint64(0xD1342543DE82EF95)
    out = np.empty(columns, np.float64)
    for i in range(columns):
        _, out[i] = normal(mix(key + np.uint64(x0 + i)))
    return out
