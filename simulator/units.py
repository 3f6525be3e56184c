"""Physical constants, the one wavelength grid, and small unit conversions.

Constants come from `scipy.constants` (CODATA). The grid runs from 380 to 1100 nm in steps of
1 nm: visible light and the near infrared that silicon sees.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.constants import c as _c, h as _h

PLANCK_J_S: Final[float] = _h
LIGHT_SPEED_M_S: Final[float] = _c

MAX_LUMINOUS_EFFICACY_LM_W: Final[float] = 683.0
"""Luminous efficacy of radiation at 540 THz [lm/W] (SI, definition of the candela)."""

STEP_NM: Final[float] = 1.0
WAVELENGTH_NM: Final[NDArray[np.float64]] = np.arange(380.0, 1100.0 + STEP_NM, STEP_NM)
"""The grid every spectrum lives on [nm], 721 samples; integrals are sums times `STEP_NM`."""

FloatArray = NDArray[np.float64]
Image = NDArray[np.float32]


def photon_energy_j(wavelength_nm: FloatArray | float) -> FloatArray:
    """Energy of one photon, E = h c / lambda [J]."""
    return np.asarray(PLANCK_J_S * LIGHT_SPEED_M_S / (np.asarray(wavelength_nm) * 1e-9))


def ratio_to_db(ratio: float) -> float:
    """Amplitude ratio in decibels, 20 log10(ratio) (EMVA 1288 convention)."""
    return float(20.0 * np.log10(ratio))


def db_to_ratio(decibel: float) -> float:
    """Amplitude ratio from decibels, 10^(dB/20)."""
    return float(10.0 ** (decibel / 20.0))


def ratio_to_stops(ratio: float) -> float:
    """Ratio in photographic stops, log2(ratio)."""
    return float(np.log2(ratio))


def kmh_to_m_s(speed_kmh: float) -> float:
    """km/h to m/s."""
    return speed_kmh / 3.6
