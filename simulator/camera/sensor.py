"""The sensor, after the linear model of EMVA 1288.

Electrons: Poisson(mu (1 + PRNU) + dark), cut at the full well; plus temporal dark noise, row
noise, column offsets and dark signal non-uniformity; times the analog gain K, plus converter noise,
quantised to the bit depth. Hot pixels have more dark current than the rest. What belongs to the
pixel or column is fixed by its place; what is temporal follows the seed and frame number, one
generator a row, so that results do not depend on the number of threads.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.camera.draws import mix, normal, poisson
from simulator.camera.fixed_pattern import column_offsets, hot_pixels, pattern_key
from simulator.camera.model import Sensor
from simulator.camera.sensor_readout import (
    Readout,
    dark_electrons_per_s,
    full_well_e,
    read_noise_e,
    warmth,
)
from simulator.domain import require
from simulator.kernels import helper, kernel, over_rows
from simulator.units import Image


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
    hot_e: float
    knee_e: float
    softness_e: float
    in_one_until_e: float
    photon_noise: bool


LARGE_MEAN = 30.0
"""Mean from which on photons and electronics are drawn as one [e-]; below, photons are counted."""
BLURRED_E = 0.7
"""Read noise that leaves no trace of whole electrons, exp(-2 pi^2 sigma^2) = 6e-5 [e-]."""


@helper
def _photons_and_noise(state, mean, sigma):  # type: ignore[no-untyped-def]
    """Next state and a Poisson number plus a normal one, from one normal draw.

    Cornish and Fisher's expansion of the sum (Rev. Inst. Int. Stat. 5, 307, 1938; from memory), to
    the second order in its skewness m / s^3 and excess m / s^4, s^2 = m + sigma^2. Within 0.001 of
    the distribution from 30 electrons on (tested).
    """
    state, z = normal(state)
    square = mean + sigma * sigma
    s = math.sqrt(square)
    a = mean / (6.0 * square)
    per_s = 1.0 / s
    z2 = z * z
    curved = 0.25 * a * (z2 - 3.0) - a * a * (2.0 * z2 - 5.0)
    return state, mean + s * z + a * (z2 - 1.0) + curved * z * per_s


@helper
def _sum_of_bytes(h):  # type: ignore[no-untyped-def]
    """About normal: sum of the four bytes of a hash (Irwin-Hall), unit standard deviation."""
    pairs = (h & np.uint64(0x00FF00FF)) + ((h >> np.uint64(8)) & np.uint64(0x00FF00FF))
    total = np.int64((pairs + (pairs >> np.uint64(16))) & np.uint64(0xFFFF))
    return (float(total) - 510.0) * (1.0 / 147.80054127)


@kernel
def _expose(  # type: ignore[no-untyped-def]
    begin, end, rate, first_frame, y0, x0, seed, fixed_key, n, column_dn, hot, out
):
    rows, columns = rate.shape[0], rate.shape[1]
    key = np.uint64(fixed_key) * np.uint64(0xD1342543DE82EF95)
    patterned = n.prnu > 0.0 or n.dsnu_e > 0.0
    dark = n.dark_e_per_s * n.shutter_s
    for job in range(begin, end):
        b, j = job // rows, job % rows
        state = mix(
            mix(np.uint64(seed) + np.uint64(0x632BE59BD9B4E019))
            + np.uint64(first_frame + b) * np.uint64(0x9E3779B97F4A7C15)
            + np.uint64(y0 + j)
        )
        state, row = normal(state)
        offset = row * n.row_noise_e * n.dn_per_e + n.black_dn + 0.5
        odd = (y0 + j) & 1
        h, last = hot.first[j], hot.first[j + 1]
        next_hot = hot.column[h] if h < last else -1
        for i in range(columns):
            mean = rate[j, i, odd + ((x0 + i) & 1)] * n.shutter_s
            fixed = np.uint64(0)
            if patterned:
                fixed = mix(key + np.uint64((y0 + j) * 65536 + x0 + i))
                mean *= max(0.0, 1.0 + n.prnu * _sum_of_bytes(fixed))
            mean += dark
            if i == next_hot:
                mean += n.hot_e * hot.share[h]
                h += 1
                next_hot = hot.column[h] if h < last else -1
            e = mean
            drawn = n.photon_noise and LARGE_MEAN < mean < n.in_one_until_e
            if drawn:
                state, e = _photons_and_noise(state, mean, n.read_noise_e)
            elif n.photon_noise:
                state, e = poisson(state, mean)
            if e > n.knee_e:
                e = n.knee_e + n.softness_e * math.log1p((e - n.knee_e) / n.softness_e)
            e = min(e, n.full_well_e)
            if patterned:
                e += n.dsnu_e * _sum_of_bytes(fixed >> np.uint64(32))
            if n.read_noise_e > 0.0 and not drawn:
                state, noise = normal(state)
                e += n.read_noise_e * noise
            # cut at zero before the fraction: truncation is then rounding
            dn = min(n.white_dn, max(0.0, e * n.dn_per_e + offset + column_dn[i]))
            out[b, j, i] = np.uint16(dn)


def _in_one_until_e(sensor: Sensor, chain: Readout, knee_e: float) -> float:
    """Mean up to which photons and electronics may be drawn as one; 0 for never [e-].

    Not where whole electrons show, nor where the photons' part is bent or cut before electronics.
    """
    if read_noise_e(sensor, chain) < BLURRED_E:
        return 0.0
    cut = min(full_well_e(sensor, chain), knee_e)
    return cut - 7.0 * math.sqrt(cut)


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
    pixel_law: tuple[float, float] = (math.inf, math.inf),
    piece: int = 0,
) -> NDArray[np.uint16]:
    """Mosaic digital numbers of one or more frames of the same light.

    Parameters
    ----------
    rate
        Light (rows, columns, 3) [e-/s per pixel]; each pixel takes the channel of its place in an
        RGGB mosaic (0 red, 1 green, 2 blue).
    shutter_s
        Time during which light is gathered, 0 or more [s].
    sensor
        What the camera profile says of the sensor.
    chain
        Gain chain, see `readout`.
    seed
        Of the temporal noise; the same seed and frame number give the same noise.
    frame, frames
        Number of the first frame, and how many; the number only steers the noise.
    origin_px
        Left and top of a patch in the whole picture [px], so that a patch has the same mosaic and
        fixed pattern as the picture it is cut from.
    photon_noise
        Switches for asking what an impairment costs.
    pixel_law
        Knee and scale of a logarithmic pixel [e-], see `wide_range.pixel_law`.
    piece
        Which sensor of its kind: each has a fixed pattern of its own.

    Returns
    -------
    numpy.ndarray
        Digital numbers, uint16 (frames, rows, columns) [DN].

    Raises
    ------
    InputError
        For a shutter below 0.

    References
    ----------
    EMVA 1288 (linear model of the sensor: shot noise, dark noise, PRNU, DSNU, quantisation).

    Examples
    --------
    >>> from simulator.camera import Camera, readout
    >>> sensor = Camera.load("fixed-2mp-lowlight").model.sensor
    >>> chain = readout(sensor, 0.0)
    >>> even = np.full((64, 64, 3), 1e5, np.float32)
    >>> mosaic = expose(even, 0.02, sensor, chain, seed=1)
    >>> mosaic.shape, round((float(mosaic.mean()) - chain.black_dn) / chain.dn_per_e, -2)
    ((1, 64, 64), 2000.0)
    """
    require("shutter_s", shutter_s, least=0.0, unit="s")
    x0, y0 = origin_px
    rows, columns = rate.shape[:2]
    n = _Noise(
        float(shutter_s),
        dark_electrons_per_s(sensor),
        full_well_e(sensor, chain),
        read_noise_e(sensor, chain),
        float(sensor.row_noise_e),
        float(sensor.prnu),
        float(sensor.dsnu_e),
        float(chain.dn_per_e),
        float(chain.black_dn),
        float(math.ceil(chain.white_dn - 1e-9)),
        sensor.hot_pixel_e_per_s * warmth(sensor) * shutter_s,
        *pixel_law,
        _in_one_until_e(sensor, chain, pixel_law[0]),
        bool(photon_noise),
    )
    column_dn = np.zeros(columns)
    if sensor.column_noise_e > 0.0:
        column_dn = column_offsets(x0, columns, pattern_key(piece))
        column_dn *= sensor.column_noise_e * chain.dn_per_e
    out = np.empty((frames, rows, columns), np.uint16)
    over_rows(
        _expose,
        frames * rows,
        np.ascontiguousarray(rate, dtype=np.float32),
        frame,
        y0,
        x0,
        np.uint64(seed),
        pattern_key(piece),
        n,
        column_dn,
        hot_pixels(sensor, origin_px, rows, columns, piece),
        out,
    )
    return out
