"""Other texts on the same board: what a plate, sign or label could as well have said."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene
from simulator.errors import FileFormatError
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.target import JudgedText, find_text, lettering_of, text_of
from simulator.scene.geometry import Card
from simulator.scene.model_targets import Parcel
from simulator.scene.targets.glyphs import glyph_mask
from simulator.scene.targets.lettering import Cell, PlateDesign, draw_cells

SAME_MM = 0.01
"""Boards whose sides differ by less are one size."""


def own_text(target: JudgedText) -> str:
    """The text of a target as its scene gives it."""
    text = text_of(target.entry)
    assert text is not None
    return text


def random_texts(target: JudgedText, count: int, seed: int) -> list[str]:
    """Texts grouped like the target's own, every symbol of its lettering as likely as any other.

    Letters and digits are drawn, look-alikes (O and 0, I and 1) as one symbol; other marks stay.

    Parameters
    ----------
    count
        How many texts.
    seed
        The same seed gives the same texts.
    """
    shapes = design_shapes(target.design)
    usable = [shapes.alphabet[n] for n in shapes.first_letters if shapes.alphabet[n].isalnum()]
    rng = np.random.default_rng([seed, 8713])
    own = own_text(target)
    return [
        "".join(usable[rng.integers(len(usable))] if c.isalnum() else c for c in own)
        for _ in range(count)
    ]


def with_text(
    in_scene: CameraInScene, target: JudgedText, text: str
) -> tuple[CameraInScene, JudgedText]:
    """The same scene with another text on the target's board; nothing else changes.

    Raises
    ------
    FileFormatError
        If the text cannot be written on that board.
    """
    if text == own_text(target):
        return in_scene, target
    key = "label" if isinstance(target.entry, Parcel) else "text"
    entry = target.entry.model_copy(update={key: text})
    design, cells, (left, top) = lettering_of(entry)
    if _differs(design, target.design) or (left, top) != target.board_m[:2]:
        raise FileFormatError(
            "This text needs a board of another size.",
            key=f"target.{entry.name}.{key}",
            given=text,
            allowed=f"a text as long as {own_text(target)!r}",
        )
    card = in_scene.world.cards[target.card_index]
    other = in_scene.with_texture(
        target.card_index, text, lambda: _rewritten(card, target.cells, cells, design)
    )
    return other, find_text(other, entry)


def _differs(a: PlateDesign, b: PlateDesign) -> bool:
    sides = ((a.width_mm, b.width_mm), (a.height_mm, b.height_mm))
    return any(abs(one - other) > SAME_MM for one, other in sides)


def _rewritten(
    card: Card, old: Sequence[Cell], new: Sequence[Cell], design: PlateDesign
) -> NDArray[np.uint8]:
    """The texture of a card with the old characters taken out and new ones drawn."""
    texel_mm = 1000.0 * card.width_m / card.texture.shape[1]
    texture = card.texture.copy()
    ink, paper = _materials(texture, old, design, texel_mm)
    for cell in old:
        area = _area(texture, cell, texel_mm)
        area[_mask(cell, design, texel_mm)[: area.shape[0], : area.shape[1]]] = paper
    draw_cells(texture, new, design, ink, texel_mm)
    return texture


def _materials(
    texture: NDArray[np.uint8], cells: Sequence[Cell], design: PlateDesign, texel_mm: float
) -> tuple[int, int]:
    """Materials of ink and paper, as most of the characters' cells show them."""
    inked, bare = [], []
    for cell in cells:
        area = _area(texture, cell, texel_mm)
        mask = _mask(cell, design, texel_mm)[: area.shape[0], : area.shape[1]]
        inked.append(area[mask])
        bare.append(area[~mask])
    most = (np.bincount(np.concatenate(part)).argmax() for part in (inked, bare))
    ink, paper = (int(m) for m in most)
    return ink, paper


def _mask(cell: Cell, design: PlateDesign, texel_mm: float) -> NDArray[np.bool_]:
    return glyph_mask(
        cell.character, design.character_height_mm, design.character_width_mm, design.stroke_mm,
        texel_mm,
    )  # fmt: skip


def _area(texture: NDArray[np.uint8], cell: Cell, texel_mm: float) -> NDArray[np.uint8]:
    """The part of a texture under a character; a view."""
    top, left = round(cell.top_m * 1000 / texel_mm), round(cell.left_m * 1000 / texel_mm)
    high, wide = round(cell.height_m * 1000 / texel_mm), round(cell.width_m * 1000 / texel_mm)
    return texture[top : top + high, left : left + wide]
