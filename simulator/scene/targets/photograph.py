"""A photograph as a backdrop: the user's own view behind the target, only scaled.

The picture is reduced to a few colours; each becomes a material whose reflectance is a smooth sum
of three broad bands (blue, green, red; the red one reaches into the near infrared), scaled so that
white stands for a stated reflectance. What the photograph's own light did to the scene stays in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from simulator.errors import FileFormatError
from simulator.units import WAVELENGTH_NM, FloatArray

COLOURS = 96
MAX_SIDE_PX = 1600
BAND_EDGES_NM = (495.0, 585.0)
BAND_SOFTNESS_NM = 12.0


@dataclass(frozen=True)
class Photograph:
    """Indices (rows, columns) into `reflectances` (colours, 721)."""

    indices: NDArray[np.uint8]
    reflectances: FloatArray


def read_photograph(path: Path, white_reflectance: float, colours: int = COLOURS) -> Photograph:
    """Read a picture file and turn its colours into reflectances.

    Parameters
    ----------
    white_reflectance
        Reflectance that the picture's white (level 255) stands for.

    Raises
    ------
    FileFormatError
        If the file is missing or is no picture.
    """
    try:
        with Image.open(path) as opened:
            picture = opened.convert("RGB")
    except (OSError, UnidentifiedImageError, ValueError) as error:
        raise FileFormatError(
            "The photograph cannot be read.",
            file=path,
            given=getattr(error, "strerror", None) or type(error).__name__,
            allowed="a PNG or JPEG picture",
        ) from None
    picture.thumbnail((MAX_SIDE_PX, MAX_SIDE_PX))
    few = picture.quantize(colours, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    indices = np.asarray(few, dtype=np.uint8)
    palette = np.asarray(few.getpalette(), dtype=np.float64).reshape(-1, 3)
    used = palette[: int(indices.max()) + 1] / 255.0
    return Photograph(indices, white_reflectance * _linear(used) @ _bands())


def _linear(encoded: FloatArray) -> FloatArray:
    """Linear light from sRGB levels in 0..1 (IEC 61966-2-1)."""
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def _bands() -> FloatArray:
    """Red, green and blue bands (3, 721) that add up to one at every wavelength."""
    low, high = (
        1.0 / (1.0 + np.exp(-(WAVELENGTH_NM - edge) / BAND_SOFTNESS_NM)) for edge in BAND_EDGES_NM
    )
    return np.stack([high, low - high, 1.0 - low])
