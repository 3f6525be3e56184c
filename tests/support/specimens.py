"""Specimens: pictures of texts at a known height, blur, motion and noise, without a camera.

Readers are calibrated and checked on them. Ink and paper are drawn finely, blurred by a Gaussian,
by straight motion along the row and by the pixel's aperture with their exact transfer functions,
sampled at a random place of the pixel grid, and given white noise and eight bits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
import scipy.fft
from numpy.typing import NDArray

from simulator.camera.lens import box_otf, fine_frequencies, gaussian_mtf
from simulator.judge.readers.shapes import Shapes
from simulator.judge.readers.template_reader import TemplateReader
from simulator.judge.silhouette import luma_levels
from simulator.units import FloatArray, Image

PAPER, INK = 190.0, 65.0
"""Levels of paper and ink unless said otherwise: neither is clipped by moderate noise."""
MARGIN_SHARE = 0.4
"""Paper around the text, as a share of the character height."""
FINE_ROWS = 96
GROUP = 4
"""A wider gap follows this many characters."""


@dataclass(frozen=True)
class Condition:
    """How a text is pictured.

    `height_px` of the characters; `blur_px` standard deviation of the lens's Gaussian blur;
    `motion_px` length of the smear along the row; `noise` standard deviation of white noise as a
    share of the difference between paper and ink; `contrast` that difference as a share of
    `PAPER - INK`.
    """

    height_px: float
    blur_px: float = 0.4
    motion_px: float = 0.0
    noise: float = 0.0
    contrast: float = 1.0


@dataclass(frozen=True, eq=False)
class Specimen:
    """Frames (n, rows, columns, 3) of one text, and where its characters (7, 4, 2) lie [px]."""

    shapes: Shapes
    text: str
    frames: NDArray[np.uint8]
    cells_px: FloatArray


def random_text(shapes: Shapes, rng: np.random.Generator, length: int = 7) -> str:
    """So many characters, each symbol as likely as any other."""
    symbol = rng.integers(0, shapes.symbols.max() + 1, length)
    return "".join(shapes.alphabet[n] for n in shapes.first_letters[symbol])


def _margin_px(condition: Condition) -> float:
    return MARGIN_SHARE * condition.height_px + 2.0


def _lefts_mm(shapes: Shapes, count: int) -> list[float]:
    """Left of each character of a text [mm]."""
    step = shapes.width_mm + shapes.gap_mm
    wider = shapes.group_gap_mm - shapes.gap_mm
    return [n * step + (wider if n >= GROUP else 0.0) for n in range(count)]


def picture_shape(shapes: Shapes, count: int, condition: Condition) -> tuple[int, int]:
    """Rows and columns of the picture of so many characters [px]."""
    margin = _margin_px(condition)
    wide = (_lefts_mm(shapes, count)[-1] + shapes.width_mm) * condition.height_px / shapes.height_mm
    return (
        math.ceil(condition.height_px + 2 * margin + 1),
        math.ceil(wide + 2 * margin + 1),
    )


def text_light(
    shapes: Shapes, text: str, condition: Condition, phase_px: tuple[float, float]
) -> tuple[Image, FloatArray]:
    """Ink share (rows, columns) of every pixel, and the corners of the characters [px].

    Parameters
    ----------
    phase_px
        Where the text begins within a pixel (x, y).
    """
    per_px = max(3, math.ceil(FINE_ROWS / condition.height_px))
    scale = condition.height_px / shapes.height_mm
    reach = 3.0 * condition.blur_px + condition.motion_px / 2.0 + 1.0
    margin = _margin_px(condition)
    lefts = _lefts_mm(shapes, len(text))
    rows, columns = picture_shape(shapes, len(text), condition)
    pad = math.ceil(reach)
    size = (rows + 2 * pad) * per_px, (columns + 2 * pad) * per_px
    high, broad = (scipy.fft.next_fast_len(n, real=True) for n in size)
    fine = np.zeros((high, broad), np.float32)
    cells = []
    for left, index in zip(lefts, shapes.indices(text), strict=True):
        x0, y0 = margin + phase_px[0] + left * scale, margin + phase_px[1]
        x1, y1 = x0 + shapes.width_mm * scale, y0 + condition.height_px
        cells.append([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        _draw(fine, shapes.masks[index], (x0 + pad, y0 + pad, x1 + pad, y1 + pad), per_px)
    fx, fy = fine_frequencies(high, broad, 1.0 / per_px)
    across = gaussian_mtf(fx, condition.blur_px) * box_otf(fx, condition.motion_px)
    otf = (across * gaussian_mtf(fy, condition.blur_px)).astype(np.float32)
    soft = scipy.fft.irfft2(scipy.fft.rfft2(fine) * otf, s=fine.shape)[: size[0], : size[1]]
    whole = cv2.resize(
        soft, (columns + 2 * pad, rows + 2 * pad), interpolation=cv2.INTER_AREA
    )  # the pixel's aperture
    return whole[pad : pad + rows, pad : pad + columns], np.array(cells)


def _draw(
    fine: Image, mask: NDArray[np.bool_], box_px: tuple[float, float, float, float], per_px: int
) -> None:
    """Lay a mask into a box of the fine picture, by the mean over each fine sample."""
    x0, y0, x1, y1 = (v * per_px for v in box_px)
    # an affine map reads single texels: shrink first so that none is skipped
    wide, high = max(1, math.ceil(x1 - x0)), max(1, math.ceil(y1 - y0))
    small = cv2.resize(mask.astype(np.float32), (wide, high), interpolation=cv2.INTER_AREA)
    sx, sy = (x1 - x0) / wide, (y1 - y0) / high
    move = np.array([[sx, 0, x0 + 0.5 * sx - 0.5], [0, sy, y0 + 0.5 * sy - 0.5]])
    top, left = int(y0) - 2, int(x0) - 2
    part = fine[top : int(y1) + 3, left : int(x1) + 3]
    move[:, 2] -= (left, top)
    part += cv2.warpAffine(small, move, (part.shape[1], part.shape[0]), flags=cv2.INTER_LINEAR)


def make_specimen(
    shapes: Shapes,
    text: str,
    condition: Condition,
    rng: np.random.Generator,
    *,
    frames: int = 1,
    phase_px: tuple[float, float] | None = None,
) -> Specimen:
    """Frames of one text with fresh noise, at one place of the pixel grid (random if not given)."""
    phase = phase_px or (float(rng.random()), float(rng.random()))
    ink, cells = text_light(shapes, text, condition, phase)
    step = (PAPER - INK) * condition.contrast
    middle = 0.5 * (PAPER + INK)
    sign = 1.0 if shapes.light_ink else -1.0
    levels = middle + sign * step * (ink - 0.5)
    noisy = levels + condition.noise * step * rng.standard_normal((frames, *levels.shape))
    grey = np.clip(np.round(noisy), 0, 255).astype(np.uint8)
    return Specimen(shapes, text, np.repeat(grey[..., None], 3, axis=3), cells)


def cells_read(
    reader: TemplateReader, specimen: Specimen, shapes: Shapes, *, seed: int
) -> NDArray[np.bool_]:
    """Whether each character of a specimen was read, (frames, characters)."""
    symbols = reader.cell_symbols(
        luma_levels(specimen.frames), shapes, specimen.cells_px, seed=seed
    )
    return np.asarray(symbols == shapes.symbols[shapes.indices(specimen.text)][None, :])
