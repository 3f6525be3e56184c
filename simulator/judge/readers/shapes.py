"""Letter shapes as readers and specimens know them: masks in equal cells."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simulator.light.photometry import luminous_efficiency
from simulator.scene.materials import material
from simulator.scene.targets.glyphs import glyph_mask
from simulator.scene.targets.plate import LOOKALIKES, TEXEL_MM, PlateDesign

PLATE_STROKES_MM = (7.0, 14.0)
"""Strokes drawn at the texel of plates; others at one in proportion."""


@dataclass(frozen=True, eq=False)
class Shapes:
    """A lettering: one mask a character, all of one size.

    `masks` (characters, rows, columns) of ink, `texel_mm` each; `alphabet` in their order;
    `symbols` (characters,) what each stands for, look-alikes sharing one; lengths in mm.
    """

    name: str
    alphabet: str
    masks: NDArray[np.bool_]
    symbols: NDArray[np.int64]
    texel_mm: float
    height_mm: float
    width_mm: float
    stroke_mm: float
    gap_mm: float
    group_gap_mm: float
    light_ink: bool

    def indices(self, text: str) -> NDArray[np.int64]:
        """Places of the characters of a text in the alphabet, spaces left out."""
        return np.array([self.alphabet.index(c) for c in text.replace(" ", "")])

    def letter(self, symbol: int) -> str | None:
        """The first character of a symbol; None where the number stands for none."""
        return self.alphabet[self.first_letters[symbol]] if symbol >= 0 else None

    @cached_property
    def first_letters(self) -> NDArray[np.int64]:
        """Place in the alphabet of the first character of each symbol (symbols,)."""
        return np.unique(self.symbols, return_index=True)[1]


def symbol_numbers(alphabet: str) -> NDArray[np.int64]:
    """Number of the symbol of each character (n,); look-alikes share theirs."""
    known: dict[frozenset[str], int] = {}
    out = []
    for character in alphabet:
        group = next((g for g in LOOKALIKES if character in g), frozenset(character))
        out.append(known.setdefault(group, len(known)))
    return np.array(out, dtype=np.int64)


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
def design_shapes(design: PlateDesign) -> Shapes:
    """The lettering of a plate, sign or label."""
    low, high = PLATE_STROKES_MM
    texel = TEXEL_MM * design.stroke_mm / float(np.clip(design.stroke_mm, low, high))
    size = design.character_height_mm, design.character_width_mm, design.stroke_mm
    masks = np.stack([glyph_mask(c, *size, texel) for c in design.alphabet])
    return Shapes(
        design.name, design.alphabet, masks, symbol_numbers(design.alphabet), texel, *size,
        design.gap_mm, design.group_gap_mm, inks_lighter(design),
    )  # fmt: skip


def font_shapes(file: Path, name: str, alphabet: str, height_mm: float = 75.0) -> Shapes:
    """The capitals and digits of a font file, drawn as high as each other in equal cells.

    For checks with lettering that is not ours. The cell is as wide as the widest character; the
    stroke is that of "I" or "L" at half height, the gaps those of our own plates.
    """
    from PIL import Image, ImageDraw, ImageFont  # noqa: PLC0415

    texel = 0.5
    rows = round(height_mm / texel)
    font = ImageFont.truetype(str(file), 2 * rows)
    cut = {}
    for character in alphabet:
        canvas = Image.new("L", (4 * rows, 4 * rows))
        ImageDraw.Draw(canvas).text((rows, rows), character, font=font, fill=255)
        ink = np.asarray(canvas) > 127
        down, across = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
        cut[character] = ink[down[0] : down[-1] + 1, across[0] : across[-1] + 1]
    scale = rows / cut["H"].shape[0]
    columns = max(round(m.shape[1] * scale) for m in cut.values())
    masks = np.zeros((len(alphabet), rows, columns), np.bool_)
    for mask, character in zip(masks, alphabet, strict=True):
        wide = round(cut[character].shape[1] * scale)
        picture = Image.fromarray(cut[character].astype(np.uint8) * 255).resize((wide, rows))
        left = (columns - wide) // 2
        mask[:, left : left + wide] = np.asarray(picture) > 127
    stem = masks[alphabet.index("L")][rows // 2].sum() * texel
    return Shapes(
        name, alphabet, masks, symbol_numbers(alphabet), texel, height_mm, columns * texel,
        float(stem), 9.0, 34.0, False,
    )  # fmt: skip
