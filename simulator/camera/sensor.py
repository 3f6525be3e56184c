"""The sensor, after the linear model of EMVA 1288.

Electrons: Poisson(mu (1 + PRNU) + dark), cut at the full well; plus temporal dark noise, row
noise, column offsets and dark signal non-uniformity; times the analog gain K, plus converter noise,
quantised to the bit depth. Hot pixels have more dark current than the rest. What belongs to the
pixel or column is fixed by its place; what is temporal follows the seed and frame number, one
generator a row, so that results do not depend on the number of threads.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.camera.draws import mix, normal, poisson, uniform
from simulator.camera.model import Sensor
from simulator.domain import require
from simulator.kernels import helper, kernel, over_rows
from simulator.units import FloatArray, Image, db_to_ratio

DARK_REFERENCE_C = 25.0
FIXED_PATTERN_KEY = 0x5EED


@dataclass(frozen=True)
class Readout:
    """How electrons become digital numbers at a gain.

    Digital gain leaves the converter's numbers as they are: it takes a smaller one for white, so
    that quantisation grows with it. `white_dn` is then no whole number.

    Attributes
    ----------
    gain
        Amplitude gain over 0 dB, analog and digital.
    dn_per_e
        Overall system gain K of EMVA 1288, up to the converter [DN/e-].
    black_dn, white_dn
        Numbers of black and white [DN].
    digital
        The part of the gain that is applied behind the converter.
    high_conversion
        Whether the small conversion capacitor is used.

    Examples
    --------
    >>> Readout(gain=1.0, dn_per_e=0.25, black_dn=64.0, white_dn=4064.0).white_e
    16000.0
    """

    gain: float
    dn_per_e: float
    black_dn: float
    white_dn: float
    digital: float = 1.0
    high_conversion: bool = False

    @property
    def white_e(self) -> float:
        """Electrons that make white; the full well may hold fewer."""
        return (self.white_dn - self.black_dn) / self.dn_per_e


def readout(sensor: Sensor, gain_db: float) -> Readout:
    """Gain chain: at 0 dB the full well fills the range above the black level.

    Gain is analog up to `analog_gain_max_db` and digital beyond. From `high_gain_from_db` on the
    small conversion capacitor makes part of the analog gain: the volts of an electron jump, the
    amplifier behind gives back as much, so that the level in the picture does not jump; only
    dark noise and full well do. If its full well is smaller than what makes white at that gain,
    highlights end below white.

    Parameters
    ----------
    sensor
        What the camera profile says of the sensor.
    gain_db
        Gain over that at which the full well makes white, 20 log10 [dB].

    Returns
    -------
    Readout
        System gain, black and white.

    References
    ----------
    EMVA 1288 (linear model, overall system gain); the black level of 1/64 of the range is assumed.

    Examples
    --------
    >>> from simulator.camera import Camera
    >>> sensor = Camera.load("fixed-2mp-lowlight").model.sensor
    >>> chain = readout(sensor, 6.0)
    >>> round(sensor.full_well_e), round(chain.white_e)
    (12000, 6014)
    """
    largest = float(2**sensor.bit_depth - 1)
    black = float(2 ** (sensor.bit_depth - 6))
    gain = db_to_ratio(gain_db)
    analog = gain
    if sensor.analog_gain_max_db is not None:
        analog = min(gain, db_to_ratio(sensor.analog_gain_max_db))
    digital = gain / analog
    return Readout(
        gain,
        (largest - black) / sensor.full_well_e * analog,
        black,
        black + (largest - black) / digital,
        digital,
        sensor.high_gain_from_db is not None and gain_db >= sensor.high_gain_from_db,
    )


def full_well_e(sensor: Sensor, chain: Readout) -> float:
    """Saturation capacity with the capacitor that the chain uses [e-].

    Parameters
    ----------
    sensor
        What the camera profile says of the sensor.
    chain
        Gain chain, see `readout`.

    Returns
    -------
    float
        Saturation capacity [e-].

    References
    ----------
    EMVA 1288 (saturation capacity).

    Examples
    --------
    >>> from simulator.camera import Camera
    >>> sensor = Camera.load("fixed-2mp-lowlight").model.sensor
    >>> full_well_e(sensor, readout(sensor, 0.0))
    12000.0
    """
    if chain.high_conversion and sensor.high_gain_full_well_e is not None:
        return float(sensor.high_gain_full_well_e)
    return float(sensor.full_well_e)


def read_noise_e(sensor: Sensor, chain: Readout) -> float:
    """Temporal dark noise without dark current, referred to electrons, converter noise included.

    sqrt(sigma_read^2 + (sigma_converter / K)^2), of the capacitor that the chain uses.

    Parameters
    ----------
    sensor
        What the camera profile says of the sensor.
    chain
        Gain chain, see `readout`.

    Returns
    -------
    float
        Standard deviation [e-].

    References
    ----------
    EMVA 1288 (temporal dark noise).

    Examples
    --------
    >>> from simulator.camera import Camera
    >>> sensor = Camera.load("fixed-2mp-lowlight").model.sensor
    >>> round(read_noise_e(sensor, readout(sensor, 0.0)), 1)
    2.2
    """
    own = sensor.read_noise_e
    if chain.high_conversion and sensor.high_gain_read_noise_e is not None:
        own = sensor.high_gain_read_noise_e
    return float(np.hypot(own, sensor.converter_noise_dn / chain.dn_per_e))


def _warmth(sensor: Sensor) -> float:
    """Factor of the working temperature on every dark current: doubles each `dark_doubling_k`."""
    return float(2.0 ** ((sensor.temperature_c - DARK_REFERENCE_C) / sensor.dark_doubling_k))


def dark_electrons_per_s(sensor: Sensor) -> float:
    """Dark current at the working temperature: doubles every `dark_doubling_k`.

    Parameters
    ----------
    sensor
        Dark current at 25 degrees Celsius, temperature and doubling interval.

    Returns
    -------
    float
        Dark current [e-/s per pixel].

    References
    ----------
    EMVA 1288 (dark current and doubling temperature).

    Examples
    --------
    >>> from simulator.camera import Camera
    >>> sensor = Camera.load("fixed-2mp-lowlight").model.sensor
    >>> warm = {"dark_current_e_per_s": 10.0, "dark_doubling_k": 7.0, "temperature_c": 39.0}
    >>> dark_electrons_per_s(sensor.model_copy(update=warm))  # two doublings above 25 deg C
    40.0
    """
    return float(sensor.dark_current_e_per_s * _warmth(sensor))


def without_dark_level(sensor: Sensor, chain: Readout, shutter_s: float) -> Readout:
    """The chain with its black level raised by the mean dark signal, as shaded pixels tell it."""
    dark_dn = dark_electrons_per_s(sensor) * shutter_s * chain.dn_per_e
    least = min(1.0, 0.5 * (chain.white_dn - chain.black_dn))
    return replace(chain, black_dn=min(chain.black_dn + dark_dn, chain.white_dn - least))


class HotPixels(NamedTuple):
    """Hot pixels of a part of the sensor, row by row.

    `first` (rows + 1,) where each row begins in the list; `column` (n,) counted from the left of
    the part, `share` (n,) of the mean dark current of hot pixels.
    """

    first: NDArray[np.int64]
    column: NDArray[np.int64]
    share: FloatArray


@kernel
def _find_hot(y0, x0, rows, columns, chance, fixed_key, first, column, share):  # type: ignore[no-untyped-def]
    """Fill in the hot pixels as far as they fit, and count them all."""
    key = (np.uint64(fixed_key) + np.uint64(1)) * np.uint64(0xD1342543DE82EF95)
    n = 0
    for j in range(rows):
        for i in range(columns):
            h = mix(key + np.uint64((y0 + j) * 65536 + x0 + i))
            if h < chance:
                if n < column.shape[0]:
                    _, u = uniform(h)
                    column[n], share[n] = i, -math.log(u)
                n += 1
        first[j + 1] = n
    return n


def _pattern_key(piece: int) -> int:
    """Key of the fixed pattern; columns and hot pixels use the next two."""
    return FIXED_PATTERN_KEY + 16 * piece


def hot_pixels(
    sensor: Sensor, origin_px: tuple[int, int], rows: int, columns: int, piece: int = 0
) -> HotPixels:
    """Hot pixels of a part of the sensor: places fixed by a hash, currents exponential, mean one.

    That their dark currents have a long, about exponential tail is common practice, no source.
    """
    chance = sensor.hot_pixels_per_million * 1e-6
    if chance <= 0.0:
        return HotPixels(np.zeros(rows + 1, np.int64), np.zeros(0, np.int64), np.zeros(0))
    x0, y0 = origin_px
    limit = np.uint64(chance * 2.0**64)
    first = np.zeros(rows + 1, np.int64)
    room = int(1.2 * chance * rows * columns) + 64
    while True:
        column, share = np.empty(room, np.int64), np.empty(room)
        key = _pattern_key(piece)
        n = _find_hot(y0, x0, rows, columns, limit, key, first, column, share)
        if n <= room:
            return HotPixels(first, column[:n], share[:n])
        room = n


@kernel(allocates=True)
def _column_offsets(x0, columns, fixed_key):  # type: ignore[no-untyped-def]
    key = (np.uint64(fixed_key) + np.uint64(2)) * np.uint64(0xD1342543DE82EF95)
    out = np.empty(columns, np.float64)
    for i in range(columns):
        _, out[i] = normal(mix(key + np.uint64(x0 + i)))
    return out


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
    photon_noise: bool


@helper
def _sum_of_bytes(h):  # type: ignore[no-untyped-def]
    """About normal: sum of the four bytes of a hash (Irwin-Hall), unit standard deviation."""
    pairs = (h & np.uint64(0x00FF00FF)) + ((h >> np.uint64(8)) & np.uint64(0x00FF00FF))
    total = np.int64((pairs + (pairs >> np.uint64(16))) & np.uint64(0xFFFF))
    return (float(total) - 510.0) * (1.0 / 147.80054127)


@kernel(error_model="numpy")
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
            if n.photon_noise:
                state, e = poisson(state, mean)
            if e > n.knee_e:
                e = n.knee_e + n.softness_e * math.log1p((e - n.knee_e) / n.softness_e)
            e = min(e, n.full_well_e)
            if patterned:
                e += n.dsnu_e * _sum_of_bytes(fixed >> np.uint64(32))
            if n.read_noise_e > 0.0:
                state, noise = normal(state)
                e += n.read_noise_e * noise
            # cut at zero before the fraction: truncation is then rounding
            dn = min(n.white_dn, max(0.0, e * n.dn_per_e + offset + column_dn[i]))
            out[b, j, i] = np.uint16(dn)


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
    >>> from simulator.camera import Camera
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
        sensor.hot_pixel_e_per_s * _warmth(sensor) * shutter_s,
        *pixel_law,
        bool(photon_noise),
    )
    column_dn = np.zeros(columns)
    if sensor.column_noise_e > 0.0:
        column_dn = _column_offsets(x0, columns, _pattern_key(piece))
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
        _pattern_key(piece),
        n,
        column_dn,
        hot_pixels(sensor, origin_px, rows, columns, piece),
        out,
    )
    return out


def noise_electrons(
    signal_e: FloatArray | float, sensor: Sensor, chain: Readout, shutter_s: float
) -> FloatArray:
    """Temporal noise of one pixel in electrons: sqrt(sd^2 + sq^2/K^2 + mu_e).

    Dark current, row noise and converter noise are part of the dark noise; sq^2 = 1/12 DN^2, of the
    converter, so that digital gain raises it with all the rest.

    Parameters
    ----------
    signal_e
        Mean electrons of light mu_e, of any shape; below 0 counts as 0 [e-].
    sensor
        What the camera profile says of the sensor.
    chain
        Gain chain, see `readout`.
    shutter_s
        Time during which dark current is gathered, 0 or more [s].

    Returns
    -------
    numpy.ndarray
        Standard deviation, of the shape of `signal_e` [e-].

    Raises
    ------
    InputError
        For a shutter below 0.

    References
    ----------
    EMVA 1288 (mathematical model of a single pixel).

    Examples
    --------
    >>> from simulator.camera import Camera
    >>> sensor = Camera.load("fixed-2mp-lowlight").model.sensor
    >>> chain = readout(sensor, 0.0)
    >>> noise_electrons(np.array([0.0, 10_000.0]), sensor, chain, 0.0).round(1).tolist()
    [2.4, 100.0]
    """
    require("shutter_s", shutter_s, least=0.0, unit="s")
    dark = dark_electrons_per_s(sensor) * shutter_s
    variance = (
        read_noise_e(sensor, chain) ** 2
        + sensor.row_noise_e**2
        + 1.0 / (12.0 * chain.dn_per_e**2)
        + np.maximum(signal_e, 0.0)
        + dark
    )
    return np.asarray(np.sqrt(variance))
