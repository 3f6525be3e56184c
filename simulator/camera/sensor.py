"""The sensor, after the linear model of EMVA 1288.

Electrons: Poisson(mu (1 + PRNU) + dark), cut at the full well; plus temporal dark noise, row
noise and dark signal non-uniformity; times the overall gain K, quantised to the bit depth. What
belongs to the pixel (PRNU, DSNU) is fixed by its place; what is temporal follows the seed and frame
number, one generator a row, so that results do not depend on the number of threads.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from simulator.camera.draws import mix, normal, poisson
from simulator.camera.model import Sensor
from simulator.units import FloatArray, Image, db_to_ratio

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
def _sum_of_bytes(h):  # type: ignore[no-untyped-def]
    """About normal: sum of the four bytes of a hash (Irwin-Hall), unit standard deviation."""
    pairs = (h & np.uint64(0x00FF00FF)) + ((h >> np.uint64(8)) & np.uint64(0x00FF00FF))
    total = np.int64((pairs + (pairs >> np.uint64(16))) & np.uint64(0xFFFF))
    return (float(total) - 510.0) * (1.0 / 147.80054127)


@njit(cache=True, parallel=True, nogil=True, error_model="numpy")
def _expose(rate, first_frame, frames, y0, x0, seed, fixed_key, n):  # type: ignore[no-untyped-def]
    rows, columns = rate.shape[0], rate.shape[1]
    out = np.empty((frames, rows, columns), np.uint16)
    key = np.uint64(fixed_key) * np.uint64(0xD1342543DE82EF95)
    patterned = n.prnu > 0.0 or n.dsnu_e > 0.0
    dark = n.dark_e_per_s * n.shutter_s
    for job in prange(frames * rows):
        b, j = job // rows, job % rows
        state = mix(
            mix(np.uint64(seed) + np.uint64(0x632BE59BD9B4E019))
            + np.uint64(first_frame + b) * np.uint64(0x9E3779B97F4A7C15)
            + np.uint64(y0 + j)
        )
        state, row = normal(state)
        offset = row * n.row_noise_e * n.dn_per_e + n.black_dn + 0.5
        odd = (y0 + j) & 1
        for i in range(columns):
            mean = rate[j, i, odd + ((x0 + i) & 1)] * n.shutter_s
            fixed = np.uint64(0)
            if patterned:
                fixed = mix(key + np.uint64((y0 + j) * 65536 + x0 + i))
                mean *= max(0.0, 1.0 + n.prnu * _sum_of_bytes(fixed))
            mean += dark
            e = mean
            if n.photon_noise:
                state, e = poisson(state, mean)
            e = min(e, n.full_well_e)
            if patterned:
                e += n.dsnu_e * _sum_of_bytes(fixed >> np.uint64(32))
            if n.read_noise_e > 0.0:
                state, noise = normal(state)
                e += n.read_noise_e * noise
            # cut at zero before the fraction: truncation is then rounding
            dn = min(n.white_dn, max(0.0, e * n.dn_per_e + offset))
            out[b, j, i] = np.uint16(dn)
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


def noise_electrons(
    signal_e: FloatArray | float, sensor: Sensor, chain: Readout, shutter_s: float
) -> FloatArray:
    """Temporal noise of one pixel in electrons, EMVA 1288: sqrt(sd^2 + sq^2/K^2 + mu_e).

    Dark current and row noise are part of the dark noise; sq^2 = 1/12 DN^2. Any shape of signal.
    """
    dark = dark_electrons_per_s(sensor) * shutter_s
    variance = (
        sensor.read_noise_e**2
        + sensor.row_noise_e**2
        + 1.0 / (12.0 * chain.dn_per_e**2)
        + np.maximum(signal_e, 0.0)
        + dark
    )
    return np.asarray(np.sqrt(variance))
