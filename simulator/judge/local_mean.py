"""Pictures less their local mean or the shading around a target, and wide blurs in little time."""

from __future__ import annotations

import math
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.units import FloatArray, Image

COARSE_SIGMA = 4.0
"""Standard deviation on the coarse grid, at least [cells]."""
LEAST_RING_PX = 24


def detail(picture: Image, drawn: NDArray[np.bool_], sigma: float) -> Image:
    """The picture (rows, columns) less its local mean over the drawn pixels.

    Parameters
    ----------
    sigma
        Standard deviation of the Gaussian that weighs the mean [px].
    """
    weight = smooth(drawn.astype(np.float32), sigma)
    local = smooth(np.where(drawn, picture, 0).astype(np.float32), sigma)
    return np.asarray(picture - local / np.maximum(weight, 1e-6), dtype=np.float32)


def smooth(picture: Image, sigma: float) -> Image:
    """Gaussian blur (rows, columns); wide ones on a coarser grid, within 1 % of the step of an
    edge."""
    k = int(sigma / COARSE_SIGMA)
    rows, columns = picture.shape
    if k < 2 or min(rows, columns) < 4 * k:
        return np.asarray(cv2.GaussianBlur(picture, (0, 0), sigma))
    # whole cells, so that the coarse grid lies evenly on the fine one
    below, right = -rows % k, -columns % k
    whole = cv2.copyMakeBorder(picture, 0, below, 0, right, cv2.BORDER_REFLECT_101)
    high, wide = whole.shape
    coarse = cv2.resize(whole, (wide // k, high // k), interpolation=cv2.INTER_AREA)
    # the cell's own mean and the way back widen the blur by about (k^2 - 1) / 12 and k^2 / 6
    own = math.sqrt(sigma**2 - (k**2 - 1.0) / 12.0 - k**2 / 6.0) / k
    coarse = cv2.GaussianBlur(coarse, (0, 0), own)
    fine = cv2.resize(coarse, (wide, high), interpolation=cv2.INTER_LINEAR)
    return np.asarray(fine[:rows, :columns])


def levelled(picture: Image, ring: NDArray[np.bool_]) -> Image:
    """The picture (rows, columns) without the shading around a target: a glow is no target.

    Taken off is the slope and bend, the second-order surface of least squares over the ring
    (rows, columns), but for its mean there. A ring of few pixels takes off nothing.
    """
    if np.count_nonzero(ring) < LEAST_RING_PX:
        return picture
    rows, columns = picture.shape
    y, x = np.nonzero(ring)

    def terms(across: NDArray[Any], down: NDArray[Any]) -> FloatArray:
        u, v = across / columns - 0.5, down / rows - 0.5
        return np.stack([u, v, u * u, u * v, v * v], axis=-1)

    around = terms(x, y)
    middle = around.mean(axis=0)
    values = picture[y, x].astype(np.float64)
    slope = np.linalg.lstsq(around - middle, values - values.mean(), rcond=None)[0]
    down, across = np.mgrid[:rows, :columns]
    return np.asarray(picture - (terms(across, down) - middle) @ slope, dtype=np.float32)
