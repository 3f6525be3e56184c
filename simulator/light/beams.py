"""Beams: how a lamp spreads its intensity, and what reaches a point.

Angles of headlamps: horizontal positive to the driver's right, vertical positive upwards.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

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

    Raises
    ------
    InputError
        If the angle is out of range.
    """
    if not 0.0 < beam_deg < 180.0:
        raise InputError("the beam angle is out of range", given=beam_deg, allowed="0 to 180 deg")
    return float(np.log(0.5) / np.log(np.cos(np.radians(beam_deg) / 2.0)))


def relative_intensity(cos_theta: FloatArray | float, exponent: float) -> FloatArray:
    """cos^m(theta) in front of the lamp, 0 behind it; same shape as `cos_theta`."""
    return np.asarray(np.clip(cos_theta, 0.0, None) ** exponent)


def beam_flux(peak_intensity: float, exponent: float) -> float:
    """Flux of the whole beam, 2 pi I0 / (m + 1): lumens from candela, watts from W/sr."""
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
        Peak intensity [cd] or [W/sr].
    exponent
        Exponent of the beam, see `beam_exponent`.
    point, normal
        Lit points [m] and their surface normals (any length), shape (..., 3).

    Returns
    -------
    E [lx] or [W/m2], shape (...). Zero behind the lamp and on surfaces turned away.
    """
    to_point = np.asarray(point, dtype=np.float64) - np.asarray(position, dtype=np.float64)
    distance = np.linalg.norm(to_point, axis=-1)
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
    Intensity [cd], broadcast shape.

    Raises
    ------
    InputError
        If `mode` is neither.
    """
    h = np.asarray(horizontal_deg, dtype=np.float64)
    v = np.asarray(vertical_deg, dtype=np.float64)
    front = (np.abs(h) < 90.0) & (np.abs(v) < 90.0)
    stray = 60.0 + 240.0 * _bell(h, 25.0) * _bell(v, 8.0)
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
