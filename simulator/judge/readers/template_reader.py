"""Reading a text: classify every rendered character among the whole alphabet.

Plates, signs and labels are read alike. A reader sees only the eight-bit picture. It knows where
the text is and which way its letters run, and lacks what real readers lack:

- the exact lettering: its templates are other cuts of the letters (`templates`), one cut for a
  text;
- the exact place: every character is sought over small shifts;
- the blur: letters are expected soft, out of focus or smeared (`templates.BLURS`), as fits the
  whole text best;
- level, shading and contrast: correlation is normalised;
- an endless resolution: the picture is softened by `floor_px` before anything else;
- an eye for every level: `level_noise` is added, and for a person at a display what his contrast
  threshold `eye_contrast` makes of the display's luminance in a lit room;
- a noiseless mind: white noise is added to what it sees on a grid that moves and grows with the
  letter, `contrast_noise` times the rms contrast of that letter. Noise in proportion to contrast
  limits reading at high contrast (Pelli and Farell 1999; Dosher and Lu 1999; from memory), and as
  it does not shrink with blur, soft letters fail at a blur that is a share of their height, and
  small ones where the pixel's own blur is that share;
- practice with letters that are smeared or out of focus: noise is added, `smear_noise` times the
  line and `defocus_noise` times the disc of the blur it has settled on, in character heights, times
  the rms contrast; of the disc only what is more than any picture's own softness, which small
  letters show as much as a disc (`OWN_DISC_PX`);
- trust in what looks strange: where the best template leaves much unexplained (coding, clipping, a
  foreign lettering), noise is added, `misfit_noise` times the share of the letter's power that is
  not explained times its rms contrast;
- its neighbours: it expects the average of them. A reader `in_context` reads once more, less what
  the neighbours that it has read run into each character;
- an even mind: all noise is larger or smaller from picture to picture, by a factor whose logarithm
  has the standard deviation `spread`;
- full use of the picture: the noise of the picture counts 1 / `efficiency` times in power, by
  noise that the picture's noise induces in the reader (Burgess and Colborne 1988; from memory).

The last is made of the noise of other repetitions of the same picture, so that it has the same
spectrum whatever the processing; a single frame shows none (fewer than `LEAST_FRAMES`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.judge.eye import CONTROL_ROOM, Display, emitted, stray_light_of
from simulator.judge.readers.bank import Settled, bank_of
from simulator.judge.readers.fitted import MACHINE_QUICK
from simulator.judge.readers.line_bands import cells_as_shown
from simulator.judge.readers.matching import (
    add_noise,
    best_symbols,
    near_neighbours,
    sample_windows,
    soften,
    window_maps,
    without_neighbours,
)
from simulator.judge.readers.quick_estimate import QuickEstimate
from simulator.judge.readers.reader import true_symbols
from simulator.judge.readers.shapes import (
    Shapes,
    design_shapes,
    inks_lighter,
    luminance_reflectance,
)
from simulator.judge.readers.templates import (
    BLURS,
    ROWS,
    SHIFT,
    VARIANTS,
    Blur,
    Variant,
    unshaded,
    window_corners,
    window_shape,
)
from simulator.judge.silhouette import luma_levels
from simulator.judge.target import JudgedText
from simulator.messages import Message
from simulator.units import FloatArray, Image

__all__ = [
    "LEVEL_NOISE",
    "TemplateReader",
    "design_shapes",
    "inks_lighter",
    "luminance_reflectance",
]

LEVEL_NOISE = 1.5
"""Noise of a reader [levels of 255], unless said otherwise (assumed)."""
SMALL_PX = 20.0
"""Characters up to so high are small: more pixels tell a person little more."""
OWN_DISC_PX = 3.2
"""Every picture is as soft as a disc of this diameter would leave it [px], four times the standard
deviation of pixel, demosaicing, a good lens and the reader's own floor together (0.3, 0.5, 0.4 and
0.35 px; assumed). So much of a disc is no defocus, and nothing a reader is unused to."""
LEAST_FRAMES = 8
"""Fewer repetitions do not show the picture's noise."""
UNNAMED = Message("reader.template")


@dataclass(frozen=True)
class TemplateReader:
    """A reader of texts; the numbers as in the module's text.

    `quick` is the estimate that was fitted to this reader, or to the one it stands in for;
    `stands_in` says that it does, so that its own probability is that estimate's and its reading
    tells only which characters it takes for which. `large_efficiency` is the efficiency for
    characters of twice `SMALL_PX` and more, the same as for small ones if not given.
    `display` is what a person looks at. `shared_noise` is the share of the contrast noise (in
    power) that stays the same when the
    reader sees the same text in another picture of the same pass; `assumption` is for the
    list of what a result assumed.
    """

    name: str
    contrast_noise: float
    efficiency: float
    floor_px: float
    level_noise: float = LEVEL_NOISE
    eye_contrast: float = 0.0
    shared_noise: float = 0.0
    misfit_noise: float = 0.0
    smear_noise: float = 0.0
    defocus_noise: float = 0.0
    spread: float = 0.0
    in_context: bool = False
    large_efficiency: float | None = None
    display: Display = CONTROL_ROOM
    quick: QuickEstimate = MACHINE_QUICK
    stands_in: bool = False
    assumption: Message = UNNAMED
    variants: tuple[Variant, ...] = VARIANTS
    blurs: tuple[Blur, ...] = BLURS

    def softening_px(self, height_px: float) -> float:
        """Blur before the letter grid is laid on: the reader's own, and against aliasing where the
        grid is coarser than the pixels [px]."""
        return math.hypot(self.floor_px, 0.5 * max(0.0, height_px / ROWS - 1.0))

    def efficiency_at(self, height_px: float) -> float:
        """Share of the picture's information that is used of characters so high."""
        if self.large_efficiency is None:
            return self.efficiency
        share = float(np.clip(math.log2(max(height_px, 1.0) / SMALL_PX), 0.0, 1.0))
        return float(self.efficiency ** (1.0 - share) * self.large_efficiency**share)

    @property
    def estimate(self) -> TemplateReader:
        """Itself: it searches as it proves."""
        return self

    @property
    def most_pictures(self) -> int | None:
        """Any number of pictures."""
        return None

    def symbols(
        self,
        pictures: NDArray[np.uint8],
        target: JudgedText,
        origin_px: tuple[float, float],
        *,
        seed: int,
        first: int = 0,
        shared_seed: int | None = None,
    ) -> NDArray[np.int64]:
        """As `Reader.symbols`."""
        shapes = design_shapes(target.design)
        luma = luma_levels(pictures)
        cells = cells_as_shown(luma, target, origin_px)
        return self.cell_symbols(
            luma, shapes, cells, seed=seed, first=first, shared_seed=shared_seed
        )

    def read(
        self,
        frames: NDArray[np.uint8],
        target: JudgedText,
        origin_px: tuple[float, float],
        *,
        seed: int,
        first: int = 0,
        shared_seed: int | None = None,
    ) -> NDArray[np.bool_]:
        """Whether each character was read, (frames, characters); as `symbols` otherwise."""
        symbols = self.symbols(
            frames, target, origin_px, seed=seed, first=first, shared_seed=shared_seed
        )
        return np.asarray(symbols == true_symbols(target)[None, :])

    def cell_symbols(
        self,
        luma: Image,
        shapes: Shapes,
        cells_px: FloatArray,
        *,
        seed: int,
        first: int = 0,
        shared_seed: int | None = None,
    ) -> NDArray[np.int64]:
        """Symbols (frames, characters) that cells (characters, 4, 2) of pictures (frames, rows,
        columns) are taken for."""
        height = float(np.linalg.norm(cells_px[:, 3] - cells_px[:, 0], axis=1).mean())
        rows, columns = (n + 2 * SHIFT for n in window_shape(shapes))
        maps = window_maps(cells_px, window_corners(shapes))
        windows = sample_windows(soften(luma, self.softening_px(height)), maps, rows, columns)
        settled = self.settle(shapes, windows.mean(axis=0))
        self._see(windows, settled, height, seed, first, shared_seed)
        symbols = best_symbols(windows, settled.templates, settled.step)
        if self.in_context:
            near = near_neighbours(cells_px, shapes.gap_mm / shapes.width_mm)
            letters = shapes.first_letters[symbols]
            windows = without_neighbours(windows, letters, near, settled.templates, settled.step)
            symbols = best_symbols(windows, settled.templates, settled.step)
        return symbols

    def settle(self, shapes: Shapes, seen: Image) -> Settled:
        """What fits a text best, from mean windows (characters, rows, columns)."""
        return bank_of(shapes, self.variants, self.blurs).best_fit(seen)

    def unusual_blur(self, blur: Blur, height_px: float) -> float:
        """Noise for want of practice with a blur, as a share of the rms contrast of letters."""
        disc = math.sqrt(max(0.0, blur.disc**2 - (OWN_DISC_PX / height_px) ** 2))
        return math.hypot(self.smear_noise * blur.line, self.defocus_noise * disc)

    def own_noise(self, seen: Image, settled: Settled, height_px: float) -> FloatArray:
        """Standard deviation (characters,) of the noise in proportion to contrast and to what is
        not explained, for mean windows (characters, rows, columns) of letters so high [levels]."""
        even = unshaded(seen[:, SHIFT:-SHIFT, SHIFT:-SHIFT])
        contrast = even.std(axis=(1, 2)).astype(np.float64)
        strange = self.unusual_blur(settled.templates.blur, height_px)
        misfit = settled.unexplained**2 / np.maximum(contrast, 1e-9)
        own = np.hypot(self.contrast_noise, strange) * contrast
        return np.asarray(np.hypot(own, self.misfit_noise * misfit), dtype=np.float64)

    def fixed_noise(self, level: FloatArray) -> FloatArray:
        """Standard deviation (characters,) of the noise that no contrast makes larger, at the mean
        levels (characters,) [levels of 255].

        An eye whose noise is the share c of the luminance L of a display sees levels v with the
        noise c L / (dL/dv), room light on the screen included (`eye`).
        """
        if self.eye_contrast == 0.0:
            return np.full(len(level), self.level_noise)
        level = np.maximum(np.asarray(level, dtype=np.float64), 1.0)
        shown = emitted(np.stack([level, level + 0.5, level - 0.5])).astype(np.float64)
        lit = shown[0] + stray_light_of(float(shown[0].mean()), self.display)
        return np.hypot(self.level_noise, self.eye_contrast * lit / (shown[1] - shown[2]))

    def _worse(self, count: int, seed: int, first: int, shared_seed: int | None) -> FloatArray:
        """Factor (count,) on all noise in each picture; partly the same in pictures of a pass."""
        share = 0.0 if shared_seed is None else self.shared_noise
        fresh, common = (
            np.array([
                np.random.default_rng([s, first + t, 31]).standard_normal() for t in range(count)
            ])
            for s in (seed, shared_seed or 0)
        )  # fmt: skip
        return np.exp(self.spread * (math.sqrt(1.0 - share) * fresh + math.sqrt(share) * common))

    def _see(
        self,
        windows: Image,
        settled: Settled,
        height_px: float,
        seed: int,
        first: int,
        shared_seed: int | None,
    ) -> None:
        """Add the reader's noise to windows (frames, characters, rows, columns) in place."""
        count = len(windows)
        mean = windows.mean(axis=0)
        power = self.own_noise(mean, settled, height_px) ** 2
        worse = self._worse(count, seed, first, shared_seed)
        if count >= LEAST_FRAMES:
            induced = np.sqrt(np.maximum(worse**2 / self.efficiency_at(height_px) - 1.0, 0.0))
            amount = (induced * math.sqrt(count / (count - 1.0))).astype(np.float32)
            windows += amount[:, None, None, None] * (np.roll(windows, 1, axis=0) - mean)
        shared = 0.0 if shared_seed is None else self.shared_noise
        common = np.uint64(shared_seed or 0)
        fixed = self.fixed_noise(mean.mean(axis=(1, 2)))
        fresh = worse[:, None] * np.sqrt((1.0 - shared) * power + fixed**2)
        if fresh.max() > 0.0:
            add_noise(windows, fresh, np.uint64(seed), first)
        if shared > 0.0:
            add_noise(windows, worse[:, None] * np.sqrt(shared * power), common, first)
