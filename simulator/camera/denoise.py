"""Noise reduction in space and time, by what the camera expects of its own noise."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import cv2
import numpy as np

from simulator.camera.colour_path import LUMA, MONO, ColourPath
from simulator.camera.demosaic import demosaic
from simulator.camera.local_tone import ToneMap, elasticity, pressed
from simulator.camera.model import Processing, Sensor, WideRange
from simulator.camera.sensor_readout import Readout, clipped_noise_electrons, full_well_e
from simulator.camera.tone import Tone, as_tone, encode_tone
from simulator.camera.wide_range import noise_of_light
from simulator.kernels import helper, kernel, over_rows
from simulator.units import FloatArray, Image


class Planes(NamedTuple):
    """Encoded luma and colour differences, each (frames, rows, columns); None when monochrome."""

    luma: Image
    blue: Image | None
    red: Image | None


def luma_shares(colour: ColourPath | None) -> tuple[FloatArray, FloatArray]:
    """How much noise of red, green and blue pixels the luma holds, and the gain of each (3,).

    Shares (3,): sum of the squared weights with which pixels of one colour enter the linear luma
    after demosaic and colour matrix, mean over the four places of the pattern. With white balance
    gains b the variance of the luma is the sum of share x b^2 x variance of a pixel.
    """
    if colour is None:
        return _tap_shares(LUMA), np.ones(3)
    if colour.mono:
        return _tap_shares(MONO), np.asarray(colour.balance)
    weights = tuple(float(w) for w in np.round(np.array(LUMA) @ colour.matrix, 6))
    return _tap_shares((weights[0], weights[1], weights[2])), np.asarray(colour.balance)


@lru_cache(maxsize=64)
def _tap_shares(weights: tuple[float, float, float]) -> FloatArray:
    """Shares for a luma of these weights of the demosaiced channels, by impulses through it."""
    out = np.zeros(3)
    for y in range(4, 10):
        for x in range(4, 10):
            impulse = np.zeros((14, 14), np.float32)
            impulse[y, x] = 1.0
            luma = demosaic(impulse) @ np.array(weights)
            out[(y & 1) + (x & 1)] += float(np.sum(np.square(luma)))
    return out / 36.0


def noise_table(
    sensor: Sensor,
    chain: Readout,
    shutter_s: float,
    tone: Tone | str,
    colour: ColourPath | None = None,
) -> Image:
    """Noise of the encoded luma by its level (256,): what the camera expects of its own sensor.

    The sensor's temporal noise at each linear level of a grey, cut at black and at white as the
    numbers are, through white balance, demosaic and colour matrix (`luma_shares`), times the slope
    of the tone curve.
    """
    curve = as_tone(tone)
    linear = np.linspace(0.0, 1.0, 2048)
    variance = np.zeros_like(linear)
    for share, gain in zip(*luma_shares(colour), strict=True):
        white_e = chain.white_e / gain
        most_e = min(white_e, full_well_e(sensor, chain))
        electrons = clipped_noise_electrons(linear * white_e, sensor, chain, shutter_s, most_e)
        variance += share * np.square(electrons * gain / chain.white_e)
    return _by_level(linear * curve.reach, np.sqrt(variance) * curve.reach, curve)


def wide_noise_table(
    sensor: Sensor,
    chain: Readout,
    shutter_s: float,
    tone: Tone,
    wide: WideRange,
    tones: ToneMap,
    colour: ColourPath | None = None,
) -> Image:
    """`noise_table` behind a wide range and its tone mapping.

    The camera takes light at each level to stand among its like, so that base and pixel agree; the
    local share of the mapping then keeps contrast, the rest presses it as the curve does.
    """
    light = np.concatenate([[0.0], np.geomspace(1e-4, tones.peak, 4096)])
    variance = np.zeros_like(light)
    for share, own in zip(*luma_shares(colour), strict=True):
        sigma = noise_of_light(light / own, wide, sensor, chain, shutter_s)
        variance += share * np.square(sigma * own)
    shown = pressed(light, tones.peak, tones.bend)
    gain = np.ones_like(light) if tones.bend <= 0.0 else np.empty_like(light)
    if tones.bend > 0.0:
        gain[1:] = shown[1:] / light[1:]
        gain[0] = gain[1]
    slope = (1.0 - tones.strength) * elasticity(light, tones.bend) + tones.strength
    return _by_level(shown, np.sqrt(variance) * gain * slope, tone)


def _by_level(linear: FloatArray, sigma: FloatArray, tone: Tone) -> Image:
    """Noise of the encoded luma by its level from noise of linear light, through the curve."""
    encoded = encode_tone(linear, tone)
    slope = np.gradient(encoded, linear)
    wanted = np.linspace(0.0, 1.0, 256)
    return np.asarray(np.interp(wanted, encoded, sigma * slope), dtype=np.float32)


@helper(fastmath=True)
def _likely(difference, sharp):  # type: ignore[no-untyped-def]
    """Weight of a neighbour by how well the noise explains its difference, (1 + d^2 k)^-2."""
    x = np.float32(1.0) + difference * difference * sharp
    return np.float32(1.0) / (x * x)


@helper(fastmath=True)
def _at_border(luma, b, j, i, reach, sharp):  # type: ignore[no-untyped-def]
    """Sum of weighted neighbours and of weights, of those that lie inside the columns."""
    rows, columns = luma.shape[1], luma.shape[2]
    total, weight = np.float32(0.0), np.float32(0.0)
    for dj in range(-reach, reach + 1):
        y = min(rows - 1, max(0, j + dj))
        for x in range(max(0, i - reach), min(columns, i + reach + 1)):
            w = _likely(luma[b, y, x] - luma[b, j, i], sharp)
            total += w * luma[b, y, x]
            weight += w
    return total, weight


@kernel(allocates=True, fastmath=True)
def _smooth(begin, end, luma, noise, reach, strength, out):  # type: ignore[no-untyped-def]
    """Mean over a window, each neighbour weighed by how well the noise explains its difference.

    Five columns at once in slices without a test on the border, so that the loop becomes vector
    code; a window of three columns gives the outer two no weight.
    """
    _, rows, columns = luma.shape
    one, none = np.float32(1.0), np.float32(0.0)
    outer = one if reach > 1 else none
    sharp = np.empty(columns, np.float32)
    total = np.empty(columns, np.float32)
    weight = np.empty(columns, np.float32)
    inner = columns - 4
    next_1, next_2, next_3, next_4 = np.uint64(1), np.uint64(2), np.uint64(3), np.uint64(4)
    for job in range(begin, end):
        b, j = job // rows, job % rows
        for i in range(columns):
            level = min(255, max(0, int(luma[b, j, i] * np.float32(255.0))))
            s = strength * noise[level]
            sharp[i] = one / (s * s + np.float32(1e-12))
            total[i] = none
            weight[i] = none
        if inner > 0:
            here, k = luma[b, j, 2 : columns - 2], sharp[2 : columns - 2]
            t, n = total[2 : columns - 2], weight[2 : columns - 2]
            for dj in range(-reach, reach + 1):
                row = luma[b, min(rows - 1, max(0, j + dj))]
                for i in range(inner):
                    # unsigned places are not asked whether they count from the end
                    u = np.uint64(i)
                    c, q = here[u], k[u]
                    v0, v1, v2 = row[u], row[u + next_1], row[u + next_2]
                    v3, v4 = row[u + next_3], row[u + next_4]
                    w0, w1 = outer * _likely(v0 - c, q), _likely(v1 - c, q)
                    w2, w3, w4 = _likely(v2 - c, q), _likely(v3 - c, q), outer * _likely(v4 - c, q)
                    t[u] += w0 * v0 + w1 * v1 + w2 * v2 + w3 * v3 + w4 * v4
                    n[u] += w0 + w1 + w2 + w3 + w4
        for i in range(columns):
            if i < 2 or i >= columns - 2:
                total[i], weight[i] = _at_border(luma, b, j, i, reach, sharp[i])
            out[b, j, i] = total[i] / weight[i]


@kernel(fastmath=True)
def _follow(begin, end, new, old, luma, noise, share, out):  # type: ignore[no-untyped-def]
    """Recursive mean over time where the change is no larger than the noise at that luma.

    The change is the mean over three pixels of a row, so that a single one far out in the noise
    does not count as movement. The eighth power leaves the recursion alone within the noise, so
    that it keeps its closed form, and closes it soon beyond three deviations.
    """
    _, rows, columns = new.shape
    last = columns - 1
    for job in range(begin, end):
        b, j = job // rows, job % rows
        before = old[b, j, 0] - new[b, j, 0]
        here = before
        for i in range(columns):
            k = min(i + 1, last)
            after = old[b, j, k] - new[b, j, k]
            level = min(255, max(0, int(luma[b, j, i] * 255.0)))
            s = np.float32(9.0) * noise[level] + np.float32(3e-6)
            d = (before + here + after) / s
            d *= d
            d *= d
            out[b, j, i] = new[b, j, i] + share / (np.float32(1.0) + d * d) * here
            before, here = here, after


def reduce_noise(planes: Planes, noise: Image, settings: Processing) -> Planes:
    """Spatial noise reduction: luma by a noise-weighted window, colour by a Gaussian."""
    strength = settings.noise_reduction
    if strength <= 0.0:
        return planes
    reach = 1 if strength < 0.3 else 2
    luma = np.empty_like(planes.luma)
    rows = luma.shape[0] * luma.shape[1]
    over_rows(_smooth, rows, planes.luma, noise, reach, np.float32(4.0 * strength), luma)
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
    rows = new.luma.shape[0] * new.luma.shape[1]

    def mixed(plane: Image, before: Image) -> Image:
        out = np.empty_like(plane)
        over_rows(_follow, rows, plane, before, new.luma, noise, share, out)
        return out

    luma = mixed(new.luma, old.luma)
    if new.blue is None or new.red is None or old.blue is None or old.red is None:
        return Planes(luma, None, None)
    return Planes(luma, mixed(new.blue, old.blue), mixed(new.red, old.red))
