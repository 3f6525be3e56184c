"""Letters and digits as strokes, drawn by us: a plain block letter of even stroke width.

Every glyph is a set of polylines in a unit box (u to the right, v down) that is stretched to the
height, width and stroke a plate design asks for, so that one drawing serves every design.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from simulator.units import FloatArray

Polyline = list[tuple[float, float]]


def _arc(cx: float, cy: float, rx: float, ry: float, start: float, stop: float) -> Polyline:
    """Points on an ellipse; angles in degrees, 0 to the right, 90 down."""
    angles = np.radians(np.linspace(start, stop, 25))
    return [(cx + rx * float(np.cos(a)), cy + ry * float(np.sin(a))) for a in angles]


_TOP = 0.27  # vertical radius of the round corners, in heights


def _bowl(top: float, bottom: float, reach: float, left: float = 0.0) -> Polyline:
    """A bowl to the right between two heights, open to the left."""
    ry = (bottom - top) / 2.0
    rx = min(0.45, reach)
    mid = (top + bottom) / 2.0
    return [(left, top), *_arc(reach - rx, mid, rx, ry, -90, 90), (left, bottom)]


_GLYPHS: dict[str, list[Polyline]] = {
    "A": [[(0, 1), (0.5, 0), (1, 1)], [(0.16, 0.68), (0.84, 0.68)]],
    "B": [[(0, 0), (0, 1)], _bowl(0, 0.47, 0.92), _bowl(0.47, 1, 1.0)],
    "C": [[*_arc(0.5, _TOP, 0.5, _TOP, -15, -180), *_arc(0.5, 1 - _TOP, 0.5, _TOP, 180, 15)]],
    "D": [
        [(0, 0), (0, 1)],
        [
            (0, 0),
            *_arc(0.5, 0.33, 0.5, 0.33, -90, 0),
            *_arc(0.5, 0.67, 0.5, 0.33, 0, 90),
            (0, 1),
        ],
    ],
    "E": [[(1, 0), (0, 0), (0, 1), (1, 1)], [(0, 0.48), (0.85, 0.48)]],
    "F": [[(1, 0), (0, 0), (0, 1)], [(0, 0.5), (0.85, 0.5)]],
    "G": [
        [
            *_arc(0.5, _TOP, 0.5, _TOP, -15, -180),
            *_arc(0.5, 1 - _TOP, 0.5, _TOP, 180, 0),
            (1, 0.54),
            (0.55, 0.54),
        ]
    ],
    "H": [[(0, 0), (0, 1)], [(1, 0), (1, 1)], [(0, 0.5), (1, 0.5)]],
    "I": [[(0.5, 0), (0.5, 1)]],
    "J": [[(1, 0), *_arc(0.5, 1 - _TOP, 0.5, _TOP, 0, 180)]],
    "K": [[(0, 0), (0, 1)], [(1, 0), (0, 0.62)], [(0.36, 0.4), (1, 1)]],
    "L": [[(0, 0), (0, 1), (1, 1)]],
    "M": [[(0, 1), (0, 0), (0.5, 0.6), (1, 0), (1, 1)]],
    "N": [[(0, 1), (0, 0), (1, 1), (1, 0)]],
    "O": [
        [
            *_arc(0.5, _TOP, 0.5, _TOP, -180, 0),
            *_arc(0.5, 1 - _TOP, 0.5, _TOP, 0, 180),
            (0, _TOP),
        ]
    ],
    "P": [[(0, 0), (0, 1)], _bowl(0, 0.54, 1.0)],
    "Q": [
        [
            *_arc(0.5, _TOP, 0.5, _TOP, -180, 0),
            *_arc(0.5, 1 - _TOP, 0.5, _TOP, 0, 180),
            (0, _TOP),
        ],
        [(0.55, 0.68), (1, 1)],
    ],
    "R": [[(0, 0), (0, 1)], _bowl(0, 0.52, 0.98), [(0.45, 0.52), (1, 1)]],
    "S": [
        [
            *_arc(0.5, 0.25, 0.5, 0.25, -15, -180),
            *_arc(0.5, 0.25, 0.5, 0.235, 180, 90),
            *_arc(0.5, 0.735, 0.5, 0.25, -90, 0),
            *_arc(0.5, 0.75, 0.5, 0.25, 0, 165),
        ]
    ],
    "T": [[(0, 0), (1, 0)], [(0.5, 0), (0.5, 1)]],
    "U": [[(0, 0), *_arc(0.5, 1 - _TOP, 0.5, _TOP, 180, 0), (1, 0)]],
    "V": [[(0, 0), (0.5, 1), (1, 0)]],
    "W": [[(0, 0), (0.22, 1), (0.5, 0.3), (0.78, 1), (1, 0)]],
    "X": [[(0, 0), (1, 1)], [(1, 0), (0, 1)]],
    "Y": [[(0, 0), (0.5, 0.5), (1, 0)], [(0.5, 0.5), (0.5, 1)]],
    "Z": [[(0, 0), (1, 0), (0, 1), (1, 1)]],
    "0": [
        [
            *_arc(0.5, 0.33, 0.46, 0.33, -180, 0),
            *_arc(0.5, 0.67, 0.46, 0.33, 0, 180),
            (0.04, 0.33),
        ]
    ],
    "1": [[(0.1, 0.25), (0.55, 0), (0.55, 1)]],
    "2": [[*_arc(0.5, _TOP, 0.48, _TOP, -175, 20), (0, 1), (1, 1)]],
    "3": [
        [*_arc(0.48, 0.235, 0.46, 0.235, -165, 90), (0.4, 0.47)],
        [(0.4, 0.47), *_arc(0.48, 0.735, 0.52, 0.265, -90, 165)],
    ],
    "4": [[(0.74, 1), (0.74, 0), (0, 0.7), (1, 0.7)]],
    "5": [[(0.92, 0), (0.1, 0), (0.05, 0.44), *_arc(0.48, 0.69, 0.52, 0.31, -120, 160)]],
    "6": [
        [
            *_arc(0.55, 0.3, 0.5, 0.3, -35, -170),
            (0.0, 0.55),
            *_arc(0.5, 0.7, 0.5, 0.3, 180, -180),
        ]
    ],
    "7": [[(0, 0), (1, 0), (0.35, 1)]],
    "8": [_arc(0.5, 0.235, 0.44, 0.235, -90, 270), _arc(0.5, 0.735, 0.5, 0.265, -90, 270)],
    "9": [
        [
            *_arc(0.45, 0.7, 0.5, 0.3, 145, 10),
            (1.0, 0.45),
            *_arc(0.5, 0.3, 0.5, 0.3, 0, 360),
        ]
    ],
}

_MARKS: dict[str, list[Polyline]] = {
    "-": [[(0.1, 0.5), (0.9, 0.5)]],
    ".": [[(0.5, 1), (0.5, 1)]],
    ",": [[(0.5, 0.94), (0.35, 1)]],
    ":": [[(0.5, 0.3), (0.5, 0.3)], [(0.5, 0.9), (0.5, 0.9)]],
    "!": [[(0.5, 0), (0.5, 0.66)], [(0.5, 1), (0.5, 1)]],
    "?": [
        [*_arc(0.5, 0.25, 0.45, 0.25, -180, 60), (0.5, 0.6), (0.5, 0.72)],
        [(0.5, 1), (0.5, 1)],
    ],
    "+": [[(0.05, 0.5), (0.95, 0.5)], [(0.5, 0.22), (0.5, 0.78)]],
    "(": [_arc(0.9, 0.5, 0.5, 0.5, 240, 120)],
    ")": [_arc(0.1, 0.5, 0.5, 0.5, -60, 60)],
    "&": [
        [
            (1, 1),
            (0.2, 0.3),
            *_arc(0.45, 0.2, 0.27, 0.2, -200, 20),
            (0.1, 0.62),
            *_arc(0.42, 0.76, 0.42, 0.24, 200, 60),
            (1, 0.55),
        ]
    ],
    "Ä": [[(0, 1), (0.5, 0.22), (1, 1)], [(0.16, 0.72), (0.84, 0.72)],
          [(0.25, 0), (0.25, 0)], [(0.75, 0), (0.75, 0)]],
    "Ö": [[*_arc(0.5, 0.47, 0.5, 0.25, -180, 0), *_arc(0.5, 0.75, 0.5, 0.25, 0, 180), (0, 0.47)],
          [(0.25, 0), (0.25, 0)], [(0.75, 0), (0.75, 0)]],
    "Ü": [[(0, 0.22), *_arc(0.5, 0.75, 0.5, 0.25, 180, 0), (1, 0.22)],
          [(0.25, 0), (0.25, 0)], [(0.75, 0), (0.75, 0)]],
}  # fmt: skip
"""Marks and letters that only signs and labels use."""

ALPHABET = "".join(sorted(_GLYPHS))
"""Every character of a plate."""
SIGN_ALPHABET = ALPHABET + "".join(sorted(_MARKS))
"""Every character that can be drawn."""


def _segments(character: str) -> FloatArray:
    """Line segments (n, 4) of a glyph in its unit box: u0, v0, u1, v1."""
    rows = [(*a, *b) for line in (_GLYPHS | _MARKS)[character] for a, b in pairwise(line)]
    return np.array(rows, dtype=np.float64)


@lru_cache(maxsize=512)
def glyph_mask(
    character: str, height_mm: float, width_mm: float, stroke_mm: float, texel_mm: float
) -> NDArray[np.bool_]:
    """Ink of one glyph as a mask (rows, columns) of texels.

    A texel is ink if its centre lies within half a stroke of a centreline; centrelines are inset by
    half a stroke so that the ink fills the given height and width.

    Raises
    ------
    KeyError
        If the character is not in `SIGN_ALPHABET`.
    """
    rows, columns = round(height_mm / texel_mm), round(width_mm / texel_mm)
    seg = _segments(character)
    half = stroke_mm / 2.0
    x = half + seg[:, [0, 2]] * (width_mm - stroke_mm)
    y = half + seg[:, [1, 3]] * (height_mm - stroke_mm)
    px = (np.arange(columns) + 0.5) * texel_mm
    py = (np.arange(rows) + 0.5) * texel_mm
    gx, gy = np.meshgrid(px, py)
    nearest = np.full(gx.shape, np.inf)
    for (x0, x1), (y0, y1) in zip(x, y, strict=True):
        dx, dy = x1 - x0, y1 - y0
        length = dx * dx + dy * dy
        t = 0.0 if length == 0 else np.clip(((gx - x0) * dx + (gy - y0) * dy) / length, 0.0, 1.0)
        nearest = np.minimum(nearest, (gx - x0 - t * dx) ** 2 + (gy - y0 - t * dy) ** 2)
    mask: NDArray[np.bool_] = nearest <= half * half
    mask.flags.writeable = False
    return mask
