"""Dirt on a plate: patches of some levels, each as large in all."""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.scene.targets.plate import TEXEL_MM

DIRT_LEVELS = (0.25, 0.75, 1.25, 1.75)
"""Dirt of the parts of a plate, each a quarter of it, as shares of its mean."""
PATCH_MM = 14.0
"""Standard deviation of the blur that makes patches: spatter and dried film are some centimetres
wide (common practice, no source)."""


def soiled_texture(
    texture: NDArray[np.uint8],
    clean: Sequence[int],
    levels: Sequence[Sequence[int]],
    name: str,
) -> NDArray[np.uint8]:
    """A plate's texture with dirt in patches.

    Parameters
    ----------
    texture
        Material indices (rows, columns), at `TEXEL_MM` a texel.
    clean
        Materials that may be soiled.
    levels
        The same under the dirt of each of `DIRT_LEVELS`.
    name
        Of the plate: each has patches of its own, whatever stands on it.
    """
    rng = np.random.default_rng([41, zlib.crc32(name.encode())])
    noise = cv2.GaussianBlur(
        rng.standard_normal(texture.shape, np.float32), (0, 0), PATCH_MM / TEXEL_MM,
        borderType=cv2.BORDER_REFLECT,
    )  # fmt: skip
    steps = np.quantile(noise, np.arange(1, len(levels)) / len(levels))
    level = np.searchsorted(steps, noise.ravel()).reshape(noise.shape)
    out = texture.copy()
    for k, soiled in enumerate(levels):
        for one, instead in zip(clean, soiled, strict=True):
            out[(level == k) & (texture == one)] = instead
    return out
