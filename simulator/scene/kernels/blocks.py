"""What samples of a picture are, and light that is interpolated over even blocks of them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.kernels import kernel, over_rows

EVEN, ALONE, EDGE = 0, 1, 2
BLOCK = 4
"""Samples a side of an even block, whose light is interpolated from its corners if"""
STEEP = 1.3
"""the corners differ by no more than this factor, and"""
BENT = 0.002
"""the centre lies no farther than this share from their mean."""
CREASE = 0.85
"""Cosine of the angle between the normals of neighbours from which a body has an edge."""


@kernel
def find_edges(begin, end, card, mats, kind):  # type: ignore[no-untyped-def]
    """Mark samples with a neighbour that shows something else."""
    rows, columns = card.shape
    for j in range(begin, end):
        for i in range(columns):
            f, m = card[j, i], mats[j, i]
            if (
                (i > 0 and (card[j, i - 1] != f or mats[j, i - 1] != m))
                or (i + 1 < columns and (card[j, i + 1] != f or mats[j, i + 1] != m))
                or (j > 0 and (card[j - 1, i] != f or mats[j - 1, i] != m))
                or (j + 1 < rows and (card[j + 1, i] != f or mats[j + 1, i] != m))
            ):
                kind[j, i] = EDGE


@kernel
def find_even(begin, end, card, mats, block, even):  # type: ignore[no-untyped-def]
    """Whether the samples of a block and its neighbours' corners show one thing of one material."""
    for bj in range(begin, end):
        for bi in range(even.shape[1]):
            j0, i0 = bj * block, bi * block
            f, m = card[j0, i0], mats[j0, i0]
            same = True
            for j in range(j0, j0 + block + 1):
                for i in range(i0, i0 + block + 1):
                    if card[j, i] != f or mats[j, i] != m:
                        same = False
            even[bj, bi] = same


def sort_samples(
    card: NDArray[np.int16], mats: NDArray[np.uint8], block: int
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """What each sample is: 0 inside an even block, 1 on its own, 2 on an edge; and even blocks."""
    rows, columns = card.shape
    kind = np.full((rows, columns), ALONE, np.uint8)
    over_rows(find_edges, rows, card, mats, kind)
    even = np.zeros(((rows - 1) // block, (columns - 1) // block), np.bool_)
    over_rows(find_even, len(even), card, mats, block, even)
    return kind, even


@kernel
def uneven_light(begin, end, even, corner, centre, out):  # type: ignore[no-untyped-def]
    """Mark even blocks whose corners and centre do not agree."""
    for bj in range(begin, end):
        for bi in range(even.shape[1]):
            if not even[bj, bi]:
                continue
            for c in range(3):
                p, q = corner[bj, bi, c], corner[bj, bi + 1, c]
                s, t = corner[bj + 1, bi, c], corner[bj + 1, bi + 1, c]
                mean = np.float32(0.25) * (p + q + s + t)
                high, low = max(p, q, s, t), min(p, q, s, t)
                if high > STEEP * low or abs(centre[bj, bi, c] - mean) > BENT * mean:
                    out[bj, bi] = 1


@kernel
def fill_blocks(first, last, kind, steady, corner, block, out):  # type: ignore[no-untyped-def]
    """Interpolate the steady blocks; the rest stays to be lit one by one."""
    for bj in range(first, last):
        for bi in range(steady.shape[1]):
            if not steady[bj, bi]:
                continue
            for j in range(block):
                v = np.float32(j) / np.float32(block)
                for i in range(block):
                    u = np.float32(i) / np.float32(block)
                    y, x = bj * block + j, bi * block + i
                    # its first row or column may run along an edge to what lies above or beside
                    if kind[y, x] == EDGE:
                        continue
                    kind[y, x] = EVEN
                    for c in range(3):
                        top = corner[bj, bi, c] * (1 - u) + corner[bj, bi + 1, c] * u
                        low = corner[bj + 1, bi, c] * (1 - u) + corner[bj + 1, bi + 1, c] * u
                        out[y, x, c] = top * (1 - v) + low * v


@kernel
def find_creases(begin, end, normals, kind):  # type: ignore[no-untyped-def]
    """Mark samples of a body beside a crease of it, or beside another part of it behind."""
    rows, columns = kind.shape
    for j in range(begin, end):
        for i in range(columns):
            if kind[j, i] == EDGE:
                continue
            x, y, z = normals[j, i, 0], normals[j, i, 1], normals[j, i, 2]
            if x == 0.0 and y == 0.0 and z == 0.0:
                continue
            for k in range(4):
                v, u = j + (k == 0) - (k == 1), i + (k == 2) - (k == 3)
                if v < 0 or u < 0 or v >= rows or u >= columns:
                    continue
                if x * normals[v, u, 0] + y * normals[v, u, 1] + z * normals[v, u, 2] < CREASE:
                    kind[j, i] = EDGE
                    break
