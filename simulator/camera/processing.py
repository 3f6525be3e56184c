"""From the mosaic to eight bits: balance, demosaic, colour, tone, noise reduction, sharpening.

Works on stacks (frames, rows, columns) so that many noisy frames of a small patch cost no more
than one large frame. Demosaic: Malvar, He, Cutler, "High-quality linear interpolation for
demosaicing of Bayer-patterned color images" (ICASSP 2004). Tone: ITU-R BT.709, IEC 61966-2-1.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import cv2
import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from simulator.camera.model import Processing, Sensor
from simulator.camera.sensor import Readout, noise_electrons
from simulator.units import FloatArray, Image

_LUT_SIZE = 4096
LUMA = (0.2126, 0.7152, 0.0722)
"""BT.709 weights of red, green and blue."""


def encode_tone(linear: FloatArray, tone: str) -> FloatArray:
    """Encoded value of linear light in 0..1: "bt709", "srgb" or "linear"."""
    x = np.asarray(linear, dtype=np.float64)
    safe = np.maximum(x, 0.0)
    if tone == "bt709":
        return np.where(x < 0.018, 4.5 * x, 1.099 * safe**0.45 - 0.099)
    if tone == "srgb":
        return np.where(x <= 0.0031308, 12.92 * x, 1.055 * safe ** (1 / 2.4) - 0.055)
    return x


@lru_cache(maxsize=4)
def _tone_table(tone: str) -> Image:
    return encode_tone(np.linspace(0.0, 1.0, _LUT_SIZE), tone).astype(np.float32)


class Planes(NamedTuple):
    """Encoded luma and colour differences, each (frames, rows, columns); None when monochrome."""

    luma: Image
    blue: Image | None
    red: Image | None


@dataclass(frozen=True)
class ColourPath:
    """Balance (3,) and matrix (3, 3) from camera channels to linear BT.709; `mono` for night."""

    balance: FloatArray
    matrix: FloatArray
    mono: bool


@njit(cache=True, inline="always")
def _tone(x, table):  # type: ignore[no-untyped-def]
    if x >= 1.0:
        return table[table.shape[0] - 1]
    if x <= 0.0:
        return x * table[1] * (table.shape[0] - 1)
    p = x * (table.shape[0] - 1)
    i = int(p)
    f = p - i
    return table[i] * (1.0 - f) + table[i + 1] * f


@njit(cache=True, inline="always")
def _malvar(m, j, i, channel):  # type: ignore[no-untyped-def]
    """Red, green and blue at (j, i) of a padded RGGB mosaic; channel 0 R, 1 G in red row, 2 G in
    blue row, 3 B."""
    c = m[j, i]
    near = m[j - 1, i] + m[j + 1, i] + m[j, i - 1] + m[j, i + 1]
    far = m[j - 2, i] + m[j + 2, i] + m[j, i - 2] + m[j, i + 2]
    diagonal = m[j - 1, i - 1] + m[j - 1, i + 1] + m[j + 1, i - 1] + m[j + 1, i + 1]
    if channel % 3 == 0:
        g = (4.0 * c + 2.0 * near - far) * 0.125
        other = (6.0 * c + 2.0 * diagonal - 1.5 * far) * 0.125
        if channel == 0:
            return c, g, other
        return other, g, c
    sides = m[j, i - 1] + m[j, i + 1]
    ends = m[j - 1, i] + m[j + 1, i]
    far_sides = m[j, i - 2] + m[j, i + 2]
    far_ends = m[j - 2, i] + m[j + 2, i]
    across = (5.0 * c + 4.0 * sides - diagonal - far_sides + 0.5 * far_ends) * 0.125
    along = (5.0 * c + 4.0 * ends - diagonal - far_ends + 0.5 * far_sides) * 0.125
    if channel == 1:
        return across, c, along
    return along, c, across


@njit(cache=True, parallel=True, nogil=True)
def _balance(mosaic, black, scale, balance, y0, x0, pad):  # type: ignore[no-untyped-def]
    """Balanced mosaic, white at one, with a mirrored border of `pad` that keeps the pattern."""
    frames, rows, columns = mosaic.shape
    out = np.empty((frames, rows + 2 * pad, columns + 2 * pad), np.float32)
    for job in prange(frames * (rows + 2 * pad)):
        b, jj = job // (rows + 2 * pad), job % (rows + 2 * pad)
        j = jj - pad
        if j < 0:
            j = -j
        elif j >= rows:
            j = 2 * rows - 2 - j
        odd = (y0 + j) & 1
        for ii in range(columns + 2 * pad):
            i = ii - pad
            if i < 0:
                i = -i
            elif i >= columns:
                i = 2 * columns - 2 - i
            gain = balance[odd + ((x0 + i) & 1)] * scale
            out[b, jj, ii] = (np.float32(mosaic[b, j, i]) - black) * gain
    return out


@njit(cache=True, parallel=True, nogil=True)
def _colour_planes(mosaic, matrix, table, y0, x0):  # type: ignore[no-untyped-def]
    frames, rows, columns = mosaic.shape[0], mosaic.shape[1] - 4, mosaic.shape[2] - 4
    luma = np.empty((frames, rows, columns), np.float32)
    blue = np.empty((frames, rows, columns), np.float32)
    red = np.empty((frames, rows, columns), np.float32)
    for job in prange(frames * rows):
        b, j = job // rows, job % rows
        m = mosaic[b]
        for i in range(columns):
            channel = 2 * ((y0 + j) & 1) + ((x0 + i) & 1)
            r, g, bl = _malvar(m, j + 2, i + 2, channel)
            r, g, bl = min(r, 1.0), min(g, 1.0), min(bl, 1.0)
            er = _tone(matrix[0, 0] * r + matrix[0, 1] * g + matrix[0, 2] * bl, table)
            eg = _tone(matrix[1, 0] * r + matrix[1, 1] * g + matrix[1, 2] * bl, table)
            eb = _tone(matrix[2, 0] * r + matrix[2, 1] * g + matrix[2, 2] * bl, table)
            y = 0.2126 * er + 0.7152 * eg + 0.0722 * eb
            luma[b, j, i] = y
            blue[b, j, i] = (eb - y) / 1.8556
            red[b, j, i] = (er - y) / 1.5748
    return luma, blue, red


@njit(cache=True, parallel=True, nogil=True)
def _mono_plane(mosaic, table, y0, x0):  # type: ignore[no-untyped-def]
    frames, rows, columns = mosaic.shape[0], mosaic.shape[1] - 4, mosaic.shape[2] - 4
    luma = np.empty((frames, rows, columns), np.float32)
    for job in prange(frames * rows):
        b, j = job // rows, job % rows
        m = mosaic[b]
        for i in range(columns):
            channel = 2 * ((y0 + j) & 1) + ((x0 + i) & 1)
            r, g, bl = _malvar(m, j + 2, i + 2, channel)
            mean = 0.25 * (min(r, 1.0) + 2.0 * min(g, 1.0) + min(bl, 1.0))
            luma[b, j, i] = _tone(mean, table)
    return luma


def demosaic(mosaic: Image, origin_px: tuple[int, int] = (0, 0)) -> Image:
    """Linear RGB (rows, columns, 3) of an RGGB mosaic (rows, columns), Malvar-He-Cutler."""
    padded = _balance(mosaic[None], 0.0, 1.0, np.ones(3, np.float32), origin_px[1], origin_px[0], 2)
    return np.asarray(_demosaic(padded[0], origin_px[1], origin_px[0]))


@njit(cache=True, nogil=True)
def _demosaic(m, y0, x0):  # type: ignore[no-untyped-def]
    rows, columns = m.shape[0] - 4, m.shape[1] - 4
    out = np.empty((rows, columns, 3), np.float32)
    for j in range(rows):
        for i in range(columns):
            channel = 2 * ((y0 + j) & 1) + ((x0 + i) & 1)
            out[j, i, 0], out[j, i, 1], out[j, i, 2] = _malvar(m, j + 2, i + 2, channel)
    return out


def develop(
    mosaic: NDArray[np.uint16],
    chain: Readout,
    colour: ColourPath,
    tone: str,
    origin_px: tuple[int, int] = (0, 0),
) -> Planes:
    """Encoded planes of mosaics (frames, rows, columns) [DN]."""
    x0, y0 = origin_px
    scale = np.float32(1.0 / (chain.white_dn - chain.black_dn))
    balance = colour.balance.astype(np.float32)
    padded = _balance(mosaic, np.float32(chain.black_dn), scale, balance, y0, x0, 2)
    table = _tone_table(tone)
    if colour.mono:
        return Planes(_mono_plane(padded, table, y0, x0), None, None)
    return Planes(*_colour_planes(padded, colour.matrix.astype(np.float32), table, y0, x0))


def noise_table(sensor: Sensor, chain: Readout, shutter_s: float, tone: str) -> Image:
    """Noise of the encoded luma by its level (256,): what the camera expects of its own sensor.

    The sensor's temporal noise at each linear level, times the slope of the tone curve; demosaic
    averages neighbours and so keeps about 0.75 of it (mean of the squared kernel weights, computed
    for the green kernel).
    """
    linear = np.linspace(0.0, 1.0, 2048)
    encoded = encode_tone(linear, tone)
    sigma = noise_electrons(linear * chain.white_e, sensor, chain, shutter_s)
    slope = np.gradient(encoded, linear)
    wanted = np.linspace(0.0, 1.0, 256)
    return (0.75 * np.interp(wanted, encoded, sigma / chain.white_e * slope)).astype(np.float32)


@njit(cache=True, parallel=True, nogil=True, fastmath=True)
def _smooth(luma, noise, reach, strength):  # type: ignore[no-untyped-def]
    """Mean over a window, each neighbour weighed by how well the noise explains its difference."""
    frames, rows, columns = luma.shape
    out = np.empty_like(luma)
    one = np.float32(1.0)
    for job in prange(frames * rows):
        b, j = job // rows, job % rows
        sharp = np.empty(columns, np.float32)
        total = np.zeros(columns, np.float32)
        weight = np.zeros(columns, np.float32)
        for i in range(columns):
            level = min(255, max(0, int(luma[b, j, i] * np.float32(255.0))))
            s = strength * noise[level]
            sharp[i] = one / (s * s + np.float32(1e-12))
        for dj in range(-reach, reach + 1):
            y = min(rows - 1, max(0, j + dj))
            for di in range(-reach, reach + 1):
                # slices without a test on the border, so that the loop becomes vector code
                first, last = max(0, -di), min(columns, columns - di)
                here, there = luma[b, j, first:last], luma[b, y, first + di : last + di]
                k, t, n = sharp[first:last], total[first:last], weight[first:last]
                for i in range(last - first):
                    d = there[i] - here[i]
                    w = one / (one + d * d * k[i])
                    w = w * w
                    t[i] += w * there[i]
                    n[i] += w
        for i in range(columns):
            out[b, j, i] = total[i] / weight[i]
    return out


@njit(cache=True, parallel=True, nogil=True, fastmath=True)
def _follow(new, old, luma, noise, share):  # type: ignore[no-untyped-def]
    """Recursive mean over time where the change is no larger than the noise at that luma."""
    frames, rows, columns = new.shape
    out = np.empty_like(new)
    for job in prange(frames * rows):
        b, j = job // rows, job % rows
        for i in range(columns):
            c = new[b, j, i]
            level = min(255, max(0, int(luma[b, j, i] * 255.0)))
            s = np.float32(3.0) * noise[level] + np.float32(1e-6)
            d = (old[b, j, i] - c) / s
            w = share / (np.float32(1.0) + d * d * d * d)
            out[b, j, i] = c + w * (old[b, j, i] - c)
    return out


def reduce_noise(planes: Planes, noise: Image, settings: Processing) -> Planes:
    """Spatial noise reduction: luma by a noise-weighted window, colour by a Gaussian."""
    strength = settings.noise_reduction
    if strength <= 0.0:
        return planes
    reach = 1 if strength < 0.3 else 2
    luma = _smooth(planes.luma, noise, reach, np.float32(4.0 * strength))
    if planes.blue is None or planes.red is None:
        return Planes(luma, None, None)
    sigma = 0.6 + 2.0 * strength
    blue, red = (
        np.stack([cv2.GaussianBlur(p, (0, 0), sigma, borderType=cv2.BORDER_REFLECT) for p in stack])
        for stack in (planes.blue, planes.red)
    )
    return Planes(luma, blue, red)


def follow(new: Planes, old: Planes, noise: Image, settings: Processing) -> Planes:
    """Temporal noise reduction: motion-adaptive recursion of this frame on the last output."""
    share = np.float32(settings.temporal_noise_reduction)
    if share <= 0.0:
        return new
    luma = _follow(new.luma, old.luma, new.luma, noise, share)
    if new.blue is None or new.red is None or old.blue is None or old.red is None:
        return Planes(luma, None, None)
    return Planes(
        luma,
        _follow(new.blue, old.blue, new.luma, noise, share),
        _follow(new.red, old.red, new.luma, noise, share),
    )


@njit(cache=True, parallel=True, nogil=True)
def _to_bytes(luma, blue, red, colour):  # type: ignore[no-untyped-def]
    frames, rows, columns = luma.shape
    out = np.empty((frames, rows, columns, 3), np.uint8)
    for job in prange(frames * rows):
        b, j = job // rows, job % rows
        for i in range(columns):
            y = luma[b, j, i]
            if colour:
                r = y + 1.5748 * red[b, j, i]
                bl = y + 1.8556 * blue[b, j, i]
                g = (y - 0.2126 * r - 0.0722 * bl) / 0.7152
            else:
                r = g = bl = y
            out[b, j, i, 0] = np.uint8(min(255.0, max(0.0, r * 255.0 + 0.5)))
            out[b, j, i, 1] = np.uint8(min(255.0, max(0.0, g * 255.0 + 0.5)))
            out[b, j, i, 2] = np.uint8(min(255.0, max(0.0, bl * 255.0 + 0.5)))
    return out


def finish(planes: Planes, settings: Processing, height_px: int) -> NDArray[np.uint8]:
    """Sharpen, limit the bandwidth of an analogue output, and quantise.

    Returns
    -------
    uint8 array (frames, rows, columns, 3), full range, RGB.
    """
    luma = planes.luma
    if settings.sharpening > 0.0:
        luma = np.stack([_sharpen(plane, settings.sharpening) for plane in luma])
    # a limit beyond the Nyquist frequency (lines >= rows) takes nothing from what pixels hold
    if settings.analogue_tv_lines is not None and settings.analogue_tv_lines < height_px:
        row = _line_filter(settings.analogue_tv_lines / (2.0 * height_px))
        luma = np.stack([cv2.sepFilter2D(p, cv2.CV_32F, row, np.ones(1, np.float32)) for p in luma])
    none = np.zeros((1, 1, 1), np.float32)
    if planes.blue is None or planes.red is None:
        return np.asarray(_to_bytes(luma, none, none, False))
    return np.asarray(_to_bytes(luma, planes.blue, planes.red, True))


def _sharpen(plane: Image, amount: float) -> Image:
    """Unsharp mask: Y + amount (Y - Gaussian(Y, 1 px))."""
    soft = cv2.GaussianBlur(plane, (0, 0), 1.0, borderType=cv2.BORDER_REFLECT)
    return np.asarray(cv2.addWeighted(plane, 1.0 + amount, soft, -amount, 0.0), dtype=np.float32)


@lru_cache(maxsize=8)
def _line_filter(cutoff: float) -> Image:
    """Low-pass along a row (15 taps, Hamming window) that passes half at `cutoff` [cycles/px].

    One TV line is half a cycle, so the limit of n TV lines per picture height lies at n / (2 H).
    """
    n = np.arange(-7, 8)
    taps = 2 * cutoff * np.sinc(2 * cutoff * n) * np.hamming(15)
    return (taps / taps.sum()).astype(np.float32)
