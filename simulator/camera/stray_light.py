"""Veiling glare: light that a lens scatters over the picture."""

from __future__ import annotations

import math

import cv2
import numpy as np
from scipy.special import ndtr

from simulator.units import FloatArray, Image

GLARE_SCALES = ((0.012, 0.23), (0.05, 0.20), (0.25, 0.57))
"""Spread of stray light: standard deviations as shares of the picture width, and weights (assumed:
scatter falls off over about two decades of angle)."""

BLACK_PATCH = 0.1
"""Diameter of the black patch with which the index is measured, over the picture's diagonal (the
integral method of ISO 9358; the size is from memory)."""
MOST_STRAY = 0.95


def stray_share(index: float, width_px: float, height_px: float) -> float:
    """Share of the light that is scattered, for a veiling glare index.

    The index is what the middle of a small black disc on an extended bright field shows, over the
    field. The disc sends no light itself, so what it would have scattered onto its own middle is
    missing: with Gaussians of weight w and deviation s in a disc of radius R

        index = share x sum of w exp(-R^2 / (2 s^2))

    Parameters
    ----------
    index
        Veiling glare index, 0 or more and below 1.
    width_px, height_px
        Size of the picture [px]; only their ratio counts.

    Returns
    -------
    float
        Share of all light that leaves its place, at most `MOST_STRAY`.

    References
    ----------
    ISO 9358 (veiling glare index, integral method with a black patch).
    """
    radius = 0.5 * BLACK_PATCH * math.hypot(1.0, height_px / width_px)
    reached = sum(w * math.exp(-0.5 * (radius / s) ** 2) for s, w in GLARE_SCALES)
    return min(index / reached, MOST_STRAY)


def veiling_glare(rate: Image, shrink: int = 8) -> Image:
    """Where stray light falls, for a glare share of one, at 1/shrink of the size.

    A sum of wide Gaussians with total weight one, so that a uniform field stays as it is. How large
    a share of the light is scattered follows from the veiling glare index (`stray_share`).
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
