"""What a reader expects letters to look like: variants of a lettering, never the lettering itself.

A reader knows what an A is, not the cut of this A. Its templates are the letters thinner and
bolder, narrower and wider, higher and lower, and slanted, each expected sharp and soft. They stand
on a grid of the letter, `ROWS` samples to the character height, so that a reader sees small and
large letters alike: what differs is the picture.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.judge.shapes import Shapes
from simulator.units import FloatArray, Image

ROWS = 16
"""Samples to the height of a character: enough for its strokes (8 cycles a letter)."""
SHIFT = 2
"""Letters are sought over so many samples each way: an eighth of their height."""
SHIFTS = tuple(
    (r, q) for r in range(2 * SHIFT + 1) for q in range(2 * SHIFT + 1) if (r + q) % 2 == 0
)
"""The shifts that are tried (down, across): every other one, as on a chessboard."""
MARGIN = 1
"""Samples around a character that the reader takes in."""
OVERSAMPLE = 8


class Variant(NamedTuple):
    """A cut of a lettering: stroke, width and height as shares of the true ones, slant (sideways
    over upwards)."""

    stroke: float
    width: float
    height: float
    slant: float


VARIANTS = (
    Variant(0.75, 1.0, 1.0, 0.0),
    Variant(1.3, 1.0, 1.0, 0.0),
    Variant(0.9, 0.9, 1.0, 0.06),
    Variant(1.1, 1.1, 1.0, -0.06),
    Variant(1.1, 1.0, 0.93, 0.06),
    Variant(0.9, 1.0, 1.07, -0.06),
)
"""Cuts that bracket the true one in every way (assumed: the spread among block letterings)."""
SOFTNESS = (0.05, 0.13)
"""Blur that is expected of a picture, standard deviations as shares of the character height: that
of pixels at 10 px and up, and of a soft picture (assumed)."""


@dataclass(frozen=True, eq=False)
class Templates:
    """Templates (n, rows x columns) of zero mean and unit norm, the symbol of each (n,), and the
    rows and columns of the window they fill."""

    values: Image
    symbols: NDArray[np.int64]
    rows: int
    columns: int


def window_shape(shapes: Shapes) -> tuple[int, int]:
    """Rows and columns of the window around one character, margin included."""
    wide = round(shapes.width_mm / shapes.height_mm * ROWS)
    return ROWS + 2 * MARGIN, max(5, wide + 2 * MARGIN)


def window_corners(shapes: Shapes) -> FloatArray:
    """Corners (4, 2) of the character's cell in the sought window, in samples (column, row).

    The cell is centred in the window with its `SHIFT` on each side.
    """
    rows, columns = window_shape(shapes)
    wide = shapes.width_mm / shapes.height_mm * ROWS
    left = (columns - wide) / 2.0 + SHIFT - 0.5
    top = (rows - ROWS) / 2.0 + SHIFT - 0.5
    right, bottom = left + wide, top + ROWS
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


def signed_distance_mm(mask: NDArray[np.bool_], texel_mm: float, pad: int) -> Image:
    """Distance to the edge of the ink, positive inside, of a mask with a border of paper [mm]."""
    ink = np.pad(mask, pad).astype(np.uint8)
    inside = cv2.distanceTransform(ink, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    outside = cv2.distanceTransform(1 - ink, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    edge = np.where(ink > 0, inside - 0.5, 0.5 - outside)
    return np.asarray(edge * texel_mm, dtype=np.float32)


def letter_windows(shapes: Shapes, variant: Variant | None = None, shift: int = 0) -> Image:
    """Ink share (characters, rows, columns) on the letter grid, unblurred.

    `variant` None draws the lettering itself; `shift` samples are added on every side.
    """
    v = variant or Variant(1.0, 1.0, 1.0, 0.0)
    rows, columns = (n + 2 * shift for n in window_shape(shapes))
    grow = 0.5 * (v.stroke - 1.0) * shapes.stroke_mm
    pad = round(0.4 * shapes.height_mm / shapes.texel_mm)
    # outer measures stay as they are when the stroke grows
    high = v.height * shapes.height_mm / (shapes.height_mm + 2 * grow)
    wide = v.width * shapes.width_mm / (shapes.width_mm + 2 * grow)
    per_texel = ROWS * OVERSAMPLE * shapes.texel_mm / shapes.height_mm
    turn = np.array([[wide, -v.slant * high], [0.0, high]]) * per_texel
    source = (np.array(shapes.masks.shape[:0:-1]) + 2 * pad - 1) / 2.0
    target = (np.array([columns, rows]) * OVERSAMPLE - 1) / 2.0
    move = np.column_stack([turn, target - turn @ source])
    out = np.empty((len(shapes.masks), rows, columns), np.float32)
    for n, mask in enumerate(shapes.masks):
        field = signed_distance_mm(mask, shapes.texel_mm, pad)
        fine = cv2.warpAffine(
            field, move, (columns * OVERSAMPLE, rows * OVERSAMPLE), flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT, borderValue=-1e6,
        )  # fmt: skip
        ink = (fine > -grow).astype(np.float32)
        out[n] = cv2.resize(ink, (columns, rows), interpolation=cv2.INTER_AREA)
    return out


@lru_cache(maxsize=16)
def templates_of(
    shapes: Shapes,
    variants: tuple[Variant, ...] = VARIANTS,
    softness: tuple[float, ...] = SOFTNESS,
) -> Templates:
    """Templates of every character in every cut and softness."""
    rows, columns = window_shape(shapes)
    values, symbols = [], []
    for variant in variants:
        wide = letter_windows(shapes, variant, SHIFT)
        for share in softness:
            for n, letter in enumerate(wide):
                soft = cv2.GaussianBlur(letter, (0, 0), share * ROWS) if share > 0.0 else letter
                cut = soft[SHIFT : SHIFT + rows, SHIFT : SHIFT + columns]
                cut = (cut if shapes.light_ink else -cut) - (1 if shapes.light_ink else -1) * (
                    cut.mean()
                )
                values.append((cut / np.linalg.norm(cut)).ravel())
                symbols.append(shapes.symbols[n])
    return Templates(np.array(values, np.float32), np.array(symbols), rows, columns)
