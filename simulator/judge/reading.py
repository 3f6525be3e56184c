"""Reading a text: classify every rendered character among the whole alphabet.

Plates, signs and labels are read alike. The reader sees only the eight-bit picture. It knows where
the text is and which way its letters run, but not the exact place (each character is sought over
small shifts), not the exact lettering (its templates are a thinner and a bolder cut of the
letters), and not the level or contrast (correlation is normalised). Its own noise is added to every
pixel of the picture:

    sigma^2 = (CONTRAST_NOISE x rms contrast of the text)^2 + LEVEL_NOISE^2

Noise in proportion to contrast is what limits human letter reading at high contrast (Pelli and
Farell 1999; Dosher and Lu 1999: multiplicative internal noise; cited from memory). Its size here is
set so that noise-free plates of seven characters are read half of the time at about 8 px of
character height and nearly always from 12 px on; practice asks for 15 to 20 px (common practice,
no source). LEVEL_NOISE stands for the contrast threshold of eye and display, under one per cent
(assumed).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from simulator.camera.draws import mix, normal
from simulator.judge.target import JudgedText, plate_scale
from simulator.light.photometry import luminous_efficiency
from simulator.scene.materials import material
from simulator.scene.targets.glyphs import glyph_mask
from simulator.scene.targets.plate import LOOKALIKES, TEXEL_MM, PlateDesign
from simulator.units import FloatArray, Image

CONTRAST_NOISE = 0.8
LEVEL_NOISE = 1.5
"""Reader's own noise [levels of 255]."""
CUTS = (0.85, 1.2)
"""Stroke widths the reader expects, as shares of the true one."""
TEMPLATE_BLUR_PX = 0.5
"""Blur the reader expects of any picture, standard deviation [px]."""
MIN_ROWS, MAX_ROWS = 12, 24
SHIFT_SHARE = 0.09
"""Characters are sought over shifts of this share of their height, each way."""
MARGIN_SHARE = 0.06
"""Room around a character that the reader takes in, as a share of its height."""


@dataclass(frozen=True)
class Alphabet:
    """Templates of a design at one size.

    `templates` (n, rows, columns) of zero mean and unit norm; `symbols` (n,) what each stands for,
    characters told apart by place only sharing one symbol.
    """

    templates: Image
    symbols: NDArray[np.int64]
    index: dict[str, int]


def _symbols(alphabet: str) -> dict[str, int]:
    """Number of each character; look-alikes share theirs."""
    index: dict[str, int] = {}
    for character in alphabet:
        twins = next((group for group in LOOKALIKES if character in group), frozenset(character))
        known = next((index[c] for c in twins if c in index), None)
        index[character] = len(set(index.values())) if known is None else known
    return index


def luminance_reflectance(name: str) -> float:
    """Reflectance of a material for light of equal power at every wavelength, weighted by V."""
    weight = luminous_efficiency()
    return float(material(name).reflectance @ weight / weight.sum())


def inks_lighter(design: PlateDesign) -> bool:
    """Whether the characters are lighter than their ground to the eye.

    The reader expects this even of a picture in infrared, where a dye may have turned.
    """
    return luminance_reflectance(design.ink) > luminance_reflectance(design.background)


@lru_cache(maxsize=16)
def alphabet_templates(design: PlateDesign, rows: int, blur_rows: float) -> Alphabet:
    """Templates of every character, `rows` high without margin, blurred by `blur_rows`."""
    index = _symbols(design.alphabet)
    margin_mm = MARGIN_SHARE * design.character_height_mm
    window_rows, window_columns = window_shape(design, rows)
    light_ink = inks_lighter(design)
    texel_mm = TEXEL_MM * plate_scale(design)
    templates, symbols = [], []
    for cut in CUTS:
        for character in design.alphabet:
            mask = glyph_mask(
                character,
                design.character_height_mm,
                design.character_width_mm,
                design.stroke_mm * cut,
                texel_mm,
            )
            pad = round(margin_mm / texel_mm)
            ink = np.pad(mask.astype(np.float32), pad)
            small = cv2.resize(ink, (window_columns, window_rows), interpolation=cv2.INTER_AREA)
            small = cv2.GaussianBlur(small, (0, 0), blur_rows, borderType=cv2.BORDER_REPLICATE)
            values = small if light_ink else 1.0 - small
            values = values - values.mean()
            templates.append(values / np.linalg.norm(values))
            symbols.append(index[character])
    return Alphabet(np.stack(templates).astype(np.float32), np.array(symbols), index)


def window_shape(design: PlateDesign, rows: int) -> tuple[int, int]:
    """Rows and columns of the window around one character."""
    margin = MARGIN_SHARE * design.character_height_mm
    scale = rows / design.character_height_mm
    high = round((design.character_height_mm + 2 * margin) * scale)
    wide = round((design.character_width_mm + 2 * margin) * scale)
    return high, max(5, wide)


@njit(cache=True, parallel=True, nogil=True, fastmath=True)
def _read(  # type: ignore[no-untyped-def]
    frames, maps, templates, symbols, shift, contrast_noise, level_noise, inner, seed, first
):
    """Symbols read, (trials, characters), of luma frames (trials, rows, columns)."""
    trials, rows, columns = frames.shape
    characters = maps.shape[0]
    high, wide = templates.shape[1], templates.shape[2]
    flat = templates.reshape(templates.shape[0], high * wide)
    span_r, span_c = high + 2 * shift, wide + 2 * shift
    read = np.empty((trials, characters), np.int64)
    for t in prange(trials):
        state = mix(np.uint64(seed) * np.uint64(0xD1342543DE82EF95) + np.uint64(first + t))
        total, square, count = 0.0, 0.0, 0
        for j in range(inner[1], inner[3]):
            for i in range(inner[0], inner[2]):
                v = frames[t, j, i]
                total += v
                square += v * v
                count += 1
        mean = total / count
        contrast = math.sqrt(max(0.0, square / count - mean * mean))
        sigma = math.sqrt((contrast_noise * contrast) ** 2 + level_noise * level_noise)
        seen = np.empty((rows, columns), np.float32)
        for j in range(rows):
            for i in range(columns):
                state, noise = normal(state)
                seen[j, i] = frames[t, j, i] + sigma * noise
        window = np.empty((span_r, span_c), np.float32)
        piece = np.empty(high * wide, np.float32)
        for c in range(characters):
            for r in range(span_r):
                for q in range(span_c):
                    w = maps[c, 2, 0] * q + maps[c, 2, 1] * r + maps[c, 2, 2]
                    x = (maps[c, 0, 0] * q + maps[c, 0, 1] * r + maps[c, 0, 2]) / w - 0.5
                    y = (maps[c, 1, 0] * q + maps[c, 1, 1] * r + maps[c, 1, 2]) / w - 0.5
                    x = min(columns - 1.001, max(0.0, x))
                    y = min(rows - 1.001, max(0.0, y))
                    ix, iy = int(x), int(y)
                    fx, fy = x - ix, y - iy
                    top = seen[iy, ix] * (1 - fx) + seen[iy, ix + 1] * fx
                    low = seen[iy + 1, ix] * (1 - fx) + seen[iy + 1, ix + 1] * fx
                    window[r, q] = top * (1 - fy) + low * fy
            best, symbol = -2.0, -1
            for dr in range(2 * shift + 1):
                for dq in range(2 * shift + 1):
                    total, square = 0.0, 0.0
                    for r in range(high):
                        for q in range(wide):
                            v = window[r + dr, q + dq]
                            piece[r * wide + q] = v
                            total += v
                            square += v * v
                    spread = math.sqrt(max(1e-9, square - total * total / (high * wide)))
                    for k in range(flat.shape[0]):
                        score = np.float32(0.0)
                        for i in range(high * wide):
                            score += piece[i] * flat[k, i]
                        match = float(score) / spread
                        if match > best:
                            best = match
                            symbol = symbols[k]
            read[t, c] = symbol
    return read


@dataclass(frozen=True)
class Reader:
    """A reader of texts; the two noises as in the module's text."""

    contrast_noise: float = CONTRAST_NOISE
    level_noise: float = LEVEL_NOISE

    def read(
        self,
        frames: NDArray[np.uint8],
        target: JudgedText,
        origin_px: tuple[float, float],
        *,
        seed: int,
        first: int = 0,
    ) -> NDArray[np.bool_]:
        """Whether each character was read, (trials, characters).

        Parameters
        ----------
        frames
            Eight-bit patches (trials, rows, columns, 3).
        origin_px
            Left and top of the patch in the picture, with its sub-pixel phase.
        """
        weights = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)
        luma = np.ascontiguousarray(frames.astype(np.float32) @ weights)
        rows = int(np.clip(np.ceil(1.5 * target.character_height_px), MIN_ROWS, MAX_ROWS))
        scale = rows / max(target.character_height_px, 1e-6)
        alphabet = alphabet_templates(
            target.design, rows, round(max(0.3, TEMPLATE_BLUR_PX * scale), 2)
        )
        shift = max(1, round(SHIFT_SHARE * rows))
        maps = np.stack(
            [
                _window_map(cell - np.asarray(origin_px), target.design, rows, shift)
                for cell in target.cells_px
            ]
        )
        truth = np.array([alphabet.index[cell.character] for cell in target.cells])
        inside = target.cells_px.reshape(-1, 2) - np.asarray(origin_px)
        low = np.floor(inside.min(axis=0)).astype(int)
        high = np.ceil(inside.max(axis=0)).astype(int)
        inner = np.array(
            [
                max(0, low[0]),
                max(0, low[1]),
                min(luma.shape[2], high[0]),
                min(luma.shape[1], high[1]),
            ]
        )
        symbols = _read(
            luma,
            maps,
            alphabet.templates,
            alphabet.symbols,
            shift,
            self.contrast_noise,
            self.level_noise,
            inner,
            np.uint64(seed),
            first,
        )
        return np.asarray(symbols == truth[None, :])


def _window_map(cell_px: FloatArray, design: PlateDesign, rows: int, shift: int) -> FloatArray:
    """Homography (3, 3) from window samples (column, row) to patch pixels."""
    scale = rows / design.character_height_mm
    margin = MARGIN_SHARE * design.character_height_mm * scale
    left, top = margin + shift - 0.5, margin + shift - 0.5
    right = left + design.character_width_mm * scale
    bottom = top + design.character_height_mm * scale
    corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]], np.float32)
    return np.asarray(
        cv2.getPerspectiveTransform(corners, cell_px.astype(np.float32)), dtype=np.float64
    )
