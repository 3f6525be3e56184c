"""The lens: light to the image plane, and what blurs it as transfer functions.

Frequencies are in cycles per metre on the image unless a name says cycles per pixel. Transfer
functions multiply: diffraction x aberration x defocus x motion (x pixel aperture).
"""

from __future__ import annotations

import numpy as np
from scipy.special import j1

from simulator.domain import require
from simulator.scene.geometry import thin_lens_image_distance
from simulator.units import FloatArray


def magnification(focal_length_m: float, object_distance_m: float) -> float:
    """Magnification m = f / (s - f) of a thin lens (positive).

    Parameters
    ----------
    focal_length_m
        f, above 0 [m].
    object_distance_m
        Distance s of the object from the lens, above f [m].

    Returns
    -------
    float
        Size of the image over that of the object.

    Raises
    ------
    ValueError
        If the object lies within the focal length.
    InputError
        For a focal length of 0 or less.

    References
    ----------
    Gaussian optics of a thin lens, as in any textbook (e.g. Hecht, "Optics"; from memory).

    Examples
    --------
    >>> round(magnification(0.050, 0.100), 9), round(magnification(0.012, 12.012), 9)
    (1.0, 0.001)
    """
    return thin_lens_image_distance(focal_length_m, object_distance_m) / object_distance_m


def lens_factor(f_number: float, magnification_: float) -> float:
    """Factor 1 / (F^2 (1 + m)^2) of the image-plane illuminance.

    E_image = pi L T cos^4(theta) / (4 F^2 (1 + m)^2) with unit pupil magnification (4 F^2 is exact
    for an aplanatic lens). T stands in the channel response, pi/4 in the coefficients.

    Parameters
    ----------
    f_number
        F, above 0.
    magnification_
        m, 0 or more (0 for far objects).

    Returns
    -------
    float
        The factor; 1 at f/1 for a far object.

    Raises
    ------
    InputError
        For a number outside its domain.

    References
    ----------
    The camera equation of textbooks (e.g. Holst, "CCD Arrays, Cameras, and Displays"; from memory).

    Examples
    --------
    >>> lens_factor(2.0, 0.0)
    0.25
    >>> lens_factor(2.0, 1.0)
    0.0625
    """
    require("f_number", f_number, above=0.0)
    require("magnification_", magnification_, least=0.0)
    return 1.0 / (f_number**2 * (1.0 + magnification_) ** 2)


def diffraction_mtf(
    frequency_per_m: FloatArray, wavelength_m: float, f_number: float
) -> FloatArray:
    """MTF of a diffraction-limited circular pupil in incoherent light.

    (2/pi)(acos x - x sqrt(1 - x^2)), x = frequency x wavelength x F; zero beyond x = 1.

    Parameters
    ----------
    frequency_per_m
        Spatial frequency on the image, of any shape and either sign [cycles/m].
    wavelength_m
        Above 0 [m].
    f_number
        F, above 0.

    Returns
    -------
    numpy.ndarray
        Modulation transfer, 0 to 1, of the shape of `frequency_per_m`.

    Raises
    ------
    InputError
        For a wavelength or f-number of 0 or less.

    References
    ----------
    Goodman, "Introduction to Fourier Optics", section 6.3 (from memory).

    Examples
    --------
    >>> cutoff = 1.0 / (550e-9 * 2.0)
    >>> diffraction_mtf(np.array([0.0, 0.5, 1.2]) * cutoff, 550e-9, 2.0).round(3).tolist()
    [1.0, 0.391, 0.0]
    """
    require("wavelength_m", wavelength_m, above=0.0, unit="m")
    require("f_number", f_number, above=0.0)
    x = np.clip(np.abs(frequency_per_m) * wavelength_m * f_number, 0.0, 1.0)
    return np.asarray(2.0 / np.pi * (np.arccos(x) - x * np.sqrt(1.0 - x * x)))


def gaussian_mtf(frequency_per_m: FloatArray, sigma_m: float) -> FloatArray:
    """Transfer of a Gaussian blur: exp(-2 pi^2 sigma^2 frequency^2).

    Parameters
    ----------
    frequency_per_m
        Spatial frequency on the image, of any shape [cycles/m].
    sigma_m
        Standard deviation of the blur, 0 or more [m]. Both may be in pixels instead.

    Returns
    -------
    numpy.ndarray
        Transfer, 0 to 1, of the shape of `frequency_per_m`.

    Raises
    ------
    InputError
        For a standard deviation below 0.

    References
    ----------
    Fourier transform of a Gaussian of unit area (exact).

    Examples
    --------
    >>> gaussian_mtf(np.array([0.0, 1e5]), 2e-6).round(3).tolist()
    [1.0, 0.454]
    """
    require("sigma_m", sigma_m, least=0.0, unit="m")
    return np.asarray(np.exp(-2.0 * (np.pi * sigma_m * np.asarray(frequency_per_m)) ** 2))


def defocus_otf(frequency_per_m: FloatArray, blur_diameter_m: float) -> FloatArray:
    """Transfer of a uniform blur disc (geometric defocus): 2 J1(pi b f) / (pi b f).

    Negative values mean reversed contrast.

    Parameters
    ----------
    frequency_per_m
        Spatial frequency f on the image, of any shape [cycles/m].
    blur_diameter_m
        Diameter b of the disc, 0 or more [m].

    Returns
    -------
    numpy.ndarray
        Transfer with its sign, of the shape of `frequency_per_m`.

    Raises
    ------
    InputError
        For a diameter below 0.

    References
    ----------
    Fourier transform of a uniform disc of unit area (exact); as the transfer of defocus in Hopkins,
    Proc. R. Soc. A 231, 91 (1955), its geometric limit (from memory).

    Examples
    --------
    >>> defocus_otf(np.array([0.0, 1e5, 1.5e5]), 10e-6).round(3).tolist()
    [1.0, 0.181, -0.12]
    """
    require("blur_diameter_m", blur_diameter_m, least=0.0, unit="m")
    x = np.pi * blur_diameter_m * np.abs(np.asarray(frequency_per_m, dtype=np.float64))
    safe = np.where(x < 1e-6, 1.0, x)
    return np.asarray(np.where(x < 1e-6, 1.0, 2.0 * j1(safe) / safe))


def box_otf(frequency: FloatArray, width: float) -> FloatArray:
    """Transfer of a box, for pixel aperture and straight motion: sin(pi w f) / (pi w f).

    Parameters
    ----------
    frequency
        Spatial frequency f, of any shape [cycles/px, or per the unit of `width`].
    width
        Width w of the box; its sign does not matter [px, or any unit of length].

    Returns
    -------
    numpy.ndarray
        Transfer with its sign, of the shape of `frequency`.

    References
    ----------
    Fourier transform of a box of unit area (exact).

    Examples
    --------
    >>> box_otf(np.array([0.0, 0.5, 1.5]), 1.0).round(3).tolist()
    [1.0, 0.637, -0.212]
    """
    return np.asarray(np.sinc(width * np.asarray(frequency)))


def defocus_blur_m(
    focal_length_m: float,
    f_number: float,
    focus_m: float,
    distance_m: FloatArray | float,
    image_shift_m: float = 0.0,
) -> FloatArray:
    """Diameter of the blur disc on the image [m].

    b = (f/F) |v_d - v_s| / v_d with v = f s / (s - f) for the object and for the focused distance.

    Parameters
    ----------
    focal_length_m
        f, above 0 [m].
    f_number
        F, above 0.
    focus_m
        Distance that is in focus, above f [m].
    distance_m
        Distance of the object, of any shape, infinity allowed [m]; what is nearer than 1.001 f
        counts as there.
    image_shift_m
        Added to v_d, as when a lens that is focused in visible light is used in infrared [m].

    Returns
    -------
    numpy.ndarray
        Diameter, of the shape of `distance_m` [m].

    Raises
    ------
    ValueError
        If the focus lies within the focal length.
    InputError
        For a focal length or f-number of 0 or less.

    References
    ----------
    Thin lens and similar triangles, as in any textbook of optics.

    Examples
    --------
    >>> (1e6 * defocus_blur_m(0.012, 1.6, 10.0, np.array([5.0, 10.0, np.inf]))).round(1).tolist()
    [9.0, 0.0, 9.0]
    """
    require("f_number", f_number, above=0.0)
    f = focal_length_m
    d = np.maximum(np.asarray(distance_m, dtype=np.float64), 1.001 * f)
    v_focus = thin_lens_image_distance(f, focus_m)
    v_object = np.where(np.isinf(d), f, f / (1.0 - f / d)) + image_shift_m
    return np.asarray(f / f_number * np.abs(v_object - v_focus) / v_object)


def fine_frequencies(rows: int, columns: int, step_px: float) -> tuple[FloatArray, FloatArray]:
    """Frequencies (x (1, n), y (rows, 1)) of a real transform of a fine grid [cycles/pixel]."""
    x = np.asarray(np.fft.rfftfreq(columns, step_px), dtype=np.float64)
    y = np.asarray(np.fft.fftfreq(rows, step_px), dtype=np.float64)
    return x[None, :], y[:, None]
