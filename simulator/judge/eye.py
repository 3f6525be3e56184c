"""What an eye makes out on a display: luminance of levels, and contrast sensitivity after Barten.

Luminance of the display at a level v is

    L(v) = white [(v / 255)^2.4 + room + scatter (surround / 255)^2.4]

with the curve of ITU-R BT.1886; `ROOM` is black and what room light leaves on the screen (300 lx on
a screen that scatters 2 % back: 1.9 cd/m2 of 100), `SCATTER` what the eye itself scatters from a
bright surround into the target (assumed: 2 %).

Contrast sensitivity S(u), the inverse of the modulation seen in half of all looks, after P. G. J.
Barten, Contrast Sensitivity of the Human Eye and Its Effects on Image Quality (SPIE 1999), with
the usual constants (those of the documentation of colour-science, which the tests compare with):

    S(u) = (M_opt(u) / k) / sqrt( 2/T (1/X0^2 + 1/Xmax^2 + u^2/Nmax^2)
                                  (1/(eta p E) + Phi0 / (1 - exp(-(u/u0)^2))) )
    M_opt(u) = exp(-2 pi^2 sigma^2 u^2),  sigma^2 = sigma_0^2 + (C_ab d)^2
    E = (pi d^2/4) L (1 - (d/9.7)^2 + (d/12.4)^4),  d = 5 - 3 tanh(0.4 log10(L X0^2 / 40^2))
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from simulator.domain import require
from simulator.units import FloatArray, Image


@dataclass(frozen=True)
class Display:
    """A display in a room; the viewer sits where he likes and zooms in at will.

    Attributes
    ----------
    white_cd_m2, black_cd_m2
        Luminance of white and of black in the dark [cd/m2].
    room_lux
        Light of the room on the screen [lx].
    screen_reflectance
        Share of it that the screen scatters back, 0 to 1.
    """

    white_cd_m2: float = 100.0
    black_cd_m2: float = 0.1
    room_lux: float = 300.0
    screen_reflectance: float = 0.02

    @property
    def lift(self) -> float:
        """What lies over every level [share of white]: black, and room light on the screen."""
        back = self.room_lux * self.screen_reflectance / math.pi
        return (self.black_cd_m2 + back) / self.white_cd_m2


CONTROL_ROOM = Display()
"""A desk display in a lit control room (assumed: a white that most desks are set to, a black of a
thousandth, 300 lx, a screen that scatters 2 % back)."""
WHITE_CD_M2 = CONTROL_ROOM.white_cd_m2
"""Luminance of the display's white."""
GAMMA = 2.4
ROOM, SCATTER = CONTROL_ROOM.lift, 0.02
K, EYE_TIME_S, X_MAX_DEG, N_MAX = 3.0, 0.1, 12.0, 15.0
ETA, PHOTON_FACTOR, PHI_0, U_0 = 0.03, 1.2274e6, 3e-8, 7.0
SIGMA_0_DEG, C_AB_DEG_PER_MM = 0.5 / 60.0, 0.08 / 60.0


def emitted(levels: Image) -> Image:
    """Light of a display by level [share of white], of any shape (ITU-R BT.1886)."""
    return np.asarray((np.maximum(levels, 0.0) / 255.0) ** GAMMA, dtype=np.float32)


def stray_light_of(surround: float, display: Display = CONTROL_ROOM) -> float:
    """Light that lies over a target on a display [share of white], by what its surround emits."""
    return display.lift + SCATTER * surround


def pupil_mm(luminance_cd_m2: float, size_deg: float) -> float:
    """Diameter of the pupil [mm] before a square field."""
    return float(5.0 - 3.0 * np.tanh(0.4 * np.log10(luminance_cd_m2 * size_deg**2 / 40.0**2)))


def contrast_sensitivity(
    frequency: FloatArray | float, luminance_cd_m2: float, size_deg: float
) -> FloatArray:
    """Inverse of the modulation that is seen in half of all looks.

    Parameters
    ----------
    frequency
        Spatial frequency, of any shape, above 0 [cycles/deg].
    luminance_cd_m2
        Mean luminance [cd/m2].
    size_deg
        Side of the square field that shows the pattern [deg].

    Returns
    -------
    numpy.ndarray
        Sensitivity, of the shape of `frequency`.

    Raises
    ------
    InputError
        For a frequency, luminance or size that is not above 0.

    References
    ----------
    Barten 1999, "Contrast sensitivity of the human eye and its effects on image quality"
    (constants from memory).

    Examples
    --------
    >>> peak, fine = contrast_sensitivity([4.0, 30.0], 100.0, 10.0)
    >>> bool(peak > 10 * fine)
    True
    """
    require("frequency", frequency, above=0.0, unit="cycles/deg")
    require("luminance_cd_m2", luminance_cd_m2, above=0.0, unit="cd/m²")
    require("size_deg", size_deg, above=0.0, unit="°")
    u = np.asarray(frequency, dtype=np.float64)
    d = pupil_mm(luminance_cd_m2, size_deg)
    troland = np.pi * d**2 / 4.0 * luminance_cd_m2 * (1.0 - (d / 9.7) ** 2 + (d / 12.4) ** 4)
    optics = np.exp(-2.0 * np.pi**2 * (SIGMA_0_DEG**2 + (C_AB_DEG_PER_MM * d) ** 2) * u**2)
    area = 1.0 / size_deg**2 + 1.0 / X_MAX_DEG**2 + u**2 / N_MAX**2
    noise = 1.0 / (ETA * PHOTON_FACTOR * troland) - PHI_0 / np.expm1(-((u / U_0) ** 2))
    return np.asarray(optics / K / np.sqrt(2.0 / EYE_TIME_S * area * noise))
