"""Automatic white balance: grey world among what may be grey, within limits in kelvin."""

from __future__ import annotations

import numpy as np

from simulator.camera.colour_matrix import adapted_rgb, solve_colour_matrix
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.processing import ColourPath
from simulator.light.spectra import blackbody_power, spectrum
from simulator.units import WAVELENGTH_NM, FloatArray, Image

NIGHT_GAIN_MAX = 4.0
"""Most gain on a channel in night mode (assumed)."""
NEAR_GREY = 0.35
"""Distance from the allowed lights, in natural logarithms of the gains, at which a pixel's weight
has fallen to 1/e (assumed; phosphor lamps lie up to 0.25 beside the blackbodies)."""
LEAST_WEIGHT = 0.02
"""Weight of pixels that no allowed light makes grey (assumed)."""
BRIGHTEST = 1.0
"""A pixel counts as no brighter than so many times the mean (assumed)."""
LOCUS_POINTS = 32
WARM_K = 2856.0
"""Blackbody for which the second colour matrix is solved: CIE illuminant A [K]."""
SODIUM = ("high-pressure-sodium", "low-pressure-sodium")
"""Lamps that a camera knows apart from blackbodies; the matrix is that of the first."""
SODIUM_FROM, SODIUM_WHOLE = 0.4, 0.7
"""Distance of the light from blackbodies, over its distances from both them and sodium lamps, from
which on and by which it counts as sodium light (assumed)."""
BLACKBODIES_K = (1500.0, 25_000.0)


def neutral_gains(response: FloatArray, temperature_k: float) -> FloatArray:
    """Gains of red and blue over green (2,) that make a blackbody's light neutral to this camera.

    Parameters
    ----------
    response
        Channel responses R, G, B (quantum efficiency x filter x lens), shape (3, 721).
    """
    electrons = (response * blackbody_power(temperature_k) * WAVELENGTH_NM).sum(axis=1)
    return np.asarray(electrons[1] / electrons[[0, 2]])


def locus(response: FloatArray, low_k: float, high_k: float) -> FloatArray:
    """Gains (n, 2) that neutralise blackbodies between two temperatures, evenly spaced in 1/T."""
    kelvin = 1.0 / np.linspace(1.0 / low_k, 1.0 / high_k, LOCUS_POINTS)
    return np.stack([neutral_gains(response, float(t)) for t in kelvin])


def grey_gains(metered: Image, allowed: FloatArray) -> FloatArray:
    """Gains of red and blue (2,) that make the mean of the likely grey pixels neutral.

    Grey world (Buchsbaum, J. Franklin Inst. 310, 1980) with weights: a pixel counts by how near
    it is to what an allowed light makes of grey, so that a large coloured thing pulls the balance
    less.

    Parameters
    ----------
    metered
        Light (rows, columns, 3) [e-/s per pixel].
    allowed
        Gains (n, 2) that neutralise the allowed lights.
    """
    pixels = metered.reshape(-1, 3).astype(np.float64)
    pixels = np.maximum(pixels, 1e-9 * max(float(pixels.max()), 1e-30))
    gains = np.log(pixels[:, 1:2] / pixels[:, [0, 2]])
    away = np.min(np.sum((gains[:, None, :] - np.log(allowed)[None]) ** 2, axis=2), axis=1)
    weight = LEAST_WEIGHT + np.exp(-away / NEAR_GREY**2)
    bright = pixels[:, 1] / pixels[:, 1].mean()
    weight /= np.maximum(1.0, bright / BRIGHTEST)
    mean = weight @ pixels
    return np.asarray(mean[1] / mean[[0, 2]])


def colour_path(in_scene: CameraInScene, metered: Image, mode: Mode) -> ColourPath:
    """White balance from the picture itself, and the colour matrix.

    By day the gains that make likely grey pixels neutral, each kept between those that neutralise a
    blackbody at `white_balance_low_k` and `white_balance_high_k` as this sensor sees them: light
    beyond the limits keeps its colour. The matrix is mixed from those solved in daylight and under
    CIE A; light of sodium lamps has a matrix of its
    own, under which it stays amber. A balance fixed to daylight takes the gains and the matrix of
    daylight.

    The smallest gain is one, so that a saturated pixel is white in every channel. By night all
    channels see infrared, and are brought to one level for the monochrome picture.

    Parameters
    ----------
    metered
        Light of a small picture (rows, columns, 3) [e-/s per pixel].
    """
    if mode == "night":
        means = metered.reshape(-1, 3).mean(axis=0).astype(np.float64)
        balance = np.minimum(means.max() / np.maximum(means, 1e-12), NIGHT_GAIN_MAX)
        return ColourPath(balance / balance.min(), np.eye(3), True)
    daylight, matrix = in_scene.daylight_colour
    settings = in_scene.camera.processing
    if settings.white_balance == "daylight":
        return ColourPath(daylight / daylight.min(), matrix, False)
    response = in_scene.response("day")
    allowed = locus(response, settings.white_balance_low_k, settings.white_balance_high_k)
    sodium = np.stack([_neutral(response, spectrum(name).power) for name in SODIUM])
    grey = grey_gains(metered, np.concatenate([allowed, sodium[:1]]))
    gains = np.clip(grey, allowed.min(axis=0), allowed.max(axis=0))
    balance = np.array([gains[0], 1.0, gains[1]])
    matrix = _mixed_matrix(response, gains, daylight[[0, 2]], matrix)
    share = _sodium_share(grey, locus(response, *BLACKBODIES_K), sodium)
    if share > 0.0:
        amber, own = _sodium_path(response, settings.white_balance_low_k)
        balance = balance ** (1.0 - share) * amber**share
        matrix = (1.0 - share) * matrix + share * own
    return ColourPath(balance / balance.min(), matrix, False)


def _neutral(response: FloatArray, power: FloatArray) -> FloatArray:
    """Gains of red and blue over green (2,) that make a light neutral to this camera."""
    electrons = (response * power * WAVELENGTH_NM).sum(axis=1)
    return np.asarray(electrons[1] / electrons[[0, 2]])


def _sodium_share(gains: FloatArray, blackbodies: FloatArray, sodium: FloatArray) -> float:
    """How surely a light is that of sodium lamps, by the logarithms of the gains that it asks for.

    Sodium lamps lie about the line from high to low pressure, beside all blackbodies.
    """
    at, low, high = np.log(gains), np.log(sodium[0]), np.log(sodium[1])
    from_bodies = float(np.linalg.norm(np.log(blackbodies) - at, axis=1).min())
    along = float(np.clip((at - low) @ (high - low) / ((high - low) @ (high - low)), 0.0, 1.0))
    from_sodium = float(np.linalg.norm(low + along * (high - low) - at))
    apart = from_bodies / max(from_bodies + from_sodium, 1e-9)
    t = float(np.clip((apart - SODIUM_FROM) / (SODIUM_WHOLE - SODIUM_FROM), 0.0, 1.0))
    return t * t * (3.0 - 2.0 * t)


def _sodium_path(response: FloatArray, low_k: float) -> tuple[FloatArray, FloatArray]:
    """Balance over green (3,) and matrix (3, 3) under sodium lamps.

    The matrix is solved under them: their narrow lines look greener to red and green filters than
    to an eye. The picture is balanced to the warmest light allowed, so that the lamp keeps the
    amber that it has to an eye adapted to that: the gains hold that colour, and the matrix leaves
    it as it is.
    """
    neutral, matrix = solve_colour_matrix(response, spectrum(SODIUM[0]).power)
    amber = adapted_rgb(spectrum(SODIUM[0]).power, blackbody_power(low_k))
    amber = np.maximum(amber, 0.05)
    balance = neutral * amber
    return balance / balance[1], amber[:, None] * matrix / amber[None, :]


def _mixed_matrix(
    response: FloatArray, gains: FloatArray, daylight: FloatArray, matrix: FloatArray
) -> FloatArray:
    """Matrix between that of daylight and that of CIE A, by where the gains lie between theirs.

    Along the locus of blackbodies the logarithms of the gains are about linear in 1/T.
    """
    balance, warm = solve_colour_matrix(response, blackbody_power(WARM_K))
    to_warm = np.log(balance[[0, 2]] / daylight)
    share = float(np.clip(np.log(gains / daylight) @ to_warm / (to_warm @ to_warm), 0.0, 1.0))
    return np.asarray(share * warm + (1.0 - share) * matrix)
