"""Where things stand on a side: the lines that keep light of its one part from the other.

A leaf that a wall stands on would throw light of both sides of the wall to both of them, and light
between nodes on either side would leak under it. Leaves are therefore cut along the feet of all
cards that stand on them, and no node lies across a foot.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.scene.geometry import Card
from simulator.units import FloatArray

GAP_M = 0.05
"""Cards whose lower rim hovers no higher than this above a side stand on it [m], if they"""
RISE_M = 0.03
"""rise at least so far above it [m]."""
SECTION_M = 1e-4
"""Height above the side, or above the rim that hovers, at which the foot is taken [m]."""
OFF_M = 0.002
"""Nodes keep so far off a foot [m], and slivers of a leaf narrower than twice that are not cut."""
MOST_LINES = 6
"""Feet that are heeded in one leaf."""
TRIED = 600
"""Places of a leaf among which those of a part of it are chosen."""
PLASTIC = 1.324717957244746
"""The plastic number: its powers spread places evenly (Roberts, The unreasonable effectiveness of
quasirandom sequences, 2018)."""


class Line(NamedTuple):
    """A foot on a side: places p with normal . p = offset; from `start` to `end` [m]."""

    normal: FloatArray
    offset: float
    start: FloatArray
    end: FloatArray


class Part(NamedTuple):
    """A part of a leaf: its corners (n, 2) [m] and the lines it lies beside, with the sign of its
    side of each."""

    corners: FloatArray
    beside: tuple[tuple[Line, float], ...]


class Cut(NamedTuple):
    """How a leaf is cut: `line` splits it into what lies on the negative and the positive side,
    each of them cut again or a part."""

    line: Line
    negative: Cut | Part
    positive: Cut | Part


def feet_on(
    cards: Sequence[Card], corner_m: FloatArray, across: FloatArray, down: FloatArray,
    normal: FloatArray,
) -> list[Line]:  # fmt: skip
    """Feet of cards on a plane, of those that touch or cross it and rise above it.

    Parameters
    ----------
    cards
        Things that stand about.
    corner_m, across, down, normal
        The plane (3,): its corner [m], unit vectors in it and its normal.
    """
    out = []
    for card in cards:
        corners = card.corners_m
        height = (corners - corner_m) @ normal
        low, high = float(height.min()), float(height.max())
        if high < max(low, 0.0) + RISE_M or low > GAP_M:
            continue
        level = max(low, 0.0) + SECTION_M
        crossed = []
        for k in range(4):
            a, b = height[k] - level, height[(k + 1) % 4] - level
            if (a < 0.0) != (b < 0.0):
                crossed.append(corners[k] + a / (a - b) * (corners[(k + 1) % 4] - corners[k]))
        if len(crossed) != 2:
            continue
        flat = np.array([[(p - corner_m) @ across, (p - corner_m) @ down] for p in crossed])
        along = flat[1] - flat[0]
        length = float(np.hypot(*along))
        if length < RISE_M:
            continue
        square = np.array([-along[1], along[0]]) / length
        out.append(Line(square, float(square @ flat[0]), flat[0], flat[1]))
    return out


def lines_in(box: FloatArray, lines: Sequence[Line]) -> dict[int, list[Line]]:
    """Feet that reach into boxes (n, 4) or lie on their rim, by the number of the box."""
    out: dict[int, list[Line]] = {}
    low, high = box[:, :2] - OFF_M, box[:, :2] + box[:, 2:] + OFF_M
    for line in lines:
        way = line.end - line.start
        enter, leave = np.zeros(len(box)), np.ones(len(box))
        for axis in (0, 1):
            if abs(way[axis]) < 1e-9:
                apart = (line.start[axis] < low[:, axis]) | (line.start[axis] > high[:, axis])
                leave = np.where(apart, -1.0, leave)
                continue
            a = (low[:, axis] - line.start[axis]) / way[axis]
            b = (high[:, axis] - line.start[axis]) / way[axis]
            enter, leave = np.maximum(enter, np.minimum(a, b)), np.minimum(leave, np.maximum(a, b))
        for k in np.flatnonzero(enter < leave):
            on_side = out.setdefault(int(k), [])
            if len(on_side) < MOST_LINES:
                on_side.append(line)
    return out


def cut_leaf(box: FloatArray, lines: Sequence[Line]) -> Cut | Part:
    """A leaf (4,) cut along lines."""
    a, b, w, h = box
    corners = np.array([[a, b], [a + w, b], [a + w, b + h], [a, b + h]])
    return _cut(Part(corners, ()), list(lines))


def _cut(part: Part, lines: list[Line]) -> Cut | Part:
    if not lines:
        return part
    line, rest = lines[0], lines[1:]
    far = part.corners @ line.normal - line.offset
    if far.max() < 2.0 * OFF_M or far.min() > -2.0 * OFF_M:
        sign = 1.0 if far.max() > -far.min() else -1.0
        return _cut(part._replace(beside=(*part.beside, (line, sign))), rest)
    halves = []
    for sign in (-1.0, 1.0):
        corners = _clipped(part.corners, sign * far)
        halves.append(_cut(Part(corners, (*part.beside, (line, sign))), rest))
    return Cut(line, *halves)


def _clipped(corners: FloatArray, far: FloatArray) -> FloatArray:
    """The part of a convex polygon where `far` of its corners is not negative."""
    out = []
    for k in range(len(corners)):
        n = (k + 1) % len(corners)
        if far[k] >= 0.0:
            out.append(corners[k])
        if (far[k] < 0.0) != (far[n] < 0.0):
            out.append(corners[k] + far[k] / (far[k] - far[n]) * (corners[n] - corners[k]))
    return np.array(out)


def kept_off(place: FloatArray, part: Part) -> FloatArray:
    """Places (n, 2), those across a foot or on it brought to the part's own side of it."""
    out = place.copy()
    for _ in range(2):
        for line, sign in part.beside:
            short = OFF_M - sign * (out @ line.normal - line.offset)
            out += np.maximum(short, 0.0)[:, None] * sign * line.normal
    return out


def area_of(corners: FloatArray) -> float:
    """Area of a polygon [m2]."""
    x, y = corners.T
    return 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def places_in(box: FloatArray, part: Part, many: int) -> FloatArray:
    """Places (many, 2) spread over a part of a leaf."""
    k = np.arange(1, TRIED + 1)[:, None]
    spread = np.mod(0.5 + k * np.array([1.0 / PLASTIC, 1.0 / PLASTIC**2]), 1.0)
    places = spread * box[2:] + box[:2]
    inside: NDArray[np.bool_] = np.ones(len(places), np.bool_)
    for line, sign in part.beside:
        inside &= sign * (places @ line.normal - line.offset) > OFF_M
    places = places[inside][:many]
    if len(places) < many:
        places = np.tile(part.corners.mean(axis=0), (many, 1))
    return kept_off(places, part)
