"""More range than one exposure holds: several exposures merged, or a logarithmic pixel.

Light is told in units of white: what makes white in the longest exposure.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.camera.model import CameraModel, Sensor, WideRange
from simulator.camera.sensor_readout import (
    Readout,
    full_well_e,
    noise_electrons,
    without_dark_level,
)
from simulator.camera.tone import tone_of
from simulator.domain import require
from simulator.kernels import kernel, over_rows
from simulator.units import FloatArray, Image, db_to_ratio

BLEND = (0.8, 0.95)
"""Shares of saturation between which an exposure gives way to the next shorter one (assumed)."""
DARK_SHARE, DARK_LEVEL, MOST_LIFT = 0.25, 1.0, 8.0
"""The darkest quarter of the picture is to reach the wanted level, by at most eight times the
exposure (assumed)."""
LIFT_GAIN_DB = 12.0
"""Gain that a wide range spends on the dark part once its shutter is spent (assumed)."""
WHITE_SHARE = 0.01
"""Share of the picture that may be white even in the shortest exposure (assumed)."""


def shutters_s(wide: WideRange, shutter_s: float) -> tuple[float, ...]:
    """Shutters of the exposures of one frame, the longest first.

    Parameters
    ----------
    wide
        Method, number of exposures and their ratio.
    shutter_s
        Shutter of the longest, 0 or more [s].

    Returns
    -------
    tuple of float
        One shutter per exposure [s]; a single one unless exposures are merged.

    Raises
    ------
    InputError
        For a shutter below 0.

    References
    ----------
    Exposures in a geometric series (common practice, no source).

    Examples
    --------
    >>> shutters_s(WideRange(method="exposures", exposures=3, ratio=8.0), 0.016)
    (0.016, 0.002, 0.00025)
    """
    require("shutter_s", shutter_s, least=0.0, unit="s")
    if wide.method != "exposures":
        return (shutter_s,)
    return tuple(shutter_s / wide.ratio**k for k in range(wide.exposures))


def delays_s(wide: WideRange, shutter_s: float) -> tuple[float, ...]:
    """Middles of the exposures of one frame after the middle of the longest one [s].

    They follow each other without a gap, the shorter after the longer.
    """
    each = shutters_s(wide, shutter_s)
    ends = np.cumsum(each)
    return tuple(
        float(end - own / 2.0 - each[0] / 2.0) for end, own in zip(ends, each, strict=True)
    )


def exposure_light(rate: Image, exposure: int) -> Image:
    """Light (rows, columns, 3) of one exposure from all (rows, columns, 3 E).

    Three channels serve all exposures.
    """
    if rate.shape[2] == 3:
        return rate
    return rate[:, :, 3 * exposure : 3 * exposure + 3]


@lru_cache(maxsize=32)
def _softness(linear: float, reach: float) -> float:
    """Scale t of the logarithm, so that k + t ln(1 + (k r - k) / t) is full well, all over it."""
    beyond, room = linear * (reach - 1.0), 1.0 - linear
    if beyond <= room:
        return math.inf  # the reach ends before the full well: the pixel stays linear
    low, high = -30.0, 30.0
    for _ in range(100):
        middle = (low + high) / 2.0
        t = math.exp(middle)
        if t * math.log1p(beyond / t) < room:
            low = middle
        else:
            high = middle
    return math.exp(high)


def pixel_law(wide: WideRange, well_e: float) -> tuple[float, float]:
    """Knee and scale [e-] of a logarithmic pixel; both infinite for a linear one.

    Of x electrons of light the pixel keeps x up to the knee k, and k + t ln(1 + (x - k) / t) above;
    slope and value go on at the knee, and `reach_db` beyond the knee fills the well.
    """
    if wide.method != "logarithmic":
        return math.inf, math.inf
    t = _softness(wide.knee, 10.0 ** (wide.reach_db / 20.0))
    return (math.inf, math.inf) if math.isinf(t) else (wide.knee * well_e, t * well_e)


def compressed(light_e: ArrayLike, wide: WideRange, well_e: float) -> FloatArray:
    """Charge in the pixel of a logarithmic one for electrons of light [e-].

    x up to the knee k, k + t ln(1 + (x - k) / t) above, see `pixel_law`.

    Parameters
    ----------
    light_e
        Electrons of light x, of any shape [e-].
    wide
        Method, knee and reach.
    well_e
        Full well, above 0 [e-].

    Returns
    -------
    numpy.ndarray
        Charge, of the shape of `light_e` [e-]; the light itself for a linear pixel.

    Raises
    ------
    InputError
        For a full well of 0 or less.

    References
    ----------
    A linear-logarithmic law with a smooth knee, chosen by us.

    Examples
    --------
    The pixel is full 40 dB, or 100 times, beyond its knee:

    >>> wide = WideRange(method="logarithmic", knee=0.6, reach_db=40.0)
    >>> compressed([5000.0, 600_000.0], wide, 10_000.0).round(3).tolist()
    [5000.0, 10000.0]
    """
    require("well_e", well_e, above=0.0, unit="e-")
    k, t = pixel_law(wide, well_e)
    x = np.asarray(light_e, dtype=np.float64)
    if math.isinf(t):
        return x
    return np.where(x <= k, x, k + t * np.log1p(np.maximum(x - k, 0.0) / t))


def expanded(charge_e: ArrayLike, wide: WideRange, well_e: float) -> FloatArray:
    """Electrons of light for the charge in the pixel: the inverse of `compressed` [e-].

    Parameters
    ----------
    charge_e
        Charge, of any shape [e-].
    wide
        Method, knee and reach.
    well_e
        Full well, above 0 [e-].

    Returns
    -------
    numpy.ndarray
        Electrons of light, of the shape of `charge_e` [e-].

    Raises
    ------
    InputError
        For a full well of 0 or less.

    References
    ----------
    As `compressed`.

    Examples
    --------
    >>> wide = WideRange(method="logarithmic", knee=0.6, reach_db=40.0)
    >>> expanded([5000.0, 10_000.0], wide, 10_000.0).round(1).tolist()
    [5000.0, 600000.0]
    """
    require("well_e", well_e, above=0.0, unit="e-")
    k, t = pixel_law(wide, well_e)
    q = np.asarray(charge_e, dtype=np.float64)
    if math.isinf(t):
        return q
    return np.where(q <= k, q, k + t * np.expm1(np.maximum(q - k, 0.0) / t))


def saturation(sensor: Sensor, chain: Readout) -> float:
    """Level at which one exposure saturates, in units of its white: the full well may hold less."""
    return min(1.0, full_well_e(sensor, chain) / chain.white_e)


def top_level(wide: WideRange, sensor: Sensor, chain: Readout) -> float:
    """Most light that is told from more, in units of white."""
    share = saturation(sensor, chain)
    if wide.method == "exposures":
        return float(share * wide.ratio ** (wide.exposures - 1))
    if wide.method == "logarithmic":
        charge = share * chain.white_e
        return float(expanded(charge, wide, full_well_e(sensor, chain)) / chain.white_e)
    return share


@kernel
def _merge(first, last, mosaics, blacks, scales, low, high, out):  # type: ignore[no-untyped-def]
    """Of the exposures (E, frames, rows, columns) the longest that is not saturated.

    The brightest of nine neighbours of all colours decides, so that red, green and blue pixels of
    one place change over together: else their noise and rounding differ, which shows as dots of
    colour along the seam.
    """
    exposures, _, rows, columns = mosaics.shape
    for job in range(first, last):
        b, j = job // rows, job % rows
        up, down = max(j - 1, 0), min(j + 1, rows - 1)
        for i in range(columns):
            left, right = max(i - 1, 0), min(i + 1, columns - 1)
            end = exposures - 1
            v = (np.float32(mosaics[end, b, j, i]) - blacks[end]) * scales[end]
            for k in range(exposures - 2, -1, -1):
                m = mosaics[k, b]
                above = max(m[up, left], m[up, i], m[up, right])
                below = max(m[down, left], m[down, i], m[down, right])
                beside = max(m[j, left], m[j, i], m[j, right])
                t = (high - np.float32(max(above, below, beside))) / (high - low)
                if t > 0.0:
                    own = (np.float32(m[j, i]) - blacks[k]) * scales[k]
                    v = own if t >= 1.0 else t * own + (np.float32(1.0) - t) * v
            out[b, j, i] = v


def merge(
    mosaics: list[NDArray[np.uint16]],
    wide: WideRange,
    sensor: Sensor,
    chain: Readout,
    shutter_s: float,
) -> Image:
    """Light of a frame in units of white from the mosaics of its exposures, the longest first.

    Every pixel takes the longest exposure in which it and its neighbours are not saturated; between
    `BLEND` of saturation the two are mixed. Where an exposure gives way, the signal-to-noise
    ratio falls, and what moves shows both of its places.

    Parameters
    ----------
    mosaics
        Digital numbers, each (frames, rows, columns).

    Returns
    -------
    float32 array (frames, rows, columns).
    """
    each = shutters_s(wide, shutter_s)
    dark = [without_dark_level(sensor, chain, own).black_dn for own in each]
    span = chain.white_dn - chain.black_dn
    share = saturation(sensor, chain)
    scales = [each[0] / own / span for own in each]
    if wide.method == "logarithmic":
        return _straight(mosaics[0], wide, sensor, chain, dark[0])
    every = np.stack(mosaics)
    out = np.empty(every.shape[1:], np.float32)
    over_rows(
        _merge,
        every.shape[1] * every.shape[2],
        every,
        np.array(dark, np.float32),
        np.array(scales, np.float32),
        np.float32(chain.black_dn + BLEND[0] * share * span),
        np.float32(chain.black_dn + BLEND[1] * share * span),
        out,
    )
    return out


def _straight(
    mosaic: NDArray[np.uint16], wide: WideRange, sensor: Sensor, chain: Readout, dark_dn: float
) -> Image:
    """Light in units of white from the digital numbers of a logarithmic pixel."""
    numbers = np.arange(math.ceil(chain.white_dn) + 1)
    charge = (numbers - dark_dn) / chain.dn_per_e
    light = expanded(charge, wide, full_well_e(sensor, chain)) / chain.white_e
    return np.asarray(light.astype(np.float32)[mosaic])


def noise_of_light(
    light: ArrayLike, wide: WideRange, sensor: Sensor, chain: Readout, shutter_s: float
) -> FloatArray:
    """Temporal noise of one pixel by the light on it, both in units of white, any shape.

    Of several exposures the noise of the one that is used there, mixed as `merge` mixes; of a
    logarithmic pixel the shot noise as it is, the dark noise divided by the slope.
    """
    x: FloatArray = np.maximum(np.asarray(light, dtype=np.float64), 0.0)
    white_e = chain.white_e
    if wide.method == "logarithmic":
        dark = float(noise_electrons(0.0, sensor, chain, shutter_s))
        k, t = pixel_law(wide, full_well_e(sensor, chain))
        steep = 1.0 + np.maximum(x * white_e - k, 0.0) / t
        return np.asarray(np.hypot(np.sqrt(x * white_e), dark * steep) / white_e)
    each = shutters_s(wide, shutter_s)
    share = saturation(sensor, chain)
    variance: FloatArray = np.zeros_like(x)
    for own in reversed(each):
        ratio = each[0] / own
        sigma = noise_electrons(x * white_e / ratio, sensor, chain, own) * ratio / white_e
        if own == each[-1]:
            variance = sigma**2
            continue
        own_share = np.clip((BLEND[1] - x / ratio / share) / (BLEND[1] - BLEND[0]), 0.0, 1.0)
        variance = own_share**2 * sigma**2 + (1.0 - own_share) ** 2 * variance
    return np.asarray(np.sqrt(variance))


def lift_for_the_dark(signal: Image, target_level: float, top: float, longest: float) -> float:
    """How much longer a wide range exposes its longest exposure than one exposure would be.

    Until the darkest quarter of the picture reaches the wanted level, but by no more than
    `MOST_LIFT`, no further than that a hundredth of the picture is white even in the shortest
    exposure, and no further than the shutter and a gain of `LIFT_GAIN_DB` reach; never less than
    one. This is a plain rule of our own for what such cameras do.

    Parameters
    ----------
    signal
        Metered luma (rows, columns), any unit.
    target_level
        Level that its mean has without the lift, as a share of white.
    top
        Most light that is told from more, in units of white.
    longest
        Level of a signal of one in the longest shutter with that gain, as a share of white.
    """
    mean = float(signal.mean())
    dark = float(signal[signal <= np.percentile(signal, 100.0 * DARK_SHARE)].mean())
    bright = float(np.percentile(signal, 100.0 * (1.0 - WHITE_SHARE)))
    if mean <= 0.0:
        return 1.0
    wanted = DARK_LEVEL * mean / max(dark, 1e-9 * mean)
    bound = top * mean / (target_level * max(bright, 1e-9 * mean))
    reach = longest * mean / target_level
    return max(1.0, min(wanted, bound, reach, MOST_LIFT))


def shown_to_the_loop(camera: CameraModel, signal: Image) -> Image:
    """Signal (rows, columns) [e-/s] as the exposure loop takes it, white at the full well.

    With a wide range the longest exposure is set for the dark part (`lift_for_the_dark`). With a
    knee the signal counts as so many times stronger, so that white of the curve is reached at
    1 / `knee_reach` of the full well and the rest is kept for highlights.
    """
    wide, processing = camera.wide_range, camera.processing
    if wide.method == "off":
        tone = tone_of(processing)
        return signal if tone.reach == 1.0 else np.asarray(signal * np.float32(tone.reach))
    top = wide.ratio ** (wide.exposures - 1)
    if wide.method == "logarithmic":
        top = float(expanded(1.0, wide, 1.0))
    exposure = camera.exposure
    shutter = exposure.shutter_max_s if exposure.shutter_s is None else exposure.shutter_s
    gain_db = min(LIFT_GAIN_DB, exposure.gain_max_db)
    longest = shutter * db_to_ratio(gain_db) / camera.sensor.full_well_e
    lift = lift_for_the_dark(signal, exposure.target_level, top, longest)
    return np.asarray(signal / np.float32(lift))
