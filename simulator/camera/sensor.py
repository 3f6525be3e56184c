"""The sensor, after the linear model of EMVA 1288.

Electrons: Poisson(mu (1 + PRNU) + dark), cut at the full well; plus temporal dark noise, row
noise and dark signal non-uniformity; times the overall gain K, quantised to the bit depth. What
belongs to the pixel (PRNU, DSNU) is fixed by its place; what is temporal follows the seed and frame
number, one generator a row, so that results do not depend on the number of threads.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from simulator.camera.model import Sensor
from simulator.units import Image, db_to_ratio

DARK_REFERENCE_C = 25.0
FIXED_PATTERN_KEY = 0x5EED


@dataclass(frozen=True)
class Readout:
    """How electrons become digital numbers at a gain."""

    gain: float
    """Amplitude gain over 0 dB."""
    dn_per_e: float
    """Overall system gain K of EMVA 1288 [DN/e-]."""
    black_dn: float
    white_dn: float

    @property
    def white_e(self) -> float:
        """Electrons that reach the largest digital number."""
        return (self.white_dn - self.black_dn) / self.dn_per_e


def readout(sensor: Sensor, gain_db: float) -> Readout:
    """Gain chain: at 0 dB the full well fills the range above the black level."""
    white = float(2**sensor.bit_depth - 1)
    black = float(2 ** (sensor.bit_depth - 6))
    gain = db_to_ratio(gain_db)
    return Readout(gain, (white - black) / sensor.full_well_e * gain, black, white)


def dark_electrons_per_s(sensor: Sensor) -> float:
    """Dark current at the working temperature: doubles every `dark_doubling_k`."""
    rise = (sensor.temperature_c - DARK_REFERENCE_C) / sensor.dark_doubling_k
    return float(sensor.dark_current_e_per_s * 2.0**rise)


def without_dark_level(sensor: Sensor, chain: Readout, shutter_s: float) -> Readout:
    """The chain with its black level raised by the mean dark signal, as shaded pixels tell it."""
    dark_dn = dark_electrons_per_s(sensor) * shutter_s * chain.dn_per_e
    return replace(chain, black_dn=min(chain.black_dn + dark_dn, chain.white_dn - 1.0))


class _Noise(NamedTuple):
    shutter_s: float
    dark_e_per_s: float
    full_well_e: float
    read_noise_e: float
    row_noise_e: float
    prnu: float
    dsnu_e: float
    dn_per_e: float
    black_dn: float
    white_dn: float
    photon_noise: bool


@njit(cache=True, inline="always")
def _mix(z):  # type: ignore[no-untyped-def]
    """Finaliser of SplitMix64 (Steele, Lea, Flood 2014)."""
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return z ^ (z >> np.uint64(31))


@njit(cache=True, inline="always")
def _next(state):  # type: ignore[no-untyped-def]
    state[0] += np.uint64(0x9E3779B97F4A7C15)
    return _mix(state[0])


@njit(cache=True, inline="always")
def _uniform(state):  # type: ignore[no-untyped-def]
    """Uniform in (0, 1)."""
    return (float(_next(state) >> np.uint64(11)) + 0.5) * (1.0 / 9007199254740992.0)


@njit(cache=True)
def _poisson(state, mean):  # type: ignore[no-untyped-def]
    """Exact Poisson: inversion below 10, transformed rejection above (Hormann 1993, PTRS)."""
    if mean <= 0.0:
        return 0.0
    if mean < 10.0:
        u = _uniform(state)
        p = math.exp(-mean)
        total, k = p, 0
        while u > total and k < 200:
            k += 1
            p *= mean / k
            total += p
        return float(k)
    root = math.sqrt(mean)
    b = 0.931 + 2.53 * root
    a = -0.059 + 0.02483 * b
    v_r = 0.9277 - 3.6224 / (b - 2.0)
    while True:
        u = _uniform(state) - 0.5
        v = _uniform(state)
        us = 0.5 - abs(u)
        k = math.floor((2.0 * a / us + b) * u + mean + 0.43)
        if us >= 0.07 and v <= v_r:
            return k
        if k < 0.0 or (us < 0.013 and v > us):
            continue
        alpha = 1.1239 + 1.1328 / (b - 3.4)
        left = math.log(v * alpha / (a / (us * us) + b))
        if left <= k * math.log(mean) - mean - math.lgamma(k + 1.0):
            return k


@njit(cache=True, inline="always")
def _fixed(key, y, x):  # type: ignore[no-untyped-def]
    """About normal, fixed to a pixel: sum of four uniforms from one hash (Irwin-Hall)."""
    h = _mix(np.uint64(key) * np.uint64(0xD1342543DE82EF95) + np.uint64(y * 65536 + x))
    total = (
        float(h & np.uint64(0xFFFF))
        + float((h >> np.uint64(16)) & np.uint64(0xFFFF))
        + float((h >> np.uint64(32)) & np.uint64(0xFFFF))
        + float(h >> np.uint64(48))
    )
    return (total / 65535.0 - 2.0) * 1.7320508


@njit(cache=True, parallel=True, nogil=True)
def _expose(rate, first_frame, frames, y0, x0, seed, fixed_key, n):  # type: ignore[no-untyped-def]
    rows, columns = rate.shape[0], rate.shape[1]
    out = np.empty((frames, rows, columns), np.uint16)
    for job in prange(frames * rows):
        b, j = job // rows, job % rows
        state = np.empty(1, np.uint64)
        state[0] = _mix(
            _mix(np.uint64(seed) + np.uint64(0x632BE59BD9B4E019))
            + np.uint64(first_frame + b) * np.uint64(0x9E3779B97F4A7C15)
            + np.uint64(y0 + j)
        )
        spare = 0.0
        has_spare = False
        radius = math.sqrt(-2.0 * math.log(_uniform(state)))
        row = n.row_noise_e * radius * math.cos(2.0 * math.pi * _uniform(state))
        for i in range(columns):
            channel = ((y0 + j) & 1) + ((x0 + i) & 1)
            mean = rate[j, i, channel] * n.shutter_s
            if n.prnu > 0.0:
                mean *= max(0.0, 1.0 + n.prnu * _fixed(fixed_key, y0 + j, x0 + i))
            mean += n.dark_e_per_s * n.shutter_s
            e = _poisson(state, mean) if n.photon_noise else mean
            e = min(e, n.full_well_e)
            if n.dsnu_e > 0.0:
                e += n.dsnu_e * _fixed(fixed_key + 1, y0 + j, x0 + i)
            if n.read_noise_e > 0.0:
                if has_spare:
                    e += n.read_noise_e * spare
                    has_spare = False
                else:
                    radius = math.sqrt(-2.0 * math.log(_uniform(state)))
                    angle = 2.0 * math.pi * _uniform(state)
                    e += n.read_noise_e * radius * math.cos(angle)
                    spare = radius * math.sin(angle)
                    has_spare = True
            dn = math.floor((e + row) * n.dn_per_e + n.black_dn + 0.5)
            out[b, j, i] = np.uint16(min(n.white_dn, max(0.0, dn)))
    return out


def expose(
    rate: Image,
    shutter_s: float,
    sensor: Sensor,
    chain: Readout,
    *,
    seed: int,
    frame: int = 0,
    frames: int = 1,
    origin_px: tuple[int, int] = (0, 0),
    photon_noise: bool = True,
) -> NDArray[np.uint16]:
    """Mosaic digital numbers of one or more frames of the same light.

    Parameters
    ----------
    rate
        Electrons per second and pixel (rows, columns, 3); each pixel takes the channel of its
        place in an RGGB mosaic (0 red, 1 green, 2 blue).
    frame, frames
        Number of the first frame, and how many; the number only steers the noise.
    origin_px
        Left and top of a patch in the whole picture, so that a patch has the same mosaic and fixed
        pattern as the picture it is cut from.
    photon_noise
        Switches for asking what an impairment costs.

    Returns
    -------
    uint16 array (frames, rows, columns) [DN].
    """
    n = _Noise(
        float(shutter_s),
        dark_electrons_per_s(sensor),
        float(sensor.full_well_e),
        float(sensor.read_noise_e),
        float(sensor.row_noise_e),
        float(sensor.prnu),
        float(sensor.dsnu_e),
        float(chain.dn_per_e),
        float(chain.black_dn),
        float(chain.white_dn),
        bool(photon_noise),
    )
    x0, y0 = origin_px
    return np.asarray(
        _expose(
            np.ascontiguousarray(rate, dtype=np.float32),
            frame,
            frames,
            y0,
            x0,
            np.uint64(seed),
            FIXED_PATTERN_KEY,
            n,
        )
    )


def noise_electrons(signal_e: float, sensor: Sensor, chain: Readout, shutter_s: float) -> float:
    """Temporal noise of one pixel in electrons, EMVA 1288: sqrt(sd^2 + sq^2/K^2 + mu_e).

    Dark current and row noise are part of the dark noise; sq^2 = 1/12 DN^2.
    """
    dark = dark_electrons_per_s(sensor) * shutter_s
    variance = (
        sensor.read_noise_e**2
        + sensor.row_noise_e**2
        + 1.0 / (12.0 * chain.dn_per_e**2)
        + max(signal_e, 0.0)
        + dark
    )
    return math.sqrt(variance)
