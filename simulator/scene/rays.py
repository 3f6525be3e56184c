"""Rays cast at everything of a world: cards (their holes stay open), the ground, and meshes.

Cards and meshes go to embree (float32, its robust build; the same rays give the same answers
whatever the number of threads), the ground is met exactly. Moving things stand where the world has
them, that is at the moment judged: a world moved on by a time needs a caster of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from simulator.kernels import thread_count
from simulator.scene.geometry import CLEAR, Card
from simulator.scene.kernels.body_surfaces import keeps_light_away
from simulator.scene.world import World
from simulator.units import FloatArray

NOTHING = -1
"""Number of the surface that a ray into the sky meets."""
OFF_M = 1e-4
"""How far a ray begins off the surface it leaves, along its normal [m]; float32 places of things up
to 300 m away are good to a third of it."""
LEAST_RAYS = 4096
"""Rays that are worth a thread of their own."""


class Triangles(NamedTuple):
    """Triangles of one surface.

    `corners_m` (n, 3, 3) [m]; `surface` number that a hit gives back; `number` (n,) of each among
    all triangles of its surface, None if these are all of them.
    """

    corners_m: FloatArray
    surface: int
    number: NDArray[np.intp] | None = None


class Hits(NamedTuple):
    """What rays (n,) met.

    `surface` number of the card, the mesh after the cards, or the ground as given by
    `RayCaster.ground`, `NOTHING` for the sky; `triangle` number within its surface (of a card
    always 0), -1 for ground and sky; `u`, `v` place on a card as shares of width and height from
    its upper left corner, barycentric on a mesh (weights of its second and third corner), world x
    and y [m] on the ground; `distance_m` in units of the length of the direction, infinite for the
    sky; `front` whether the side was met towards which the normal points.
    """

    surface: NDArray[np.int32]
    triangle: NDArray[np.int32]
    u: FloatArray
    v: FloatArray
    distance_m: FloatArray
    front: NDArray[np.bool_]


def opaque_rectangles(texture: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Rectangles (n, 4) that together cover just the texels which are not clear.

    First row, first column, row and column after the last; runs of equal extent in rows that follow
    each other are joined.

    Parameters
    ----------
    texture
        Indices of materials (rows, columns), `CLEAR` where the view passes.
    """
    opaque = np.zeros((texture.shape[0], texture.shape[1] + 2), np.int8)
    opaque[:, 1:-1] = texture != CLEAR
    step = np.diff(opaque, axis=1)
    rows, begin = np.nonzero(step == 1)
    end = np.nonzero(step == -1)[1]
    open_runs: dict[tuple[int, int], int] = {}
    out: list[tuple[int, int, int, int]] = []
    cuts = np.searchsorted(rows, np.arange(texture.shape[0] + 1))
    for row, (first, last) in enumerate(pairwise(cuts)):
        runs = set(zip(begin[first:last].tolist(), end[first:last].tolist(), strict=True))
        for run in [r for r in open_runs if r not in runs]:
            out.append((open_runs.pop(run), run[0], row, run[1]))
        for run in runs:
            open_runs.setdefault(run, row)
    out += [(top, run[0], texture.shape[0], run[1]) for run, top in open_runs.items()]
    return np.array(sorted(out), dtype=np.int64).reshape(-1, 4)


def card_triangles(card: Card) -> FloatArray:
    """The opaque part of a card as triangles (n, 3, 3) [m], two to a rectangle."""
    rows, columns = card.texture.shape
    box = opaque_rectangles(card.texture) / np.array([rows, columns, rows, columns])
    down, across = card.down * card.height_m, card.across * card.width_m

    def corner(v: FloatArray, u: FloatArray) -> FloatArray:
        return np.asarray(card.corner_m + v[:, None] * down + u[:, None] * across)

    a, b = corner(box[:, 0], box[:, 1]), corner(box[:, 0], box[:, 3])
    c, d = corner(box[:, 2], box[:, 3]), corner(box[:, 2], box[:, 1])
    return np.stack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)], 1).reshape(-1, 3, 3)


def blocks(card: Card) -> bool:
    """Whether a card stands in the way of light: those that cast shadows, and bright faces."""
    return card.casts_shadow or card.glow >= 0


def _dense(world: World, mesh: int, surface: int) -> Triangles:
    """Those triangles of a body that keep light away."""
    body = world.meshes[mesh]
    number = np.flatnonzero(keeps_light_away(body, world.materials))
    return Triangles(body.vertices_m[body.triangles[number]], surface, number)


@dataclass(frozen=True, eq=False)
class RayCaster:
    """All that rays can meet, ready to be cast at.

    Attributes
    ----------
    cards
        Cards of the world, by their number.
    ground
        Number that stands for the ground: one past the last card and mesh.
    surfaces, first
        Thing (triangles,) of every triangle, and its number in there.

    Examples
    --------
    >>> from simulator.scene import Scene, build_world
    >>> caster = RayCaster.of(build_world(Scene.load("depot-gate-infrared").model))
    >>> down = caster.nearest(np.array([[50.0, 1.0, 2.0]]), np.array([[0.0, 0.0, -1.0]]))
    >>> down.surface[0] == caster.ground, float(down.distance_m[0])
    (True, 2.0)
    """

    cards: Sequence[Card]
    ground: int
    surfaces: NDArray[np.int32]
    first: NDArray[np.int32]
    _scene: EmbreeScene | None

    @classmethod
    def of(cls, world: World, *, without: int = -1) -> RayCaster:
        """Everything of a world that stands in the way of light.

        Parameters
        ----------
        world
            The scene; its cards have the numbers 0 to n - 1, its bodies those from n on. Panes and
            holes of bodies let light through.
        without
            Number of a card whose body is left out.
        """
        # cards that stand for bodies are not there themselves
        solid = {mesh.card for mesh in world.meshes}
        parts = [
            Triangles(card_triangles(card), i)
            for i, card in enumerate(world.cards)
            if blocks(card) and i not in solid
        ]
        n = len(world.cards)
        parts += [
            _dense(world, k, n + k) for k, mesh in enumerate(world.meshes) if mesh.card != without
        ]
        return cls.made(world.cards, parts, n + len(world.meshes))

    @classmethod
    def made(cls, cards: Sequence[Card], parts: Sequence[Triangles], ground: int) -> RayCaster:
        """A caster of given triangles."""
        sizes = [len(part.corners_m) for part in parts]
        surfaces = np.repeat([part.surface for part in parts], sizes).astype(np.int32)
        within = [
            np.arange(size) if part.number is None else part.number
            for size, part in zip(sizes, parts, strict=True)
        ]
        first = np.concatenate([np.zeros(0), *within]).astype(np.int32)
        if not sum(sizes):
            return cls(cards, ground, surfaces, first, None)
        scene = EmbreeScene(robust=True)
        corners = np.concatenate([part.corners_m for part in parts])
        TriangleMesh(scene, np.ascontiguousarray(corners, dtype=np.float32))
        # building the tree belongs to the first ray: not to be left to many threads at once
        scene.run(np.zeros((1, 3), np.float32), np.ones((1, 3), np.float32))
        return cls(cards, ground, surfaces, first, scene)

    def nearest(self, origins_m: FloatArray, directions: FloatArray) -> Hits:
        """What each ray meets first.

        Parameters
        ----------
        origins_m
            Where rays (n, 3) begin [m]: off the surface they leave (`lifted`).
        directions
            Their directions (n, 3), of any length.
        """
        o = np.ascontiguousarray(origins_m, dtype=np.float32)
        d = np.ascontiguousarray(directions, dtype=np.float32)
        n = len(o)
        hits = Hits(
            np.full(n, NOTHING, np.int32), np.full(n, -1, np.int32),
            np.zeros(n), np.zeros(n), np.full(n, np.inf), np.ones(n, np.bool_),
        )  # fmt: skip
        if self._scene is not None:
            self._at_triangles(o, d, hits)
        with np.errstate(divide="ignore", invalid="ignore"):
            floor = -origins_m[:, 2] / directions[:, 2]
        low = (directions[:, 2] < 0.0) & (floor >= 0.0) & (floor < hits.distance_m)
        at = np.flatnonzero(low)
        hits.surface[at], hits.triangle[at] = self.ground, -1
        hits.distance_m[at], hits.front[at] = floor[at], True
        hits.u[at] = origins_m[at, 0] + floor[at] * directions[at, 0]
        hits.v[at] = origins_m[at, 1] + floor[at] * directions[at, 1]
        return hits

    def first_triangles(
        self, origins_m: NDArray[np.float32], directions: NDArray[np.float32]
    ) -> NDArray[np.int32]:
        """Numbers (n,) of the triangles that rays meet first, of all of them, or -1.

        The bare answer, for those who cast millions: the ground is left out.
        """
        out = np.full(len(origins_m), -1, np.int32)
        if self._scene is not None:

            def some(first: int, last: int) -> None:
                out[first:last] = self._scene.run(origins_m[first:last], directions[first:last])  # type: ignore[union-attr]

            _over_rays(some, len(origins_m))
        return out

    def _at_triangles(self, o: NDArray[np.float32], d: NDArray[np.float32], hits: Hits) -> None:
        def some(first: int, last: int) -> None:
            hit = self._scene.run(o[first:last], d[first:last], output=1)  # type: ignore[union-attr]
            met = np.flatnonzero(hit["primID"] >= 0)
            number, at = hit["primID"][met], met + first
            hits.surface[at], hits.triangle[at] = self.surfaces[number], self.first[number]
            hits.u[at], hits.v[at] = hit["u"][met], hit["v"][met]
            hits.distance_m[at] = hit["tfar"][met]
            along = np.einsum("ij,ij->i", hit["Ng"][met], d[at])
            hits.front[at] = along < 0.0
            self._place_on_cards(o, d, hits, at)

        _over_rays(some, len(o))

    def _place_on_cards(
        self,
        o: NDArray[np.float32],
        d: NDArray[np.float32],
        hits: Hits,
        at: NDArray[np.intp],
    ) -> None:
        """Places on cards instead of barycentric ones, and which side of the card was met."""
        if not len(self.cards):
            return
        at = at[hits.surface[at] < len(self.cards)]
        card, frame = hits.surface[at], frames(self.cards)
        point = o[at] + hits.distance_m[at, None] * d[at] - frame[card, 0]
        hits.u[at] = np.clip(np.einsum("ij,ij->i", point, frame[card, 1]), 0.0, 1.0)
        hits.v[at] = np.clip(np.einsum("ij,ij->i", point, frame[card, 2]), 0.0, 1.0)
        hits.front[at] = np.einsum("ij,ij->i", d[at], frame[card, 3]) < 0.0
        hits.triangle[at] = 0

    def blocked(
        self, origins_m: FloatArray, ends_m: FloatArray, *, end_off_m: float = 2.0 * OFF_M
    ) -> NDArray[np.bool_]:
        """Whether something stands between places (n, 3) and ends (n, 3) or one end (3,) [m].

        The ground does where the end lies below it. Of the way the last `end_off_m` are left out,
        for ends that lie on a surface themselves.
        """
        way = np.broadcast_to(ends_m, origins_m.shape) - origins_m
        length = np.linalg.norm(way, axis=1)
        share = np.maximum(0.0, 1.0 - end_off_m / np.maximum(length, 1e-12)).astype(np.float32)
        out = (origins_m + way)[:, 2] < -end_off_m
        if self._scene is None:
            return out
        o = np.ascontiguousarray(origins_m, dtype=np.float32)
        d = np.ascontiguousarray(way, dtype=np.float32)

        def some(first: int, last: int) -> None:
            # the length of the direction is one way to the end; embree wants its share as a list
            hit = self._scene.run(  # type: ignore[union-attr]
                o[first:last], d[first:last], dists=share[first:last].copy(), query="OCCLUDED"
            )
            out[first:last] |= hit >= 0

        _over_rays(some, len(o))
        return out


def lifted(points_m: FloatArray, normals: FloatArray, off_m: float = OFF_M) -> FloatArray:
    """Places just off the surface they lie on, from which rays may begin (n, 3) [m]."""
    return np.asarray(points_m + off_m * normals)


def frames(cards: Sequence[Card]) -> FloatArray:
    """Corner, across and down over width and height, and normal of cards (n, 4, 3)."""
    return np.array(
        [[c.corner_m, c.across / c.width_m, c.down / c.height_m, c.normal] for c in cards]
    )


@cache
def _pool(threads: int) -> ThreadPoolExecutor:
    return ThreadPoolExecutor(threads, thread_name_prefix="rays")


def _over_rays(run, rays: int) -> None:  # type: ignore[no-untyped-def]
    """Call `run(first, last)` over all rays, a piece to a thread; embree lets the lock go."""
    threads = min(thread_count(), max(1, rays // LEAST_RAYS))
    if threads == 1:
        run(0, rays)
        return
    ends = [rays * k // (2 * threads) for k in range(2 * threads + 1)]
    for one in [_pool(threads).submit(run, a, b) for a, b in pairwise(ends)]:
        one.result()
