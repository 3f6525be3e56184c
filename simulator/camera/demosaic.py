"""Demosaicing of an RGGB mosaic: Malvar, He, Cutler, "High-quality linear interpolation for
demosaicing of Bayer-patterned color images" (ICASSP 2004)."""

from __future__ import annotations

import numpy as np

from simulator.kernels import helper, kernel, over_rows
from simulator.units import Image


@helper
def malvar(m, j, i, channel):  # type: ignore[no-untyped-def]
    """Red, green and blue at (j, i) of a padded RGGB mosaic; channel 0 R, 1 G in red row, 2 G in
    blue row, 3 B."""
    c = m[j, i]
    near = m[j - 1, i] + m[j + 1, i] + m[j, i - 1] + m[j, i + 1]
    far = m[j - 2, i] + m[j + 2, i] + m[j, i - 2] + m[j, i + 2]
    diagonal = m[j - 1, i - 1] + m[j - 1, i + 1] + m[j + 1, i - 1] + m[j + 1, i + 1]
    if channel % 3 == 0:
        g = (4.0 * c + 2.0 * near - far) * 0.125
        other = (6.0 * c + 2.0 * diagonal - 1.5 * far) * 0.125
        if channel == 0:
            return c, g, other
        return other, g, c
    sides = m[j, i - 1] + m[j, i + 1]
    ends = m[j - 1, i] + m[j + 1, i]
    far_sides = m[j, i - 2] + m[j, i + 2]
    far_ends = m[j - 2, i] + m[j + 2, i]
    across = (5.0 * c + 4.0 * sides - diagonal - far_sides + 0.5 * far_ends) * 0.125
    along = (5.0 * c + 4.0 * ends - diagonal - far_ends + 0.5 * far_sides) * 0.125
    if channel == 1:
        return across, c, along
    return along, c, across


@helper
def brightest(m, j, i, channel):  # type: ignore[no-untyped-def]
    """Largest sample that `malvar` reads at (j, i), and the least of the largest of each colour.

    The second is near white only where all three colours are: within and right beside what is
    blown out.
    """
    ends = max(m[j - 1, i], m[j + 1, i])
    sides = max(m[j, i - 1], m[j, i + 1])
    diagonal = max(m[j - 1, i - 1], m[j - 1, i + 1], m[j + 1, i - 1], m[j + 1, i + 1])
    own = max(m[j, i], m[j - 2, i], m[j + 2, i], m[j, i - 2], m[j, i + 2])
    if channel % 3 == 0:
        near = max(ends, sides)
        return max(own, near, diagonal), min(own, near, diagonal)
    own = max(own, diagonal)
    return max(own, ends, sides), min(own, ends, sides)


def demosaic(mosaic: Image, origin_px: tuple[int, int] = (0, 0)) -> Image:
    """Linear RGB (rows, columns, 3) of an RGGB mosaic (rows, columns), Malvar-He-Cutler.

    The border is mirrored about the edge pixel, which keeps the pattern.
    """
    padded = np.pad(np.asarray(mosaic, dtype=np.float32), 2, mode="reflect")
    out = np.empty((padded.shape[0] - 4, padded.shape[1] - 4, 3), np.float32)
    over_rows(_demosaic, len(out), padded, origin_px[1], origin_px[0], out)
    return out


@kernel
def _demosaic(first, last, m, y0, x0, out):  # type: ignore[no-untyped-def]
    for j in range(first, last):
        for i in range(m.shape[1] - 4):
            channel = 2 * ((y0 + j) & 1) + ((x0 + i) & 1)
            out[j, i, 0], out[j, i, 1], out[j, i, 2] = malvar(m, j + 2, i + 2, channel)
