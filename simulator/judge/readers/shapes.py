"""Letter shapes as readers and specimens know them: masks in equal cells."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

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
