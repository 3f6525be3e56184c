"""Kernels of the readers: windows sampled from pictures, their own noise, the best template."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.draws import mix, normal
from simulator.judge.readers.templates import SHIFTS, Templates
from simulator.kernels import kernel, over_rows
from simulator.units import FloatArray, Image

CHUNK = 64
"""Frames matched at a time."""
NEAR = 0.15
"""Neighbours stand at the usual gap if they do so within this share of a character (assumed)."""


def soften(frames: Image, sigma_px: float) -> Image:
    """Gaussian blur of frames (n, rows, columns)."""
    if sigma_px <= 0.05:
        return frames
    return np.stack(
        [cv2.GaussianBlur(f, (0, 0), sigma_px, borderType=cv2.BORDER_REPLICATE) for f in frames]
    )


def sample_windows(frames: Image, maps: FloatArray, rows: int, columns: int) -> Image:
    """Windows (frames, characters, rows, columns) by bilinear interpolation.

    `maps` (characters, 3, 3) take window samples (column, row, 1) to pixels of the frames, whose
    centres lie at halves.
    """
    out = np.empty((len(frames), len(maps), rows, columns), np.float32)
    over_rows(_sample_windows, len(frames), frames, maps, out, least=1)
    return out


@kernel(fastmath=True)
def _sample_windows(first, last, frames, maps, out):  # type: ignore[no-untyped-def]
    _, high, wide = frames.shape
    _, characters, rows, columns = out.shape
    for t in range(first, last):
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


def add_noise(windows: Image, sigma: FloatArray, seed: np.uint64, first: int) -> None:
    """Add white normal noise of `sigma`, (characters,) or (frames, characters), to windows (frames,
    characters, ...)."""
    each = np.ascontiguousarray(np.broadcast_to(sigma, windows.shape[:2]))
    over_rows(_add_noise, len(windows), windows, each, seed, first, least=1)


@kernel
def _add_noise(begin, end, windows, sigma, seed, first):  # type: ignore[no-untyped-def]
    _, characters, rows, columns = windows.shape
    for t in range(begin, end):
        state = mix(np.uint64(seed) * np.uint64(0xD1342543DE82EF95) + np.uint64(first + t))
        for c in range(characters):
            for r in range(rows):
                for q in range(columns):
                    state, draw = normal(state)
                    windows[t, c, r, q] += np.float32(sigma[t, c] * draw)


def place_offsets(seen: Image, templates: Templates, step: float) -> FloatArray:
    """What is added to the scores under each shift (characters, shifts): half of the likelihood's
    square of what is seen there, so that no place wins by what stands beside the letter.

    `seen` are the mean windows (characters, rows, columns), `step` from paper to ink [levels].
    """
    rows, columns = templates.rows, templates.columns
    out = []
    for r, q in SHIFTS:
        x = seen[:, r : r + rows, q : q + columns].reshape(len(seen), -1)
        x = x - x.mean(axis=1, keepdims=True)
        out.append(((x @ templates.precision) * x).sum(axis=1) * (-0.5 / step**2))
    return np.stack(out, axis=1).astype(np.float64)


def best_symbols(windows: Image, templates: Templates, step: float) -> NDArray[np.int64]:
    """Likeliest symbol (frames, characters) of windows (frames, characters, rows, columns).

    The score of a template under a shift is its likelihood (`templates_of`); the part that is
    quadratic in what is seen is taken from the mean over the frames.
    """
    frames, characters = windows.shape[:2]
    rows, columns = templates.rows, templates.columns
    flat = np.ascontiguousarray(templates.values.T) * np.float32(1.0 / step)
    offsets = place_offsets(windows.mean(axis=0), templates, step).astype(np.float32)
    pieces = np.lib.stride_tricks.sliding_window_view(windows, (rows, columns), axis=(2, 3))
    out = np.zeros((frames, characters), np.int64)
    top = np.full((frames, characters), -np.inf, np.float32)
    for s, (r, q) in enumerate(SHIFTS):
        for start in range(0, frames, CHUNK):
            part = slice(start, start + CHUNK)
            some = np.ascontiguousarray(pieces[part, :, r, q]).reshape(-1, rows * columns)
            scores = some @ flat - templates.bias
            best = scores.argmax(axis=1)
            value = scores[np.arange(len(scores)), best].reshape(-1, characters) + offsets[:, s]
            better = value > top[part]
            top[part] = np.where(better, value, top[part])
            symbols = templates.symbols[best].reshape(-1, characters)
            out[part] = np.where(better, symbols, out[part])
    return out


def near_neighbours(cells_px: FloatArray, gap_share: float) -> NDArray[np.bool_]:
    """Whether each character (n - 1,) but the last has the next one beside it at the usual gap.

    Parameters
    ----------
    cells_px
        Corners (n, 4, 2) of the characters in the order of reading [px].
    gap_share
        The usual gap over the width of a character.
    """
    across = cells_px[:-1, 1] - cells_px[:-1, 0]
    down = cells_px[:-1, 3] - cells_px[:-1, 0]
    gap = cells_px[1:, 0] - cells_px[:-1, 1]
    along = (gap * across).sum(axis=1) / (across**2).sum(axis=1)
    below = (gap * down).sum(axis=1) / (down**2).sum(axis=1)
    return np.asarray((np.abs(along - gap_share) < NEAR) & (np.abs(below) < NEAR))


def without_neighbours(
    windows: Image,
    letters: NDArray[np.int64],
    near: NDArray[np.bool_],
    templates: Templates,
    step: float,
) -> Image:
    """Windows (frames, characters, rows, columns) less what their neighbours run into them.

    Parameters
    ----------
    letters
        What each character (frames, characters) is taken for, as places in the alphabet.
    near
        Which characters (characters - 1,) have the next one beside them.
    step
        From paper to ink [levels].
    """
    out = windows.copy()
    none = templates.beside.shape[1] - 1
    scaled = templates.beside * np.float32(step)
    last = letters.shape[1] - 1
    for c in range(last + 1):
        left = letters[:, c - 1] if c > 0 and near[c - 1] else np.full(len(letters), none)
        right = letters[:, c + 1] if c < last and near[c] else np.full(len(letters), none)
        out[:, c] -= scaled[0][left] + scaled[1][right]
    return out


def window_maps(cells_px: FloatArray, corners: FloatArray) -> FloatArray:
    """Homographies (n, 3, 3) from window samples to pixels, for cells (n, 4, 2)."""
    source = corners.astype(np.float32)
    return np.stack(
        [cv2.getPerspectiveTransform(source, cell.astype(np.float32)) for cell in cells_px]
    ).astype(np.float64)
