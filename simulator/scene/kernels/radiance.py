"""Traces the world and adds up its light, one compiled pass over samples.

For every sample: the nearest opaque card, solid body or the ground; then for every light

    rate = E(point) x coefficient(light, material, channel) x lens fall-off

with E from inverse square, cosine and beam, shadows by a ray to the light, and for
retroreflective sheeting the extra luminance L = R_A E_perp / cos(nu) (CIE 54.2) with R_A at that
sample's observation and entrance angle. Sky, as far as it is seen between things, and bounced light
are looked up in the scene's light field (`radiosity`).
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.kernels import kernel, over_rows
from simulator.scene.kernels.light_map import folded
from simulator.scene.kernels.pack import KINDS, PackedLights, PackedScene, PackedView
from simulator.scene.kernels.seen import PLACES, Sampling, Seen, found_at
from simulator.scene.kernels.shading import ask_bodies, grain, shade
from simulator.units import FloatArray, Image

STATIC = 0
EVEN, ALONE, EDGE = 0, 1, 2
BLOCK = 4
"""Samples a side of an even block, whose light is interpolated from its corners if"""
STEEP = 1.3
"""the corners differ by no more than this factor, and"""
CREASE = 0.85
"""Cosine of the angle between the normals of neighbours from which a body has an edge."""
ALIKE = 0.98
"""Cosine of the angle between normals of a body within a sample that are lit as one."""
EVEN_NORMAL = 0.98
"""Cosine of the angle between normals at the corners of a block that is still even."""
EDGES_AT_ONCE = 32_768
"""Samples that are split at a time, to bound the memory."""
PANES = 4
"""Most panes that are looked through, one behind the other."""
SHADOWED = 200_000
"""Places whose shadows are looked for at a time."""
BENT = 0.002
"""the centre lies no farther than this share from their mean."""


@kernel
def _light_places(  # type: ignore[no-untyped-def]
    first, last, x, y, found, mats, depth, normals, free, cards, lights, view, weights, out
):
    """Rates (n, 3) of a list of places, before grain."""
    for p in range(first, last):
        r, g, b = shade(
            x[p], y[p], int(found[p]), int(mats[p]), float(depth[p]), normals, free, p,
            cards, lights, view, weights,
        )  # fmt: skip
        out[p, 0], out[p, 1], out[p, 2] = r, g, b


@kernel
def _find_alike(first, last, parts, found, mats, normals, keep, of):  # type: ignore[no-untyped-def]
    """For every part of split samples the first part of that sample that shows the same."""
    solid = normals.shape[0] > 0
    for p in range(first, last):
        for k in range(p * parts, (p + 1) * parts):
            of[k] = k
            if not keep[k]:
                continue
            for i in range(p * parts, k):
                if not keep[i] or found[i] != found[k] or mats[i] != mats[k]:
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
    first, last, x, y, found, depth, normals, cards, view, out
):
    """Multiply rates (n, 3) by the grain of their surfaces, in place."""
    for p in range(first, last):
        factor = grain(x[p], y[p], int(found[p]), float(depth[p]), normals, p, cards, view)
        for c in range(3):
            out[p, c] *= factor


@kernel
def _find_edges(begin, end, found, mats, kind):  # type: ignore[no-untyped-def]
    """Mark samples with a neighbour that shows something else."""
    rows, columns = found.shape
    for j in range(begin, end):
        for i in range(columns):
            f, m = found[j, i], mats[j, i]
            if (
                (i > 0 and (found[j, i - 1] != f or mats[j, i - 1] != m))
                or (i + 1 < columns and (found[j, i + 1] != f or mats[j, i + 1] != m))
                or (j > 0 and (found[j - 1, i] != f or mats[j - 1, i] != m))
                or (j + 1 < rows and (found[j + 1, i] != f or mats[j + 1, i] != m))
            ):
                kind[j, i] = EDGE


@kernel
def _find_even(begin, end, found, mats, block, even):  # type: ignore[no-untyped-def]
    """Whether the samples of a block and its neighbours' corners show one thing of one material."""
    for bj in range(begin, end):
        for bi in range(even.shape[1]):
            j0, i0 = bj * block, bi * block
            f, m = found[j0, i0], mats[j0, i0]
            same = True
            for j in range(j0, j0 + block + 1):
                for i in range(i0, i0 + block + 1):
                    if found[j, i] != f or mats[j, i] != m:
                        same = False
            even[bj, bi] = same


def _sort_samples(
    found: NDArray[np.int16], mats: NDArray[np.uint8], block: int
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """What each sample is: 0 inside an even block, 1 on its own, 2 on an edge; and even blocks."""
    rows, columns = found.shape
    kind = np.full((rows, columns), ALONE, np.uint8)
    over_rows(_find_edges, rows, found, mats, kind)
    even = np.zeros(((rows - 1) // block, (columns - 1) // block), np.bool_)
    over_rows(_find_even, len(even), found, mats, block, even)
    return kind, even


@kernel
def _uneven_light(begin, end, even, corner, centre, out):  # type: ignore[no-untyped-def]
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
def _fill_blocks(first, last, kind, steady, corner, block, out):  # type: ignore[no-untyped-def]
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
def _find_creases(begin, end, normals, kind):  # type: ignore[no-untyped-def]
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


class _Painter:
    """Paints one traced layer: even parts by blocks, the rest sample by sample, edges split."""

    def __init__(  # type: ignore[no-untyped-def]
        self, sampling, scene, lights, view, weights, mode, known=None
    ):
        self.s = sampling
        self.scene, self.cards = scene, scene.cards
        self.lights, self.view, self.weights = lights, view, weights
        self.mode = mode
        s = sampling
        x = s.x0 + (np.arange(s.columns) + 0.5) * s.step
        y = s.y0 + (np.arange(s.rows) + 0.5) * s.step
        self.seen = found_at(x, y, scene, view, mode == STATIC, grid=True, known=known)
        self.found, self.mats, self.depth, _ = self.seen
        self.wanted = np.ones((s.rows, s.columns), np.bool_)
        if mode != STATIC:
            self.wanted = self.belongs(self.found)

    def belongs(self, found: NDArray[np.int16]) -> NDArray[np.bool_]:
        """Whether what was found belongs to the movement that is painted."""
        groups = np.append(self.cards.group, [0, 0])  # the ground, and the sky as index -1
        return np.asarray(groups[found] == self.mode)

    def rough(self) -> NDArray[np.bool_]:
        """Samples (rows, columns) whose surface has a grain."""
        has = np.append(self.cards.rough[:, 0] > 0.0, False)  # the sky as index -1 has none
        return np.asarray(has[self.found])

    def places(self, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> tuple[FloatArray, ...]:
        """Picture places of samples [px]."""
        s = self.s
        return s.x0 + (columns + 0.5) * s.step, s.y0 + (rows + 0.5) * s.step

    def lit(self, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> Image:
        """Rates (n, 3) of samples, before grain."""
        x, y = self.places(rows, columns)
        return self.lit_at(x, y, self.seen.at((rows, columns)))

    def lit_at(self, x: FloatArray, y: FloatArray, seen: Seen) -> Image:
        """Rates (n, 3) of places where something was found, before grain; panes looked through."""
        out = self.surface_at(x, y, seen)
        bodies = self.scene.bodies
        if bodies is None or seen.normal is None:
            return out
        at = np.flatnonzero((bodies.panes[seen.mats] > 0.0) & np.any(seen.normal != 0.0, axis=1))
        share, pane = bodies.panes[seen.mats[at]], seen.at(at)
        for _ in range(PANES):
            if at.size == 0:
                break
            behind = found_at(
                x[at], y[at], self.scene, self.view, self.mode == STATIC, beyond=pane.depth
            )
            # what lies within the same body gets its light through a pane as well
            light = np.where(behind.found == pane.found, share**2, share)
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
            _find_alike, len(x) // parts, parts, seen.found, seen.mats, normals, keep, of,
            least=PLACES,
        )  # fmt: skip
        leads = keep & (of == np.arange(len(of)))
        first, which = np.flatnonzero(leads), (np.cumsum(leads) - 1)[of[keep]]
        many = np.bincount(which)
        middle = [np.bincount(which, weights=a[keep]) / many for a in (x, y, seen.depth)]
        some = seen.at(first)._replace(depth=middle[2].astype(np.float32))
        return self.lit_at(middle[0], middle[1], some)[which]

    def surface_at(self, x: FloatArray, y: FloatArray, seen: Seen) -> Image:
        """Rates (n, 3) that surfaces themselves send."""
        out = np.empty((len(x), 3), np.float32)
        step = len(x) if self.scene.bodies is None else SHADOWED
        for first in range(0, len(x), max(step, 1)):
            part = np.arange(first, min(first + step, len(x)))
            some = seen.at(part)
            normals = np.zeros((0, 6), np.float32) if some.normal is None else some.normal
            rates = np.empty((len(part), 3), np.float32)
            over_rows(
                _light_places, len(part), x[part], y[part], some.found, some.mats, some.depth,
                normals, self.free(x[part], y[part], some, normals),
                self.cards, self.lights, self.view, self.weights, rates, least=PLACES,
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
            ask_bodies, len(x), x, y, seen.found, seen.depth, normals,
            self.cards, self.lights, self.view, self.weights, bodies.bounds, points, asked,
            least=PLACES,
        )  # fmt: skip
        if not np.any(asked):
            return none
        share = np.ones((len(x), many), np.float32)
        for i in np.flatnonzero(asked.any(axis=0)):
            at = np.flatnonzero(asked[:, i])
            share[at, i] = bodies.free(points[at], self.lights, int(i))
        return share

    def grained(
        self,
        rates: Image,
        x: FloatArray,
        y: FloatArray,
        found: NDArray[np.int16],
        depth: Image,
        normal: Image | None = None,
    ) -> Image:
        """The same rates times the grain of their surfaces, in place."""
        normals = np.zeros((0, 3), np.float32) if normal is None else normal
        over_rows(
            _grain_places, len(x), x, y, found, depth, normals, self.cards, self.view, rates,
            least=PLACES,
        )  # fmt: skip
        return rates

    def smooth(self, blocks: tuple[int, ...]) -> NDArray[np.bool_]:
        """Blocks (rows, columns) over which a body hardly bends, and that are no panes."""
        assert self.seen.normal is not None and self.scene.bodies is not None
        high, wide = blocks
        at = self.seen.normal[::BLOCK, ::BLOCK, :3]
        first = at[:high, :wide]
        square = np.sum(first * first, axis=2)
        out = self.scene.bodies.panes[self.mats[::BLOCK, ::BLOCK][:high, :wide]] == 0.0
        for dj, di in ((0, 1), (1, 0), (1, 1)):
            other = at[dj : high + dj, di : wide + di]
            out &= np.sum(first * other, axis=2) >= EVEN_NORMAL * square
        return np.asarray(out | (square == 0.0))

    def even_parts(self, out: Image, kind: NDArray[np.uint8], even: NDArray[np.bool_]) -> None:
        """Light the corners and centres of even blocks and interpolate where they agree."""
        if not np.any(even):
            return
        high, wide = even.shape
        needed = np.zeros((high + 1, wide + 1), np.bool_)
        for dj, di in ((0, 0), (0, 1), (1, 0), (1, 1)):
            needed[dj : high + dj, di : wide + di] |= even
        corner = np.zeros((high + 1, wide + 1, 3), np.float32)
        j, i = np.nonzero(needed)
        corner[j, i] = self.lit(j * BLOCK, i * BLOCK)
        centre = np.zeros((high, wide, 3), np.float32)
        j, i = np.nonzero(even)
        centre[j, i] = self.lit(j * BLOCK + BLOCK // 2, i * BLOCK + BLOCK // 2)
        # the tip of a shadow may lie between the tested places, but not without touching a block
        # beside it: those blocks are lit sample by sample too
        uneven = np.zeros(even.shape, np.uint8)
        over_rows(_uneven_light, high, even, corner, centre, uneven)
        uneven = cv2.dilate(uneven, np.ones((3, 3), np.uint8))
        steady = even & (uneven == 0)
        over_rows(_fill_blocks, len(steady), kind, steady, corner, BLOCK, out)

    def edges(
        self, out: Image, cover: Image, rows: NDArray[np.intp], columns: NDArray[np.intp], fine: int
    ) -> None:
        """Split samples fine x fine, each part traced and lit by itself."""
        for first in range(0, rows.size, EDGES_AT_ONCE):
            some = slice(first, first + EDGES_AT_ONCE)
            self._some_edges(out, cover, rows[some], columns[some], fine)

    def _some_edges(
        self, out: Image, cover: Image, rows: NDArray[np.intp], columns: NDArray[np.intp], fine: int
    ) -> None:
        part = (np.arange(fine) + 0.5) / fine
        px, py = (a.ravel() for a in np.meshgrid(part, part))
        x = (self.s.x0 + (columns[:, None] + px) * self.s.step).ravel()
        y = (self.s.y0 + (rows[:, None] + py) * self.s.step).ravel()
        seen = found_at(x, y, self.scene, self.view, self.mode == STATIC)
        keep = np.ones(x.size, np.bool_) if self.mode == STATIC else self.belongs(seen.found)
        rates = np.zeros((x.size, 3), np.float32)
        k = np.flatnonzero(keep)
        lit = self.lit_as_one(x, y, seen, keep, fine * fine)
        normal = None if seen.normal is None else seen.normal[k]
        rates[k] = self.grained(lit, x[k], y[k], seen.found[k], seen.depth[k], normal)
        out[rows, columns] = rates.reshape(rows.size, fine * fine, 3).mean(axis=1)
        cover[rows, columns] = keep.reshape(rows.size, fine * fine).mean(axis=1)

    def painted(self, fine: int, *, interpolated: bool = True) -> tuple[Image, Image]:
        """Rates (rows, columns, 3) and coverage (rows, columns)."""
        s = self.s
        out = np.zeros((s.rows, s.columns, 3), np.float32)
        cover = self.wanted.astype(np.float32)
        if fine == 1:
            self.paint(out, self.wanted)
            return out, cover
        kind, even = _sort_samples(self.found, self.mats, BLOCK)
        even &= interpolated
        if self.seen.normal is not None:
            over_rows(_find_creases, s.rows, self.seen.normal, kind)
            even &= self.smooth(even.shape)
        if self.mode != STATIC:
            even &= self.wanted[::BLOCK, ::BLOCK][: even.shape[0], : even.shape[1]]
        self.even_parts(out, kind, even)
        j, i = np.nonzero(kind == EDGE)
        self.edges(out, cover, j, i, fine)
        j, i = np.nonzero((kind == ALONE) & self.wanted)
        out[j, i] = self.lit(j, i)
        self.roughen(out, (kind != EDGE) & self.wanted)
        return out, cover

    def paint(self, out: Image, which: NDArray[np.bool_]) -> None:
        """Light some samples one by one, with their grain, in place."""
        j, i = np.nonzero(which)
        out[j, i] = self.lit(j, i)
        self.roughen(out, which)

    def roughen(self, out: Image, which: NDArray[np.bool_]) -> None:
        """Give some samples the grain of their surfaces, in place."""
        if np.any(self.cards.rough[:, 0] > 0.0):
            j, i = np.nonzero(which & self.rough())
            x, y = self.places(j, i)
            normal = None if self.seen.normal is None else self.seen.normal[j, i]
            out[j, i] = self.grained(out[j, i], x, y, self.found[j, i], self.depth[j, i], normal)

    def repainted(self, known: Image, seen: Seen) -> tuple[Image, Image]:
        """As `painted(1)`, where a known layer of the same grid (rows, columns, 3) showed other
        things; the rest is taken over."""
        changed = (self.found != seen.found) | (self.mats != seen.mats)
        out = known.copy()
        out[changed] = 0.0
        self.paint(out, changed & self.wanted)
        return out, self.wanted.astype(np.float32)


def surfaces_at(places_px: FloatArray, scene: PackedScene, view: PackedView) -> NDArray[np.int16]:
    """Numbers (n,) of the cards seen at places (n, 2); one past the last for the ground, -1 sky.

    Where a body is seen, that of the card that stands for it.
    """
    x, y = np.ascontiguousarray(np.asarray(places_px, dtype=np.float64).T)
    return found_at(x, y, scene, view, False).found


def materials_at(
    places_px: FloatArray, scene: PackedScene, view: PackedView
) -> tuple[NDArray[np.int16], NDArray[np.uint8]]:
    """Numbers of the cards (n,) as `surfaces_at` gives them, and of their materials (n,) there."""
    x, y = np.ascontiguousarray(np.asarray(places_px, dtype=np.float64).T)
    seen = found_at(x, y, scene, view, False)
    return seen.found, seen.mats


class Layer(NamedTuple):
    """A traced layer.

    `rate` (rows, columns, 3) [e-/s per pixel], already multiplied by `cover` (rows, columns) in
    [0, 1]; `depth` (rows, columns) along the axis [m], infinite for the sky.
    """

    rate: Image
    cover: Image
    depth: Image


def _with_map(lights: PackedLights, weights: NDArray[np.float64]) -> PackedLights:
    """The lights with sky and bounced light folded for their strengths."""
    return lights._replace(
        light_map=folded(
            lights.light_map,
            lights.kind == KINDS["sky"],
            lights.coefficient,
            lights.amount * weights,
        )
    )


def trace_layer(
    sampling: Sampling,
    scene: PackedScene,
    lights: PackedLights,
    view: PackedView,
    *,
    mode: int,
    fine: int = 4,
    weights: NDArray[np.float64] | None = None,
    interpolated: bool = True,
) -> Layer:
    """Trace one layer of the scene.

    Parameters
    ----------
    mode
        `STATIC` (0): all that stands still, seen as if nothing else were there. A positive number:
        only what belongs to that movement, where nothing stands before it.
    fine
        Samples on an edge of things or materials are split fine x fine.
    weights
        Factor for every light (L,), one by default: light adds up, so a light may be dimmed
        or switched off here without building the scene again.
    interpolated
        Whether light is interpolated over blocks where it is even. Which blocks are depends on the
        light, so that layers of single lights add up exactly only without.
    """
    w = np.ones(lights.kind.shape[0]) if weights is None else np.asarray(weights, np.float64)
    painter = _Painter(sampling, scene, _with_map(lights, w), view, w, mode)
    rate, cover = painter.painted(fine, interpolated=interpolated)
    return Layer(rate, cover, painter.depth)


class Traced(NamedTuple):
    """A layer and what each of its samples shows."""

    layer: Layer
    seen: Seen

    def part(self, which: tuple[slice, slice]) -> Traced:
        """A part of both."""
        return Traced(Layer(*(plane[which] for plane in self.layer)), self.seen.at(which))


def trace_samples(
    sampling: Sampling,
    scene: PackedScene,
    lights: PackedLights,
    view: PackedView,
    *,
    mode: int,
    weights: NDArray[np.float64] | None = None,
    known: Traced | None = None,
) -> Traced:
    """Trace one layer sample by sample, edges not split.

    Parameters
    ----------
    mode, weights
        As in `trace_layer`.
    known
        The same layer of the same scene with something else drawn on one of its cards: samples
        that show the same as there are taken from it.
    """
    w = np.ones(lights.kind.shape[0]) if weights is None else np.asarray(weights, np.float64)
    before = None if known is None else known.seen
    painter = _Painter(sampling, scene, _with_map(lights, w), view, w, mode, before)
    if known is None:
        rate, cover = painter.painted(1)
    else:
        rate, cover = painter.repainted(known.layer.rate, known.seen)
    return Traced(Layer(rate, cover, painter.depth), painter.seen)
