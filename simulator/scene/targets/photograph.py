"""A photograph as a backdrop: the user's own view behind the target, only scaled.

The picture is reduced to a few colours; each becomes a material whose reflectance is a smooth sum
of three broad bands (blue, green, red; the red one reaches into the near infrared), scaled so that
white stands for a stated reflectance. What the photograph's own light did to the scene stays in it.
"""

from __future__ import annotations

import io
import logging
import warnings
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from simulator.errors import FileFormatError
from simulator.reading import bytes_of
from simulator.scene.geometry import CLEAR
from simulator.units import WAVELENGTH_NM, FloatArray

# what is wrong with a file is told by our own message, not by lines of the library on the terminal
logging.getLogger("PIL").addHandler(logging.NullHandler())

COLOURS = 96
MAX_SIDE_PX = 1600
FORMATS = ("PNG", "JPEG", "TIFF")
"""Kinds of picture files that are read; no other decoder is started."""
MOST_PIXELS = 80_000_000
"""Largest picture [px] (chosen by us): 240 MB in memory, four times the largest camera's."""
BITS = 8
BITS_PER_SAMPLE = 258
"""Tag of TIFF 6.0."""
HALF = 128
"""Opacity from which a pixel is seen."""
BAND_EDGES_NM = (495.0, 585.0)
BAND_SOFTNESS_NM = 12.0


@dataclass(frozen=True)
class Photograph:
    """Indices (rows, columns) into `reflectances` (colours, 721), `CLEAR` where transparent."""

    indices: NDArray[np.uint8]
    reflectances: FloatArray


def read_photograph(path: Path, white_reflectance: float, colours: int = COLOURS) -> Photograph:
    """Read a picture file and turn its colours into reflectances.

    Levels become linear light by the sRGB curve (IEC 61966-2-1), which a photograph follows only
    roughly. Red, green and blue weigh three bands that add up to one, so that a grey level has
    the same reflectance at every wavelength. Pictures over 1600 px a side are reduced, averaged in
    linear light, and turned upright as their EXIF tag says.

    Parameters
    ----------
    path
        PNG, JPEG or TIFF file of 8 bits a channel. Where it is transparent (opacity under one half)
        what stands behind is seen.
    white_reflectance
        Reflectance that the picture's white (level 255) stands for.
    colours
        Most colours to keep, 1 to 254.

    Raises
    ------
    FileFormatError
        If the file is missing, is no picture, has more than 8 bits or far too many pixels.
    """
    picture, clear = _opened(path)
    few = _reduced(picture).quantize(
        colours, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE
    )
    indices = np.asarray(few, dtype=np.uint8)
    if clear is not None:
        size = (few.width, few.height)
        hole = np.asarray(clear.resize(size, Image.Resampling.BOX)) > 0
        indices = np.where(hole, np.uint8(CLEAR), indices)
    palette = np.asarray(few.getpalette(), dtype=np.float64).reshape(-1, 3)
    seen = indices[indices != CLEAR]
    if seen.size == 0:
        raise _refused(path, "nothing of it is seen: all of it is transparent")
    used = palette[: int(seen.max()) + 1] / 255.0
    return Photograph(indices, white_reflectance * _linear(used) @ _bands())


def _opened(path: Path) -> tuple[Image.Image, Image.Image | None]:
    """The picture upright in RGB, and where it is transparent, None if nowhere."""
    content = bytes_of(path, "photograph")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of tags that are at fault, which do not matter
            with Image.open(io.BytesIO(content), formats=FORMATS) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    raise _refused(path, f"{opened.width} x {opened.height} pixels")
                if _deep(opened, content):
                    raise _refused(path, "more than 8 bits a channel")
                upright = ImageOps.exif_transpose(opened)
                alpha = upright.convert("RGBA").getchannel("A")
                picture = upright.convert("RGB")
    except FileFormatError:
        raise
    except UnidentifiedImageError:
        raise _refused(path, "no picture of these kinds") from None
    except Exception:  # decoders raise whatever a broken file leads them to
        raise _refused(path, "a broken picture") from None
    if int(np.asarray(alpha).min()) >= HALF:
        return picture, None
    return picture, alpha.point(lambda a: 255 * (a < HALF))


def _refused(path: Path, given: str) -> FileFormatError:
    return FileFormatError(
        "The photograph cannot be read.",
        file=path,
        given=given,
        allowed=f"a PNG, JPEG or TIFF picture of 8 bits a channel and at most"
        f" {MOST_PIXELS // 1_000_000} million pixels",
        fix="save it again in an image editor, as a PNG or JPEG of 8 bits",
    )


def _deep(opened: Image.Image, content: bytes) -> bool:
    """Whether a channel has more than 8 bits, which the decoder would cut off without a word."""
    if opened.mode.startswith(("I", "F")):
        return True
    if opened.format == "PNG":
        return content[24] > BITS  # IHDR: width, height, bit depth (ISO/IEC 15948, 11.2.2)
    tags = getattr(opened, "tag_v2", {})
    return any(bits > BITS for bits in tags.get(BITS_PER_SAMPLE, ()))


def _reduced(picture: Image.Image) -> Image.Image:
    """The picture with no side over `MAX_SIDE_PX`, averaged in linear light."""
    factor = MAX_SIDE_PX / max(picture.size)
    if factor >= 1.0:
        return picture
    size = (max(1, round(picture.width * factor)), max(1, round(picture.height * factor)))
    light = _linear(np.arange(256) / 255.0).astype(np.float32)[np.asarray(picture)]
    small = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
    return Image.fromarray(np.round(255.0 * _encoded(small)).astype(np.uint8))


def _encoded(linear: NDArray[np.float32]) -> FloatArray:
    """sRGB levels in 0..1 from linear light, the inverse of `_linear`."""
    safe = np.clip(linear.astype(np.float64), 0.0, 1.0)
    return np.where(safe <= 0.0031308, 12.92 * safe, 1.055 * safe ** (1.0 / 2.4) - 0.055)


def _linear(encoded: FloatArray) -> FloatArray:
    """Linear light from sRGB levels in 0..1 (IEC 61966-2-1)."""
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def _bands() -> FloatArray:
    """Red, green and blue bands (3, 721) that add up to one at every wavelength."""
    low, high = (
        1.0 / (1.0 + np.exp(-(WAVELENGTH_NM - edge) / BAND_SOFTNESS_NM)) for edge in BAND_EDGES_NM
    )
    return np.stack([high, low - high, 1.0 - low])
