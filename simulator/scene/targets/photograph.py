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
from simulator.reading import bytes_of, unheard
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
LUMA = np.array([0.2126, 0.7152, 0.0722])
"""Shares of red, green and blue light in luminance (IEC 61966-2-1)."""
DARKEST, BRIGHTEST = 0.002, 0.95
"""Levels, of white, between which a known patch tells something (chosen by us)."""
MIDDLE = 0.18
EXIF, F_NUMBER, EXPOSURE_TIME, ISO_SPEED = 0x8769, 0x829D, 0x829A, 0x8827
"""Tags of Exif 2.3."""
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


def level_at(
    path: Path, at_px: tuple[float, float], side_px: float, size_px: tuple[int, int]
) -> float:
    """Mean linear level of a square part of a picture, 1 for white: its luminance over white's.

    Parameters
    ----------
    path
        Picture file.
    at_px, side_px
        Middle and side of the square [px], in a picture of
    size_px
        this width and height; the file may be larger or smaller.

    Raises
    ------
    FileFormatError
        If the file cannot be read, or the part lies outside, or is black or blown out.
    """
    picture, _ = _opened(path)
    scale = picture.width / size_px[0]
    low = np.floor((np.array(at_px) - side_px / 2.0) * scale).astype(int)
    high = np.maximum(np.ceil((np.array(at_px) + side_px / 2.0) * scale).astype(int), low + 1)
    part = np.asarray(picture)[max(low[1], 0) : max(high[1], 0), max(low[0], 0) : max(high[0], 0)]
    level = float((_linear(part / 255.0) @ LUMA).mean()) if part.size else 0.0
    if not DARKEST <= level <= BRIGHTEST:
        raise FileFormatError(
            "The known patch of the photograph tells nothing.",
            file=path,
            given=f"{100.0 * level:.2g} % of white at {at_px[0]:g}, {at_px[1]:g}",
            allowed=f"a part inside the picture with {DARKEST:.1%} to {BRIGHTEST:.0%} of white",
            fix="pick an even part that is neither black nor blown out",
        )
    return level


def luminance_of_white(path: Path) -> float:
    """Luminance that a picture's white stands for by the exposure told in the file [cd/m²].

    ISO 12232 rates cameras by the exposure H = 10 / S lx s that gives level 118 of 255, 18 % of
    white; with H = 0.65 L t / N² (ISO 12232, lens and angle of usual cameras) the luminance of that
    level is 15.4 N² / (t S), S the ISO speed, t the exposure time, N the f-number.

    Raises
    ------
    FileFormatError
        If the file tells no exposure.

    References
    ----------
    ISO 12232:2019, standard output sensitivity (from memory).
    """
    _opened(path)
    with Image.open(io.BytesIO(bytes_of(path, "photograph")), formats=FORMATS) as opened:
        tags = opened.getexif().get_ifd(EXIF)
    try:
        f_number, shutter_s = float(tags[F_NUMBER]), float(tags[EXPOSURE_TIME])
        speed = tags[ISO_SPEED]
        iso = float(speed[0] if isinstance(speed, tuple) else speed)
        luminance = 10.0 / 0.65 * f_number**2 / (shutter_s * iso) / MIDDLE
    except (KeyError, TypeError, ValueError, ZeroDivisionError, IndexError):
        luminance = 0.0
    if not np.isfinite(luminance) or luminance <= 0.0:
        raise FileFormatError(
            "The photograph does not tell its exposure.",
            file=path,
            given="no f-number, exposure time and ISO speed (EXIF)",
            fix="give site_photo.patch: a part of known reflectance",
        )
    return luminance


def _opened(path: Path) -> tuple[Image.Image, Image.Image | None]:
    """The picture upright in RGB, and where it is transparent, None if nowhere."""
    content = bytes_of(path, "photograph")
    try:
        with unheard(), warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of tags that are at fault, which do not matter
            with Image.open(io.BytesIO(content), formats=FORMATS) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    raise _refused(path, f"{opened.width} x {opened.height} pixels")
                if is_deep(opened, content):
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


def is_deep(opened: Image.Image, content: bytes) -> bool:
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
