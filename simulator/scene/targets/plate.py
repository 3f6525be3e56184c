"""Number plates: generic designs with proportions from public regulations.

Sources of the proportions, as they stand in public guides: United Kingdom, regulations of 2001
(characters 79 x 50 mm, stroke 14, gap 11, group gap 33, margin 11); Germany (520 x 110 mm,
characters 75 mm high, letters 47.5 mm wide, digits 44.5 mm); United States (12 x 6 inches).
Strokes and gaps that those do not give are assumed and marked so below. The lettering is our own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.errors import FileFormatError
from simulator.scene.geometry import Card, upright_card
from simulator.scene.model import Plate
from simulator.scene.targets.glyphs import ALPHABET, glyph_mask
from simulator.units import FloatArray

TEXEL_MM = 0.5
"""Size of a texel of a plate [mm]: a fraction of any stroke."""

LOOKALIKES = (frozenset("O0"), frozenset("I1"))
"""Characters told apart by the place they stand in, not by their shape: counted as one."""


@dataclass(frozen=True)
class PlateDesign:
    """Measures [mm] and materials of a plate design."""

    name: str
    width_mm: float
    height_mm: float
    character_height_mm: float
    character_width_mm: float
    stroke_mm: float
    gap_mm: float
    group_gap_mm: float
    border_mm: float
    background: str
    ink: str
    sheeting: str
    origin: str
    alphabet: str = ALPHABET


_DESIGNS = {
    d.name: d
    for d in (
        PlateDesign(
            "dark-on-white-520x110", 520, 110, 75, 46, 10.5, 9, 34, 3,
            "plate-white", "plate-black-ink", "plate-white",
            "sizes: Germany; character width: mean of letter and digit; stroke, gaps: assumed",
        ),
        PlateDesign(
            "dark-on-yellow-520x110", 520, 110, 75, 46, 10.5, 9, 34, 3,
            "plate-yellow", "plate-black-ink", "plate-yellow",
            "as dark-on-white-520x110, yellow background as several nations use",
        ),
        PlateDesign(
            "light-on-dark-520x110", 520, 110, 75, 46, 10.5, 9, 34, 3,
            "plate-black-ink", "plate-white", "plate-white",
            "as dark-on-white-520x110 with light characters on dark, assumed",
        ),
        PlateDesign(
            "dark-on-white-520x111-wide", 520, 111, 79, 50, 14, 11, 33, 0,
            "plate-white", "plate-black-ink", "plate-white",
            "characters 79 x 50, stroke 14, gap 11, group gap 33: United Kingdom 2001; no border",
        ),
        PlateDesign(
            "dark-on-white-305x152", 305, 152, 70, 34, 9, 6, 16, 3,
            "plate-white", "plate-black-ink", "plate-white",
            "12 x 6 inches: United States; character 2.75 inches (low-grade pages); rest assumed",
        ),
    )
}  # fmt: skip


def design_names() -> list[str]:
    """Names of the plate designs, sorted."""
    return sorted(_DESIGNS)


def plate_design(name: str) -> PlateDesign:
    """The design of that name.

    Raises
    ------
    FileFormatError
        If there is none.
    """
    try:
        return _DESIGNS[name]
    except KeyError:
        raise FileFormatError(
            "There is no such plate design.",
            key="design",
            given=name,
            allowed=", ".join(design_names()),
        ) from None


@dataclass(frozen=True)
class Cell:
    """Place of one character on the plate, from its upper left corner [m]."""

    character: str
    left_m: float
    top_m: float
    width_m: float
    height_m: float


def layout(plate: Plate) -> list[Cell]:
    """Places of the characters of a plate, spaces left out, centred on the plate.

    Raises
    ------
    FileFormatError
        If the design lacks a character or the text does not fit.
    """
    d = plate_design(plate.design)
    key = f"target.{plate.name}.text"
    lacking = sorted(set(plate.text) - set(d.alphabet) - {" "})
    if lacking or not plate.text.strip():
        mend = "leave out or replace " + " ".join(lacking) if lacking else "give some characters"
        if any(c.upper() in d.alphabet for c in lacking):
            mend = f"write it in capitals: {plate.text.upper()!r}"
        raise FileFormatError(
            "The plate design lacks a character of this text.",
            key=key,
            given=plate.text,
            allowed=f"characters of {d.name}: {d.alphabet} and the space",
            mend=mend,
        )
    width = 0.0
    lefts: list[tuple[str, float]] = []
    for character in plate.text.strip():
        if character == " ":
            width += d.group_gap_mm - d.gap_mm
            continue
        lefts.append((character, width))
        width += d.character_width_mm + d.gap_mm
    width -= d.gap_mm
    room = d.width_mm - 2 * d.border_mm
    if width > room:
        raise FileFormatError(
            "The text does not fit on the plate.",
            key=key,
            given=plate.text,
            allowed=f"up to {room:.0f} mm of characters, this takes {width:.0f} mm",
            mend="shorten the text or choose a wider design",
        )
    left0 = (d.width_mm - width) / 2.0
    top = (d.height_mm - d.character_height_mm) / 2.0
    return [
        Cell(
            character,
            (left0 + left) / 1000.0,
            top / 1000.0,
            d.character_width_mm / 1000.0,
            d.character_height_mm / 1000.0,
        )
        for character, left in lefts
    ]


def plate_texture(plate: Plate, background: int, ink: int) -> NDArray[np.uint8]:
    """Material indices (rows, columns) of a plate at `TEXEL_MM` a texel."""
    d = plate_design(plate.design)
    rows, columns = round(d.height_mm / TEXEL_MM), round(d.width_mm / TEXEL_MM)
    texture = np.full((rows, columns), background, dtype=np.uint8)
    edge = round(d.border_mm / TEXEL_MM)
    if edge:
        for band in (np.s_[:edge], np.s_[-edge:], np.s_[:, :edge], np.s_[:, -edge:]):
            texture[band] = ink
    for cell in layout(plate):
        mask = glyph_mask(
            cell.character, d.character_height_mm, d.character_width_mm, d.stroke_mm, TEXEL_MM
        )
        top, left = round(cell.top_m * 1000 / TEXEL_MM), round(cell.left_m * 1000 / TEXEL_MM)
        area = texture[top : top + mask.shape[0], left : left + mask.shape[1]]
        area[mask] = ink
    return texture


def plate_card(plate: Plate, background: int, ink: int, group: int) -> Card:
    """The plate as a card; it stands flat on its vehicle and casts no shadow of its own."""
    d = plate_design(plate.design)
    return upright_card(
        plate.name,
        np.asarray(plate.position_m),
        d.width_mm / 1000.0,
        d.height_mm / 1000.0,
        plate_texture(plate, background, ink),
        facing_deg=plate.facing_deg,
        tilt_deg=plate.tilt_deg,
        group=group,
        casts_shadow=False,
    )


def cell_corners_m(card: Card, cell: Cell) -> FloatArray:
    """World corners (4, 3) of a cell: upper left, upper right, lower right, lower left [m]."""
    x0, y0 = cell.left_m, cell.top_m
    x1, y1 = x0 + cell.width_m, y0 + cell.height_m
    return np.stack([card.point_m(*p) for p in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))])
