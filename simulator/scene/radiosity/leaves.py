"""Surfaces cut into leaves: the patches that send light, and the nodes at which it arrives.

Every side of a card and the ground is a rectangle, cut into equal root cells and these again into
quarters: fine where other things or lamps are near, coarse elsewhere, and along the feet of what
stands on the side (`feet`). A leaf is one patch of the radiosity; its light is told at nodes on a
grid of its own and interpolated between them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from simulator.scene.geometry import Card
from simulator.scene.radiosity.feet import (
    Cut,
    Line,
    Part,
    area_of,
    cut_leaf,
    feet_on,
    kept_off,
    lines_in,
    places_in,
)
from simulator.scene.radiosity.solids import Solids, solids_of
from simulator.scene.rays import blocks
from simulator.scene.world import World
from simulator.units import FloatArray

NEAR = 0.6
"""Leaves are no longer than this share of the distance to the nearest other thing or lamp, but"""
LEAST_M = 0.3
"""no shorter than this [m]."""
LEAST_GROUND_M = 0.25
SPACING = 0.25
"""Nodes lie no wider apart than this share of that distance, within a leaf cut at most"""
MOST_CUTS = 2
"""so often into halves, or on the ground, for the darkness at contacts,"""
MOST_GROUND_CUTS = 3
INSET_M = 0.002
"""Nodes at a rim lie so far inside it [m]."""
ABOVE_M = 0.03
"""Things no higher than this above a side do not make it finer [m]."""
MARGIN_M = 4.0
"""Ground is modelled at least so far around all things [m]."""
REACH = 1.5
"""and as far as this many heights of the tallest one, but"""
FARTHEST_M = 120.0
"""no farther from the middle of the targets than this [m]."""
ROOT_M = 8.0
OUTLINE_M = 0.1
"""Bodies are told by places so far apart where distances to them are asked [m]."""
MOST_LEAVES = 3500
MOST_NODES = 22_000
"""A world with more is cut coarser,"""
COARSEST = 16.0
"""by this factor at most."""


@dataclass(frozen=True)
class Side:
    """One side of a card, or the ground: a rectangle with its outward normal.

    `card` is the number of the card or the ground, `corner_m`, `across`, `down` and the sizes span
    it; a place is (a, b) [m] along `across` and `down`.
    """

    card: int
    corner_m: FloatArray
    across: FloatArray
    down: FloatArray
    width_m: float
    height_m: float
    normal: FloatArray

    def point_m(self, place: FloatArray) -> FloatArray:
        """World points (n, 3) of places (n, 2)."""
        return np.asarray(self.corner_m + place[:, :1] * self.across + place[:, 1:] * self.down)


class Leaves(NamedTuple):
    """The leaves of all sides, and their nodes.

    Side 2 i is the front of card i, 2 i + 1 its back, the last one the ground. `box` (leaves, 4):
    a, b, width, height [m]; `side` (leaves,); `cuts` (leaves,) nodes a side less one; `first`
    (leaves,) where the leaf's nodes begin in `node`, which holds (cuts + 1)^2 numbers a leaf.
    Nodes of one side follow each other from `begin[side]` to `begin[side + 1]` - 1; `place`
    (nodes, 2) [m] on their side. `raster` holds the number of the leaf at every finest cell;
    `grid` (sides, 3) where a side's cells begin and how many there are across and down. Where a
    foot cuts a leaf, the raster holds -1 - k instead: the line `split` (lines, 3) number k, places
    as shares of the side with split[0] u + split[1] v > split[2] belong to child[k, 1], others to
    child[k, 0], a leaf or again a line. `parts` are the leaves that lie along a foot, whose `box`
    may be larger than they are; `area_m2` (leaves,). Leaves of solid bodies follow after these, as
    do their nodes (`solids`).
    """

    sides: Sequence[Side]
    box: FloatArray
    side: NDArray[np.int64]
    cuts: NDArray[np.int64]
    first: NDArray[np.int64]
    node: NDArray[np.int32]
    begin: NDArray[np.int64]
    place: FloatArray
    raster: NDArray[np.int32]
    grid: NDArray[np.int64]
    solids: Solids
    area_m2: FloatArray
    split: FloatArray
    child: NDArray[np.int32]
    parts: dict[int, Part]

    def at(self, side: NDArray[np.intp], place: FloatArray) -> NDArray[np.int32]:
        """Leaves (n,) at places (n, 2) [m] on sides (n,)."""
        size = np.array([[s.width_m, s.height_m] for s in self.sides])[side]
        many = self.grid[side, 1:]
        share = place / size
        cell = np.clip((share * many).astype(np.int64), 0, many - 1)
        out = self.raster[self.grid[side, 0] + cell[:, 1] * many[:, 0] + cell[:, 0]]
        while np.any(out < 0):
            at = np.flatnonzero(out < 0)
            k = -1 - out[at]
            far = np.sum(self.split[k, :2] * share[at], axis=1) > self.split[k, 2]
            out[at] = self.child[k, far.astype(int)]
        return out

    @property
    def many(self) -> int:
        """How many leaves there are, those of bodies counted."""
        return len(self.box) + len(self.solids.parts_m)

    def places(self, leaf: NDArray[np.intp], many: int) -> FloatArray:
        """Middles (leaves, many^2, 2) [m] of many x many parts of leaves."""
        part = (np.arange(many) + 0.5) / many
        grid = np.stack(np.meshgrid(part, part), axis=-1).reshape(1, -1, 2)
        box = self.box[leaf]
        out = np.asarray(box[:, None, :2] + grid * box[:, None, 2:])
        for i, k in enumerate(leaf.tolist()):
            if k in self.parts:
                out[i] = places_in(self.box[k], self.parts[k], many * many)
        return out


def sides_of(world: World, *, lamps: bool = True) -> list[Side]:
    """Both sides of every card, front first, and the ground."""
    out = []
    for i, card in enumerate(world.cards):
        rim = (card.across, card.down, card.width_m, card.height_m)
        out.append(Side(i, card.corner_m, *rim, card.normal))
        out.append(Side(i, card.corner_m, *rim, -card.normal))
    return [*out, _ground(world, lamps)]


def _ground(world: World, lamps: bool) -> Side:
    """The part of the ground around all things that is modelled."""
    corners = [c.corners_m for c in world.cards]
    feet = [li.position_m[None] for li in world.lights if lamps and li.position_m is not None]
    points = np.concatenate([*corners, *feet, np.zeros((1, 3))])
    indices = [i for own in world.targets.values() for i in own]
    of_targets = [world.cards[i].centre_m for i in indices] or [np.zeros(3)]
    middle = np.mean(of_targets, axis=0)[:2]
    high = max([0.0, *(float(c[:, 2].max()) for c in corners)])
    margin = max(MARGIN_M, REACH * high)
    low = np.maximum(points[:, :2].min(axis=0) - margin, middle - FARTHEST_M)
    top = np.minimum(points[:, :2].max(axis=0) + margin, middle + FARTHEST_M)
    # a nudge keeps nodes off the planes of things that stand at round places
    low = np.floor(low) - 0.0137
    size = np.maximum(np.ceil(top) + 0.0137 - low, 1.0)
    return Side(
        len(world.cards), np.array([*low, 0.0]), np.array([1.0, 0.0, 0.0]),
        np.array([0.0, 1.0, 0.0]), float(size[0]), float(size[1]), np.array([0.0, 0.0, 1.0]),
    )  # fmt: skip


def cut(world: World, coarser: float = 1.0, *, lamps: bool = True) -> Leaves:
    """Leaves and nodes of a world, cut as fine as fits the limits, or coarser by a factor.

    Without `lamps` they are no finer near lamps, and serve wherever these hang.
    """
    sides, solids = sides_of(world, lamps=lamps), solids_of(world)
    points = [_outline(mesh.vertices_m) for mesh in world.meshes]
    bodies = cKDTree(np.concatenate(points)) if points else None
    near = [_Near(world, side, number, bodies, lamps) for number, side in enumerate(sides)]
    while True:
        leaves = _cut(near, sides, solids, coarser)
        if leaves is not None and (coarser > COARSEST or len(leaves.place) <= MOST_NODES):
            return leaves
        coarser *= 1.3


def _cut(
    nears: Sequence[_Near], sides: Sequence[Side], solids: Solids, coarser: float
) -> Leaves | None:
    """Leaves of all sides; None where there are too many of them."""
    boxes: list[FloatArray] = []
    owner, cuts, rasters, grid, start = [], [], [], [], 0
    tree = _Tree()
    for number, (side, near) in enumerate(zip(sides, nears, strict=True)):
        box, level, roots = _split(side, near, coarser)
        fine = _raster(side, box, roots, int(level.max()))
        box, code = tree.cut(side, box, near.feet, sum(map(len, boxes)))
        distance = near(box[:, :2] + box[:, 2:] / 2.0)
        most = MOST_GROUND_CUTS if near.is_ground else MOST_CUTS
        wanted = box[:, 2:].max(axis=1) / np.maximum(SPACING * coarser * distance, 1e-9)
        halvings = np.clip(np.ceil(np.log2(np.maximum(wanted, 1.0))), 1, most).astype(np.int64)
        rasters.append(code[fine].ravel())
        grid.append((start, fine.shape[1], fine.shape[0]))
        start += fine.size
        boxes.append(box)
        owner.append(np.full(len(box), number))
        cuts.append(2**halvings)
    box, side_of, cut_of = (np.concatenate(x) for x in (boxes, owner, cuts))
    if len(box) > MOST_LEAVES and coarser <= COARSEST:
        return None
    node, first, begin, place = _nodes(sides, box, side_of, cut_of, tree.parts)
    area = box[:, 2] * box[:, 3]
    for k, part in tree.parts.items():
        area[k] = area_of(part.corners)
    return Leaves(
        sides, box, side_of, cut_of, first, node, begin, place,
        np.concatenate(rasters).astype(np.int32), np.array(grid, dtype=np.int64), solids, area,
        np.array(tree.split).reshape(-1, 3), np.array(tree.child, dtype=np.int32).reshape(-1, 2),
        tree.parts,
    )  # fmt: skip


class _Tree:
    """Lines along which leaves of all sides are cut, and the parts that they leave."""

    def __init__(self) -> None:
        self.split: list[tuple[float, float, float]] = []
        self.child: list[list[int]] = []
        self.parts: dict[int, Part] = {}

    def cut(
        self, side: Side, box: FloatArray, lines: Sequence[Line], first: int
    ) -> tuple[FloatArray, NDArray[np.int64]]:
        """Boxes (n, 4) of the leaves of a side with those that lines add, and what the raster holds
        for each of the leaves before. `first` is the number of the side's first leaf."""
        code = first + np.arange(len(box))
        more: list[FloatArray] = []

        def placed(piece: Cut | Part, own: int | None, k: int) -> int:
            if isinstance(piece, Part):
                number = own
                if number is None:
                    more.append(box[k])
                    number = first + len(box) + len(more) - 1
                self.parts[number] = piece
                return number
            at = len(self.split)
            normal = piece.line.normal
            self.split.append(
                (normal[0] * side.width_m, normal[1] * side.height_m, piece.line.offset)
            )
            self.child.append([0, 0])
            # the leaf's own number goes to the first part
            self.child[at] = [placed(piece.negative, own, k), placed(piece.positive, None, k)]
            return -1 - at

        for k, some in lines_in(box, lines).items():
            code[k] = placed(cut_leaf(box[k], some), first + k, k)
        return np.concatenate([box, np.array(more).reshape(-1, 4)]), code


class _Near:
    """Distance from places on a side to what stands before it: other things, the ground, lamps."""

    def __init__(
        self, world: World, side: Side, number: int, bodies: cKDTree | None, lamps: bool
    ) -> None:
        self.side = side
        self.is_ground = number == 2 * len(world.cards)
        # a card that stands for a body is not there itself: one leaf is enough
        solid = {mesh.card for mesh in world.meshes}
        self.idle = side.card in solid
        before = [
            card
            for i, card in enumerate(world.cards)
            if i != side.card and i not in solid and self._before(card)
        ]
        rim = (side.corner_m, side.across, side.down, side.normal)
        self.feet = [] if self.idle else feet_on(before, *rim)
        self.corner = np.array([c.corner_m for c in before]).reshape(-1, 3)
        self.across = np.array([c.across for c in before]).reshape(-1, 3)
        self.down = np.array([c.down for c in before]).reshape(-1, 3)
        self.size = np.array([(c.width_m, c.height_m) for c in before]).reshape(-1, 2)
        self.bodies = bodies
        places = [li.position_m for li in world.lights if lamps and li.kind == "point"]
        self.lamps = np.array(places, dtype=np.float64).reshape(-1, 3)

    def _before(self, card: Card) -> bool:
        heights = (card.corners_m - self.side.corner_m) @ self.side.normal
        return blocks(card) and bool(heights.max() > ABOVE_M)

    def __call__(self, place: FloatArray) -> FloatArray:
        """Distances (n,) [m] of places (n, 2)."""
        point = self.side.point_m(place)
        out = np.full(len(point), np.inf)
        if not self.is_ground:
            out = np.maximum(point[:, 2], 0.0)
        if len(self.corner):
            off = point[:, None] - self.corner
            a = np.clip(np.einsum("nci,ci->nc", off, self.across), 0.0, self.size[:, 0])
            b = np.clip(np.einsum("nci,ci->nc", off, self.down), 0.0, self.size[:, 1])
            rest = off - a[..., None] * self.across - b[..., None] * self.down
            out = np.minimum(out, np.sqrt((rest**2).sum(axis=2)).min(axis=1))
        if self.bodies is not None:
            out = np.minimum(out, self.bodies.query(point)[0])
        if self.idle:
            return np.full(len(point), np.inf)
        if len(self.lamps):
            away = np.linalg.norm(point[:, None] - self.lamps, axis=2)
            out = np.minimum(out, away.min(axis=1))
        return np.asarray(out)


def _outline(vertices_m: FloatArray) -> FloatArray:
    """Corners of a body, thinned out to one in a cell."""
    cell = np.unique(np.rint(vertices_m / OUTLINE_M), axis=0, return_index=True)[1]
    return vertices_m[cell]


def _split(
    side: Side, near: _Near, coarser: float
) -> tuple[FloatArray, NDArray[np.int64], tuple[int, int]]:
    """Leaves (n, 4) of a side, how often each was quartered, and its root cells across and down."""
    short = min(side.width_m, side.height_m)
    root = min(max(short, max(side.width_m, side.height_m) / 16.0), ROOT_M * coarser)
    across = max(1, round(side.width_m / root))
    down = max(1, round(side.height_m / root))
    size = np.array([side.width_m / across, side.height_m / down])
    i, j = np.meshgrid(np.arange(across), np.arange(down))
    box = np.concatenate(
        [np.stack([i, j], -1).reshape(-1, 2) * size, np.tile(size, (across * down, 1))], axis=1
    )
    least = coarser * (LEAST_GROUND_M if near.is_ground else LEAST_M)
    done, levels, level = [], [], 0
    while len(box):
        length = box[0, 2:].max()
        # the nearest place of a leaf counts, not its middle
        distance = near(box[:, :2] + box[:, 2:] / 2.0) - 0.5 * length
        split = (length > NEAR * coarser * distance) & (length > 1.5 * least)
        done.append(box[~split])
        levels.append(np.full(int((~split).sum()), level))
        half = box[split] * np.array([1.0, 1.0, 0.5, 0.5])
        step = half[:, None, 2:] * np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]])
        box = np.concatenate(
            [half[:, None, :2] + step, np.broadcast_to(half[:, None, 2:], step.shape)], axis=2
        ).reshape(-1, 4)
        level += 1
    return np.concatenate(done), np.concatenate(levels), (across, down)


def _raster(side: Side, box: FloatArray, roots: tuple[int, int], level: int) -> NDArray[np.int64]:
    """Number (down, across) of the leaf that every finest cell belongs to."""
    across, down = roots[0] << level, roots[1] << level
    cell = np.array([side.width_m / across, side.height_m / down])
    at = np.rint(box / np.tile(cell, 2)).astype(np.int64)
    out = np.zeros((down, across), np.int64)
    for k, (a, b, w, h) in enumerate(at.tolist()):
        out[b : b + h, a : a + w] = k
    return out


def _nodes(
    sides: Sequence[Side],
    box: FloatArray,
    side: NDArray[np.int64],
    cuts: NDArray[np.int64],
    parts: Mapping[int, Part],
) -> tuple[NDArray[np.int32], NDArray[np.int64], NDArray[np.int64], FloatArray]:
    """Numbers of the nodes of all leaves, shared where leaves of a side touch, and their places."""
    first = np.concatenate([[0], np.cumsum((cuts + 1) ** 2)])
    node = np.zeros(first[-1], np.int32)
    begin, places, known = [0], [], 0
    for number, one in enumerate(sides):
        mine = np.flatnonzero(side == number)
        grids, spans = [], []
        for many in np.unique(cuts[mine]):
            some = mine[cuts[mine] == many]
            part = np.arange(many + 1) / many
            i, j = (a.ravel() for a in np.meshgrid(part, part))
            at = np.stack([i, j], axis=1)
            grid = box[some, None, :2] + at * box[some, None, 2:]
            for n, k in enumerate(some):
                if int(k) in parts:
                    grid[n] = kept_off(grid[n], parts[int(k)])
            grids.append(grid.reshape(-1, 2))
            spans.append((first[some, None] + np.arange(len(at))).ravel())
        place = np.concatenate(grids)
        key = np.rint(place / (1e-6 * max(one.width_m, one.height_m))).astype(np.int64)
        _, at, which = np.unique(key[:, 0] * 4_000_000 + key[:, 1], return_index=True,
                                 return_inverse=True)  # fmt: skip
        node[np.concatenate(spans)] = which + known
        size = np.array([one.width_m, one.height_m])
        inset = np.minimum(INSET_M, size / 20.0)
        places.append(np.clip(place[at], inset, size - inset))
        known += len(at)
        begin.append(known)
    return node, first[:-1], np.array(begin, dtype=np.int64), np.concatenate(places)
