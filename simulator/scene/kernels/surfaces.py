"""Light that surfaces send from places of the picture, with shadows of bodies, panes and coats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.kernels import kernel, over_rows
from simulator.scene.kernels.pack import PackedLights, PackedScene, PackedView
from simulator.scene.kernels.seen import PLACES, Seen, seen_at
from simulator.scene.kernels.shading import ask_bodies, ask_mirrors, grain, shade
from simulator.units import FloatArray, Image

ALIKE = 0.98
"""Cosine of the angle between normals of a body within a sample that are lit as one."""
PANES = 4
"""Most panes that are looked through, one behind the other."""
SHADOWED = 200_000
"""Places whose shadows are looked for at a time."""


@kernel
def _light_places(  # type: ignore[no-untyped-def]
    first, last, x, y, card, mats, depth, normals, free, thrown, cards, lights, view, weights, out
):
    """Rates (n, 3) of a list of places, before grain."""
    for p in range(first, last):
        r, g, b = shade(
            x[p], y[p], int(card[p]), int(mats[p]), float(depth[p]), normals, free, thrown,
            p, cards, lights, view, weights,
        )  # fmt: skip
        out[p, 0], out[p, 1], out[p, 2] = r, g, b


@kernel
def _find_alike(first, last, parts, card, mats, normals, keep, of):  # type: ignore[no-untyped-def]
    """For every part of split samples the first part of that sample that shows the same."""
    solid = normals.shape[0] > 0
    for p in range(first, last):
        for k in range(p * parts, (p + 1) * parts):
            of[k] = k
            if not keep[k]:
                continue
            for i in range(p * parts, k):
                if not keep[i] or card[i] != card[k] or mats[i] != mats[k]:
                    continue
                if solid:
                    along = normals[i, 0] * normals[k, 0] + normals[i, 1] * normals[k, 1]
                    along += normals[i, 2] * normals[k, 2]
                    square = normals[k, 0] ** 2 + normals[k, 1] ** 2 + normals[k, 2] ** 2
                    if along < ALIKE * square:
                        continue
                of[k] = of[i]
                break


@kernel
def _grain_places(  # type: ignore[no-untyped-def]
    first, last, x, y, card, depth, normals, cards, view, out
):
    """Multiply rates (n, 3) by the grain of their surfaces, in place."""
    for p in range(first, last):
        factor = grain(x[p], y[p], int(card[p]), float(depth[p]), normals, p, cards, view)
        for c in range(3):
            out[p, c] *= factor


class Cast(NamedTuple):
    """What bodies do to the light of places, whatever colour is seen there.

    `free` (n, lights) as `SurfaceLight.free` gives it and `thrown` (n, 5) as
    `SurfaceLight.thrown` does; none of either is empty.
    """

    free: Image
    thrown: Image


@dataclass(frozen=True)
class SurfaceLight:
    """A scene, its lights and a view of it; `static_only` sees what stands still alone."""

    scene: PackedScene
    lights: PackedLights
    view: PackedView
    weights: NDArray[np.float64]
    static_only: bool

    def lit_at(self, x: FloatArray, y: FloatArray, seen: Seen, cast: Cast | None = None) -> Image:
        """Rates (n, 3) of places where something is seen, before grain; panes looked through.

        `cast` is what `cast_at` gives there, where it is known.
        """
        out = self.surface_at(x, y, seen, cast)
        bodies = self.scene.bodies
        if bodies is None or seen.normal is None:
            return out
        at = np.flatnonzero((bodies.panes[seen.mats] > 0.0) & np.any(seen.normal != 0.0, axis=1))
        share, pane = bodies.panes[seen.mats[at]], seen.at(at)
        for _ in range(PANES):
            if at.size == 0:
                break
            behind = seen_at(
                x[at], y[at], self.scene, self.view, self.static_only, beyond=pane.depth
            )
            # what lies within the same body gets its light through a pane as well
            light = np.where(behind.card == pane.card, share**2, share)
            out[at] += light[:, None] * self.surface_at(x[at], y[at], behind)
            more = bodies.panes[behind.mats] > 0.0
            if behind.normal is not None:
                more &= np.any(behind.normal != 0.0, axis=1)
            else:
                more[:] = False
            at, pane = at[more], behind.at(np.flatnonzero(more))
            share = share[more] * bodies.panes[pane.mats]
        return out

    def lit_as_one(
        self, x: FloatArray, y: FloatArray, seen: Seen, keep: NDArray[np.bool_], parts: int
    ) -> Image:
        """Rates (n, 3) of those parts of split samples that are kept, before grain.

        Parts of one sample that show one thing of one material are lit alike, as at their middle:
        light changes no more within a sample than it may within one that is not split.
        """
        of = np.empty(len(x), np.int64)
        normals = np.zeros((0, 6), np.float32) if seen.normal is None else seen.normal
        over_rows(
            _find_alike, len(x) // parts, parts, seen.card, seen.mats, normals, keep, of,
            least=PLACES,
        )  # fmt: skip
        leads = keep & (of == np.arange(len(of)))
        first, which = np.flatnonzero(leads), (np.cumsum(leads) - 1)[of[keep]]
        many = np.bincount(which)
        middle = [np.bincount(which, weights=a[keep]) / many for a in (x, y, seen.depth)]
        some = seen.at(first)._replace(depth=middle[2].astype(np.float32))
        return self.lit_at(middle[0], middle[1], some)[which]

    def cast_at(self, x: FloatArray, y: FloatArray, seen: Seen) -> Cast:
        """What bodies do to the light of places (n,)."""
        free = np.ones((len(x), len(self.lights.kind)), np.float32)
        thrown = np.zeros((len(x), 5), np.float32)
        asked = [False, False]
        for first in range(0, len(x), SHADOWED):
            part = slice(first, min(first + SHADOWED, len(x)))
            casts = self._cast_of(x[part], y[part], seen.at(np.arange(part.start, part.stop)))
            for k, (out, of) in enumerate(zip((free, thrown), casts, strict=True)):
                if len(of):
                    out[part], asked[k] = of, True
        return Cast(free if asked[0] else free[:0], thrown if asked[1] else thrown[:0])

    def _cast_of(self, x: FloatArray, y: FloatArray, seen: Seen) -> Cast:
        normals = np.zeros((0, 6), np.float32) if seen.normal is None else seen.normal
        return Cast(self.free(x, y, seen, normals), self.thrown(x, y, seen, normals))

    def surface_at(
        self, x: FloatArray, y: FloatArray, seen: Seen, cast: Cast | None = None
    ) -> Image:
        """Rates (n, 3) that surfaces themselves send."""
        out = np.empty((len(x), 3), np.float32)
        step = len(x) if self.scene.bodies is None else SHADOWED
        for first in range(0, len(x), max(step, 1)):
            part = np.arange(first, min(first + step, len(x)))
            some = seen.at(part)
            normals = np.zeros((0, 6), np.float32) if some.normal is None else some.normal
            rates = np.empty((len(part), 3), np.float32)
            free, thrown = (
                self._cast_of(x[part], y[part], some)
                if cast is None
                else (plane[part] if len(plane) else plane for plane in cast)
            )
            over_rows(
                _light_places, len(part), x[part], y[part], some.card, some.mats, some.depth,
                normals, free, thrown, self.scene.cards, self.lights, self.view, self.weights,
                rates, least=PLACES,
            )  # fmt: skip
            out[part] = rates
        return out

    def free(self, x: FloatArray, y: FloatArray, seen: Seen, normals: Image) -> Image:
        """Share of each light that bodies leave to places (n, lights); empty where all of it."""
        many = len(self.lights.kind)
        none = np.ones((0, many), np.float32)
        bodies = self.scene.bodies
        if bodies is None:
            return none
        points = np.zeros((len(x), 3))
        asked = np.zeros((len(x), many), np.bool_)
        over_rows(
            ask_bodies, len(x), x, y, seen.card, seen.depth, normals,
            self.scene.cards, self.lights, self.view, self.weights, bodies.bounds, points, asked,
            least=PLACES,
        )  # fmt: skip
        if not np.any(asked):
            return none
        share = np.ones((len(x), many), np.float32)
        for i in np.flatnonzero(asked.any(axis=0)):
            at = np.flatnonzero(asked[:, i])
            share[at, i] = bodies.free(points[at], self.lights, int(i))
        return share

    def thrown(self, x: FloatArray, y: FloatArray, seen: Seen, normals: Image) -> Image:
        """Bodies that coats mirror at places (n, 5), see `PackedBodies.thrown`; empty if none."""
        none = np.zeros((0, 5), np.float32)
        bodies, gloss = self.scene.bodies, self.lights.gloss
        if bodies is None or not len(self.lights.light_map.grid) or not np.any(gloss[:, 1] > 0.0):
            return none
        points, rays = (np.zeros((len(x), 3), np.float32) for _ in range(2))
        asked = np.zeros(len(x), np.bool_)
        over_rows(
            ask_mirrors, len(x), x, y, seen.card, seen.mats, seen.depth, normals, self.scene.cards,
            gloss, self.view, points, rays, asked, least=PLACES,
        )  # fmt: skip
        at = np.flatnonzero(asked)
        if not at.size:
            return none
        out = np.zeros((len(x), 5), np.float32)
        out[at] = bodies.thrown(points[at], rays[at])
        return out

    def grained(
        self,
        rates: Image,
        x: FloatArray,
        y: FloatArray,
        card: NDArray[np.int16],
        depth: Image,
        normal: Image | None = None,
    ) -> Image:
        """The same rates times the grain of their surfaces, in place."""
        normals = np.zeros((0, 3), np.float32) if normal is None else normal
        over_rows(
            _grain_places, len(x), x, y, card, depth, normals, self.scene.cards, self.view, rates,
            least=PLACES,
        )  # fmt: skip
        return rates
