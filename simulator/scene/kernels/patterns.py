"""How the reflectance of a surface varies from place to place at true scale.

Every pattern is a field of mean zero and standard deviation about one over places in metres on the
surface; the reflectance is its mean times 1 + variation x field. Sizes of bricks, slabs, stones and
joints are usual ones (assumed). Detail finer than the footprint of a pixel fades to its mean.
"""

from __future__ import annotations

import math

from simulator.kernels import helper

PATCHES, BRICK, SLABS, ASPHALT, GRASS, PLASTER, WOOD = 0, 1, 2, 3, 4, 5, 6
OF_MATERIAL = {
    "brick": BRICK,
    "concrete": SLABS,
    "asphalt": ASPHALT,
    "asphalt-wet": ASPHALT,
    "gravel": ASPHALT,
    "grass": GRASS,
    "grass-dry": GRASS,
    "soil": GRASS,
    "leaves": GRASS,
    "plaster-white": PLASTER,
    "wood": WOOD,
}
"""Pattern of a material; all others vary in patches."""
TILE, TILE_PER_GRAIN = 512, 3.0
"""Points a side of the noise tile, a power of two, and points of it to one size of grain."""
BRICK_LONG, BRICK_HIGH = 0.225, 0.075
"""Brick with one joint [m]."""
JOINT = 0.010
JOINT_SHARE = 1.0 - (BRICK_LONG - JOINT) * (BRICK_HIGH - JOINT) / (BRICK_LONG * BRICK_HIGH)
SLAB, SLAB_JOINT = 3.0, 0.012
"""Bay of concrete between joints, and the joint [m]."""
BOARD = 0.14


@helper
def tile_noise(tile, x, y):  # type: ignore[no-untyped-def]
    """Smooth noise over the plane, unit standard deviation, fixed in the world."""
    fx, fy = math.floor(x), math.floor(y)
    dx, dy = x - fx, y - fy
    ix, iy = int(fx) & (TILE - 1), int(fy) & (TILE - 1)
    jx, jy = (ix + 1) & (TILE - 1), (iy + 1) & (TILE - 1)
    top = tile[iy, ix] * (1.0 - dx) + tile[iy, jx] * dx
    low = tile[jy, ix] * (1.0 - dx) + tile[jy, jx] * dx
    return top * (1.0 - dy) + low * dy


@helper
def _octave(tile, x, y, size, footprint):  # type: ignore[no-untyped-def]
    """Noise of patches of some size, faded where a pixel covers several of them."""
    share = footprint / size
    if share >= 4.0:
        return 0.0
    k = TILE_PER_GRAIN / size
    return tile_noise(tile, x * k, y * k) / (1.0 + share * share)


@helper
def _of_cell(tile, i, j):  # type: ignore[no-untyped-def]
    """A value of unit deviation for a stone or board, the same at all its places."""
    return tile[(int(i) * 37 + int(j) * 11) & (TILE - 1), (int(j) * 53 + int(i) * 7) & (TILE - 1)]


@helper
def _brick(tile, x, y, footprint):  # type: ignore[no-untyped-def]
    """Running bond: stones of their own tone, lighter joints."""
    row = math.floor(y / BRICK_HIGH)
    along = x / BRICK_LONG + 0.5 * (row % 2.0)
    column = math.floor(along)
    u, v = (along - column) * BRICK_LONG, y - row * BRICK_HIGH
    fine = 1.0 / (1.0 + (footprint / 0.02) ** 2)
    each = 1.0 / (1.0 + (footprint / 0.12) ** 2)
    stain = 0.45 * _octave(tile, x, y, 1.7, footprint)
    if u < JOINT or v < JOINT:
        return fine * 1.5 + stain
    stone = 0.75 * _of_cell(tile, column, row) * each
    stone += 0.30 * _octave(tile, x, y, 0.03, footprint)
    return stone - fine * 1.5 * JOINT_SHARE / (1.0 - JOINT_SHARE) + stain


@helper
def _slabs(tile, x, y, footprint):  # type: ignore[no-untyped-def]
    """Cast concrete: bays of their own tone, dark joints, stains, pores."""
    i, j = math.floor(x / SLAB), math.floor(y / SLAB)
    u, v = x - i * SLAB, y - j * SLAB
    value = 0.45 * _of_cell(tile, i, j) / (1.0 + (footprint / SLAB) ** 2)
    value += 0.55 * _octave(tile, x, y, 0.9, footprint)
    value += 0.35 * _octave(tile, x + 3.0, y, 0.18, footprint)
    value += 0.35 * _octave(tile, x, y + 5.0, 0.015, footprint)
    fine = 1.0 / (1.0 + (footprint / 0.03) ** 2)
    joint = 1.0 - (1.0 - SLAB_JOINT / SLAB) ** 2
    if u < SLAB_JOINT or v < SLAB_JOINT:
        return value - fine * 5.0 * (1.0 - joint)
    return value + fine * 5.0 * joint


@helper
def _asphalt(tile, x, y, footprint):  # type: ignore[no-untyped-def]
    """Stones in dark binder, worn tracks, patches where it was repaired."""
    value = 0.75 * _octave(tile, x, y, 0.018, footprint)
    value += 0.45 * _octave(tile, x + 1.0, y, 0.12, footprint)
    value += 0.50 * _octave(tile, 0.6 * x, 0.25 * y + 2.0, 0.9, footprint)
    wide = _octave(tile, x + 9.0, 0.6 * y, 3.4, footprint)
    return value + 0.35 * wide


@helper
def _grass(tile, x, y, footprint):  # type: ignore[no-untyped-def]
    """Blades, tufts, and places where it grows thin."""
    value = 0.65 * _octave(tile, x, y, 0.03, footprint)
    value += 0.60 * _octave(tile, x + 2.0, y, 0.22, footprint)
    return value + 0.55 * _octave(tile, x, y + 7.0, 2.2, footprint)


@helper
def _plaster(tile, x, y, footprint):  # type: ignore[no-untyped-def]
    """Blotches, streaks of rain down the wall, grain of the float."""
    value = 0.60 * _octave(tile, x, y, 1.5, footprint)
    value += 0.60 * _octave(tile, x, 0.08 * y, 0.14, footprint)
    return value + 0.45 * _octave(tile, x, y + 4.0, 0.02, footprint)


@helper
def _wood(tile, x, y, footprint):  # type: ignore[no-untyped-def]
    """Boards side by side, grain along them."""
    i = math.floor(x / BOARD)
    value = 0.65 * _of_cell(tile, i, 3.0) / (1.0 + (footprint / BOARD) ** 2)
    value += 0.55 * _octave(tile, x, 0.04 * y + 1.7 * i, 0.012, footprint)
    fine = 1.0 / (1.0 + (footprint / 0.02) ** 2)
    gap = 0.006 / BOARD
    if x - i * BOARD < 0.006:
        return value - fine * 4.0 * (1.0 - gap)
    return value + fine * 4.0 * gap


@helper
def field(pattern, tile, x, y, size, footprint):  # type: ignore[no-untyped-def]
    """The field of a pattern at a place [m].

    `size` is that of its patches where it has no scale of its own, `footprint` the width of a pixel
    on the surface [m].
    """
    if pattern == BRICK:
        value = _brick(tile, x, y, footprint)
    elif pattern == SLABS:
        value = _slabs(tile, x, y, footprint)
    elif pattern == ASPHALT:
        value = _asphalt(tile, x, y, footprint)
    elif pattern == GRASS:
        value = _grass(tile, x, y, footprint)
    elif pattern == PLASTER:
        value = _plaster(tile, x, y, footprint)
    elif pattern == WOOD:
        value = _wood(tile, x, y, footprint)
    else:
        value = _octave(tile, x, y, size, footprint) + _octave(tile, x, y, 7.3 * size, footprint)
        value *= 0.7071
    return value
