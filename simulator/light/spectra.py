"""Spectra of light on the common grid, 380 to 1100 nm in steps of 1 nm.

A spectrum is stored for ONE unit of light on the target: for 1 lx where the light is described
by its illuminance (`basis` "lux"), for 1 W/m2 in 380-1100 nm where it is described by its
irradiance (`basis` "w_m2", infrared illuminators).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from scipy.constants import Boltzmann

from simulator import data
from simulator.domain import require
from simulator.errors import InputError, NoLightError
from simulator.light.photometry import illuminance_lux
from simulator.units import LIGHT_SPEED_M_S, PLANCK_J_S, STEP_NM, WAVELENGTH_NM, FloatArray


@dataclass(frozen=True)
class Spectrum:
    """Spectral irradiance of one unit of light.

    Attributes
    ----------
    name
        Name, as `spectrum` takes it.
    basis
        "lux": `power` is for 1 lx; "w_m2": for 1 W/m2 over 380-1100 nm.
    power
        Spectral irradiance [W m^-2 nm^-1] on `units.WAVELENGTH_NM`, shape (721,), read-only.

    Examples
    --------
    >>> one = spectrum("cie-a")
    >>> one.name, one.basis, one.power.shape
    ('cie-a', 'lux', (721,))
    """

    name: str
    basis: Literal["lux", "w_m2"]
    power: FloatArray


def spectrum_names() -> list[str]:
    """Names of the bundled spectra.

    Returns
    -------
    list of str
        Sorted names that `spectrum` takes.

    References
    ----------
    Origin and status of each table stand in its head, see `simulator/data/README.md`.

    Examples
    --------
    >>> "cie-a" in spectrum_names()
    True
    """
    return data.names("spectra")


@lru_cache
def spectrum(name: str) -> Spectrum:
    """A bundled spectrum, scaled to 1 lx.

    Parameters
    ----------
    name
        One of `spectrum_names`.

    Returns
    -------
    Spectrum
        On the basis of 1 lx.

    Raises
    ------
    NameNotFoundError
        If there is no such spectrum; the nearest names are told.
    NoLightError
        If the table holds no visible light, so that it cannot be scaled to 1 lx.

    References
    ----------
    Origin and status of each table stand in its head, see `simulator/data/README.md`.

    Examples
    --------
    >>> from simulator.light import illuminance_lux
    >>> round(float(illuminance_lux(spectrum("high-pressure-sodium").power)), 6)
    1.0
    """
    if name not in spectrum_names():
        raise data.not_found("spectrum", name, spectrum_names())
    relative = data.read_table("spectra", name).on_grid("relative_power")
    lux = float(illuminance_lux(relative))
    if lux <= 0.0:
        raise NoLightError(f"spectrum {name!r} holds no visible light")
    return _frozen(name, "lux", relative / lux)


@lru_cache
def gaussian_emitter(wavelength_nm: float, bandwidth_nm: float) -> Spectrum:
    """Narrow-band emitter with a Gaussian spectrum, scaled to 1 W/m2 over the grid.

    E(lambda) ~ exp(-4 ln2 (lambda - lambda0)^2 / FWHM^2). A Gaussian is an approximation
    (assumed): real emitting diodes have a slightly longer tail on one side.

    Parameters
    ----------
    wavelength_nm
        Peak wavelength [nm], 380 to 1100.
    bandwidth_nm
        Full width at half maximum [nm], 1 to 1000.

    Returns
    -------
    Spectrum
        On the basis of 1 W/m2 over 380-1100 nm.

    Raises
    ------
    InputError
        If either is out of range.

    References
    ----------
    A shape of our own (assumed).

    Examples
    --------
    >>> power = gaussian_emitter(850.0, 40.0).power
    >>> round(float(power[870 - 380] / power[850 - 380]), 6)
    0.5
    """
    if not WAVELENGTH_NM[0] <= wavelength_nm <= WAVELENGTH_NM[-1]:
        raise InputError(
            "the peak wavelength is outside the grid",
            given=wavelength_nm,
            allowed="380 to 1100 nm",
        )
    if not STEP_NM <= bandwidth_nm <= 1000.0:
        raise InputError(
            "the bandwidth is out of range", given=bandwidth_nm, allowed="1 to 1000 nm"
        )
    shape = np.exp(-4.0 * np.log(2.0) * ((WAVELENGTH_NM - wavelength_nm) / bandwidth_nm) ** 2)
    name = f"emitter-{wavelength_nm:g}nm-{bandwidth_nm:g}nm"
    return _frozen(name, "w_m2", shape / (shape.sum() * STEP_NM))


def blackbody_power(temperature_k: float) -> FloatArray:
    """Spectral radiant exitance of a blackbody, Planck's law.

    M(lambda) = 2 pi h c^2 lambda^-5 / (exp(h c / (lambda k T)) - 1); divided by pi it is the
    spectral radiance.

    Parameters
    ----------
    temperature_k
        Temperature [K], above 0.

    Returns
    -------
    numpy.ndarray
        Spectral exitance [W m^-2 nm^-1] on the grid, shape (721,).

    Raises
    ------
    InputError
        If the temperature is not a positive number.

    References
    ----------
    Planck's law with the exact constants of the SI (2019).

    Examples
    --------
    >>> 380 + int(blackbody_power(2856.0).argmax())  # Wien: 2.898e6 nm K / 2856 K
    1015
    """
    if not 0.0 < temperature_k < np.inf:
        raise InputError("a temperature must be above 0 K", given=temperature_k, allowed="> 0 K")
    metre = WAVELENGTH_NM * 1e-9
    exponent = PLANCK_J_S * LIGHT_SPEED_M_S / (metre * Boltzmann * temperature_k)
    # exp(-x) / (1 - exp(-x)) stays finite where exp(x) would overflow
    occupation = np.exp(-exponent) / -np.expm1(-exponent)
    return 2.0 * np.pi * PLANCK_J_S * LIGHT_SPEED_M_S**2 / metre**5 * occupation * 1e-9


def filtered(spectrum: Spectrum, reflectance: FloatArray, name: str) -> Spectrum:
    """Light after one reflection or passage: the power is multiplied, NOT scaled again.

    One unit of the result is what becomes of one unit of `spectrum`: light that fell as 1 lx on
    the ground and is thrown back by it keeps the basis "lux" of the light before the bounce.

    Parameters
    ----------
    spectrum
        Light before.
    reflectance
        Spectral reflectance or transmittance, 0 or more, shape (721,).
    name
        Name of the result.

    Returns
    -------
    Spectrum
        On the basis of the light before.

    Raises
    ------
    InputError
        If `reflectance` does not have the shape of the grid, or is below 0 anywhere.

    References
    ----------
    Definition of spectral reflectance and transmittance (CIE S 017, International Lighting
    Vocabulary; from memory).

    Examples
    --------
    >>> import numpy as np
    >>> from simulator.light import illuminance_lux, spectrum
    >>> grey = filtered(spectrum("cie-a"), np.full(721, 0.18), "off a grey card")
    >>> round(float(illuminance_lux(grey.power)), 6)
    0.18
    """
    require("reflectance", reflectance, least=0.0)
    factor = np.asarray(reflectance, dtype=np.float64)
    if factor.shape != WAVELENGTH_NM.shape:
        raise InputError(
            "a reflectance must lie on the wavelength grid",
            given=factor.shape,
            allowed=f"shape {WAVELENGTH_NM.shape}",
        )
    return _frozen(name, spectrum.basis, spectrum.power * factor)


def _frozen(name: str, basis: Literal["lux", "w_m2"], power: FloatArray) -> Spectrum:
    power = np.ascontiguousarray(power, dtype=np.float64)
    power.setflags(write=False)
    return Spectrum(name=name, basis=basis, power=power)
