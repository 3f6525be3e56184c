"""Number plates: generic designs with proportions from public regulations.

Sources of the proportions, as they stand in public guides: United Kingdom, regulations of 2001
(characters 79 x 50 mm, stroke 14, gap 11, group gap 33, margin 11; motorcycles 64 x 44, stroke 10,
gap 10, group gap 30); Germany (520 x 110 mm, characters 75 mm high, letters 47.5 mm wide, digits
44.5 mm, narrow 40.5 and 38.5 mm, reduced height 49 mm); United States (12 x 6 inches). Strokes,
gaps and sizes that those do not give are assumed or from memory, and marked so below. The lettering
is our own.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.errors import FileFormatError
from simulator.scene.geometry import Card, upright_card
from simulator.scene.model import Plate
from simulator.scene.targets.glyphs import ALPHABET
from simulator.scene.targets.lettering import (
    LOOKALIKES,
    Cell,
    PlateDesign,
    cell_corners_m,
    draw_cells,
    lay_out,
    text_rows,
)

__all__ = [
    "LOOKALIKES",
    "TEXEL_MM",
    "Cell",
    "PlateDesign",
    "cell_corners_m",
    "design_names",
    "layout",
    "plate_card",
    "plate_design",
    "plate_texture",
]

TEXEL_MM = 0.5
"""Size of a texel of a plate [mm]: a fraction of any stroke."""

WHITE = ("plate-white", "plate-black-ink", "plate-white")
YELLOW = ("plate-yellow", "plate-black-ink", "plate-yellow")
BLUE_BAND = "sign-blue"
_GERMANY = "sizes: Germany; character width: mean of letter and digit; stroke, gaps: assumed"
_KINGDOM = "characters 79 x 50, stroke 14, gap 11, group gap 33: United Kingdom 2001; no border"

_DESIGNS = {
    d.name: d
    for d in (
        PlateDesign(
            "dark-on-white-520x110", 520, 110, 75, 46, 10.5, 9, 34, 3, *WHITE, _GERMANY,
        ),
        PlateDesign(
            "dark-on-yellow-520x110", 520, 110, 75, 46, 10.5, 9, 34, 3, *YELLOW,
            "as dark-on-white-520x110, yellow background as several nations use",
        ),
        PlateDesign(
            "light-on-dark-520x110", 520, 110, 75, 46, 10.5, 9, 34, 3,
            "plate-black-ink", "plate-white", "plate-white",
            "as dark-on-white-520x110 with light characters on dark, assumed",
        ),
        PlateDesign(
            "dark-on-white-520x110-band", 520, 110, 75, 46, 10.5, 9, 34, 3, *WHITE,
            _GERMANY + "; blue band 45 mm wide at the left (from memory), without any mark on it",
            band_mm=45, band=BLUE_BAND,
        ),
        PlateDesign(
            "dark-on-white-520x110-narrow", 520, 110, 75, 39.5, 10, 8, 30, 3, *WHITE,
            "sizes: Germany, narrow lettering: mean of letter 40.5 and digit 38.5; stroke, gaps:"
            " assumed",
        ),
        PlateDesign(
            "dark-on-white-520x111-wide", 520, 111, 79, 50, 14, 11, 33, 0, *WHITE, _KINGDOM,
        ),
        PlateDesign(
            "dark-on-yellow-520x111-wide", 520, 111, 79, 50, 14, 11, 33, 0, *YELLOW,
            _KINGDOM + ", yellow as at the rear",
        ),
        PlateDesign(
            "dark-on-white-305x152", 305, 152, 70, 34, 9, 6, 16, 3, *WHITE,
            "12 x 6 inches: United States; character 2.75 inches (low-grade pages); rest assumed",
        ),
        PlateDesign(
            "light-on-blue-440x140", 440, 140, 90, 45, 10, 12, 34, 3,
            "sign-blue", "plate-white", "plate-white",
            "440 x 140 mm, characters 90 x 45, gap 12, group gap 34: China, from memory; stroke"
            " assumed; all characters latin",
        ),
        PlateDesign(
            "dark-on-white-340x220-two-row", 340, 220, 75, 46, 10.5, 9, 24, 3, *WHITE,
            "340 x 220 mm in two rows: Germany; blue band 45 mm (from memory), row gap assumed",
            rows=2, row_gap_mm=26, band_mm=45, band=BLUE_BAND,
        ),
        PlateDesign(
            "dark-on-white-285x203-two-row", 285, 203, 79, 50, 14, 11, 33, 0, *WHITE,
            _KINGDOM + "; row gap 19 and 285 x 203 mm from memory",
            rows=2, row_gap_mm=19,
        ),
        PlateDesign(
            "dark-on-yellow-229x178-two-row-motorcycle", 229, 178, 64, 44, 10, 10, 30, 0, *YELLOW,
            "characters 64 x 44, stroke 10, gap 10: United Kingdom 2001, motorcycles; row gap 13"
            " and 229 x 178 mm (9 x 7 inches) from memory",
            rows=2, row_gap_mm=13,
        ),
        PlateDesign(
            "dark-on-white-255x130-two-row", 255, 130, 49, 30, 7, 6, 18, 3, *WHITE,
            "reduced height 49 mm: Germany; 255 x 130 mm from memory; width, stroke, gaps assumed",
            rows=2, row_gap_mm=10,
        ),
    )
}  # fmt: skip


def design_names() -> list[str]:
    """Sorted names of the plate designs.

    Returns
    -------
    list of str
        What `plate_design` takes.

    References
    ----------
    Public regulations, see the module's text; `PlateDesign.origin` tells those of each design.

    Examples
    --------
    >>> "dark-on-white-520x110" in design_names()
    True
    """
    return sorted(_DESIGNS)


def plate_design(name: str) -> PlateDesign:
    """The design of that name.

    Parameters
    ----------
    name
        One of `design_names()`.

    Returns
    -------
    PlateDesign
        Sizes of board and characters [mm], materials and alphabet.

    Raises
    ------
    FileFormatError
        If there is none.

    References
    ----------
    Public regulations, see the module's text; `PlateDesign.origin` tells those of the design.

    Examples
    --------
    >>> design = plate_design("dark-on-white-520x110")
    >>> design.width_mm, design.height_mm, design.character_height_mm
    (520, 110, 75)
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


def layout(plate: Plate) -> list[Cell]:
    """Places of the characters of a plate, spaces left out, each row centred on the plate.

    A design of two rows puts what follows "/" (or a line break) on the second row; without one,
    what follows the first space.

    Raises
    ------
    FileFormatError
        If the design lacks a character or the text does not fit.
    """
    d = plate_design(plate.design)
    key = f"target.{plate.name}.text"
    lacking = sorted(set(plate.text) - set(ALPHABET) - set(" /\n"))
    rows = [row for row in text_rows(plate.text) if row]
    if lacking or not rows:
        fix = "leave out or replace " + " ".join(lacking) if lacking else "give some characters"
        if any(c.upper() in ALPHABET for c in lacking):
            fix = f"write it in capitals: {plate.text.upper()!r}"
        raise FileFormatError(
            "The plate design lacks a character of this text.",
            key=key,
            given=plate.text,
            allowed=f"characters of {d.name}: {d.alphabet} and the space",
            fix=fix,
        )
    if d.rows == 2 and len(rows) == 1:
        rows = [part for part in rows[0].split(" ", 1) if part]
    if len(rows) > d.rows:
        raise FileFormatError(
            "The text has more rows than the plate.",
            key=key,
            given=plate.text,
            allowed=f"{d.rows} row{'s' if d.rows > 1 else ''} on {d.name}",
            fix='leave out "/" or choose a design whose name ends with "two-row"',
        )
    return lay_out(d, rows, key, plate.text)


def plate_texture(plate: Plate, background: int, ink: int, band: int = 0) -> NDArray[np.uint8]:
    """Material indices (rows, columns) of a plate at `TEXEL_MM` a texel."""
    d = plate_design(plate.design)
    rows, columns = round(d.height_mm / TEXEL_MM), round(d.width_mm / TEXEL_MM)
    texture = np.full((rows, columns), background, dtype=np.uint8)
    edge = round(d.border_mm / TEXEL_MM)
    if edge:
        for side in (np.s_[:edge], np.s_[-edge:], np.s_[:, :edge], np.s_[:, -edge:]):
            texture[side] = ink
    if d.band is not None:
        # a rim of background stays around the band, as on an embossed plate
        inset = round((d.border_mm + d.BAND_RIM_MM) / TEXEL_MM)
        texture[inset:-inset, inset : round((d.border_mm + d.band_mm) / TEXEL_MM)] = band
    draw_cells(texture, layout(plate), d, ink, TEXEL_MM)
    return texture


def plate_card(plate: Plate, background: int, ink: int, group: int, band: int = 0) -> Card:
    """The plate as a card; it stands flat on its vehicle and casts no shadow of its own."""
    d = plate_design(plate.design)
    return upright_card(
        plate.name,
        np.asarray(plate.position_m),
        d.width_mm / 1000.0,
        d.height_mm / 1000.0,
        plate_texture(plate, background, ink, band),
        facing_deg=plate.facing_deg,
        tilt_deg=plate.tilt_deg,
        group=group,
        casts_shadow=False,
    )
