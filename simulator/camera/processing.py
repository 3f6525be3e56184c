"""From the mosaic to eight bits: balance, demosaic, colour, tone, noise reduction, sharpening.

Works on stacks (frames, rows, columns) so that many noisy frames of a small patch cost no more
than one large frame. The steps with a theory of their own stand in files of their own: `defects`,
`demosaic`, `tone`, `local_tone`, `denoise`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.colour_path import LUMA, ColourPath
from simulator.camera.demosaic import brightest, demosaic, malvar
from simulator.camera.denoise import Planes, follow, noise_table, reduce_noise, wide_noise_table
from simulator.camera.local_tone import ToneMap, base_gain, guide_of
from simulator.camera.model import Processing
from simulator.camera.sensor_readout import Readout
from simulator.camera.tone import Tone, as_tone, encode_tone, look_up, tone_of, tone_table
from simulator.kernels import helper, kernel, over_rows
from simulator.units import Image

__all__ = [
    "LUMA",
    "ColourPath",
    "Planes",
    "Tone",
    "demosaic",
    "develop",
    "develop_wide",
    "encode_tone",
    "finish",
    "follow",
    "noise_table",
    "reduce_noise",
    "saturation_at",
    "tone_of",
    "wide_noise_table",
]

BORDER = 2
"""Mirrored pixels around a mosaic that the demosaic reads."""
WHITE_FROM = np.float32(0.8)
"""Share of white from which on highlights fall to neutral (assumed)."""
NEUTRAL_FROM, NEUTRAL_WHOLE = np.float32(0.45), np.float32(0.8)
"""Shares of white of the least channel from which on it lets them (assumed)."""
BLOWN_FROM = np.float32(0.85)
"""Share of white that the brightest of each colour have where all is blown out (assumed)."""
PEAK_FROM, PEAK_WHOLE = np.float32(0.35), np.float32(0.5)
DARK_UNTIL, DARK_NOT_FROM = np.float32(0.45), np.float32(0.7)
"""Edges are steep if their bright side reaches the first shares of white, and a pixel lies on the
dark side if it is below the second shares of that (assumed)."""


@kernel
def _balance(  # type: ignore[no-untyped-def]
    first, last, mosaic, black, scale, balance, y0, x0, pad, white, out
):
    """Balanced mosaic, white at one, with a mirrored border of `pad` that keeps the pattern.

    Cut at `white` in every channel alike: what lies beyond in a channel of large gain would pull
    the demosaic's corrections of its neighbours down.
    """
    _, rows, columns = mosaic.shape
    for job in range(first, last):
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
            out[b, jj, ii] = min((np.float32(mosaic[b, j, i]) - black) * gain, white)


@helper
def _smooth_step(x, low, high):  # type: ignore[no-untyped-def]
    t = min(max((x - low) / (high - low), np.float32(0.0)), np.float32(1.0))
    return t * t * (np.float32(3.0) - np.float32(2.0) * t)


@helper
def _to_neutral(r, g, b, peak, blown, white, er, eg, eb):  # type: ignore[no-untyped-def]
    """Colours (er, eg, eb) that fall to neutral where the channels (r, g, b) tell it no more.

    Where one channel ends at white and none is far below, what ends has lost its share of the
    colour: near neutral already, it becomes white. On the dark side of a steep edge, and where all
    around is blown out (`peak` and `blown`, see `brightest`), red, green and blue pixels hold
    unlike shares of the edge: their difference is no colour, and only the luma is kept.
    """
    top = max(r, g, b)
    t = _smooth_step(top, WHITE_FROM * white, white)
    t *= _smooth_step(min(r, g, b), NEUTRAL_FROM * white, NEUTRAL_WHOLE * white)
    er, eg, eb = er + t * (top - er), eg + t * (top - eg), eb + t * (top - eb)
    beside = _smooth_step(peak, PEAK_FROM * white, PEAK_WHOLE * white)
    beside *= np.float32(1.0) - _smooth_step(top, DARK_UNTIL * peak, DARK_NOT_FROM * peak)
    e = max(beside, _smooth_step(blown, BLOWN_FROM * white, white))
    y = np.float32(0.2126) * er + np.float32(0.7152) * eg + np.float32(0.0722) * eb
    return er + e * (y - er), eg + e * (y - eg), eb + e * (y - eb)


@kernel
def _colour_planes(  # type: ignore[no-untyped-def]
    first, last, mosaic, matrix, white, table, y0, x0, luma, blue, red
):
    rows, columns = mosaic.shape[1] - 4, mosaic.shape[2] - 4
    for job in range(first, last):
        b, j = job // rows, job % rows
        m = mosaic[b]
        for i in range(columns):
            channel = 2 * ((y0 + j) & 1) + ((x0 + i) & 1)
            r, g, bl = malvar(m, j + 2, i + 2, channel)
            r, g, bl = min(r, white), min(g, white), min(bl, white)
            er = matrix[0, 0] * r + matrix[0, 1] * g + matrix[0, 2] * bl
            eg = matrix[1, 0] * r + matrix[1, 1] * g + matrix[1, 2] * bl
            eb = matrix[2, 0] * r + matrix[2, 1] * g + matrix[2, 2] * bl
            peak, blown = brightest(m, j + 2, i + 2, channel)
            if peak > PEAK_FROM * white:
                er, eg, eb = _to_neutral(r, g, bl, peak, blown, white, er, eg, eb)
            er, eg, eb = look_up(er, table), look_up(eg, table), look_up(eb, table)
            y = 0.2126 * er + 0.7152 * eg + 0.0722 * eb
            luma[b, j, i] = y
            blue[b, j, i] = (eb - y) / 1.8556
            red[b, j, i] = (er - y) / 1.5748


@kernel
def _mono_plane(first, last, mosaic, table, y0, x0, luma):  # type: ignore[no-untyped-def]
    rows, columns = mosaic.shape[1] - 4, mosaic.shape[2] - 4
    for job in range(first, last):
        b, j = job // rows, job % rows
        m = mosaic[b]
        for i in range(columns):
            channel = 2 * ((y0 + j) & 1) + ((x0 + i) & 1)
            r, g, bl = malvar(m, j + 2, i + 2, channel)
            mean = 0.25 * (min(r, 1.0) + 2.0 * min(g, 1.0) + min(bl, 1.0))
            luma[b, j, i] = look_up(mean, table)


def _balanced(
    mosaic: NDArray[Any],
    black: np.float32,
    scale: np.float32,
    balance: Image,
    y0: int,
    x0: int,
    white: np.float32,
) -> Image:
    frames, rows, columns = mosaic.shape
    high = rows + 2 * BORDER
    out = np.empty((frames, high, columns + 2 * BORDER), np.float32)
    over_rows(_balance, frames * high, mosaic, black, scale, balance, y0, x0, BORDER, white, out)
    return out


def develop(
    mosaic: NDArray[np.uint16],
    chain: Readout,
    colour: ColourPath,
    tone: Tone | str,
    origin_px: tuple[int, int] = (0, 0),
    full: float = 1.0,
) -> Planes:
    """Encoded planes of mosaics (frames, rows, columns) [DN].

    White of the mosaic is the reach of the tone curve: one, but for a knee. `full` is the level at
    which pixels are full, in units of white: all channels are cut there, and fall to neutral.
    """
    x0, y0 = origin_px
    curve = as_tone(tone)
    scale = np.float32(1.0 / (chain.white_dn - chain.black_dn))
    balance = colour.balance.astype(np.float32)
    white = np.float32(full)
    padded = _balanced(mosaic, np.float32(chain.black_dn), scale, balance, y0, x0, white)
    table = tone_table(curve)
    rows = mosaic.shape[0] * mosaic.shape[1]
    luma = np.empty(mosaic.shape, np.float32)
    if colour.mono:
        over_rows(_mono_plane, rows, padded, table, y0, x0, luma)
        return Planes(luma, None, None)
    blue, red = np.empty_like(luma), np.empty_like(luma)
    matrix = colour.matrix.astype(np.float32)
    over_rows(_colour_planes, rows, padded, matrix, white, table, y0, x0, luma, blue, red)
    return Planes(luma, blue, red)


@kernel(fastmath=True)
def _wide_planes(  # type: ignore[no-untyped-def]
    first, last_row, mosaic, gains, matrix, curve, low, high, strength, top, table, mono, y0, x0,
    luma, blue, red,
):  # fmt: skip
    rows, columns = mosaic.shape[1] - 4, mosaic.shape[2] - 4
    last = curve.shape[0] - 1
    per_stop = np.float32(last / (high - low))
    floor = np.float32(2.0**low)
    for job in range(first, last_row):
        b, j = job // rows, job % rows
        m = mosaic[b]
        for i in range(columns):
            channel = 2 * ((y0 + j) & 1) + ((x0 + i) & 1)
            r, g, bl = malvar(m, j + 2, i + 2, channel)
            r, g, bl = min(r, top), min(g, top), min(bl, top)
            if mono:
                er = eg = eb = light = np.float32(0.25) * (r + np.float32(2.0) * g + bl)
            else:
                er = matrix[0, 0] * r + matrix[0, 1] * g + matrix[0, 2] * bl
                eg = matrix[1, 0] * r + matrix[1, 1] * g + matrix[1, 2] * bl
                eb = matrix[2, 0] * r + matrix[2, 1] * g + matrix[2, 2] * bl
                peak, blown = brightest(m, j + 2, i + 2, channel)
                if peak > PEAK_FROM * top:
                    er, eg, eb = _to_neutral(r, g, bl, peak, blown, top, er, eg, eb)
                light = np.float32(0.2126) * er + np.float32(0.7152) * eg + np.float32(0.0722) * eb
            p = (np.log2(max(light, floor)) - low) * per_stop
            k = min(int(p), last - 1)
            own = curve[k] + (p - k) * (curve[k + 1] - curve[k])
            gain = np.exp((np.float32(1.0) - strength) * own + strength * gains[b, j, i])
            er = look_up(gain * er, table)
            if mono:
                luma[b, j, i] = er
                continue
            eg, eb = look_up(gain * eg, table), look_up(gain * eb, table)
            y = np.float32(0.2126) * er + np.float32(0.7152) * eg + np.float32(0.0722) * eb
            luma[b, j, i] = y
            blue[b, j, i] = (eb - y) / np.float32(1.8556)
            red[b, j, i] = (er - y) / np.float32(1.5748)


def develop_wide(
    light: Image,
    top: float,
    tones: ToneMap,
    colour: ColourPath,
    tone: Tone,
    origin_px: tuple[int, int] = (0, 0),
) -> Planes:
    """Encoded planes of mosaics of light that may lie beyond white.

    Parameters
    ----------
    light
        Mosaics (frames, rows, columns) in units of white.
    top
        Light at which a channel is saturated, in the same units.
    tones
        The tone mapping. It works on linear colour, one gain for all three channels, so that hue
        stays; a knee in `tone` is left to it.
    """
    x0, y0 = origin_px
    curve = Tone("bt709") if tone.name == "knee" else tone
    one = np.float32(1.0)
    balance = colour.balance.astype(np.float32)
    padded = _balanced(light, np.float32(0.0), one, balance, y0, x0, np.float32(top))
    gains = base_gain(guide_of(padded)[:, 2:-2, 2:-2], tones, origin_px)
    luma = np.empty(light.shape, np.float32)
    blue, red = (np.empty((1, 1, 1) if colour.mono else luma.shape, np.float32) for _ in range(2))
    over_rows(
        _wide_planes,
        light.shape[0] * light.shape[1],
        padded,
        gains,
        colour.matrix.astype(np.float32),
        tones.curve,
        np.float32(tones.low_stop),
        np.float32(tones.high_stop),
        np.float32(tones.strength),
        np.float32(top),
        tone_table(curve),
        colour.mono,
        y0,
        x0,
        luma,
        blue,
        red,
    )
    return Planes(luma, None, None) if colour.mono else Planes(luma, blue, red)


def saturation_at(settings: Processing, gain_db: float) -> float:
    """Factor on colour differences at a gain: whole up to one gain, gone at another, linear in
    decibels between."""
    full, gone = settings.saturation_full_until_db, settings.saturation_gone_at_db
    if gain_db <= full:
        return settings.saturation
    if gain_db >= gone:
        return 0.0
    return settings.saturation * (gone - gain_db) / (gone - full)


@kernel
def _to_bytes(first, last, luma, blue, red, colour, saturation, black, out):  # type: ignore[no-untyped-def]
    _, rows, columns = luma.shape
    for job in range(first, last):
        b, j = job // rows, job % rows
        for i in range(columns):
            y = luma[b, j, i] + black
            if colour:
                r = y + 1.5748 * saturation * red[b, j, i]
                bl = y + 1.8556 * saturation * blue[b, j, i]
                g = (y - 0.2126 * r - 0.0722 * bl) / 0.7152
            else:
                r = g = bl = y
            out[b, j, i, 0] = np.uint8(min(255.0, max(0.0, r * 255.0 + 0.5)))
            out[b, j, i, 1] = np.uint8(min(255.0, max(0.0, g * 255.0 + 0.5)))
            out[b, j, i, 2] = np.uint8(min(255.0, max(0.0, bl * 255.0 + 0.5)))


def finish(
    planes: Planes, settings: Processing, height_px: int, gain_db: float = 0.0
) -> NDArray[np.uint8]:
    """Sharpen, limit the bandwidth of an analogue output, set black and colour, and quantise.

    Parameters
    ----------
    gain_db
        Gain of the exposure, by which colour is taken back (`saturation_at`).

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
    black = np.float32(settings.black_level)
    out = np.empty((*luma.shape, 3), np.uint8)
    rows = luma.shape[0] * luma.shape[1]
    if planes.blue is None or planes.red is None:
        over_rows(_to_bytes, rows, luma, none, none, False, np.float32(0.0), black, out)
        return out
    colour = np.float32(saturation_at(settings, gain_db))
    over_rows(_to_bytes, rows, luma, planes.blue, planes.red, True, colour, black, out)
    return out


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
