"""From spectral power to lux, lumens and photons. Integrals are sums on the 1 nm grid."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from simulator import data
from simulator.domain import require
from simulator.errors import NoLightError
from simulator.units import (
    MAX_LUMINOUS_EFFICACY_LM_W,
    STEP_NM,
    WAVELENGTH_NM,
    FloatArray,
    photon_energy_j,
)


@lru_cache
def luminous_efficiency() -> FloatArray:
    """V(lambda), CIE 1924 photopic luminous efficiency, zero beyond 830 nm.

    Returns
    -------
    numpy.ndarray
        V on `units.WAVELENGTH_NM`, shape (721,), read-only.

    References
    ----------
    Table of the CIE 1924 standard observer as distributed with colour-science.

    Examples
    --------
    >>> v = luminous_efficiency()
    >>> v.shape, float(v[555 - 380])
    ((721,), 1.0)
    """
    efficiency = data.read_table("observers", "cie-1924-photopic").on_grid("v")
    efficiency.setflags(write=False)
    return efficiency


def illuminance_lux(power: FloatArray) -> FloatArray:
    """Illuminance E = 683 lm/W x integral of V(lambda) E_lambda dlambda.

    Parameters
    ----------
    power
        Spectral irradiance [W m^-2 nm^-1], shape (..., 721). A spectral radiance gives the
        luminance [cd m^-2] instead, a spectral flux the luminous flux [lm].

    Returns
    -------
    numpy.ndarray
        Illuminance [lx], shape (...).

    References
    ----------
    Definition of the candela (SI Brochure, 9th edition; from memory) with V(lambda) of
    `luminous_efficiency`.

    Examples
    --------
    >>> import numpy as np
    >>> line = np.zeros(721)
    >>> line[555 - 380] = 1.0  # 1 W/m2 at 555 nm
    >>> float(illuminance_lux(line))
    683.0
    """
    weighted = np.asarray(power, dtype=np.float64) @ luminous_efficiency()
    return np.asarray(MAX_LUMINOUS_EFFICACY_LM_W * STEP_NM * weighted)


def photon_irradiance(power: FloatArray, lo_nm: float = 380.0, hi_nm: float = 1100.0) -> FloatArray:
    """Photons per second and square metre between two wavelengths, both ends included.

    Sum of E_lambda lambda / (h c) with half weight at the two ends (trapezoid rule).

    Parameters
    ----------
    power
        Spectral irradiance [W m^-2 nm^-1], shape (..., 721).
    lo_nm, hi_nm
        Wavelength range [nm], whole numbers inside 380 to 1100, `hi_nm` not below `lo_nm`.

    Returns
    -------
    numpy.ndarray
        Photon irradiance [s^-1 m^-2], shape (...).

    Raises
    ------
    InputError
        For a range that does not lie inside 380 to 1100 nm.

    References
    ----------
    Energy of a photon h c / lambda with the exact constants of the SI (2019).

    Examples
    --------
    >>> from simulator.light import gaussian_emitter
    >>> print(f"{photon_irradiance(gaussian_emitter(850.0, 35.0).power):.2e}")  # of 1 W/m2
    4.28e+18
    """
    require("lo_nm", lo_nm, least=float(WAVELENGTH_NM[0]), unit="nm")
    require("hi_nm", hi_nm, least=lo_nm, most=float(WAVELENGTH_NM[-1]), unit="nm")
    grid = WAVELENGTH_NM
    weight = np.where((grid >= lo_nm) & (grid <= hi_nm), STEP_NM, 0.0)
    # the common grid carries no power outside itself, so only inner ends are halved
    for end in (lo_nm, hi_nm):
        if grid[0] < end < grid[-1]:
            weight[grid == end] *= 0.5
    return np.asarray(np.asarray(power, dtype=np.float64) @ (weight / photon_energy_j(grid)))


def luminous_efficacy(power: FloatArray) -> FloatArray:
    """Luminous efficacy of the radiation in 380-1100 nm, lumens per watt.

    Parameters
    ----------
    power
        Spectral power in any unit, shape (..., 721).

    Returns
    -------
    numpy.ndarray
        Efficacy [lm/W], shape (...).

    Raises
    ------
    NoLightError
        If a spectrum holds no power at all.

    References
    ----------
    Illuminance by `illuminance_lux` over the integral of the same power.

    Examples
    --------
    >>> from simulator.light import spectrum
    >>> round(float(luminous_efficacy(spectrum("low-pressure-sodium").power)))
    523
    """
    watt = np.asarray(power, dtype=np.float64).sum(axis=-1) * STEP_NM
    if np.any(watt <= 0.0):
        raise NoLightError("a spectrum without power has no luminous efficacy")
    return np.asarray(illuminance_lux(power) / watt)
