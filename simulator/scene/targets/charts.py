"""Test charts as cards: grey steps, 24 colours, star, slanted edge, bars and wedges in TV lines.

Layouts are our own. One TV line is half a cycle; lines are counted per height of the chart.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from simulator.scene.targets.glyphs import glyph_mask

GREY_STEPS = tuple(f"grey-{p:02d}" for p in (3, 4, 6, 8, 10, 14, 19, 26, 36, 48, 66, 90))
"""Materials of the grey chart, dark to light."""
PATCHES = tuple(f"chart24-{n:02d}" for n in range(1, 25))
"""Materials of the colour chart, row by row."""
BAR_LINES = (100, 150, 200, 250, 300, 375, 500, 600, 750, 1000)
"""Groups of bars [TV lines]; each divides `RESOLUTION_ROWS`, so that a line is whole texels."""
RESOLUTION_ROWS = 3000
WEDGE_LINES = ((100, 400), (300, 1000))

GREY_ASPECT, COLOUR_ASPECT, SQUARE_ASPECT, RESOLUTION_ASPECT = 3.0, 1.5, 1.0, 4.0 / 3.0
"""Width over height of the charts."""

Texture = NDArray[np.uint8]


def grey_texture(steps: NDArray[np.uint8], ground: int) -> Texture:
    """Two rows of steps, rising to the right above and to the left below, on a ground."""
    texture = np.full((200, 600), ground, np.uint8)
    edges = np.linspace(20, 580, len(steps) + 1).round().astype(int)
    for row, order in ((np.s_[20:96], steps), (np.s_[104:180], steps[::-1])):
        for (a, b), step in zip(pairwise(edges), order, strict=True):
            texture[row, a:b] = step
    return texture


def colour_texture(regions: NDArray[np.uint8], ground: int) -> Texture:
    """Six columns and four rows of patches, gaps of a tenth of their distance."""
    texture = np.full((400, 600), ground, np.uint8)
    for i, region in enumerate(regions):
        row, column = divmod(i, 6)
        texture[row * 100 + 6 : row * 100 + 94, column * 100 + 6 : column * 100 + 94] = region
    return texture


def star_texture(cycles: int, light: int, dark: int, ground: int, size: int = 2400) -> Texture:
    """Sectors of equal angle, `cycles` light and dark pairs, with a disc where they end."""
    place = (np.arange(size) + 0.5) / size * 2.0 - 1.0
    x, y = np.meshgrid(place, place)
    radius = np.hypot(x, y)
    phase = np.arctan2(y, x) * cycles / (2.0 * np.pi)
    texture = np.where(phase % 1.0 < 0.5, light, dark).astype(np.uint8)
    texture[(radius > 0.95) | (radius < 0.05)] = ground
    return texture


def edge_texture(edge_deg: float, light: int, dark: int, size: int = 3000) -> Texture:
    """A square of half the width, turned by `edge_deg`."""
    place = (np.arange(size) + 0.5) / size - 0.5
    x, y = np.meshgrid(place, place)
    c, s = np.cos(np.radians(edge_deg)), np.sin(np.radians(edge_deg))
    inside = np.maximum(np.abs(x * c + y * s), np.abs(y * c - x * s)) < 0.25
    return np.where(inside, dark, light).astype(np.uint8)


def resolution_texture(light: int, dark: int) -> Texture:
    """Bars of ten groups upright and level, and two wedges, with their TV lines beside them."""
    rows, columns = RESOLUTION_ROWS, round(RESOLUTION_ROWS * RESOLUTION_ASPECT)
    texture = np.full((rows, columns), light, np.uint8)
    texture[:12] = texture[-12:] = dark
    texture[:, :12] = texture[:, -12:] = dark
    half = len(BAR_LINES) // 2
    for i, lines in enumerate(BAR_LINES):
        column, row = divmod(i, half)
        left, top = 140 + column * 1130, 160 + row * 560
        _bars(texture, top, left, lines, dark)
    for k, span in enumerate(WEDGE_LINES):
        _wedge(texture, 200, 2560 + k * 720, 2300, *span, dark)
    return texture


def _bars(texture: Texture, top: int, left: int, lines: int, dark: int) -> None:
    """Upright bars, then level bars to the right, at least four of each; their number below."""
    line = RESOLUTION_ROWS // lines
    reach = max(300, 7 * line)
    count = max(4, (reach // line + 1) // 2)
    long = (2 * count - 1) * line
    for k in range(count):
        at = 2 * k * line
        texture[top : top + 360, left + at : left + at + line] = dark
        texture[top + at : top + at + line, left + long + 60 : left + long + 420] = dark
    _number(texture, top + max(360, long) + 24, left, lines, dark)


def _wedge(
    texture: Texture, top: int, left: int, height: int, first: int, last: int, dark: int
) -> None:
    """Five dark lines that close in so that TV lines rise evenly from top to bottom."""
    for row in range(height):
        lines = first + (last - first) * (row + 0.5) / height
        line = RESOLUTION_ROWS / lines
        middle = left + 300
        for k in range(5):
            a = middle + (2 * k - 4.5) * line
            texture[top + row, round(a) : round(a + line)] = dark
    for share in (0.0, 0.5, 1.0):
        value = round(first + (last - first) * share)
        row = top + round(share * height)
        width = round(9 * RESOLUTION_ROWS / value / 2)
        texture[row - 4 : row + 4, left + 300 + width + 20 : left + 300 + width + 70] = dark
        _number(texture, row - 45, left + 300 + width + 90, value, dark)


def _number(texture: Texture, top: int, left: int, value: int, dark: int) -> None:
    for k, digit in enumerate(str(value)):
        mask = glyph_mask(digit, 90.0, 54.0, 12.0, 1.0)
        area = texture[top : top + 90, left + k * 72 : left + k * 72 + 54]
        area[mask[: area.shape[0], : area.shape[1]]] = dark
