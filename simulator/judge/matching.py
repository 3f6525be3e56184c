"""Kernels of the readers: windows sampled from pictures, their own noise, the best template."""

from __future__ import annotations

import cv2
import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from simulator.camera.draws import mix, normal
from simulator.judge.templates import SHIFTS, Templates
from simulator.units import FloatArray, Image

CHUNK = 64
"""Frames matched at a time."""


def soften(frames: Image, sigma_px: float) -> Image:
    """Gaussian blur of frames (n, rows, columns)."""
    if sigma_px <= 0.05:
        return frames
    return np.stack(
        [cv2.GaussianBlur(f, (0, 0), sigma_px, borderType=cv2.BORDER_REPLICATE) for f in frames]
    )


@njit(cache=True, parallel=True, nogil=True, fastmath=True)
def sample_windows(frames, maps, rows, columns):  # type: ignore[no-untyped-def]
    """Windows (frames, characters, rows, columns) by bilinear interpolation.

    `maps` (characters, 3, 3) take window samples (column, row, 1) to pixels of the frames, whose
    centres lie at halves.
    """
    count, high, wide = frames.shape
    characters = maps.shape[0]
    out = np.empty((count, characters, rows, columns), np.float32)
    for t in prange(count):
        for c in range(characters):
            m = maps[c]
            for r in range(rows):
                for q in range(columns):
                    w = m[2, 0] * q + m[2, 1] * r + m[2, 2]
                    x = (m[0, 0] * q + m[0, 1] * r + m[0, 2]) / w - 0.5
                    y = (m[1, 0] * q + m[1, 1] * r + m[1, 2]) / w - 0.5
                    x = min(wide - 1.001, max(0.0, x))
                    y = min(high - 1.001, max(0.0, y))
                    ix, iy = int(x), int(y)
                    fx, fy = np.float32(x - ix), np.float32(y - iy)
                    one = np.float32(1.0)
                    top = frames[t, iy, ix] * (one - fx) + frames[t, iy, ix + 1] * fx
                    low = frames[t, iy + 1, ix] * (one - fx) + frames[t, iy + 1, ix + 1] * fx
                    out[t, c, r, q] = top * (one - fy) + low * fy
    return out


@njit(cache=True, parallel=True, nogil=True)
def add_noise(windows, sigma, seed, first):  # type: ignore[no-untyped-def]
    """Add white normal noise of `sigma` (characters,) to windows (frames, characters, ...)."""
    count, characters, rows, columns = windows.shape
    for t in prange(count):
        state = mix(np.uint64(seed) * np.uint64(0xD1342543DE82EF95) + np.uint64(first + t))
        for c in range(characters):
            for r in range(rows):
                for q in range(columns):
                    state, draw = normal(state)
                    windows[t, c, r, q] += np.float32(sigma[c] * draw)


def best_symbols(windows: Image, templates: Templates) -> NDArray[np.int64]:
    """Symbol (frames, characters) of the template that correlates best with each window (frames,
    characters, rows, columns), over all shifts.

    Templates have zero mean and unit norm, and what lies under a shifted template is divided by
    its own spread, the root mean square over the frames, so that level and contrast do not matter
    and no place wins by what stands beside the letter.
    """
    frames, characters = windows.shape[:2]
    rows, columns = templates.rows, templates.columns
    flat = np.ascontiguousarray(templates.values.T)
    pieces = np.lib.stride_tricks.sliding_window_view(windows, (rows, columns), axis=(2, 3))
    out = np.zeros((frames, characters), np.int64)
    top = np.full((frames, characters), -np.inf, np.float32)
    for r, q in SHIFTS:
        spread = np.sqrt(pieces[:, :, r, q].var(axis=(2, 3)).mean(axis=0)) + 1e-6
        for start in range(0, frames, CHUNK):
            part = slice(start, start + CHUNK)
            some = np.ascontiguousarray(pieces[part, :, r, q]).reshape(-1, rows * columns)
            scores = some @ flat
            best = scores.argmax(axis=1)
            value = scores[np.arange(len(scores)), best].reshape(-1, characters) / spread
            better = value > top[part]
            top[part] = np.where(better, value, top[part])
            found = templates.symbols[best].reshape(-1, characters)
            out[part] = np.where(better, found, out[part])
    return out


def window_maps(cells_px: FloatArray, corners: FloatArray) -> FloatArray:
    """Homographies (n, 3, 3) from window samples to pixels, for cells (n, 4, 2)."""
    source = corners.astype(np.float32)
    return np.stack(
        [cv2.getPerspectiveTransform(source, cell.astype(np.float32)) for cell in cells_px]
    ).astype(np.float64)
