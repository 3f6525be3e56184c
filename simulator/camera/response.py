"""Spectral response of the camera, and the one integral that turns light into electrons."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from simulator import data
from simulator.domain import require
from simulator.errors import NoLightError
from simulator.units import STEP_NM, WAVELENGTH_NM, FloatArray, photon_energy_j


def quantum_efficiency_names() -> list[str]:
    """Sorted names of the bundled quantum-efficiency tables.

    Returns
    -------
    list of str
        What `quantum_efficiency` takes.

    References
    ----------
    Tables bundled with the package; the header of each tells its origin and status.

    Examples
    --------
    >>> "cmos-standard" in quantum_efficiency_names()
    True
    """
    return data.names("quantum_efficiency")


@lru_cache
def quantum_efficiency(name: str) -> FloatArray:
    """Electrons per photon on the pixel, for the channels R, G, B.

    With the colour filter and the microlens, WITHOUT the infrared-cut filter and the lens.

    Parameters
    ----------
    name
        One of `quantum_efficiency_names()`.

    Returns
    -------
    numpy.ndarray
        Quantum efficiency, shape (3, 721), 0 to 1, read-only.

    Raises
    ------
    NameNotFoundError
        If there is no such table; the nearest names are told.

    References
    ----------
    EMVA 1288 (definition of quantum efficiency); header of the table (origin and status).

    Examples
    --------
    >>> red, green, blue = quantum_efficiency("cmos-standard")
    >>> bool(green[550 - 380] > max(red[550 - 380], blue[550 - 380]))
    True
    """
    known = quantum_efficiency_names()
    if name not in known:
        raise data.not_found("quantum efficiency", name, known)
    table = data.read_table("quantum_efficiency", name)
    channels = np.stack([table.on_grid(key) for key in ("red", "green", "blue")])
    channels.setflags(write=False)
    return channels


@lru_cache
def infrared_cut_filter() -> FloatArray:
    """Transmittance of the infrared-cut filter (assumed archetype).

    Returns
    -------
    numpy.ndarray
        Transmittance 0 to 1, shape (721,), read-only.

    References
    ----------
    Header of the bundled table filters/infrared-cut; the shape is assumed.

    Examples
    --------
    >>> through = infrared_cut_filter()
    >>> bool(through[550 - 380] > 0.8), bool(through[850 - 380] < 0.01)
    (True, True)
    """
    transmittance = data.read_table("filters", "infrared-cut").on_grid("transmittance")
    transmittance.setflags(write=False)
    return transmittance


def lens_transmittance(visible: float, infrared: float) -> FloatArray:
    """Transmittance of a lens over the wavelength grid.

    `visible` up to 650 nm, linear to `infrared` at 850 nm and constant from there on: lens
    coatings are told by these two numbers only (assumed shape).

    Parameters
    ----------
    visible
        Transmittance in visible light, 0 to 1.
    infrared
        Transmittance from 850 nm on, 0 to 1.

    Returns
    -------
    numpy.ndarray
        Transmittance, shape (721,).

    Raises
    ------
    InputError
        For a transmittance below 0 or above 1.

    References
    ----------
    Shape assumed by us, no source.

    Examples
    --------
    >>> through = lens_transmittance(0.9, 0.7)
    >>> [round(float(through[nm - 380]), 2) for nm in (550, 750, 940)]
    [0.9, 0.8, 0.7]
    """
    require("visible", visible, least=0.0, most=1.0)
    require("infrared", infrared, least=0.0, most=1.0)
    return np.interp(WAVELENGTH_NM, [650.0, 850.0], [visible, infrared])


def coefficients(
    power: FloatArray, reflectance: FloatArray, response: FloatArray, pixel_area_m2: float
) -> FloatArray:
    """Electrons per second and pixel, per unit of light on the target, for unit lens factor.

    c = (A/4) x integral of S(lambda) rho(lambda) R(lambda) lambda/(h c) dlambda.
    It follows from the image-plane irradiance of a Lambertian target,
    E_image = rho E T cos^4 / (4 F^2 (1+m)^2); the lens factor left out here is
    cos^4 / (F^2 (1+m)^2), the spectral transmittance T stands in `response`.

    Parameters
    ----------
    power
        Spectral irradiance of one unit of light [W m^-2 nm^-1], shape (L, 721).
    reflectance
        Lambertian reflectance of the materials, shape (M, 721).
    response
        Quantum efficiency x filter x lens transmittance of the channels, shape (C, 721).
    pixel_area_m2
        Area of the pixel, above 0 [m^2].

    Returns
    -------
    numpy.ndarray
        Electron rate [s^-1] per lx or per W/m2, shape (L, M, C).

    Raises
    ------
    InputError
        For an area of 0 or less.

    References
    ----------
    Camera equation of textbooks (see `lens_factor`); photon energy h c / lambda with
    constants of CODATA.

    Examples
    --------
    A grey of 18 % under daylight of 1 lx, through a perfect lens on pixels of 3 um:

    >>> from simulator.light import spectrum
    >>> grey = np.full(721, 0.18)
    >>> rate = coefficients(spectrum("daylight").power, grey, np.ones(721), 9e-12)
    >>> rate.shape, round(float(rate[0, 0, 0]), -1)
    ((1, 1, 1), 9010.0)
    """
    require("pixel_area_m2", pixel_area_m2, above=0.0, unit="m2")
    light = np.atleast_2d(np.asarray(power, dtype=np.float64))
    surface = np.atleast_2d(np.asarray(reflectance, dtype=np.float64))
    channel = np.atleast_2d(np.asarray(response, dtype=np.float64))
    per_photon = channel * (STEP_NM / photon_energy_j(WAVELENGTH_NM))
    reflected = light[:, None, :] * surface[None, :, :]
    return np.asarray(0.25 * pixel_area_m2 * (reflected @ per_photon.T))


def mean_wavelength_nm(
    power: FloatArray, reflectance: FloatArray, response: FloatArray
) -> FloatArray:
    """Mean wavelength of the electrons [nm], for diffraction and focus shift.

    Parameters
    ----------
    power, reflectance
        Spectral irradiance (any unit) and reflectance, shape (721,).
    response
        Channel responses, shape (..., 721).

    Returns
    -------
    numpy.ndarray
        Mean wavelength, shape (...) [nm].

    Raises
    ------
    NoLightError
        If a channel receives nothing.

    References
    ----------
    Mean of the wavelength weighted with the electrons that it gives (definition).

    Examples
    --------
    >>> even = np.ones(721)
    >>> line = (WAVELENGTH_NM == 850.0).astype(float)
    >>> float(mean_wavelength_nm(line, even, even))
    850.0
    """
    weight = power * reflectance * np.asarray(response, dtype=np.float64) * WAVELENGTH_NM
    total = weight.sum(axis=-1)
    if np.any(total <= 0.0):
        raise NoLightError("no electrons, so they have no mean wavelength")
    return np.asarray(weight @ WAVELENGTH_NM / total)
