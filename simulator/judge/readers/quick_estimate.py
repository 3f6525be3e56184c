"""The quick estimate: how often a reader reads a text, from what a few pictures keep of letters.

No letter is classified. What pictures keep of the letters in each band of frequency and each
direction, along the line and down it (`line_bands`), gives a signal-to-noise ratio,

    S_w  = sum over bands of B(f) max(H, 0)^2 L D / N,   B(f) = exp(-(ln f/f_0)^2 / 2 s^2)
    N    = level^2 + noise n (height/17)^size + misfit m + reversed min(H, 0)^2 L + clutter C^2
    S    = (w S_along^-q + (1 - w) S_down^-q)^(-1/q)

with H the transfer from paper to ink, L the power of the letters, D the share of it that tells one
from the letter most like it (`differences`: bold strokes have much power in common, so that what
smear leaves of them tells less than it seems), n and m the densities of noise and of what is
neither letter nor noise, C^2 the power of all that is kept of the letters: noise in proportion to
contrast, so that blurred letters are lost however high their contrast. Letters that one direction
has lost are not made up for by the other, by q. The probability that `LETTERS` characters are all
read is

    P = 1 / (1 + exp(-z)),
    z = offset + slope ln S - faint (10 / C)^2 - narrow (5 / width)^2 - ...

and that of n characters P^(n / LETTERS). The further terms: the gap between characters, and how
narrow they are seen. A reader does not average noise over large letters as it could: `size`.

The numbers of a reader are fitted to what it reads of whole-camera pictures and tested on others
(`docs/reading.md`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit

from simulator.judge.readers.differences import share_apart
from simulator.judge.readers.line_bands import (
    MIDDLES,
    LineBands,
    line_bands,
    mean_bands,
    squeeze,
)
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.target import JudgedText
from simulator.units import FloatArray

LETTERS = 7
"""Characters of the texts that the numbers were fitted to."""
HEIGHT_PX, WIDTH_PX, CONTRAST, GAP = 17.0, 5.0, 10.0, 0.15
"""Where the terms of height, width, contrast [levels] and gap are 0 or 1."""
NEVER = 1e-9

FewPictures = tuple[NDArray[np.uint8], JudgedText, tuple[float, float]]
"""Pictures (n, rows, columns, 3) of one text, n at least 2, the text as it lies in the whole
picture, and left and top of the pictures in it."""


@dataclass(frozen=True)
class Legible:
    """What tells of a text at large how well it can be read.

    `bands` are the mean over its texts, `apart` (2, bands) as `share_apart`; `height_px` and
    `width_px` of a character, `squeezed` as `line_bands.squeeze`, `gap` between characters in
    heights, `light_ink` whether ink is lighter than paper, `characters` of a text.
    """

    bands: LineBands
    apart: FloatArray
    height_px: float
    width_px: float
    squeezed: float
    gap: float
    light_ink: bool
    characters: int


def legible(some: Iterable[FewPictures]) -> Legible:
    """What a few pictures of each of a few texts of one lettering keep."""
    listed = list(some)
    target = listed[0][1]
    shapes = design_shapes(target.design)
    across = target.cells_px[:, 1] - target.cells_px[:, 0]
    return Legible(
        mean_bands([line_bands(*one) for one in listed]),
        share_apart(shapes),
        target.character_height_px,
        float(np.linalg.norm(across, axis=1).mean()),
        squeeze(target.cells_px, shapes),
        shapes.gap_mm / shapes.height_mm,
        shapes.light_ink,
        len(target.cells),
    )


@dataclass(frozen=True)
class QuickEstimate:
    """Numbers of one reader; see the module's text.

    `cycles` is f_0 [cycles to the character height], `width` s [natural logarithm], `along` w,
    `harshness` q; `error` the standard deviation of z about that of the reader itself.
    """

    offset: float
    slope: float
    cycles: float
    width: float
    along: float
    harshness: float
    noise: float
    misfit: float
    level: float
    clutter: float
    reversed: float
    faint: float
    size: float
    narrow: float
    gap: float
    squeezed: float
    error: float

    def certainty(self, seen: Legible) -> float:
        """z of `LETTERS` characters."""
        bands = seen.bands
        used = np.exp(-0.5 * (np.log(MIDDLES / self.cycles) / self.width) ** 2)
        h = bands.transfer * (1.0 if seen.light_ink else -1.0)
        kept, turned = (x**2 * bands.letters for x in (np.maximum(h, 0.0), np.minimum(h, 0.0)))
        contrast2 = max(float((kept + turned).sum()), NEVER)
        noise = self.noise * (seen.height_px / HEIGHT_PX) ** self.size
        density = noise * bands.noise + self.misfit * bands.misfit + self.reversed * turned
        density = density / bands.share + self.level**2 + self.clutter * contrast2
        along, down = (used * kept * seen.apart / density).sum(axis=1) + NEVER
        q = self.harshness
        ratio = self.along * along**-q + (1.0 - self.along) * down**-q
        return float(
            self.offset
            - self.slope * np.log(ratio) / q
            - self.faint * CONTRAST**2 / contrast2
            - self.narrow * (WIDTH_PX / seen.width_px) ** 2
            + self.gap * np.log(seen.gap / GAP)
            + self.squeezed * max(0.0, -np.log(seen.squeezed))
        )

    def probability(self, seen: Legible) -> float:
        """Probability that a whole text is read."""
        return float(expit(self.certainty(seen)) ** (seen.characters / LETTERS))

    def interval(self, value: float, spread: float = 1.96) -> tuple[float, float]:
        """Ends of where the reader's own probability lies in 95 % of conditions."""
        z = float(logit(np.clip(value, NEVER, 1.0 - NEVER)))
        return float(expit(z - spread * self.error)), float(expit(z + spread * self.error))
