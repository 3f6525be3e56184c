"""Holes in the textures of cards."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.scene.geometry import CLEAR


def cut_hole(
    texture: NDArray[np.uint8],
    hole_m: tuple[float, float, float, float],
    width_m: float,
    height_m: float,
) -> None:
    """Make whole texels of a card clear, in place.

    Parameters
    ----------
    texture
        Texture (rows, columns) of the card, as fine as its holes ask for.
    hole_m
        Left, top, right and bottom from the upper left corner of the card [m].
    width_m, height_m
        Size of the card [m].
    """
    rows, columns = texture.shape
    left, top, right, bottom = np.maximum(hole_m, 0.0)
    x0, x1 = (round(x * (columns / width_m)) for x in (left, right))
    y0, y1 = (round(y * (rows / height_m)) for y in (top, bottom))
    texture[y0:y1, x0:x1] = CLEAR
