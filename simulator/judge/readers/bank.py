"""Templates of every cut and blur of a lettering, and which of them fits a text best."""

from __future__ import annotations

import inspect
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import NamedTuple, overload

import cv2
import numpy as np
import scipy

from simulator.camera.lens import fine_frequencies
from simulator.disk_cache import content_key, kept_arrays
from simulator.judge.readers import templates
from simulator.judge.readers.shapes import Shapes
from simulator.judge.readers.templates import (
    GRAIN,
    LEAST_STEP,
    LEVEL_SPREAD,
    NEIGHBOUR,
    ROOM,
    SETTLING_SHIFTS,
    SHIFT,
    SLOPE_SPREAD,
    Blur,
    Blurred,
    Templates,
    Variant,
    letter_step,
    letter_windows,
    ramps_of,
    unshaded,
    window_shape,
)
from simulator.units import FloatArray, Image

MEASURES = (
    "texel_mm", "height_mm", "width_mm", "stroke_mm", "gap_mm", "group_gap_mm", "light_ink",
)  # fmt: skip
"""What of a lettering its templates depend on, beside its masks."""


class Settled(NamedTuple):
    """What a reader settles on for a text: templates, the step from paper to ink (the mean over
    the characters of the least-squares share of their template) [levels], and what the best
    template of each character leaves unexplained, rms (characters,) [levels]."""

    templates: Templates
    step: float
    unexplained: FloatArray


@dataclass(frozen=True, eq=False)
class Bank:
    """All cuts and blurs of a lettering: their looks, and templates of those that are asked for.

    `plain` (cuts, blurs, n, samples) looks in steps from paper to ink, of zero mean; `stacked`
    (samples, cuts x blurs x n) the same without level and shading, of length one, side by side.
    """

    drawing: _Drawing
    plain: Image
    stacked: Image

    @property
    def choices(self) -> Sequence[Templates]:
        """Templates of every cut under every blur, made when they are asked for."""
        return _Choices(self)

    @lru_cache(maxsize=8)  # noqa: B019  a bank lives as long as the process
    def precision(self, blur: int) -> tuple[FloatArray, FloatArray]:
        """Looks (cuts, n, samples) under a blur, and K^-1 (`bank_of`)."""
        return self.drawing.clutter(blur)

    def templates(self, number: int) -> Templates:
        """Those of one cut under one blur, by number: all blurs of the first cut come first."""
        d = self.drawing
        cut, blur = divmod(number, len(d.blurs))
        plain, precision = self.precision(blur)
        filters = plain[cut] @ precision
        bias = 0.5 * (filters * plain[cut]).sum(axis=1)
        rows, columns = window_shape(d.shapes)
        return Templates(
            filters.astype(np.float32), bias.astype(np.float32), precision.astype(np.float32),
            self.plain[cut, blur], d.shapes.symbols, d.shapes, d.variants[cut], d.blurs[blur],
            rows, columns,
        )  # fmt: skip

    def best_fit(self, seen: Image) -> Settled:
        """The cut and blur that fit a text best.

        That is the largest sum, over windows (characters, rows, columns) without noise, of the
        best correlation of each.
        """
        rows, columns = window_shape(self.drawing.shapes)
        some = np.stack([seen[:, r : r + rows, q : q + columns] for r, q in SETTLING_SHIFTS])
        some = unshaded(some).reshape(-1, rows * columns)
        some = some / (some.std(axis=1, keepdims=True) + 1e-6)
        letters = self.plain.shape[2]
        best = (some @ self.stacked).reshape(len(some), -1, letters).max(axis=2)
        top = best.reshape(len(SETTLING_SHIFTS), len(seen), -1).max(axis=0)
        chosen = self.choices[int(top.sum(axis=0).argmax())]
        drawn = unshaded(chosen.plain.reshape(-1, rows, columns)).reshape(letters, -1)
        size = np.linalg.norm(drawn, axis=1)
        middle = unshaded(seen[:, SHIFT : SHIFT + rows, SHIFT : SHIFT + columns])
        flat = middle.reshape(len(seen), -1)
        fits = flat @ (drawn / size[:, None]).T
        index, most = fits.argmax(axis=1), fits.max(axis=1)
        share = most / size[index]
        left = np.maximum(flat.var(axis=1) - most**2 / (rows * columns), 0.0)
        return Settled(chosen, max(LEAST_STEP, float(share.mean())), np.sqrt(left))


class _Choices(Sequence[Templates]):
    """Templates of a bank; the same number gives the same object, as what follows is kept by it."""

    def __init__(self, bank: Bank) -> None:
        self._bank = bank

    def __len__(self) -> int:
        return self._bank.plain.shape[0] * self._bank.plain.shape[1]

    @overload
    def __getitem__(self, number: int) -> Templates: ...
    @overload
    def __getitem__(self, number: slice) -> list[Templates]: ...
    def __getitem__(self, number: int | slice) -> Templates | list[Templates]:
        if isinstance(number, slice):
            return [_templates(self._bank, n) for n in range(len(self))[number]]
        return _templates(self._bank, range(len(self))[number])


@lru_cache(maxsize=128)
def _templates(bank: Bank, number: int) -> Templates:
    return bank.templates(number)


@dataclass(frozen=True, eq=False)
class _Drawing:
    """Letters of some cuts, ready to be blurred and moved."""

    shapes: Shapes
    variants: tuple[Variant, ...]
    blurs: tuple[Blur, ...]
    ink: Image
    """Ink share (cuts, n, rows, columns)."""

    @cached_property
    def letters(self) -> Blurred:
        """The letters themselves, ready to be blurred."""
        return Blurred(self.ink, (-letter_step(self.shapes), letter_step(self.shapes)))

    @cached_property
    def average(self) -> Blurred:
        """The mean over the letters of every cut (cuts, 1, rows, columns)."""
        return self.letters.mean()

    def _seen(self, letters: Blurred, blur: Blur, moved: float) -> Image:
        """Windows (cuts, n, samples), light where ink is light."""
        blurred = letters.seen(blur, moved, ROOM)
        sign = 1.0 if self.shapes.light_ink else -1.0
        return np.asarray(sign * blurred.reshape(*blurred.shape[:2], -1))

    def plain(self, blur: Blur) -> Image:
        """Looks (cuts, n, samples) under a blur between two mean neighbours, of zero mean."""
        step = letter_step(self.shapes)
        out = self._seen(self.letters, blur, 0.0)
        for moved in (-step, step):
            out = out + NEIGHBOUR * self._seen(self.average, blur, moved)
        return out - out.mean(axis=2, keepdims=True)

    def clutter(self, number: int) -> tuple[FloatArray, FloatArray]:
        """Looks (cuts, n, samples) under a blur, and the precision K^-1 (`bank_of`)."""
        blur, step = self.blurs[number], letter_step(self.shapes)
        plain = self.plain(blur)
        rows, columns = window_shape(self.shapes)
        spreads = np.array([[LEVEL_SPREAD], [SLOPE_SPREAD], [SLOPE_SPREAD]])
        ramps = ramps_of(rows, columns) * spreads
        clutter = GRAIN**2 * np.eye(rows * columns) + ramps.T @ ramps
        for moved in (-step, step):
            side = self._seen(self.letters, blur, moved)
            flat, middle = side.reshape(-1, rows * columns), NEIGHBOUR * side.mean(axis=1)
            clutter += NEIGHBOUR * (flat.T @ flat) / len(flat) - middle.T @ middle / len(middle)
        cuts = (plain - plain.mean(axis=0)).reshape(-1, rows * columns)
        clutter += cuts.T @ cuts / len(cuts)
        return plain.astype(np.float64), np.linalg.inv(clutter)


@lru_cache(maxsize=16)
def bank_of(shapes: Shapes, variants: tuple[Variant, ...], blurs: tuple[Blur, ...]) -> Bank:
    """Every combination of cut and blur, all blurs of a cut together.

    Blurred letters run into their neighbours, which the reader does not know but expects, and no
    cut is the true one: the reader weighs what it sees, x, by the likelihood of the letter between
    two average neighbours, t, in that clutter,

        -1/2 (x/a - t)' K^-1 (x/a - t),    K = GRAIN^2 I + C + V + S,

    with a the step from paper to ink, C the covariance of neighbours and V that of the cuts of one
    letter about their mean, both over all letters and cuts under one blur, and S that of level and
    shading, whatever they are.
    """
    key = content_key(
        Path(__file__), Path(inspect.getfile(templates)), Path(inspect.getfile(fine_frequencies)),
        np.__version__, scipy.__version__, cv2.__version__, shapes.alphabet, shapes.masks.shape,
        shapes.masks.tobytes(),
        shapes.symbols.tobytes(), *(getattr(shapes, name) for name in MEASURES), variants, blurs,
    )  # fmt: skip
    kept = kept_arrays("templates", key, lambda: _made_bank(shapes, variants, blurs))
    ink, plain, stacked = (np.asarray(kept[k], np.float32) for k in ("ink", "plain", "stacked"))
    return Bank(_Drawing(shapes, variants, blurs, ink), plain, stacked)


def _made_bank(
    shapes: Shapes, variants: tuple[Variant, ...], blurs: tuple[Blur, ...]
) -> dict[str, Image]:
    """Arrays of a bank: `ink` of its drawing, `plain` and `stacked`."""
    ink = np.stack([letter_windows(shapes, v, ROOM) for v in variants])
    drawing = _Drawing(shapes, variants, blurs, ink)
    rows, columns = window_shape(shapes)
    plain = np.stack([drawing.plain(blur) for blur in blurs], axis=1).astype(np.float32)
    even = unshaded(plain.reshape(-1, rows, columns)).reshape(-1, rows * columns)
    even = even / np.linalg.norm(even, axis=1, keepdims=True)
    return {"ink": ink, "plain": plain, "stacked": np.ascontiguousarray(even.T, np.float32)}
