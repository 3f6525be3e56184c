"""Beams: how a lamp spreads its intensity, and what reaches a point.

Angles of headlamps: horizontal positive to the driver's right, vertical positive upwards.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from simulator.domain import require
from simulator.errors import InputError
from simulator.units import FloatArray

HEADLAMP_PEAK_CD = {"dipped": 15_000.0, "main": 40_000.0}
"""Peak luminous intensity of the generic headlamps [cd] (assumed, inside UN R112 class B)."""

_CUT_OFF_DEG = -0.573  # 1 % downwards aim of the cut-off, UN R48 / R112 (from memory)
_CUT_OFF_RISE = float(np.tan(np.radians(15.0)))  # the 15 degree shoulder (from memory)
_CUT_OFF_WIDTH_DEG = 0.12  # softness of the edge (assumed)


def beam_exponent(beam_deg: float) -> float:
    """Exponent m of I = I0 cos^m(theta) whose half intensity falls at half the beam angle.

    m = ln(1/2) / ln(cos(beam/2)); a Lambertian lamp has 120 degrees and m = 1.

    Parameters
    ----------
    beam_deg
        Full angle between the directions of half the peak intensity [deg], 0 to 180 exclusive.

    Returns
    -------
    float
        Exponent m, above 0.

    Raises
    ------
    InputError
        If the angle is out of range.

    References
    ----------
    The cosine-power law solved for half the peak; Lambert's cosine law for m = 1.

    Examples
    --------
    >>> round(beam_exponent(120.0), 6)
    1.0
    """
    if not 0.0 < beam_deg < 180.0:
        raise InputError("the beam angle is out of range", given=beam_deg, allowed="0 to 180 deg")
    return float(np.log(0.5) / np.log(np.cos(np.radians(beam_deg) / 2.0)))


def relative_intensity(cos_theta: FloatArray | float, exponent: float) -> FloatArray:
    """Intensity of a cosine-power beam over that on its axis: cos^m(theta) in front, 0 behind.

    Parameters
    ----------
    cos_theta
        Cosine of the angle from the beam axis, any shape.
    exponent
        Exponent m of the beam, 0 or more, see `beam_exponent`.

    Returns
    -------
    numpy.ndarray
        Share of the intensity on the axis, same shape as `cos_theta`.

    Raises
    ------
    InputError
        For an exponent below 0.

    References
    ----------
    Lambert's cosine law for m = 1; other powers are common practice for lamps with optics, no
    source.

    Examples
    --------
    >>> relative_intensity([1.0, 0.5, -0.2], 2.0).tolist()
    [1.0, 0.25, 0.0]
    """
    require("exponent", exponent, least=0.0)
    return np.asarray(np.clip(cos_theta, 0.0, None) ** exponent)


def beam_flux(peak_intensity: float, exponent: float) -> float:
    """Flux of the whole beam, 2 pi I0 / (m + 1): lumens from candela, watts from W/sr.

    Parameters
    ----------
    peak_intensity
        Intensity I0 on the axis [cd] or [W/sr], 0 or more.
    exponent
        Exponent m of the beam, 0 or more, see `beam_exponent`.

    Returns
    -------
    float
        Flux [lm] or [W].

    Raises
    ------
    InputError
        For an intensity or exponent below 0.

    References
    ----------
    Integral of I0 cos^m(theta) over the half sphere in front, in closed form; pi I0 for Lambert's
    law.

    Examples
    --------
    >>> round(beam_flux(100.0, 1.0), 2)
    314.16
    >>> beam_flux(-5.0, 1.0)
    Traceback (most recent call last):
    simulator.errors.InputError: This lies outside the domain of the law.
      argument: peak_intensity
      given:    -5.0
      allowed:  at least 0 cd or W/sr
    """
    require("peak_intensity", peak_intensity, least=0.0, unit="cd or W/sr")
    require("exponent", exponent, least=0.0)
    return 2.0 * np.pi * peak_intensity / (exponent + 1.0)


def point_irradiance(
    position: FloatArray,
    axis: FloatArray,
    intensity: float,
    exponent: float,
    point: FloatArray,
    normal: FloatArray,
) -> FloatArray:
    """Illuminance or irradiance from a small lamp, E = I(theta) cos(incidence) / d^2.

    Parameters
    ----------
    position, axis
        Place of the lamp [m] and direction of its beam axis (any length), shape (3,).
    intensity
        Peak intensity [cd] or [W/sr], 0 or more.
    exponent
        Exponent of the beam, 0 or more, see `beam_exponent`.
    point, normal
        Lit points [m] and their surface normals (any length), shape (..., 3).

    Returns
    -------
    numpy.ndarray
        E [lx] or [W/m2], shape (...). Zero behind the lamp and on surfaces turned away.

    Raises
    ------
    InputError
        For an intensity or exponent below 0, or a point at the lamp itself.

    References
    ----------
    Inverse square law and cosine law of illumination (Lambert, Photometria, 1760; from memory).

    Examples
    --------
    >>> down, up = [0.0, 0.0, -1.0], [0.0, 0.0, 1.0]
    >>> ground = [[0.0, 0.0, 0.0], [3.0, 0.0, 0.0]]
    >>> point_irradiance([0.0, 0.0, 4.0], down, 1600.0, 1.0, ground, up).round(2).tolist()
    [100.0, 40.96]
    """
    require("intensity", intensity, least=0.0, unit="cd or W/sr")
    to_point = np.asarray(point, dtype=np.float64) - np.asarray(position, dtype=np.float64)
    distance = np.linalg.norm(to_point, axis=-1)
    require("point", distance, above=0.0, unit="m from the lamp")
    direction = to_point / distance[..., None]
    axis_unit = np.asarray(axis, dtype=np.float64) / np.linalg.norm(axis)
    normal_unit = np.asarray(normal, dtype=np.float64)
    normal_unit = normal_unit / np.linalg.norm(normal_unit, axis=-1, keepdims=True)
    incidence = np.clip(-(direction * normal_unit).sum(axis=-1), 0.0, None)
    emitted = intensity * relative_intensity(direction @ axis_unit, exponent)
    return np.asarray(emitted * incidence / distance**2)


def headlamp_intensity_cd(
    horizontal_deg: FloatArray | float,
    vertical_deg: FloatArray | float,
    mode: Literal["dipped", "main"],
) -> FloatArray:
    """Luminous intensity of one generic vehicle headlamp.

    A smooth pattern of our own (assumed) that keeps the limits of UN R112 class B (from memory).
    Dipped: a cut-off 0.57 deg below the horizontal that rises at 15 deg on the right, up to
    15 000 cd just below it, some 300 cd just above. Main: 40 000 cd straight ahead.

    Parameters
    ----------
    horizontal_deg, vertical_deg
        Direction from the lamp [deg], to the driver's right and upwards; shapes broadcast.
    mode
        "dipped" or "main".

    Returns
    -------
    numpy.ndarray
        Intensity [cd], broadcast shape; 0 from 90 degrees off the axis on.

    Raises
    ------
    InputError
        If `mode` is neither.

    References
    ----------
    UN Regulation No. 112, class B, and No. 48 for the aim of the cut-off (both from memory).

    Examples
    --------
    >>> above, below = headlamp_intensity_cd([0.0, 1.0], [1.0, -1.5], "dipped")
    >>> round(float(above), -2), round(float(below), -3)
    (300.0, 12000.0)
    """
    h = np.asarray(horizontal_deg, dtype=np.float64)
    v = np.asarray(vertical_deg, dtype=np.float64)
    front = (np.abs(h) < 90.0) & (np.abs(v) < 90.0)
    # what the face of the lamp scatters falls off to its sides as of any flat face
    face = np.clip(np.cos(np.radians(h)) * np.cos(np.radians(v)), 0.0, None)
    stray = face * (60.0 + 240.0 * _bell(h, 25.0) * _bell(v, 8.0))
    if mode == "dipped":
        cut_off = _CUT_OFF_DEG + _CUT_OFF_RISE * np.clip(h, 0.0, 4.0)
        depth = np.clip(cut_off - v, 0.0, None)
        open_share = 0.5 * (1.0 + np.tanh((cut_off - v) / (2.0 * _CUT_OFF_WIDTH_DEG)))
        hot_spot = _bell(h - 1.0, 6.5) * np.exp(-depth / 3.0)
        foreground = 0.12 * _bell(h, 22.0) * np.exp(-depth / 9.0)
        # 1.0254 brings the greatest value of this pattern to its nominal peak
        beam = 1.0254 * HEADLAMP_PEAK_CD["dipped"] * open_share * (hot_spot + foreground)
    elif mode == "main":
        spot = 0.8 * _bell(h, 4.0) * _bell(v, 2.2) + 0.2 * _bell(h, 12.0) * _bell(v, 5.0)
        beam = (HEADLAMP_PEAK_CD["main"] - 300.0) * spot
    else:
        raise InputError("unknown headlamp mode", given=mode, allowed="dipped, main")
    return np.asarray(np.where(front, stray + beam, 0.0))


def _bell(angle_deg: FloatArray, sigma_deg: float) -> FloatArray:
    return np.exp(-0.5 * (angle_deg / sigma_deg) ** 2)
