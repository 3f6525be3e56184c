"""Sky and bounced light at places of the picture: looked up between the nodes of a light field.

The light of all sources together is folded into one table of rates, a row for every node of a
side and every material there, whenever strengths of lights change: a look-up costs the same however
many lights there are.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.bounded import Bounded, bytes_of
from simulator.kernels import helper
from simulator.units import FloatArray

SKY_ROW, FAR_ROW = 0, 1
"""Rows of `PackedMap.sent` that stand for the sky and for ground beyond the modelled part."""


class PackedMap(NamedTuple):
    """A light field for the kernels; sides as in `Leaves`, the ground last."""

    raster: NDArray[np.int32]  # leaf of every finest cell
    grid: NDArray[np.int64]  # (sides, 3) first cell, cells across and down
    split: FloatArray  # (lines, 3) that cut leaves, as in `Leaves`
    child: NDArray[np.int32]  # (lines, 2)
    ground: FloatArray  # (4,) x, y, width, height of the ground that is modelled
    leaf: FloatArray  # (leaves, 4) a, b, 1/width, 1/height as shares of the side
    cuts: NDArray[np.int64]  # (leaves,)
    first: NDArray[np.int64]  # (leaves,)
    node: NDArray[np.int32]  # numbers of nodes within their side
    begin: NDArray[np.int64]  # (sides + 1,) nodes of the sides before
    row: NDArray[np.int64]  # (sides + 1,) first row of the table
    many: NDArray[np.int64]  # (sides,) materials of the side
    owner: NDArray[np.int64]  # (sides,) row of `local`
    local: NDArray[np.int64]  # (cards + 1, materials) number of a material on a card or its body
    solid_cuts: NDArray[np.int64]  # (triangles,) of bodies
    solid_first: NDArray[np.int64]  # (triangles,)
    solid_node: NDArray[np.int32]  # numbers of nodes within the outside of their body
    solid_back: NDArray[np.int32]  # (triangles,) number of the node inside
    body: NDArray[np.int64]  # (triangles,) outside of the triangle's body, as a side
    slot: NDArray[np.int64]  # (slots,) light that stands for each slot
    sky: NDArray[np.float32]  # (nodes,)
    indirect: NDArray[np.float32]  # (nodes, slots, bands)
    sends: NDArray[np.float32]  # (leaves, slots, bands)
    far: NDArray[np.float32]  # (slots, bands)
    by_band: NDArray[np.float32]  # (slots, bands, materials, 3) rates
    table: NDArray[np.float32]  # (rows, 3) rates, folded
    sent: NDArray[np.float32]  # (2, 3) rates that a mirror of sky and far ground shows, folded
    mirror_node: NDArray[np.int64]  # (pairs,) nodes of all sides, and a leaf that each belongs to
    mirror_leaf: NDArray[np.int64]
    mirror_share: NDArray[np.float32]  # (pairs,) one over the node's number of leaves
    mirror: NDArray[np.float32]  # (nodes, 3) rates that a mirror of the node shows, folded


def no_map() -> PackedMap:
    """A map of nothing: sky and ground of an open horizon are taken instead."""
    i = np.zeros(0, np.int64)
    f = np.zeros((0, 3), np.float32)
    return PackedMap(
        np.zeros(0, np.int32), np.zeros((0, 3), np.int64), np.zeros((0, 3)),
        np.zeros((0, 2), np.int32), np.zeros(4), np.zeros((0, 4)),
        i, i, np.zeros(0, np.int32), i, i, i, i, np.zeros((0, 0), np.int64),
        i, i, np.zeros(0, np.int32), np.zeros(0, np.int32), i, i,
        np.zeros(0, np.float32), np.zeros((0, 0, 0), np.float32),
        np.zeros((0, 0, 0), np.float32), np.zeros((0, 0), np.float32),
        np.zeros((0, 0, 0, 3), np.float32), f, f, i, i, np.zeros(0, np.float32), f,
    )  # fmt: skip


MOST_FOLDED = 96_000_000
"""Bytes of folded maps that are kept, what they share counted with each: those of the parts of a
scene's light that are weighed anew."""
_FOLDED: Bounded[tuple[NDArray[np.float32], PackedMap]] = Bounded(
    MOST_FOLDED, lambda kept: bytes_of(*kept)
)


def folded(
    light_map: PackedMap, kind_is_sky: NDArray[np.bool_], coefficient: NDArray[np.float32],
    amount: FloatArray,
) -> PackedMap:  # fmt: skip
    """The map with its tables made for lights of these strengths.

    Parameters
    ----------
    kind_is_sky
        Which lights (lights,) are sky.
    coefficient
        Rates (lights, materials, 3) for a unit of every light.
    amount
        Strengths (lights,).
    """
    if not len(light_map.grid):
        return light_map
    key = (id(light_map.by_band), amount.tobytes())
    known = _FOLDED.get(key)
    if known is None:
        # what the map is known by is held so that its number is not reused
        made = _fold(light_map, kind_is_sky, coefficient, amount)
        known = _FOLDED.put(key, (light_map.by_band, made))
    return known[1]


def _fold(
    m: PackedMap, is_sky: NDArray[np.bool_], coefficient: NDArray[np.float32], amount: FloatArray
) -> PackedMap:
    lit = np.flatnonzero(amount[m.slot] != 0.0)
    by_band = (amount[m.slot[lit], None, None, None] * m.by_band[lit]).astype(np.float32)
    sky = np.einsum("l,lmc->mc", amount[is_sky], coefficient[is_sky]).astype(np.float32)
    parts = len(lit) * m.by_band.shape[1]  # none is lit, perhaps
    indirect = m.indirect[:, lit].reshape(len(m.indirect), parts)
    table = np.empty((int(m.row[-1]), 3), np.float32)
    for side, many in enumerate(m.many):
        a, b = m.begin[side], m.begin[side + 1]
        # the materials of the side, in the order of their local numbers
        used = np.argsort(m.local[m.owner[side]], kind="stable")[-many:]
        rates = indirect[a:b] @ by_band[:, :, used].reshape(parts, many * 3)
        rates += m.sky[a:b, None] * sky[used].reshape(1, -1)
        table[m.row[side] : m.row[side + 1]] = rates.reshape(-1, 3)
    white = by_band[:, :, 0].reshape(-1, 3)
    sent = np.stack([sky[0], m.far[lit].reshape(-1) @ white]).astype(np.float32)
    of_leaf = m.sends[:, lit].reshape(len(m.sends), parts) @ white
    mirror = np.empty((len(m.sky), 3), np.float32)
    for c in range(3):
        seen = m.mirror_share * of_leaf[m.mirror_leaf, c]
        mirror[:, c] = np.bincount(m.mirror_node, weights=seen, minlength=len(m.sky))
    # what was folded is not kept beside it
    gone = np.zeros((0, 0, 0), np.float32)
    return m._replace(table=table, sent=sent, mirror=mirror, indirect=gone, sends=gone)


@helper
def leaf_at(light_map, side, u, v):  # type: ignore[no-untyped-def]
    """Leaf at a place of a side, as shares of its width and height.

    The fields `raster`, `grid`, `split` and `child` are those of `Leaves`.
    """
    grid = light_map.grid
    start, across, down = grid[side, 0], grid[side, 1], grid[side, 2]
    i = min(max(int(u * across), 0), across - 1)
    j = min(max(int(v * down), 0), down - 1)
    leaf = light_map.raster[start + j * across + i]
    while leaf < 0:
        k = -1 - leaf
        line = light_map.split
        far = line[k, 0] * u + line[k, 1] * v > line[k, 2]
        leaf = light_map.child[k, 1 if far else 0]
    return leaf


@helper
def _between(light_map, side, u, v):  # type: ignore[no-untyped-def]
    """Four nodes of a side about a place of it, numbered within the side, and their weights."""
    leaf = leaf_at(light_map, side, u, v)
    cuts = light_map.cuts[leaf]
    a = (u - light_map.leaf[leaf, 0]) * light_map.leaf[leaf, 2] * cuts
    b = (v - light_map.leaf[leaf, 1]) * light_map.leaf[leaf, 3] * cuts
    i, j = min(max(int(a), 0), cuts - 1), min(max(int(b), 0), cuts - 1)
    a, b = min(max(a - i, 0.0), 1.0), min(max(b - j, 0.0), 1.0)
    at = light_map.first[leaf] + j * (cuts + 1) + i
    node = light_map.node
    return (
        node[at], node[at + 1], node[at + cuts + 1], node[at + cuts + 2],
        (1.0 - a) * (1.0 - b), a * (1.0 - b), (1.0 - a) * b, a * b,
    )  # fmt: skip


@helper
def _mixed(rows, p, q, s, t, wp, wq, ws, wt):  # type: ignore[no-untyped-def]
    """Weighted sum of four rows of a table of rates."""
    return (
        wp * rows[p, 0] + wq * rows[q, 0] + ws * rows[s, 0] + wt * rows[t, 0],
        wp * rows[p, 1] + wq * rows[q, 1] + ws * rows[s, 1] + wt * rows[t, 1],
        wp * rows[p, 2] + wq * rows[q, 2] + ws * rows[s, 2] + wt * rows[t, 2],
    )


@helper
def even_light(light_map, side, u, v, card, mat):  # type: ignore[no-untyped-def]
    """Rates of the three channels by sky and bounced light at a place of a side, bilinear."""
    p, q, s, t, wp, wq, ws, wt = _between(light_map, side, u, v)
    n = light_map.many[side]
    base = light_map.row[side] + max(light_map.local[card, mat], 0)
    return _mixed(
        light_map.table, base + p * n, base + q * n, base + s * n, base + t * n, wp, wq, ws, wt
    )


@helper
def mirror_light(light_map, side, u, v):  # type: ignore[no-untyped-def]
    """Rates that a mirror of a place of a side shows: what the side sends there."""
    p, q, s, t, wp, wq, ws, wt = _between(light_map, side, u, v)
    base = light_map.begin[side]
    return _mixed(light_map.mirror, base + p, base + q, base + s, base + t, wp, wq, ws, wt)


@helper
def _within(light_map, triangle, u, v):  # type: ignore[no-untyped-def]
    """Three nodes of the outside of a body about a place of a triangle, and their weights."""
    cuts = light_map.solid_cuts[triangle]
    a, b = min(max(u, 0.0), 1.0) * cuts, min(max(v, 0.0), 1.0) * cuts
    i, j = min(int(a), cuts - 1), min(int(b), cuts - 1)
    i = min(i, cuts - 1 - j)
    a, b = a - i, b - j
    # row j has cuts + 1 - j nodes
    low = light_map.solid_first[triangle] + j * (cuts + 1) - j * (j - 1) // 2 + i
    high = low + cuts + 1 - j
    q, s = low + 1, high
    p, wp, wq, ws = low, 1.0 - a - b, a, b
    if wp < 0.0 and i + j < cuts - 1:
        p, wp, wq, ws = high + 1, a + b - 1.0, 1.0 - b, 1.0 - a
    node = light_map.solid_node
    return node[p], node[q], node[s], wp, wq, ws


@helper
def even_on_body(light_map, triangle, u, v, inside, card, mat):  # type: ignore[no-untyped-def]
    """`even_light` at a place of a triangle of a body, by the light at its corners."""
    side = light_map.body[triangle] + (1 if inside else 0)
    n = light_map.many[side]
    base = light_map.row[side] + max(light_map.local[card, mat], 0)
    table = light_map.table
    if inside:
        p = base + light_map.solid_back[triangle] * n
        return table[p, 0], table[p, 1], table[p, 2]
    p, q, s, wp, wq, ws = _within(light_map, triangle, u, v)
    p, q, s = base + p * n, base + q * n, base + s * n
    return _mixed(table, p, q, s, p, wp, wq, ws, 0.0)


@helper
def mirror_body(light_map, triangle, u, v, inside):  # type: ignore[no-untyped-def]
    """`mirror_light` at a place of a triangle of a body."""
    side = light_map.body[triangle] + (1 if inside else 0)
    base, rows = light_map.begin[side], light_map.mirror
    if inside:
        p = base + light_map.solid_back[triangle]
        return rows[p, 0], rows[p, 1], rows[p, 2]
    p, q, s, wp, wq, ws = _within(light_map, triangle, u, v)
    return _mixed(rows, base + p, base + q, base + s, base + p, wp, wq, ws, 0.0)
