"""The lens: light to the image plane, blur as transfer functions, veiling glare.

Frequencies are in cycles per metre on the image unless a name says cycles per pixel. Transfer
functions multiply: diffraction x aberration x defocus x motion (x pixel aperture).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import scipy.fft
from scipy.special import j1, ndtr

from simulator.domain import require
from simulator.scene.geometry import thin_lens_image_distance
from simulator.units import FloatArray, Image


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


@dataclass(frozen=True)
class Blur:
    """What blurs a point, all on the image plane; the pixel aperture comes apart.

    Attributes
    ----------
    pitch_m
        Pixel pitch [m].
    f_number
        F-number of the lens.
    wavelength_m
        Mean wavelength of the light [m].
    aberration_m
        Standard deviation of the Gaussian blur of aberrations [m].
    defocus_m
        Diameter of the blur disc [m].
    diffraction
        Whether light is diffracted.
    """

    pitch_m: float
    f_number: float
    wavelength_m: float
    aberration_m: float
    defocus_m: float = 0.0
    diffraction: bool = True

    def otf(self, frequency_x: FloatArray, frequency_y: FloatArray) -> FloatArray:
        """Transfer of lens and defocus; frequencies in cycles per pixel, any broadcast shape.

        With diffraction the disc is seen at the frequency times (1 - x), x = frequency over
        the cut-off, as the sheared pupils overlap less and less (Stokseth, J. Opt. Soc. Am. 59,
        1314, 1969; from memory, checked against wave optics). Diffraction times the plain disc
        would count part of the loss twice, up to 0.2 of modulation for discs of a few micrometres.
        """
        radial = np.asarray(np.hypot(frequency_x, frequency_y) / self.pitch_m, dtype=np.float64)
        value = gaussian_mtf(radial, self.aberration_m)
        if not self.diffraction:
            return value * defocus_otf(radial, self.defocus_m)
        left = np.clip(1.0 - radial * self.wavelength_m * self.f_number, 0.0, 1.0)
        value = value * defocus_otf(radial * left, self.defocus_m)
        return value * diffraction_mtf(radial, self.wavelength_m, self.f_number)

    def reach_px(self) -> int:
        """How far the blur spreads, generously [px]."""
        airy = 2.0 * self.wavelength_m * self.f_number if self.diffraction else 0.0
        return (
            int(np.ceil((3.0 * self.aberration_m + self.defocus_m / 2.0 + airy) / self.pitch_m)) + 1
        )


def spread_kernel(blur: Blur, oversample: int = 5) -> FloatArray:
    """Point spread binned to whole pixels, (k, k) with k odd, sum one.

    Binning adds the softness of one more pixel aperture at most; the patch around the target is
    blurred on a finer grid (`blur_fine`), where it does not matter.
    """
    reach = blur.reach_px()
    size = (2 * reach + 1) * oversample
    frequency = np.asarray(np.fft.fftfreq(size) * oversample, dtype=np.float64)
    otf = blur.otf(frequency[None, :], frequency[:, None])
    spread = np.fft.fftshift(np.fft.ifft2(otf).real)
    binned = spread.reshape(2 * reach + 1, oversample, 2 * reach + 1, oversample).sum(axis=(1, 3))
    binned = np.maximum(binned, 0.0)
    return np.asarray(binned / binned.sum())


def blur_image(image: Image, blur: Blur, tolerance: float = 0.02) -> Image:
    """Blur a picture at pixel scale, by the leading separable terms of the point spread.

    The kernel's singular value decomposition is cut where the root sum of squares left out is below
    `tolerance` of the whole; the terms are scaled so that light is conserved.
    """
    kernel = spread_kernel(blur)
    if kernel.max() > 0.999:
        return image
    u, s, vt = np.linalg.svd(kernel)
    energy = np.sqrt(np.cumsum(s[::-1] ** 2)[::-1] / np.sum(s**2))
    keep = max(1, int(np.sum(energy > tolerance)))
    terms = [(u[:, i] * s[i], vt[i]) for i in range(keep)]
    total = sum(float(column.sum() * row.sum()) for column, row in terms)
    out: Image | None = None
    for column, row in terms:
        part = cv2.sepFilter2D(
            image,
            cv2.CV_32F,
            (row / total).astype(np.float32),
            column.astype(np.float32),
            borderType=cv2.BORDER_REFLECT_101,
        )
        out = part if out is None else cv2.add(out, part, dst=out)
    assert out is not None
    return np.asarray(out, dtype=np.float32)


FAR_SHRINK = 4
FAR_REACH_PX = 96


def add_far_diffraction(sharp: Image, blurred: Image, blur: Blur) -> Image:
    """Add what diffraction throws beyond the reach of the point-spread kernel.

    Averaged over its rings the Airy pattern falls off as q / (pi^3 r^3) per square pixel, with
    q = wavelength x F / pitch (from 1 - E(v) = 2 / (pi v), v = pi r / (wavelength F); Born and
    Wolf, section 8.5, from memory). Between the kernel's reach and `FAR_REACH_PX` it is laid on at
    a quarter of the size; the rest of the light stays in the kernel.
    """
    if not blur.diffraction:
        return blurred
    q = blur.wavelength_m * blur.f_number / blur.pitch_m
    reach = blur.reach_px() + 0.5
    n = FAR_REACH_PX // FAR_SHRINK
    place = np.arange(-n, n + 1) * float(FAR_SHRINK)
    r = np.hypot(place[:, None], place[None, :])
    ring = (r > reach) & (r <= FAR_REACH_PX)
    kernel = np.where(ring, q / (np.pi**3 * np.maximum(r, 1.0) ** 3), 0.0)
    share = 2.0 * q / np.pi**2 * (1.0 / reach - 1.0 / FAR_REACH_PX)
    kernel *= share / kernel.sum()
    height, width = sharp.shape[:2]
    size = (max(1, width // FAR_SHRINK), max(1, height // FAR_SHRINK))
    low = cv2.resize(sharp, size, interpolation=cv2.INTER_AREA)
    far = cv2.filter2D(low, cv2.CV_32F, kernel.astype(np.float32), borderType=cv2.BORDER_REFLECT)
    wide = cv2.resize(far, (width, height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(cv2.scaleAdd(blurred, 1.0 - share, wide), dtype=np.float32)


def blur_fine(planes: Image, otf: FloatArray) -> Image:
    """Convolve planes (rows, columns, n) on a fine grid with a transfer function.

    `otf` stands on the half plane of `fine_frequencies` for the same shape and step. Borders
    wrap around: give the patch a margin wider than the blur.
    """
    rows, columns = planes.shape[:2]
    stack = np.ascontiguousarray(np.moveaxis(planes, 2, 0))
    spectrum = scipy.fft.rfft2(stack, workers=-1)
    spectrum *= otf.astype(np.float32)
    out = scipy.fft.irfft2(spectrum, s=(rows, columns), workers=-1, overwrite_x=True)
    return np.ascontiguousarray(np.moveaxis(out, 0, 2))


def fine_frequencies(rows: int, columns: int, step_px: float) -> tuple[FloatArray, FloatArray]:
    """Frequencies (x (1, n), y (rows, 1)) of a real transform of a fine grid [cycles/pixel]."""
    x = np.asarray(np.fft.rfftfreq(columns, step_px), dtype=np.float64)
    y = np.asarray(np.fft.fftfreq(rows, step_px), dtype=np.float64)
    return x[None, :], y[:, None]


GLARE_SCALES = ((0.012, 0.35), (0.05, 0.30), (0.25, 0.35))
"""Spread of stray light: standard deviations as shares of the picture width, and weights (assumed:
scatter falls off over about two decades of angle)."""


def veiling_glare(rate: Image, shrink: int = 8) -> Image:
    """Where stray light falls, for a glare share of one, at 1/shrink of the size.

    A sum of wide Gaussians with total weight one, so that a uniform field stays as it is and the
    veiling glare index (ISO 9358: small black patch over extended bright field) equals the share.
    """
    height, width = rate.shape[:2]
    small = (max(1, width // shrink), max(1, height // shrink))
    low = cv2.resize(rate, small, interpolation=cv2.INTER_AREA)
    out = np.zeros_like(low)
    for share, weight in GLARE_SCALES:
        sigma = max(0.5, share * small[0])
        out += np.float32(weight) * _wide_blur(low, sigma)
    return out


def source_stray_light(
    places_px: FloatArray,
    radii_px: FloatArray,
    totals: FloatArray,
    full_px: tuple[int, int],
    shape: tuple[int, int],
) -> Image:
    """Where stray light of lamps and sun falls, for a glare share of one.

    The spread of `glare_veil`, a sum of three Gaussians, about each source's image, which may lie
    inside or outside the picture: the veil falls evenly as a source leaves the picture, and what
    falls beside the picture is lost. A disc widens each Gaussian by its own variance, a quarter of
    its radius squared, along each axis. A lens has no hood here, and its stray light far from the
    axis is taken to fall off as near it; ghosts are left out.

    Parameters
    ----------
    places_px, radii_px
        Middles (n, 2) and radii (n,) of the images of the sources [px].
    totals
        Light of each (n, 3) [e-/s], as it would fall on the picture.
    full_px
        Width and height of the picture [px].
    shape
        Rows and columns of the result.

    Returns
    -------
    Veil (rows, columns, 3) [e-/s per pixel].
    """
    rows, columns = shape
    out = np.zeros((rows, columns, 3), np.float32)
    x = np.linspace(0.0, full_px[0], columns + 1)
    y = np.linspace(0.0, full_px[1], rows + 1)
    for (cx, cy), radius, total in zip(places_px, radii_px, totals, strict=True):
        for share, weight in GLARE_SCALES:
            sigma = float(np.hypot(share * full_px[0], radius / 2.0))
            across, down = (np.diff(ndtr((a - c) / sigma)) for a, c in ((x, cx), (y, cy)))
            across, down = across / (x[1] - x[0]), down / (y[1] - y[0])
            spread = weight * np.outer(down, across)
            out += (spread[:, :, None] * np.asarray(total)).astype(np.float32)
    return out


def _wide_blur(image: Image, sigma: float) -> Image:
    """Gaussian blur; very wide ones on a smaller copy."""
    if sigma <= 8.0:
        return np.asarray(cv2.GaussianBlur(image, (0, 0), sigma, borderType=cv2.BORDER_REFLECT))
    factor = sigma / 8.0
    height, width = image.shape[:2]
    size = (max(2, round(width / factor)), max(2, round(height / factor)))
    low = cv2.resize(image, size, interpolation=cv2.INTER_AREA)
    low = cv2.GaussianBlur(low, (0, 0), 8.0, borderType=cv2.BORDER_REFLECT)
    return np.asarray(cv2.resize(low, (width, height), interpolation=cv2.INTER_LINEAR))


def add_glare(
    rate: Image,
    stray_light: Image,
    share: float,
    origin_px: tuple[int, int],
    full_px: tuple[int, int],
) -> Image:
    """(1 - share) rate + share veil, for a picture or a patch of it.

    `origin_px` is the patch's left and top in a picture of `full_px` (width, height).
    """
    if share == 0.0:
        return rate
    height, width = rate.shape[:2]
    sx, sy = stray_light.shape[1] / full_px[0], stray_light.shape[0] / full_px[1]
    if (width, height) == full_px:
        wide = cv2.resize(stray_light, full_px, interpolation=cv2.INTER_LINEAR)
    else:
        x = ((np.arange(width, dtype=np.float32) + origin_px[0] + 0.5) * sx - 0.5)[None, :]
        y = ((np.arange(height, dtype=np.float32) + origin_px[1] + 0.5) * sy - 0.5)[:, None]
        gx, gy = np.broadcast_arrays(x.astype(np.float32), y.astype(np.float32))
        wide = cv2.remap(
            stray_light,
            np.ascontiguousarray(gx),
            np.ascontiguousarray(gy),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
    return np.asarray(cv2.addWeighted(rate, 1.0 - share, wide, share, 0.0), dtype=np.float32)
