"""What a reader expects letters to look like: variants of a lettering, never the lettering itself.

A reader knows what an A is, not the cut of this A. It has learnt letters thinner and bolder,
narrower and wider, higher and lower, slanted, each more or less blurred: softly all round, by the
disc of a lens out of focus, by the line of a movement. It settles on the cut and blur that fit the
text at hand best as a whole. As no cut is the true one, it gives little
weight to what cuts of one letter differ in, and more to what tells letters apart. They stand on a
grid of the letter, `ROWS` samples to the character height, so that a reader sees small and large
letters alike: what differs is the picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import cv2
import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from simulator.camera.lens import box_otf, defocus_otf, fine_frequencies, gaussian_mtf
from simulator.judge.readers.shapes import Shapes
from simulator.units import FloatArray, Image

ROWS = 16
"""Samples to the height of a character: enough for its strokes (8 cycles a letter)."""
SHIFT = 2
"""Letters are sought over so many samples each way: an eighth of their height."""
SHIFTS = tuple(
    (r, q) for r in range(2 * SHIFT + 1) for q in range(2 * SHIFT + 1) if (r + q) % 2 == 0
)
"""The shifts that are tried (down, across): every other one, as on a chessboard."""
SETTLING_SHIFTS = tuple((r, q) for r, q in SHIFTS if max(abs(r - SHIFT), abs(q - SHIFT)) <= 1)
"""The shifts that are tried to settle on a cut."""
ROOM = 12
"""Samples around the window in which neighbours are drawn."""
NEIGHBOUR = 0.83
"""Share of characters that have a neighbour at the usual gap: a text of seven in two groups has
10 of 14, one in a single group 12 of 14 (the latter is taken)."""
LEAST_STEP = 0.5
"""A text is taken to differ from its ground by at least this [levels]."""
GRAIN = 0.36
"""Noise that the reader reckons with, as a share of the step from paper to ink: its own, about 0.8
of the rms contrast of letters, which is some 0.45 of the step. A reader that reckoned with less
would trust fine detail that its own noise hides, and mistake large sharp letters for each other."""
LEVEL_SPREAD = 3.0
"""The level is unknown by so many steps from paper to ink: in effect not known at all."""
SLOPE_SPREAD = 0.6
"""Shading across a character is unknown by so many steps from paper to ink, from its middle to its
edge: a shadow's rim or stray light must not pass for ink (assumed)."""
MARGIN = 1
"""Samples around a character that the reader takes in."""
OVERSAMPLE = 8


class Variant(NamedTuple):
    """A cut of a lettering: stroke (before it is widened with the letter), width and height as
    shares of the true ones, slant (sideways over upwards)."""

    stroke: float
    width: float
    height: float
    slant: float


VARIANTS = (
    Variant(0.92, 1.0, 1.0, 0.0),
    Variant(1.08, 1.0, 1.0, 0.0),
    Variant(0.8, 1.0, 1.0, 0.0),
    Variant(1.22, 1.0, 1.0, 0.0),
    Variant(0.9, 0.9, 1.0, 0.06),
    Variant(1.1, 1.1, 1.0, -0.06),
    Variant(1.1, 1.0, 0.93, 0.06),
    Variant(0.9, 1.0, 1.07, -0.06),
    Variant(0.65, 0.93, 0.96, 0.0),
    Variant(1.4, 1.07, 1.04, 0.0),
)
"""Cuts that bracket the true one in every way (assumed: the spread among block letterings). The
first two stand for a reader who sees how bold a text is, but not exactly. The last two are letters
eaten away all round by a ground that runs over white, and letters that run over themselves:
readers know such plates."""


class Blur(NamedTuple):
    """A blur that a reader has learnt to expect, in shares of the character height: standard
    deviation of a Gaussian, diameter of a disc, length of a line and how it runs (0 along the row,
    90 down the letters) [deg]."""

    softness: float
    disc: float = 0.0
    line: float = 0.0
    angle_deg: float = 0.0


ROUND = tuple(Blur(s) for s in (0.03, 0.045, 0.06, 0.08, 0.1, 0.125, 0.15, 0.18, 0.21, 0.25))
"""Soft alike every way."""
DEFOCUSED = tuple(Blur(0.04, disc=d) for d in (0.2, 0.3, 0.38, 0.46, 0.56))
SMEARED = tuple(
    Blur(0.045, line=length, angle_deg=angle)
    for angle in (0.0, 45.0, 90.0, 135.0)
    for length in (0.2, 0.3, 0.4, 0.52)
)
BOTH = tuple(Blur(0.045, 0.27, length, angle) for angle in (0.0, 90.0) for length in (0.2, 0.32))
BLURS = (*ROUND, *DEFOCUSED, *SMEARED, *BOTH)
"""From sharp to hopeless, in steps that leave little unexplained in between (assumed); a reader
settles on the one that fits the whole text best."""


@dataclass(frozen=True, eq=False)
class Templates:
    """Templates of the characters in windows of `rows` and `columns`.

    `plain` (n, samples) their looks in steps from paper to ink, of zero mean; `values` (n, samples)
    the filters K^-1 t, `bias` (n,) half of t' K^-1 t, `precision` (samples, samples) K^-1
    (`bank.bank_of`); `symbols` (n,) what each stands for; `shapes`, `variant` and `blur` what they
    are made of.
    """

    values: Image
    bias: Image
    precision: Image
    plain: Image
    symbols: NDArray[np.int64]
    shapes: Shapes
    variant: Variant
    blur: Blur
    rows: int
    columns: int

    @cached_property
    def beside(self) -> Image:
        """What a neighbour on the left and on the right, each of the n and at last none, adds to a
        sought window beyond the average neighbour (2, n + 1, rows + 2 SHIFT, columns + 2 SHIFT), in
        steps from paper to ink."""
        ink = letter_windows(self.shapes, self.variant, ROOM)[None]
        step = letter_step(self.shapes)
        moved = Blurred(ink, (-step, step))
        sides = np.stack([moved.seen(self.blur, m, ROOM - SHIFT)[0] for m in (-step, step)])
        usual = NEIGHBOUR * sides.mean(axis=1, keepdims=True)
        sign = np.float32(1.0 if self.shapes.light_ink else -1.0)
        none = np.zeros_like(usual)
        return np.asarray(sign * (np.concatenate([sides, none], axis=1) - usual), np.float32)


def window_shape(shapes: Shapes) -> tuple[int, int]:
    """Rows and columns of the window around one character, margin included."""
    wide = round(shapes.width_mm / shapes.height_mm * ROWS)
    return ROWS + 2 * MARGIN, max(5, wide + 2 * MARGIN)


def window_corners(shapes: Shapes) -> FloatArray:
    """Corners (4, 2) of the character's cell in the sought window, in samples (column, row).

    The cell is centred in the window with its `SHIFT` on each side.
    """
    rows, columns = window_shape(shapes)
    wide = shapes.width_mm / shapes.height_mm * ROWS
    left = (columns - wide) / 2.0 + SHIFT - 0.5
    top = (rows - ROWS) / 2.0 + SHIFT - 0.5
    right, bottom = left + wide, top + ROWS
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


@lru_cache(maxsize=64)
def ramps_of(rows: int, columns: int) -> FloatArray:
    """Even level and slopes (3, samples) across a window: 1, and -1 to 1 down and across."""
    down, across = np.meshgrid(np.linspace(-1, 1, rows), np.linspace(-1, 1, columns), indexing="ij")
    return np.stack([np.ones(rows * columns), down.ravel(), across.ravel()])


def unshaded(windows: Image) -> Image:
    """Windows (..., rows, columns) less their least-squares level and slopes."""
    rows, columns = windows.shape[-2:]
    basis = ramps_of(rows, columns)
    basis = (basis / np.linalg.norm(basis, axis=1, keepdims=True)).astype(np.float32)
    flat = windows.reshape(-1, rows * columns)
    return np.asarray((flat - (flat @ basis.T) @ basis).reshape(windows.shape))


def signed_distance_mm(mask: NDArray[np.bool_], texel_mm: float, pad: int) -> Image:
    """Distance to the edge of the ink, positive inside, of a mask with a border of paper [mm]."""
    # OpenCV's differs in the last digits with the number of threads
    ink = np.pad(mask, pad)
    inside, outside = distance_transform_edt(ink), distance_transform_edt(~ink)
    edge = np.where(ink, inside - 0.5, 0.5 - outside)
    return np.asarray(edge * texel_mm, dtype=np.float32)


@lru_cache(maxsize=8)
def _distances_mm(shapes: Shapes, pad: int) -> tuple[Image, ...]:
    """Distance to the edge of every character [mm]."""
    return tuple(signed_distance_mm(mask, shapes.texel_mm, pad) for mask in shapes.masks)


def letter_windows(shapes: Shapes, variant: Variant | None = None, shift: int = 0) -> Image:
    """Ink share (characters, rows, columns) on the letter grid, unblurred.

    `variant` None draws the lettering itself; `shift` samples are added on every side.
    """
    v = variant or Variant(1.0, 1.0, 1.0, 0.0)
    rows, columns = (n + 2 * shift for n in window_shape(shapes))
    # the stroke grows by so much on each side that it is as wanted once the letter has been
    # brought back to its outer measures
    wanted = v.stroke * shapes.stroke_mm
    grow = 0.5 * shapes.width_mm * (wanted - shapes.stroke_mm) / (shapes.width_mm - wanted)
    pad = round(0.4 * shapes.height_mm / shapes.texel_mm)
    high = v.height * shapes.height_mm / (shapes.height_mm + 2 * grow)
    wide = v.width * shapes.width_mm / (shapes.width_mm + 2 * grow)
    per_texel = ROWS * OVERSAMPLE * shapes.texel_mm / shapes.height_mm
    turn = np.array([[wide, -v.slant * high], [0.0, high]]) * per_texel
    source = (np.array(shapes.masks.shape[:0:-1]) + 2 * pad - 1) / 2.0
    target = (np.array([columns, rows]) * OVERSAMPLE - 1) / 2.0
    move = np.column_stack([turn, target - turn @ source])
    out = np.empty((len(shapes.masks), rows, columns), np.float32)
    # an edge within a fine sample covers part of it
    per_mm = np.float32(ROWS * OVERSAMPLE / shapes.height_mm)
    edge = np.float32(grow * per_mm + 0.5)
    for n, field in enumerate(_distances_mm(shapes, pad)):
        fine = cv2.warpAffine(
            field, move, (columns * OVERSAMPLE, rows * OVERSAMPLE), flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT, borderValue=-1e6,
        )  # fmt: skip
        ink = np.clip(fine * per_mm + edge, 0.0, 1.0)
        out[n] = cv2.resize(ink, (columns, rows), interpolation=cv2.INTER_AREA)
    return out


def letter_step(shapes: Shapes) -> float:
    """From one letter to the next [samples]."""
    return (shapes.width_mm + shapes.gap_mm) / shapes.height_mm * ROWS


class Blurred:
    """Letters (cuts, n, rows, columns) blurred and moved sideways by their transfer functions.

    `moves` are all moves that will be asked for [samples]: the canvas has room for them.
    """

    def __init__(self, ink: Image, moves: Sequence[float]) -> None:
        room = ROOM + int(np.ceil(max((abs(m) for m in moves), default=0.0)))
        self.rows, self.columns = ink.shape[2:]
        high, wide = (scipy.fft.next_fast_len(n + room, real=True) for n in ink.shape[2:])
        self.size = (high, wide)
        self.spectrum = scipy.fft.rfft2(ink.astype(np.float32), s=self.size)

    def mean(self) -> Blurred:
        """The mean over the letters of each cut (cuts, 1, rows, columns)."""
        other = copy(self)
        other.spectrum = self.spectrum.mean(axis=1, keepdims=True)
        return other

    def seen(self, blur: Blur, moved: float, room: int) -> Image:
        """The letters under a blur, moved to the right, `room` cut off each side."""
        fx, fy = fine_frequencies(*self.size, 1.0)
        otf = blur_otf(blur, fx, fy) * np.exp(-2j * np.pi * fx * moved)
        out = scipy.fft.irfft2(self.spectrum * otf.astype(np.complex64), s=self.size)
        return np.asarray(out[:, :, room : self.rows - room, room : self.columns - room])


def blur_otf(blur: Blur, fx: FloatArray, fy: FloatArray) -> FloatArray:
    """Transfer of a blur at frequencies [cycles/sample of the letter grid]: Gaussian, disc of even
    light and line of even light."""
    f = np.hypot(fx, fy)
    angle = np.radians(blur.angle_deg)
    along = fx * np.cos(angle) + fy * np.sin(angle)
    soft = gaussian_mtf(f, blur.softness * ROWS) * defocus_otf(f, blur.disc * ROWS)
    return np.asarray(soft * box_otf(along, blur.line * ROWS))
