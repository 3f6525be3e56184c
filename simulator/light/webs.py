"""Tables of intensity by direction, all on one grid, and the beams that are made of them.

gamma is the angle from the beam axis, 0 to 180 degrees; C the angle about it, 0 to 360 degrees,
both ends included, so that C = 360 repeats C = 0. Values between are bilinear.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from simulator.domain import require
from simulator.errors import InputError
from simulator.units import FloatArray

GAMMA_STEP_DEG: Final = 0.5
C_STEP_DEG: Final = 2.5
WEB_SHAPE: Final = (361, 145)
GAMMA_DEG: Final[FloatArray] = GAMMA_STEP_DEG * np.arange(WEB_SHAPE[0], dtype=np.float64)
C_DEG: Final[FloatArray] = C_STEP_DEG * np.arange(WEB_SHAPE[1], dtype=np.float64)
FLAT_EDGE: Final = 0.1
"""Width of the soft edge of a flat beam over its half angle (assumed): from 88 to 12 percent."""


def flux(gamma_deg: FloatArray, c_deg: FloatArray, intensity: FloatArray) -> float:
    """Flux of an intensity table, the integral of I sin(gamma) dgamma dC.

    Exact for what is linear between the rows in gamma and between the columns in C.

    Parameters
    ----------
    gamma_deg, c_deg
        Rising angles [deg], shapes (g,) and (c,).
    intensity
        Table (g, c) [cd] or [W/sr].

    Returns
    -------
    Flux over the angles of the table [lm] or [W].
    """
    g = np.radians(gamma_deg)
    step, cos, sin = np.diff(g), np.cos(g), np.sin(g)
    # of I = I0 + k (g - g0): integral of I sin g = I0 cos g0 - I1 cos g1 + k (sin g1 - sin g0)
    slope = (sin[1:] - sin[:-1]) / step
    rings = (
        intensity[:-1] * (cos[:-1] - slope)[:, None] + intensity[1:] * (slope - cos[1:])[:, None]
    )
    columns = rings.sum(axis=0)
    return float(np.sum(0.5 * (columns[1:] + columns[:-1]) * np.diff(np.radians(c_deg))))


def flat_beam(beam_deg: float) -> NDArray[np.float32]:
    """Beam of even intensity with a soft edge, 1 on its axis.

    I = (1 - tanh((gamma - h) / (0.1 h))) / 2 with the half angle h = beam/2, at which the
    intensity is one half; for lamps with a diffusing or free-form lens that spares the hot spot in
    the middle.

    Parameters
    ----------
    beam_deg
        Full angle between the directions of half the intensity [deg], 4 to 170.

    Returns
    -------
    numpy.ndarray
        Relative intensity, `WEB_SHAPE`, float32.

    Raises
    ------
    InputError
        If the angle is out of range; under 4 degrees the edge is finer than the table.

    References
    ----------
    A shape of our own (assumed).

    Examples
    --------
    >>> on_axis, half, outside = flat_beam(60.0)[[0, 60, 120], 0]  # 0, 30 and 60 degrees
    >>> round(float(on_axis), 2), round(float(half), 2), round(float(outside), 2)
    (1.0, 0.5, 0.0)
    """
    if not 4.0 <= beam_deg <= 170.0:
        raise InputError("a flat beam is out of range", given=beam_deg, allowed="4 to 170 deg")
    half = beam_deg / 2.0
    shape = 0.5 * (1.0 - np.tanh((GAMMA_DEG - half) / (FLAT_EDGE * half)))
    shape = np.where(GAMMA_DEG <= 90.0, shape / shape[0], 0.0)
    return np.ascontiguousarray(np.broadcast_to(shape[:, None], WEB_SHAPE), dtype=np.float32)


def web_intensity(
    web: NDArray[np.float32], gamma_deg: FloatArray | float, c_deg: FloatArray | float
) -> FloatArray:
    """Intensity of a table towards directions, bilinear; shapes broadcast.

    Parameters
    ----------
    web
        Table of `WEB_SHAPE` [cd], [W/sr] or relative.
    gamma_deg
        Angle from the axis [deg], 0 to 180.
    c_deg
        Angle about the axis [deg], any.

    Returns
    -------
    numpy.ndarray
        Intensity in the unit of the table, broadcast shape.

    Raises
    ------
    InputError
        For an angle from the axis out of range.

    References
    ----------
    Bilinear interpolation; angles as of type C photometry (ANSI/IES LM-63-19).

    Examples
    --------
    >>> web_intensity(flat_beam(60.0), [0.0, 30.0], 0.0).round(2).tolist()
    [1.0, 0.5]
    """
    require("gamma_deg", gamma_deg, least=0.0, most=180.0, unit="deg")
    g = np.clip(np.asarray(gamma_deg, dtype=np.float64), 0.0, 180.0) / GAMMA_STEP_DEG
    c = np.mod(np.asarray(c_deg, dtype=np.float64), 360.0) / C_STEP_DEG
    i = np.minimum(g.astype(np.int64), WEB_SHAPE[0] - 2)
    j = np.minimum(c.astype(np.int64), WEB_SHAPE[1] - 2)
    a, b = g - i, c - j
    near = web[i, j] * (1.0 - b) + web[i, j + 1] * b
    far = web[i + 1, j] * (1.0 - b) + web[i + 1, j + 1] * b
    return np.asarray(near * (1.0 - a) + far * a, dtype=np.float64)


def directions(
    vectors: FloatArray, axis: FloatArray, reference: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """gamma and C [deg] of directions in the axes of a light.

    Parameters
    ----------
    vectors
        Directions away from the light, any length, (..., 3).
    axis, reference
        Unit vectors of gamma = 0 and of gamma = 90, C = 0.

    Returns
    -------
    gamma in 0 to 180, C in 0 to 360 [deg], shape (...).
    """
    forward = vectors @ axis
    x, y = vectors @ reference, vectors @ np.cross(reference, axis)
    gamma = np.degrees(np.arctan2(np.hypot(x, y), forward))
    return np.asarray(gamma), np.asarray(np.mod(np.degrees(np.arctan2(y, x)), 360.0))


def reference_direction(axis: FloatArray, azimuth_deg: float) -> FloatArray:
    """Direction of C = 0: the horizontal one of an azimuth, turned square to the axis.

    Parameters
    ----------
    axis
        Unit vector of the beam axis (3,).
    azimuth_deg
        0 along +y (away from the camera), 90 along +x [deg].

    Raises
    ------
    InputError
        If the axis lies along that direction itself.
    """
    azimuth = np.radians(azimuth_deg)
    level = np.array([np.sin(azimuth), np.cos(azimuth), 0.0])
    square = level - (level @ axis) * axis
    length = float(np.linalg.norm(square))
    if length < 1e-3:
        raise InputError(
            "C = 0 lies along the beam axis", given=azimuth_deg, allowed="another azimuth"
        )
    return np.asarray(square / length)
