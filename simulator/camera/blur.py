"""Blur of lens and defocus, on pictures at pixel scale and on finer grids."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
import scipy.fft

from simulator.camera.lens import (
    box_otf,
    defocus_otf,
    diffraction_mtf,
    fine_frequencies,
    gaussian_mtf,
)
from simulator.units import FloatArray, Image


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


EDGE_SAMPLES = 3
"""Samples a pixel each way over which a whole picture is traced where edges run."""
LEAST_HALF = 7
"""Half the side of the smallest kernel [px]: fewer taps cannot follow the transfer function."""
FIT_STEPS = 25
FIT_FROM, FIT_TO = 0.03, 0.62
"""Frequencies over which the kernel is fitted [cycles/px]: slower ones belong to what diffraction
throws far, faster ones are in the corners of the band."""


def sampled_aperture(frequency: FloatArray, samples: int) -> FloatArray:
    """Transfer of a pixel's whole area over that of the mean of n evenly spaced samples of it.

    n sin(pi f / n) / (pi f), which is a box as wide as their spacing, in place of
    sin(pi f) / (n sin(pi f / n)) for the samples and sin(pi f) / (pi f) for the area: what a traced
    picture has left over of the pixel aperture, for the blur to take.
    """
    return box_otf(frequency, 1.0 / samples)


@lru_cache(maxsize=64)
def spread_kernel(blur: Blur, samples: int = EDGE_SAMPLES) -> FloatArray:
    """Point spread between whole pixels (k, k) with k odd, sum one.

    The picture that it is laid on holds the pixel aperture already, as means over pixels; so this
    is the spread of lens and defocus alone. It is the kernel of this size whose transfer function
    is nearest (least squares) to that of `Blur.otf` up to half a cycle a pixel, less the light that
    `add_far_diffraction` lays on. Sharp lenses give it small negative lobes, as any limit of the
    band does.
    """
    half = max(LEAST_HALF, blur.reach_px() + 2)
    f = np.linspace(0.0, 0.5, FIT_STEPS)
    fx, fy = np.meshgrid(f, f)
    radial = np.hypot(fx, fy)
    fitted = (fx >= fy) & (radial > FIT_FROM) & (radial < FIT_TO)
    fx, fy = fx[fitted], fy[fitted]
    wanted = blur.otf(fx, fy) * sampled_aperture(fx, samples) * sampled_aperture(fy, samples)
    wanted = wanted / (1.0 - far_share(blur, half))
    # one unknown for the taps that mirror images share; the middle tap makes the sum one
    taps = [(i, j) for i in range(half + 1) for j in range(i + 1)]
    waves = np.stack([_wave(i, j, fx, fy) for i, j in taps], axis=1)
    many = np.array([(1 + (i > 0)) * (1 + (j > 0)) * (1 + (i != j)) for i, j in taps])
    design = waves[:, 1:] - waves[:, :1] * many[1:]
    weights = np.linalg.lstsq(design, wanted - waves[:, 0], rcond=1e-8)[0]
    kernel = np.zeros((2 * half + 1, 2 * half + 1))
    for (i, j), value in zip(taps, [1.0 - many[1:] @ weights, *weights], strict=True):
        for a, b in ((i, j), (j, i)):
            kernel[half - a, half - b] = kernel[half - a, half + b] = value
            kernel[half + a, half - b] = kernel[half + a, half + b] = value
    kernel.setflags(write=False)
    return kernel


def _wave(i: int, j: int, fx: FloatArray, fy: FloatArray) -> FloatArray:
    """Transfer of unit taps at (+-i, +-j) and (+-j, +-i)."""
    x, y = ([(1.0 + (k > 0)) * np.cos(2.0 * np.pi * k * f) for k in (i, j)] for f in (fx, fy))
    return np.asarray(x[0] * y[1] + (x[1] * y[0] if i != j else 0.0))


@lru_cache(maxsize=64)
def _separable(blur: Blur, tolerance: float) -> tuple[tuple[Image, Image], ...] | None:
    """Leading terms (column, row) of the kernel whose transfer is within `tolerance` everywhere.

    None for a kernel that is a single pixel.
    """
    kernel = spread_kernel(blur)
    middle = kernel.shape[0] // 2
    if kernel[middle, middle] > 0.999:
        return None
    u, s, vt = np.linalg.svd(kernel)
    field = 4 * kernel.shape[0]
    rest = kernel.copy()
    terms = []
    for k in range(len(s)):
        rest = rest - np.outer(u[:, k] * s[k], vt[k])
        terms.append((u[:, k] * s[k], vt[k]))
        if np.abs(np.fft.rfft2(rest, (field, field))).max() <= tolerance:
            break
    total = sum(float(column.sum() * row.sum()) for column, row in terms)
    return tuple((c.astype(np.float32), (r / total).astype(np.float32)) for c, r in terms)


def blur_image(image: Image, blur: Blur, tolerance: float = 0.004) -> Image:
    """Blur a picture at pixel scale, by the leading separable terms of the point spread.

    Beside light that is many times brighter than its surroundings the band limit's lobes would
    leave less than nothing: there half of the darkest neighbour before the blur is kept at least.

    Parameters
    ----------
    image
        Picture (rows, columns, channels) of means over pixels, any unit.
    blur
        What blurs a point.
    tolerance
        Largest error of the transfer function at any frequency.
    """
    terms = _separable(blur, tolerance)
    if terms is None:
        return image
    out: Image | None = None
    for column, row in terms:
        part = cv2.sepFilter2D(image, cv2.CV_32F, row, column, borderType=cv2.BORDER_REFLECT_101)
        out = part if out is None else cv2.add(out, part, dst=out)
    assert out is not None
    if float(out.min()) < 0.0:
        floor = cv2.erode(image, np.ones((3, 3), np.uint8))
        out = cv2.max(out, cv2.multiply(floor, 0.5, dst=floor))
    return np.asarray(out, dtype=np.float32)


FAR_SHRINK = 4
FAR_REACH_PX = 96


def far_share(blur: Blur, half_px: int) -> float:
    """Share of the light that diffraction throws beyond a kernel, up to `FAR_REACH_PX`."""
    if not blur.diffraction:
        return 0.0
    q = blur.wavelength_m * blur.f_number / blur.pitch_m
    return max(0.0, 2.0 * q / np.pi**2 * (1.0 / (half_px + 0.5) - 1.0 / FAR_REACH_PX))


def add_far_diffraction(sharp: Image, blurred: Image, blur: Blur) -> Image:
    """Add what diffraction throws beyond the reach of the point-spread kernel.

    Averaged over its rings the Airy pattern falls off as q / (pi^3 r^3) per square pixel, with
    q = wavelength x F / pitch (from 1 - E(v) = 2 / (pi v), v = pi r / (wavelength F); Born and
    Wolf, section 8.5, from memory). Between the kernel's reach and `FAR_REACH_PX` it is laid on at
    a quarter of the size; the rest of the light stays in the kernel.
    """
    half = spread_kernel(blur).shape[0] // 2
    share = far_share(blur, half)
    if share <= 0.0:
        return blurred
    n = FAR_REACH_PX // FAR_SHRINK
    place = np.arange(-n, n + 1) * float(FAR_SHRINK)
    r = np.hypot(place[:, None], place[None, :])
    ring = (r > half + 0.5) & (r <= FAR_REACH_PX)
    kernel = np.where(ring, np.maximum(r, 1.0) ** -3.0, 0.0)
    kernel *= share / kernel.sum()
    height, width = sharp.shape[:2]
    size = (max(1, width // FAR_SHRINK), max(1, height // FAR_SHRINK))
    low = cv2.resize(sharp, size, interpolation=cv2.INTER_AREA)
    far = cv2.filter2D(low, cv2.CV_32F, kernel.astype(np.float32), borderType=cv2.BORDER_REFLECT)
    wide = cv2.resize(far, (width, height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(cv2.scaleAdd(blurred, 1.0 - share, wide), dtype=np.float32)


def blur_fine(planes: Image, otf: FloatArray | Image) -> Image:
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


@lru_cache(maxsize=32)
def fine_transfer(blur: Blur, rows: int, columns: int, step_px: float) -> Image:
    """Transfer of lens and defocus on a fine grid, and of the squares of its samples.

    Samples stand for points: the mean over their own squares makes the pixel's aperture whole.
    """
    fx, fy = fine_frequencies(rows, columns, step_px)
    return (blur.otf(fx, fy) * (box_otf(fx, step_px) * box_otf(fy, step_px))).astype(np.float32)
