"""Spectral response of the camera, and the one integral that turns light into electrons."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from simulator import data
from simulator.errors import NoLightError
from simulator.units import STEP_NM, WAVELENGTH_NM, FloatArray, photon_energy_j


def quantum_efficiency_names() -> list[str]:
    """Sorted names of the bundled quantum-efficiency tables."""
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
    Quantum efficiency, shape (3, 721), 0 to 1, read-only.

    Raises
    ------
    NameNotFoundError
        If there is no such table; the nearest names are told.
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
    """Transmittance of the infrared-cut filter, shape (721,), read-only (assumed archetype)."""
    transmittance = data.read_table("filters", "infrared-cut").on_grid("transmittance")
    transmittance.setflags(write=False)
    return transmittance


def lens_transmittance(visible: float, infrared: float) -> FloatArray:
    """Transmittance of a lens over the grid, shape (721,).

    `visible` up to 650 nm, linear to `infrared` at 850 nm and constant from there on: lens
    coatings are told by these two numbers only (assumed shape).
    """
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
        Area of the pixel [m^2].

    Returns
    -------
    Electron rate [s^-1] per lx or per W/m2, shape (L, M, C), float64.
    """
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
        Spectral irradiance and reflectance, shape (721,).
    response
        Channel responses, shape (..., 721).

    Returns
    -------
    Mean wavelength, shape (...).

    Raises
    ------
    NoLightError
        If a channel receives nothing.
    """
    weight = power * reflectance * np.asarray(response, dtype=np.float64) * WAVELENGTH_NM
    total = weight.sum(axis=-1)
    if np.any(total <= 0.0):
        raise NoLightError("no electrons, so they have no mean wavelength")
    return np.asarray(weight @ WAVELENGTH_NM / total)
