"""What tells the characters of a lettering apart, by bands of spatial frequency.

All characters of a lettering have strokes of one width and stand in equal cells. Most of the power
of bold ones is common to all of them, and tells none from another. What counts is how a character
differs from the one most like it.
"""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np

from simulator.judge.readers.line_bands import EDGES, FINER, ROWS, band_of, drawn_letter
from simulator.judge.readers.shapes import Shapes
from simulator.units import FloatArray, Image

SIDE = 4 * ROWS
"""Samples a side of the grid that a character is drawn on: fine enough for the lowest band."""


@lru_cache(maxsize=64)
def share_apart(shapes: Shapes) -> FloatArray:
    """Power of what tells characters apart, over the power of the characters.

    Parameters
    ----------
    shapes
        A lettering; look-alikes count as one character.

    Returns
    -------
    ndarray
        Shares (2, bands), along the line and down it: the mean over the characters of the power of
        the difference to the one that differs least, over the mean power of the characters. 1 would
        be characters that have as much in common as apart.
    """
    letters = np.stack([_drawn(shapes, c) for c in shapes.alphabet])
    band, counted = band_of(SIDE, SIDE)
    spectra = np.fft.rfft2(letters).reshape(len(letters), -1)

    def summed(power: FloatArray) -> FloatArray:
        total = np.bincount(band, power * counted, minlength=2 * (len(EDGES) + 1))
        return np.asarray(total.reshape(2, -1)[:, 1:-1])

    apart = np.zeros((2, len(EDGES) - 1))
    for own, symbol in zip(spectra, shapes.symbols, strict=True):
        power = np.abs(spectra[shapes.symbols != symbol] - own) ** 2
        apart += summed(power[int((power @ counted).argmin())])
    common = summed((np.abs(spectra) ** 2).sum(axis=0))
    return np.asarray(apart / np.maximum(common, 1e-12))


def _drawn(shapes: Shapes, character: str) -> Image:
    """Ink share (SIDE, SIDE) of a character in the middle of its grid."""
    letter, pad = drawn_letter(shapes, character, 0.0)
    size = np.array(letter.shape[::-1]) - 2 * pad
    scale = ROWS * FINER / size[1]
    # the middle of a letter's grid onto the middle of the large one, both from pixel centres
    shift = 0.5 * (SIDE * FINER - size * scale) - scale * (pad - 0.5) - 0.5
    move = np.column_stack([scale * np.eye(2), shift])
    fine = cv2.warpAffine(letter, move, (SIDE * FINER, SIDE * FINER))
    return np.asarray(cv2.resize(fine, (SIDE, SIDE), interpolation=cv2.INTER_AREA))
