"""Text on plates, signs and labels: measures of a lettering, and where each character stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from simulator.errors import FileFormatError
from simulator.scene.geometry import Card
from simulator.scene.targets.glyphs import ALPHABET, glyph_mask
from simulator.units import FloatArray

LOOKALIKES = (frozenset("O0"), frozenset("I1"))
"""Characters told apart by the place they stand in, not by their shape: counted as one."""


@dataclass(frozen=True)
class PlateDesign:
    """Measures [mm] and materials of a board with characters: a plate, a sign, a label.

    `rows` is the greatest number of rows; `band_mm` the width of a coloured band at the left, of
    material `band`.
    """

    BAND_RIM_MM: ClassVar[float] = 2.0

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
    rows: int = 1
    row_gap_mm: float = 0.0
    band_mm: float = 0.0
    band: str | None = None

    def row_width_mm(self, row: str) -> float:
        """Width of a row of text from ink to ink [mm]; a space parts groups."""
        count = len(row.replace(" ", ""))
        gaps = (count - 1) * self.gap_mm + row.count(" ") * (self.group_gap_mm - self.gap_mm)
        return count * self.character_width_mm + gaps

    def text_height_mm(self, rows: int) -> float:
        """Height of so many rows [mm]."""
        return rows * self.character_height_mm + (rows - 1) * self.row_gap_mm


@dataclass(frozen=True)
class Cell:
    """Place of one character on its board, from the upper left corner [m]."""

    character: str
    left_m: float
    top_m: float
    width_m: float
    height_m: float


def text_rows(text: str) -> list[str]:
    """Rows of a text: parted by "/" or a line break, spaces at their ends taken off."""
    return [row.strip() for row in text.replace("\n", "/").split("/")]


def lay_out(
    d: PlateDesign, rows: Sequence[str], key: str, given: str, board: str = "plate"
) -> list[Cell]:
    """Places of the characters of some rows, spaces left out, centred on the board.

    Raises
    ------
    FileFormatError
        If the text does not fit.
    """
    left_edge = d.border_mm + d.band_mm
    room = d.width_mm - left_edge - d.border_mm
    widest = max(d.row_width_mm(row) for row in rows)
    if widest > room:
        raise FileFormatError(
            f"The text does not fit on the {board}.",
            key=key,
            given=given,
            allowed=f"up to {room:.0f} mm of characters, this takes {widest:.0f} mm",
            fix="shorten the text or choose a wider design",
        )
    height = d.text_height_mm(len(rows))
    cells = []
    for i, row in enumerate(rows):
        x = left_edge + (room - d.row_width_mm(row)) / 2.0
        top = (d.height_mm - height) / 2.0 + i * (d.character_height_mm + d.row_gap_mm)
        for character in row:
            if character == " ":
                x += d.group_gap_mm - d.gap_mm
                continue
            cells.append(
                Cell(
                    character,
                    x / 1000.0,
                    top / 1000.0,
                    d.character_width_mm / 1000.0,
                    d.character_height_mm / 1000.0,
                )
            )
            x += d.character_width_mm + d.gap_mm
    return cells


def draw_cells(
    texture: NDArray[np.uint8],
    cells: Sequence[Cell],
    d: PlateDesign,
    ink: int,
    texel_mm: float,
) -> None:
    """Draw characters into a texture of `texel_mm` a texel, in place."""
    for cell in cells:
        mask = glyph_mask(
            cell.character, d.character_height_mm, d.character_width_mm, d.stroke_mm, texel_mm
        )
        top, left = round(cell.top_m * 1000 / texel_mm), round(cell.left_m * 1000 / texel_mm)
        area = texture[top : top + mask.shape[0], left : left + mask.shape[1]]
        area[mask[: area.shape[0], : area.shape[1]]] = ink


def cell_corners_m(card: Card, cell: Cell) -> FloatArray:
    """World corners (4, 3) of a cell: upper left, upper right, lower right, lower left [m]."""
    x0, y0 = cell.left_m, cell.top_m
    x1, y1 = x0 + cell.width_m, y0 + cell.height_m
    return np.stack([card.point_m(*p) for p in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))])
