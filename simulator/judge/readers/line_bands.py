"""What pictures keep of the letters that stand there, by bands of spatial frequency.

A line of text is straightened onto a grid of `ROWS` samples to the character height, as wide as it
is seen from ahead, and so is a drawing of its letters, perfectly sharp. In each band of frequency,
in cycles to the character height, along the line and down it, the sums say how much of the drawing
there is (`ink`), how much of it the mean picture holds (`both`), all that the mean picture holds
(`seen`), and what changes from picture to picture (`noise`):

    transfer      H = both / ink                   [levels from paper to ink]
    misfit        seen - noise / pictures - both^2 / ink
    noise         noise

all as mean squares of a sample. Level and shading of the line, a plane, are taken off first.
Letters that a ground which runs over white has eaten into, or that run over themselves, are still
letters: they are drawn in several strokes (`CUTS`), and the one that explains most counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.judge.readers.lines import TextLine, text_lines
from simulator.judge.readers.shapes import Shapes, design_shapes
from simulator.judge.readers.templates import signed_distance_mm
from simulator.judge.silhouette import luma_levels
from simulator.judge.target import JudgedText
from simulator.units import FloatArray, Image

ROWS = 24
"""Samples to the height of a character."""
FINER = 4
"""Times that letters are drawn finer than the grid."""
BELOW, BESIDE = 0.12, 0.2
"""Ground taken in above and below a line, and beside it, in character heights; faded out."""
EDGES = (0.35, 0.7, 1.05, 1.5, 2.1, 3.0, 4.3, 6.5)
"""Limits of the bands [cycles to the character height]."""
MIDDLES = np.sqrt(np.array(EDGES[1:]) * np.array(EDGES[:-1]))
"""Middles (bands,) of the bands [cycles to the character height]."""
CUTS = (0.0, -0.2, -0.4, 0.25)
"""Strokes drawn, as shares of the stroke by which they are wider than the lettering's own."""
ASIDE = 5
"""Samples by which a text may stand aside of its place, a fifth of its height."""
CLEARLY_BETTER = 0.1
"""How much better it must correlate there: less is noise, and blur of one side."""


@dataclass(frozen=True)
class LineBands:
    """Sums of the module's text: `ink` and `both` (cuts, 2, bands), along the line and down it,
    `seen` and `noise` (2, bands).

    `share` (2, bands) is the part of all frequencies that lies in a band, `pictures` how many were
    averaged.
    """

    ink: FloatArray
    both: FloatArray
    seen: FloatArray
    noise: FloatArray
    share: FloatArray
    pictures: int

    @property
    def cut(self) -> int:
        """The place in `CUTS` of the stroke that explains most of the mean picture."""
        return int((self.both**2 / self.ink).sum(axis=(1, 2)).argmax())

    @property
    def letters(self) -> FloatArray:
        """Power (2, bands) of the drawing in that stroke, 1 from paper to ink."""
        return np.asarray(self.ink[self.cut])

    @property
    def transfer(self) -> FloatArray:
        """H (2, bands), from paper to ink; below 0 where the picture shows the reverse [levels]."""
        return np.asarray(self.both[self.cut] / self.ink[self.cut])

    @property
    def misfit(self) -> FloatArray:
        """What of the mean picture (2, bands) is neither drawing nor noise [levels^2]."""
        known = self.both[self.cut] ** 2 / self.ink[self.cut]
        return np.maximum(self.seen - self.noise / self.pictures - known, 0.0)


def line_bands(
    pictures: NDArray[np.uint8], target: JudgedText, origin_px: tuple[float, float]
) -> LineBands:
    """What a few pictures of a text keep of its letters.

    Parameters
    ----------
    pictures
        Eight-bit pictures (n, rows, columns, 3) of one text, n at least 2.
    target
        The text as it lies in the whole picture.
    origin_px
        Left and top of the pictures in the whole picture.
    """
    shapes = design_shapes(target.design)
    luma = luma_levels(pictures)
    cells = cells_as_shown(luma, target, origin_px)
    bands = []
    for line in text_lines(cells):
        squeezed = squeeze(cells[line.cells], shapes)
        lines = straightened(luma, line, squeezed)
        drawings = _drawings(shapes, target, cells, line, squeezed)
        bands.append(_bands(lines, drawings, len(pictures)))
    return mean_bands(bands)


def cells_as_shown(luma: Image, target: JudgedText, origin_px: tuple[float, float]) -> FloatArray:
    """Where the characters (n, 4, 2) of a text stand in pictures (m, rows, columns) of it [px].

    A reader knows where a text is. Where it moves and exposures of other moments are joined, what
    is bright shows it where it was in the shortest one, up to some tenths of a character aside of
    its place at the middle of the longest. The text is taken to stand where the mean picture
    correlates best with the drawing of it, if it does so by `CLEARLY_BETTER` more than at its own
    place.
    """
    cells = target.cells_px - np.asarray(origin_px)
    shapes = design_shapes(target.design)
    mean, lines = luma.mean(axis=0, keepdims=True), text_lines(cells)
    alike = np.zeros((2 * ASIDE + 1, 2 * ASIDE + 1))
    for line in lines:
        squeezed = squeeze(cells[line.cells], shapes)
        seen = straightened(mean, line, squeezed)[0]
        drawn = _drawings(shapes, target, cells, line, squeezed, CUTS[:1])[0]
        alike += _alike(seen, drawn) * (1.0 if shapes.light_ink else -1.0) / len(lines)
    down, across = (int(k) for k in np.unravel_index(alike.argmax(), alike.shape))
    if alike[down, across] < alike[ASIDE, ASIDE] + CLEARLY_BETTER:
        return cells
    axes = (cells[:, 1] - cells[:, 0], cells[:, 3] - cells[:, 0])
    unit = [axis.mean(axis=0) / np.linalg.norm(axis, axis=1).mean() for axis in axes]
    step = lines[0].height_px / ROWS
    aside = (across - ASIDE) * squeezed * unit[0] + (down - ASIDE) * unit[1]
    return np.asarray(cells + step * aside)


def _alike(seen: Image, drawn: Image) -> FloatArray:
    """Correlation of a line with its drawing moved by up to `ASIDE` samples down and across."""
    a = ASIDE
    inner = drawn[a:-a, a:-a].astype(np.float64)
    inner -= inner.mean()
    out = np.empty((2 * a + 1, 2 * a + 1))
    for down in range(2 * a + 1):
        for across in range(2 * a + 1):
            part = seen[down : down + inner.shape[0], across : across + inner.shape[1]]
            spread = float(part.std()) * float(inner.std()) * inner.size
            out[down, across] = (part * inner).sum() / max(spread, 1e-9)
    return out


def squeeze(cells_px: FloatArray, shapes: Shapes) -> float:
    """How narrow characters (n, 4, 2) look, over their height, beside those seen from ahead."""
    across = np.linalg.norm(cells_px[:, 1] - cells_px[:, 0], axis=1).mean()
    down = np.linalg.norm(cells_px[:, 3] - cells_px[:, 0], axis=1).mean()
    return float(across / down * shapes.height_mm / shapes.width_mm)


def mean_bands(some: Sequence[LineBands]) -> LineBands:
    """The mean over several lines or texts."""
    names = ("ink", "both", "seen", "noise", "share")
    means = {name: np.mean([getattr(one, name) for one in some], axis=0) for name in names}
    return LineBands(**means, pictures=some[0].pictures)


def straightened(luma: Image, line: TextLine, squeezed: float) -> Image:
    """A line of pictures (n, rows, columns) on the grid (n, high, wide) [levels]."""
    high, wide = _grid(line, squeezed)
    place = np.array(
        [[ROWS / squeezed, 0, BESIDE * ROWS - 0.5], [0, ROWS, BELOW * ROWS - 0.5], [0, 0, 1]]
    )
    centred = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    move = place @ line.to_heights @ centred
    shrink = line.height_px / ROWS
    out = np.empty((len(luma), high, wide), np.float32)
    for n, picture in enumerate(luma):
        # against aliasing where the grid is coarser than the pixels
        soft = cv2.GaussianBlur(picture, (0, 0), 0.4 * shrink) if shrink > 1.0 else picture
        cv2.warpPerspective(
            soft, move, (wide, high), dst=out[n], flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
    return out


def _grid(line: TextLine, squeezed: float) -> tuple[int, int]:
    wide = line.aspect / squeezed + 2.0 * BESIDE
    return round((1.0 + 2.0 * BELOW) * ROWS), round(wide * ROWS)


def _drawings(
    shapes: Shapes,
    target: JudgedText,
    cells_px: FloatArray,
    line: TextLine,
    squeezed: float,
    cuts: Sequence[float] = CUTS,
) -> Image:
    """Ink share (cuts, high, wide) of a line, perfectly sharp."""
    high, wide = _grid(line, squeezed)
    some = cells_px[line.cells]
    corners = cv2.perspectiveTransform(some.reshape(1, -1, 2).astype(np.float64), line.to_heights)
    out = np.empty((len(cuts), high, wide), np.float32)
    for cut, drawn in zip(cuts, out, strict=True):
        fine = np.zeros((high * FINER, wide * FINER), np.float32)
        for n, cell in zip(line.cells, corners.reshape(-1, 4, 2), strict=True):
            letter, pad = drawn_letter(shapes, target.cells[n].character, cut)
            high_px, wide_px = (size - 2 * pad for size in letter.shape)
            source = np.array([[0, 0], [wide_px, 0], [wide_px, high_px]]) + pad - 0.5
            there = (cell[:3] / [squeezed, 1.0] + [BESIDE, BELOW]) * (ROWS * FINER) - 0.5
            move = cv2.getAffineTransform(source.astype(np.float32), there.astype(np.float32))
            np.maximum(fine, cv2.warpAffine(letter, move, fine.shape[::-1]), out=fine)
        cv2.resize(fine, (wide, high), dst=drawn, interpolation=cv2.INTER_AREA)
    return out


@lru_cache(maxsize=1024)
def drawn_letter(shapes: Shapes, character: str, cut: float) -> tuple[Image, int]:
    """A letter in a stroke, softened by what the fine grid cannot hold, with `pad` texels of ground
    around it."""
    widest = max(CUTS) * shapes.stroke_mm / 2.0
    pad = int(np.ceil(widest / shapes.texel_mm)) + 2
    mask = shapes.masks[shapes.alphabet.index(character)]
    edge = signed_distance_mm(mask, shapes.texel_mm, pad) + cut * shapes.stroke_mm / 2.0
    ink = np.clip(edge / shapes.texel_mm + 0.5, 0.0, 1.0).astype(np.float32)
    per_sample = len(mask) / (ROWS * FINER)
    if per_sample > 1.0:
        ink = cv2.GaussianBlur(ink, (0, 0), 0.5 * per_sample)
    return np.asarray(ink), pad


def _faded(samples: int, ground: float) -> FloatArray:
    """Weight (samples,) that fades in and out over the ground at both ends."""
    at = np.arange(samples) + 0.5
    near = np.clip(np.minimum(at, samples - at) / (ground * ROWS), 0.0, 1.0)
    return np.asarray(np.sin(0.5 * np.pi * near) ** 2)


@lru_cache(maxsize=64)
def band_of(high: int, wide: int) -> tuple[NDArray[np.int64], FloatArray]:
    """Of the real transform of a grid: the band of every coefficient, and how often it counts.

    Bands along the line come first, then those down it; of each way, those below the lowest and
    above the highest edge are the first and the last.
    """
    fx = np.fft.rfftfreq(wide, 1.0 / ROWS)[None, :]
    fy = np.fft.fftfreq(high, 1.0 / ROWS)[:, None]
    band = np.digitize(np.hypot(fx, fy), EDGES)
    way = np.where(np.abs(fx) > np.abs(fy), 0, 1)
    counted = np.where((fx > 0) & (fx < ROWS / 2), 2.0, 1.0) * np.ones_like(fy)
    return (way * (len(EDGES) + 1) + band).ravel(), counted.ravel()


@lru_cache(maxsize=32)
def _frame(high: int, wide: int) -> tuple[FloatArray, FloatArray]:
    """Of a grid: weight (samples,) and plane (samples, 3)."""
    weight = (_faded(high, BELOW)[:, None] * _faded(wide, BESIDE)[None, :]).ravel()
    down, across = np.meshgrid(np.linspace(-1, 1, high), np.linspace(-1, 1, wide), indexing="ij")
    return weight, np.stack([np.ones(high * wide), down.ravel(), across.ravel()], axis=1)


def _bands(lines: Image, drawings: Image, count: int) -> LineBands:
    high, wide = drawings.shape[1:]
    weight, plane = _frame(high, wide)
    band, counted = band_of(high, wide)
    mean = lines.mean(axis=0).ravel().astype(np.float64)
    known = np.column_stack([drawings[0].ravel(), plane]) * weight[:, None]
    ground = plane @ np.linalg.lstsq(known, mean * weight, rcond=None)[0][1:]
    even = (lines.reshape(count, -1) - ground) * weight
    middle = even.mean(axis=0)
    left = (even - middle) * np.sqrt(count / (count - 1.0))
    size = float((weight**2).sum()) * weight.size

    def transformed(x: FloatArray) -> FloatArray:
        return np.asarray(np.fft.rfft2(x.reshape(-1, high, wide)).reshape(-1, len(band)))

    def summed(power: FloatArray) -> FloatArray:
        total = np.bincount(band, power * counted, minlength=2 * (len(EDGES) + 1))
        return np.asarray(total.reshape(2, -1)[:, 1:-1] / size)

    ink, noise = transformed(drawings.reshape(len(drawings), -1) * weight), transformed(left)
    seen = transformed(middle)[0]
    return LineBands(
        np.maximum([summed(np.abs(one) ** 2) for one in ink], 1e-9),
        np.array([summed((seen * one.conj()).real) for one in ink]),
        summed(np.abs(seen) ** 2), summed((np.abs(noise) ** 2).mean(axis=0)),
        np.maximum(summed(np.full(len(band), size / weight.size)), 1e-9), count,
    )  # fmt: skip
