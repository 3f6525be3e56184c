"""What a datasheet's test card gives on the sensor, by the camera room's own functions."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq

from simulator.camera.colour_matrix import solve_colour_matrix
from simulator.camera.in_scene import REFERENCE_LIGHT
from simulator.camera.lens import lens_factor, magnification
from simulator.camera.model import Lens, Sensor
from simulator.camera.processing import LUMA, demosaic, encode_tone
from simulator.camera.response import (
    coefficients,
    infrared_cut_filter,
    lens_transmittance,
    quantum_efficiency,
)
from simulator.camera.sensor_readout import noise_electrons, readout
from simulator.light.spectra import spectrum
from simulator.studies.datasheet.figures import DynamicRange, MinimumIllumination, SignalToNoise
from simulator.units import FloatArray

TONE = "bt709"
MONO_WEIGHTS = (0.25, 0.5, 0.25)
"""Weights of red, green and blue in a monochrome picture, as the processing has them."""
CARD_M = 10.0
"""Distance of the card where a profile says none [m] (assumed)."""
_PATCH = 16


def response(table: str, lens: Lens, picture: str) -> FloatArray:
    """Quantum efficiency x lens x filter of the channels, shape (3, 721)."""
    through = quantum_efficiency(table) * lens_transmittance(
        lens.transmittance, lens.transmittance_infrared
    )
    return through * infrared_cut_filter() if picture == "colour" else through


def card_electrons(figure: MinimumIllumination, table: str, lens: Lens, pitch_um: float) -> float:
    """Electrons of the strongest channel from the figure's grey card in its exposure [e-].

    Coefficient (light, grey, channel) x illuminance x lens factor 1 / (F^2 (1 + m)^2) x shutter.
    White balance lifts the other channels to this one, so it alone sets the level of a grey card.
    """
    grey = np.full((1, 721), figure.reflectance)
    rate = coefficients(
        spectrum(figure.light).power[None], grey, response(table, lens, figure.picture),
        (pitch_um * 1e-6) ** 2,
    )[0, 0]  # fmt: skip
    m = magnification(lens.focal_length_mm * 1e-3, lens.focus_m or CARD_M)
    factor = lens_factor(figure.f_number, m)
    return float(rate.max() * figure.lux * factor * figure.shutter_s)


def linear_level(level: float) -> float:
    """Linear light, as a share of white, that the tone curve encodes to a level of the picture."""
    return float(brentq(lambda x: float(encode_tone(np.asarray(x), TONE)) - level, 0.0, 1.0))


@dataclass(frozen=True)
class _Channels:
    """How much weaker than the strongest each channel of a grey card is (3,), and luma's weights
    of the balanced channels (3,)."""

    share: FloatArray
    luma: FloatArray


@lru_cache(maxsize=32)
def _channels(
    table: str, transmittances: tuple[float, float], picture: str, light: str
) -> _Channels:
    through = lens_transmittance(*transmittances)
    if picture == "colour":
        through = through * infrared_cut_filter()
    channel = quantum_efficiency(table) * through
    grey = np.ones((1, 721))
    rate = coefficients(spectrum(light).power[None], grey, channel, 1e-12)[0, 0]
    luma = np.array(MONO_WEIGHTS)
    if picture == "colour":
        _, matrix = solve_colour_matrix(channel, spectrum(REFERENCE_LIGHT).power)
        luma = np.array(LUMA) @ matrix
    return _Channels(rate / rate.max(), luma)


def _site_gains(luma: FloatArray) -> FloatArray:
    """Variance of luma by the variance of one raw pixel of each site of the mosaic (R, G, G, B).

    The demosaic is linear: each site's impulse goes through it, and its squared reply in luma,
    summed over the picture and divided by the four sites, is the share of that site's noise.
    """
    gains = []
    for y, x in ((0, 0), (0, 1), (1, 0), (1, 1)):
        mosaic = np.zeros((_PATCH, _PATCH), np.float32)
        mosaic[_PATCH // 2 + y, _PATCH // 2 + x] = 1.0
        gains.append(float(((demosaic(mosaic) @ luma) ** 2).sum()) / 4.0)
    return np.array(gains)


def signal_to_noise_db(
    figure: SignalToNoise,
    sensor: Sensor,
    lens: Lens,
    shutter_s: float,
    picture: str = "colour",
    light: str = REFERENCE_LIGHT,
) -> float:
    """Signal over temporal noise [dB] of a grey card at a level and a gain.

    On raw: electrons over EMVA 1288 noise in the strongest channel. On the picture: level of luma
    over its noise, sigma_luma = slope of the tone curve x sqrt(sum over the mosaic's sites of
    (balance x sigma_e / white_e)^2 x demosaic gain); without noise reduction and sharpening.
    """
    chain = readout(sensor, figure.gain_db)
    raw = figure.measured_on == "raw"
    linear = figure.level if raw else linear_level(figure.level)
    channels = _channels(
        sensor.quantum_efficiency, (lens.transmittance, lens.transmittance_infrared), picture, light
    )
    electrons = linear * chain.white_e * channels.share
    noise = noise_electrons(electrons, sensor, chain, shutter_s)
    if raw:
        strongest = int(channels.share.argmax())
        return float(20.0 * np.log10(electrons[strongest] / noise[strongest]))
    sigma = noise / (chain.white_e * channels.share)
    site = sigma[[0, 1, 1, 2]]
    sigma_luma = float(np.sqrt((_site_gains(channels.luma) * site**2).sum()))
    step = 1e-4
    above, below = encode_tone(np.array([linear + step, linear - step]), TONE)
    slope = float(above - below) / (2.0 * step)
    return float(20.0 * np.log10(figure.level / (slope * sigma_luma)))


def least_signal_e(sensor: Sensor, shutter_s: float) -> float:
    """Electrons at which signal and noise are equal, at 0 dB: EMVA 1288,
    mu_e.min = sqrt(sigma_d^2 + sigma_q^2/K^2 + 1/4) + 1/2, with dark current and row noise."""
    dark = float(noise_electrons(0.0, sensor, readout(sensor, 0.0), shutter_s))
    return float(np.sqrt(dark**2 + 0.25) + 0.5)


def linear_range_db(sensor: Sensor, shutter_s: float) -> float:
    """Dynamic range of one exposure at 0 dB [dB]: EMVA 1288, full well over least signal."""
    return float(20.0 * np.log10(sensor.full_well_e / least_signal_e(sensor, shutter_s)))


def read_noise_for(figure: DynamicRange, sensor: Sensor, shutter_s: float) -> float | None:
    """Read noise [e-] that gives a linear range, or None if no read noise is small enough."""
    least = sensor.full_well_e / 10.0 ** (figure.db / 20.0)
    rest = sensor.model_copy(update={"read_noise_e": 0.0})
    other = float(noise_electrons(0.0, rest, readout(rest, 0.0), shutter_s))
    squared = (least - 0.5) ** 2 - 0.25 - other**2 if least > 0.5 else -1.0
    return float(np.sqrt(squared)) if squared > 0.0 else None
