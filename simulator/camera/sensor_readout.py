"""How electrons become digital numbers at a gain, and the noise that comes with it.

After the linear model of EMVA 1288: system gain, black level, full well, dark current, temporal
noise of one pixel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

from simulator.camera.model import Sensor
from simulator.domain import require
from simulator.units import FloatArray, db_to_ratio

DARK_REFERENCE_C = 25.0
BLACK_SHARE = 1.0 / 64.0
"""Least black level, as a share of the converter's range (assumed)."""
BLACK_DEVIATIONS = 5.0
"""Deviations of dark noise that the black level holds: one dark sample in 3.5 million is cut."""


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

    The black level leaves room for `BLACK_DEVIATIONS` of the noise in the dark at this gain, so
    that dark pixels are not cut at zero: cut noise is too small, and its mean too high. White stays
    full well / gain, so K is a little smaller where the black level is raised.

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
    EMVA 1288 (linear model, overall system gain; it asks for an offset at which no dark pixel is
    cut); the least black level of 1/64 of the range is assumed.

    Examples
    --------
    >>> from simulator.camera import Camera
    >>> sensor = Camera.load("fixed-2mp-lowlight").model.sensor
    >>> chain = readout(sensor, 6.0)
    >>> round(sensor.full_well_e), round(chain.white_e)
    (12000, 6014)
    """
    gain = db_to_ratio(gain_db)
    analog = gain
    if sensor.analog_gain_max_db is not None:
        analog = min(gain, db_to_ratio(sensor.analog_gain_max_db))
    digital = gain / analog
    high = sensor.high_gain_from_db is not None and gain_db >= sensor.high_gain_from_db
    largest = float(2**sensor.bit_depth - 1)
    black = _black_level(sensor, largest, analog / sensor.full_well_e, high)
    return Readout(
        gain,
        (largest - black) / sensor.full_well_e * analog,
        black,
        black + (largest - black) / digital,
        digital,
        high,
    )


def _black_level(sensor: Sensor, largest: float, per_e: float, high: bool) -> float:
    """Whole black level b [DN] that holds the noise in the dark; `per_e` is K / (largest - b).

    b^2 = n^2 (a^2 K^2 + c^2) with K = (largest - b) per_e solved for b; a [e-] is the noise before
    the amplifier and what is fixed to pixels and columns, c [DN] that of the converter.
    """
    own = sensor.read_noise_e
    if high and sensor.high_gain_read_noise_e is not None:
        own = sensor.high_gain_read_noise_e
    before = own**2 + sensor.row_noise_e**2 + sensor.column_noise_e**2 + sensor.dsnu_e**2
    behind = sensor.converter_noise_dn**2 + 1.0 / 12.0
    p = BLACK_DEVIATIONS**2 * before * per_e**2
    q = p * largest**2 + BLACK_DEVIATIONS**2 * behind
    level = q / (p * largest + math.sqrt(max(0.0, q - p * BLACK_DEVIATIONS**2 * behind)))
    return float(math.ceil(max(BLACK_SHARE * (largest + 1.0), min(level, largest / 2.0))))


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


def warmth(sensor: Sensor) -> float:
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
    return float(sensor.dark_current_e_per_s * warmth(sensor))


def without_dark_level(sensor: Sensor, chain: Readout, shutter_s: float) -> Readout:
    """The chain with its black level raised by the mean dark signal, as shaded pixels tell it."""
    dark_dn = dark_electrons_per_s(sensor) * shutter_s * chain.dn_per_e
    least = min(1.0, 0.5 * (chain.white_dn - chain.black_dn))
    return replace(chain, black_dn=min(chain.black_dn + dark_dn, chain.white_dn - least))


def without_temporal_noise(sensor: Sensor) -> Sensor:
    """The sensor with what is fixed to its pixels and columns, but electronics without noise."""
    high = None if sensor.high_gain_read_noise_e is None else 0.0
    none = {"read_noise_e": 0.0, "row_noise_e": 0.0, "converter_noise_dn": 0.0}
    return sensor.model_copy(update={**none, "high_gain_read_noise_e": high})


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


def clipped_noise_electrons(
    signal_e: FloatArray, sensor: Sensor, chain: Readout, shutter_s: float, most_e: float
) -> FloatArray:
    """`noise_electrons` of a pixel whose numbers end at 0 and at white.

    The standard deviation of a normal number cut to an interval (a doubly censored one).

    Parameters
    ----------
    signal_e
        Mean electrons of light, of any shape [e-].
    most_e
        Electrons beyond which all is white [e-].

    Returns
    -------
    numpy.ndarray
        Standard deviation of what is left, of the shape of `signal_e` [e-].

    References
    ----------
    Johnson, Kotz and Balakrishnan, "Continuous Univariate Distributions", vol. 1, censored normal
    (from memory; checked by drawing).
    """
    mean = np.asarray(signal_e, dtype=np.float64)
    sigma = np.maximum(noise_electrons(mean, sensor, chain, shutter_s), 1e-12)
    low = -chain.black_dn / chain.dn_per_e - dark_electrons_per_s(sensor) * shutter_s
    a, b = (low - mean) / sigma, (most_e - mean) / sigma
    # about the middle of the interval, so that large numbers do not cancel
    left, right, inside = ndtr(a), ndtr(-b), ndtr(b) - ndtr(a)
    da, db = (np.exp(-0.5 * np.minimum(x * x, 1400.0)) / math.sqrt(2.0 * math.pi) for x in (a, b))
    first = a * left + b * right + da - db
    second = a * a * left + b * b * right + inside + a * da - b * db
    return np.asarray(sigma * np.sqrt(np.maximum(second - first * first, 0.0)))
