"""Tone mapping: light of a wide range into what a picture can show, as a whole and by place.

The base of the local part comes from a bilateral grid (Chen, Paris, Durand, "Real-time edge-aware
image processing with the bilateral grid", ACM Trans. Graph. 26(3), 2007), made of the metered
picture: what is much brighter or darker does not count as neighbourhood, so that edges keep their
place. Patch and whole picture use one grid and so the same gain.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from simulator.camera.exposure import ExposureState
from simulator.camera.model import CameraModel
from simulator.camera.sensor_readout import Readout
from simulator.camera.wide_range import top_level
from simulator.kernels import helper, kernel, over_rows
from simulator.units import FloatArray, Image

MIDDLE = 0.18
"""Level that the curve leaves where it is, as a share of white."""
HEADROOM = 1.25
"""White over the brightest thousandth of the metered picture (assumed)."""
STOPS_BELOW = 12.0
"""Light is told apart down to this many halvings below white."""
CELL = 8
"""Side of a cell of the grid in pixels of the metered picture; its depth is one halving."""
CURVE_SIZE = 1024


@dataclass(frozen=True)
class ToneMap:
    """Gain of the tone mapping by light and place.

    `curve` (1024,) natural logarithm of the gain over log2 of light from `low_stop` to `high_stop`;
    `base` (rows, columns, stops) the same logarithm at the base of a place for light of a halving;
    `strength` share of the local part; `meter_px` side of a metered pixel in pixels of the whole
    picture; `peak` light that becomes white, `bend` the number a of the curve.
    """

    curve: Image
    base: Image
    low_stop: float
    high_stop: float
    strength: float
    meter_px: float
    peak: float
    bend: float


def bend_of(peak: float) -> float:
    """Number a of g(x) = ln(1 + a x) / ln(1 + a peak) that leaves `MIDDLE` where it is."""
    if peak <= 1.0 + 1e-6:
        return 0.0
    low, high = math.log(1e-6), math.log(1e9)
    for _ in range(80):
        middle = (low + high) / 2.0
        a = math.exp(middle)
        if math.log1p(a * MIDDLE) / math.log1p(a * peak) < MIDDLE:
            low = middle
        else:
            high = middle
    return math.exp(high)


def pressed(light: FloatArray, peak: float, bend: float) -> FloatArray:
    """Level 0..1 of light, both in units of white: straight at first, then logarithmic."""
    x = np.asarray(light, dtype=np.float64)
    if bend <= 0.0:
        return x
    return np.asarray(np.log1p(bend * np.maximum(x, 0.0)) / math.log1p(bend * peak))


def elasticity(light: FloatArray, bend: float) -> FloatArray:
    """Slope of the curve in logarithms, d ln g / d ln x."""
    x = np.maximum(np.asarray(light, dtype=np.float64), 1e-12)
    if bend <= 0.0:
        return np.ones_like(x)
    return np.asarray(bend * x / ((1.0 + bend * x) * np.log1p(bend * x)))


def tone_map(light: Image, top: float, strength: float, meter_px: float) -> ToneMap:
    """Gain for a picture from its metered version.

    Parameters
    ----------
    light
        Balanced luma of the metered picture (rows, columns) in units of white.
    top
        Most light that the camera tells from more. What is `HEADROOM` times as bright as the
        brightest thousandth of the picture becomes white, but never less than white or more than
        this.
    strength
        0 one curve for the whole picture; 1 the curve acts on the base alone, and what is smaller
        keeps its contrast.
    """
    peak = float(np.clip(HEADROOM * np.percentile(light, 99.9), 1.0, max(top, 1.0)))
    bend = bend_of(peak)
    low, high = -STOPS_BELOW, math.log2(max(top, 1.0)) + 1.0
    stops = np.linspace(low, high, CURVE_SIZE)
    level = 2.0**stops
    curve = np.log(pressed(level, peak, bend) / level)
    base = _grid(np.log2(np.clip(light, 2.0**low, peak)), low, high)
    # what is whiter than white presses no more than white, so that it stays white
    gain = np.interp(np.minimum(base, math.log2(peak)), stops, curve).astype(np.float32)
    return ToneMap(curve.astype(np.float32), gain, low, high, strength, meter_px, peak, bend)


def tones_for(
    camera: CameraModel, signal: Image, exposure: ExposureState, chain: Readout
) -> ToneMap | None:
    """The tone mapping of a camera before a scene; None without a wide range.

    Parameters
    ----------
    signal
        Balanced luma (rows, columns) of the metered picture with the iris open [e-/s].
    """
    wide = camera.wide_range
    if wide.method == "off":
        return None
    iris = (exposure.f_number_open / exposure.f_number) ** 2
    light = signal * np.float32(exposure.shutter_s * iris / chain.white_e)
    top = top_level(wide, camera.sensor, chain)
    return tone_map(light, top, wide.local_tone, camera.sensor.width_px / signal.shape[1])


def _grid(stops: Image, low: float, high: float) -> FloatArray:
    """Mean logarithm of light around a place, among light of about the same strength."""
    depth = math.ceil(high - low) + 1
    rows, columns = -(-stops.shape[0] // CELL) + 1, -(-stops.shape[1] // CELL) + 1
    sums = np.zeros((rows, columns, depth))
    counts = np.zeros((rows, columns, depth))
    y, x = np.indices(stops.shape)
    z = np.clip(np.round(stops - low), 0, depth - 1).astype(int)
    place = (np.round(y / CELL).astype(int), np.round(x / CELL).astype(int), z)
    np.add.at(sums, place, stops)
    np.add.at(counts, place, 1.0)
    # a cell without light stands for itself
    own = low + np.arange(depth)
    sums, counts = sums + 0.01 * own, counts + 0.01
    for axis in range(3):
        sums, counts = _binomial(sums, axis), _binomial(counts, axis)
    return np.asarray(sums / counts)


def _binomial(values: FloatArray, axis: int) -> FloatArray:
    """Mean with weights 1 4 6 4 1 along an axis, ends repeated."""
    padded = np.pad(values, [(2, 2) if a == axis else (0, 0) for a in range(3)], mode="edge")
    count = values.shape[axis]
    parts = [np.take(padded, range(k, k + count), axis=axis) for k in range(5)]
    return np.asarray((parts[0] + 4 * parts[1] + 6 * parts[2] + 4 * parts[3] + parts[4]) / 16.0)


def guide_of(mosaic: Image) -> Image:
    """Smoothed light (frames, rows, columns) of balanced mosaics, by which a place finds its base.

    Weights 1 4 6 4 1 both ways hold red, green and blue as 1 : 2 : 1 wherever they lie.
    """
    taps = np.array([1.0, 4.0, 6.0, 4.0, 1.0], np.float32) / 16.0
    return np.stack(
        [
            cv2.sepFilter2D(m, cv2.CV_32F, taps, taps, borderType=cv2.BORDER_REFLECT_101)
            for m in mosaic
        ]
    )


@helper
def _between(x, n):  # type: ignore[no-untyped-def]
    x = min(max(x, 0.0), n - 1.0001)
    i = int(x)
    return i, np.float32(x - i)


@kernel
def _base_gain(first, last, guide, base, low, scale_x, scale_y, x0, y0, out):  # type: ignore[no-untyped-def]
    _, rows, columns = guide.shape
    one = np.float32(1.0)
    floor = np.float32(2.0**low)
    for job in range(first, last):
        b, j = job // rows, job % rows
        y, fy = _between((y0 + j + 0.5) * scale_y, base.shape[0])
        for i in range(columns):
            x, fx = _between((x0 + i + 0.5) * scale_x, base.shape[1])
            stop = math.log2(max(guide[b, j, i], floor)) - low
            z, fz = _between(stop, base.shape[2])
            total = np.float32(0.0)
            for dy in range(2):
                wy = fy if dy else one - fy
                for dx in range(2):
                    w = wy * (fx if dx else one - fx)
                    near = base[y + dy, x + dx, z]
                    far = base[y + dy, x + dx, z + 1]
                    total += w * (near + fz * (far - near))
            out[b, j, i] = total


def base_gain(guide: Image, tones: ToneMap, origin_px: tuple[int, int]) -> Image:
    """Logarithm of the local gain for a guide (frames, rows, columns) at a place of the picture."""
    scale = 1.0 / (CELL * tones.meter_px)
    x0, y0 = origin_px
    out = np.empty_like(guide)
    over_rows(
        _base_gain, guide.shape[0] * guide.shape[1],
        guide, tones.base, tones.low_stop, scale, scale, x0, y0, out,
    )  # fmt: skip
    return out
