from __future__ import annotations

import numpy as np
import pytest
import scipy.ndimage

from simulator.errors import FileFormatError
from simulator.scene.model import Plate
from simulator.scene.targets.glyphs import ALPHABET, glyph_mask
from simulator.scene.targets.plate import (
    TEXEL_MM,
    cell_corners_m,
    design_names,
    layout,
    plate_card,
    plate_design,
    plate_texture,
)

NARROW = set("I1J74")
"""Characters that need not fill their cell from side to side."""


def plate(text: str = "A1B2 X3Y", **more) -> Plate:
    return Plate.model_validate(
        {"kind": "plate", "name": "plate", "text": text, "position_m": [0.0, 18.0, 1.0], **more}
    )


def extent(mask) -> tuple[int, int]:
    """Rows and columns from the first to the last ink."""
    rows, columns = np.nonzero(mask.any(axis=1))[0], np.nonzero(mask.any(axis=0))[0]
    return int(rows[-1] - rows[0] + 1), int(columns[-1] - columns[0] + 1)


@pytest.mark.invariant
@pytest.mark.parametrize("character", ALPHABET)
def test_ink_fills_the_height_and_width_asked_for(character):
    mask = glyph_mask(character, 75.0, 46.0, 10.5, 0.5)
    assert mask.shape == (150, 92)
    rows, columns = extent(mask)
    assert rows == pytest.approx(150, abs=2)  # 1 mm of 75
    if character not in NARROW:
        assert columns == pytest.approx(92, abs=6)  # 3 mm of 46


@pytest.mark.by_hand
@pytest.mark.parametrize(("stroke_mm", "height_mm", "width_mm"), [(10.5, 75, 46), (14.0, 79, 50)])
def test_stroke_width(stroke_mm, height_mm, width_mm):
    """Straight strokes measured across: the I and T upright, the L foot, the H bar."""
    texel = 0.5

    def run(line) -> float:
        return float(np.count_nonzero(line)) * texel

    def mask(character):
        return glyph_mask(character, height_mm, width_mm, stroke_mm, texel)

    rows, columns = mask("I").shape
    assert run(mask("I")[rows // 2]) == pytest.approx(stroke_mm, abs=texel)
    assert run(mask("T")[3 * rows // 4]) == pytest.approx(stroke_mm, abs=texel)
    assert run(mask("L")[:, 3 * columns // 4]) == pytest.approx(stroke_mm, abs=texel)
    assert run(mask("H")[:, columns // 2]) == pytest.approx(stroke_mm, abs=texel)
    assert run(mask("H")[rows // 4]) == pytest.approx(2 * stroke_mm, abs=2 * texel)


@pytest.mark.invariant
@pytest.mark.parametrize("character", ALPHABET)
def test_strokes_are_even(character):
    # from the middle of the ink to its edge is half a stroke: where strokes meet it stays below a
    # whole one, and nearly nothing is thinner than four fifths
    mask = np.pad(glyph_mask(character, 75.0, 46.0, 10.5, 0.5), 4)
    depth = scipy.ndimage.distance_transform_edt(mask) * 0.5
    assert 5.0 <= depth.max() < 10.5
    opened = scipy.ndimage.binary_opening(mask, _disc(8.5))  # 8.5 texels: 4.25 mm of the 5.25
    assert opened.sum() > 0.97 * mask.sum()


def _disc(radius: float):
    n = int(radius) + 1
    y, x = np.mgrid[-n : n + 1, -n : n + 1]
    return x * x + y * y <= radius * radius


@pytest.mark.invariant
def test_characters_can_be_told_apart():
    # at least a tenth of the ink differs for every pair but O and 0, which are told by their place
    masks = {c: glyph_mask(c, 75.0, 46.0, 10.5, 0.5) for c in ALPHABET}
    for i, a in enumerate(ALPHABET):
        for b in ALPHABET[i + 1 :]:
            different = np.count_nonzero(masks[a] ^ masks[b])
            if {a, b} != {"O", "0"}:
                assert different > 0.1 * masks[a].sum(), (a, b)


@pytest.mark.invariant
def test_no_such_character():
    with pytest.raises(KeyError):
        glyph_mask("ß", 75.0, 46.0, 10.5, 0.5)


@pytest.mark.by_hand
def test_layout():
    # AB CD on 520 x 110: cells of 46, gaps of 9, group gap 34: 4 x 46 + 2 x 9 + 34 = 236 mm, so the
    # first cell begins at (520 - 236)/2 = 142 mm; then 197, 277, 332; top at (110 - 75)/2 = 17.5
    cells = layout(plate("AB CD"))
    assert [c.character for c in cells] == list("ABCD")
    assert [c.left_m * 1000 for c in cells] == pytest.approx([142.0, 197.0, 277.0, 332.0])
    assert all(c.top_m * 1000 == pytest.approx(17.5) for c in cells)
    assert all((c.width_m, c.height_m) == pytest.approx((0.046, 0.075)) for c in cells)


@pytest.mark.invariant
@pytest.mark.parametrize("text", ["A", "A1B2", "A B C", "A1B2 X3Y", " AB", "AB ", " AB CD "])
def test_layout_is_centred(text):
    cells = layout(plate(text))
    left = cells[0].left_m
    right = cells[-1].left_m + cells[-1].width_m
    assert left + right == pytest.approx(0.52)


@pytest.mark.invariant
@pytest.mark.parametrize("design", design_names())
def test_ink_of_the_texture_lies_in_the_cells(design):
    which = plate("AB 12", design=design)
    d = plate_design(design)
    texture = plate_texture(which, 3, 7, 3)
    assert texture.shape == (round(d.height_mm / TEXEL_MM), round(d.width_mm / TEXEL_MM))
    inner = texture.copy()
    edge = round(d.border_mm / TEXEL_MM)
    if edge:
        assert np.all(texture[:edge] == 7) and np.all(texture[:, -edge:] == 7)
        inner[:edge] = inner[-edge:] = inner[:, :edge] = inner[:, -edge:] = 3
    for cell in layout(which):
        top, left = round(cell.top_m * 1000 / TEXEL_MM), round(cell.left_m * 1000 / TEXEL_MM)
        area = np.s_[
            top : top + round(cell.height_m * 1000 / TEXEL_MM),
            left : left + round(cell.width_m * 1000 / TEXEL_MM),
        ]
        assert np.any(inner[area] == 7)
        inner[area] = 3
    assert np.all(inner == 3)


TWO_ROWS = [d for d in design_names() if "two-row" in d]


@pytest.mark.by_hand
def test_layout_in_two_rows():
    # 340 x 220, border 3, band 45: from 48 to 337 mm. AB: 46 + 9 + 46 = 101, so it begins at
    # 48 + (289 - 101)/2 = 142; C at 48 + (289 - 46)/2 = 169.5. Height 2 x 75 + 26 = 176: rows at
    # (220 - 176)/2 = 22 and 22 + 75 + 26 = 123
    cells = layout(plate("AB/C", design="dark-on-white-340x220-two-row"))
    assert [c.character for c in cells] == list("ABC")
    assert [c.left_m * 1000 for c in cells] == pytest.approx([142.0, 197.0, 169.5])
    assert [c.top_m * 1000 for c in cells] == pytest.approx([22.0, 22.0, 123.0])


@pytest.mark.invariant
@pytest.mark.parametrize("design", TWO_ROWS)
def test_ways_to_write_two_rows(design):
    rows = layout(plate("AB/12", design=design))
    assert rows == layout(plate("AB 12", design=design))
    assert rows == layout(plate("AB\n12", design=design))
    assert len({c.top_m for c in rows}) == 2
    d = plate_design(design)
    for c in rows:
        assert c.left_m >= 0.0 and c.top_m >= 0.0
        assert (c.left_m + c.width_m) * 1000 <= d.width_mm
        assert (c.top_m + c.height_m) * 1000 <= d.height_mm


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("text", "design"),
    [("AB/12", "dark-on-white-520x110"), ("A/B/C", "dark-on-white-340x220-two-row")],
)
def test_too_many_rows(text, design):
    with pytest.raises(FileFormatError, match="more rows") as caught:
        layout(plate(text, design=design))
    assert caught.value.key == "target.plate.text"


@pytest.mark.invariant
def test_band_keeps_clear_of_characters_and_corners():
    which = plate("A1B2 X3Y", design="dark-on-white-520x110-band")
    texture = plate_texture(which, 3, 7, 5)
    columns = np.flatnonzero((texture == 5).any(axis=0)) * TEXEL_MM
    assert columns.min() == pytest.approx(5.0)
    assert columns.max() < 48.0 < layout(which)[0].left_m * 1000
    assert texture[8, 8] == 3  # the rim of background around the band


@pytest.mark.invariant
def test_text_too_long():
    with pytest.raises(FileFormatError, match="does not fit") as caught:
        layout(plate("ABCDEFGHJKLM"))
    assert caught.value.key == "target.plate.text"
    assert "514 mm" in caught.value.allowed


@pytest.mark.invariant
@pytest.mark.parametrize(("text", "hint"), [("a1b2", "A1B2"), ("AB-1", "-"), ("   ", "characters")])
def test_letters_that_lack(text, hint):
    with pytest.raises(FileFormatError, match="lacks a character") as caught:
        layout(plate(text))
    assert caught.value.key == "target.plate.text"
    assert hint in caught.value.fix


@pytest.mark.invariant
def test_unknown_design():
    with pytest.raises(FileFormatError, match="no such plate design"):
        plate_design("purple-on-green")


@pytest.mark.by_hand
def test_cell_corners():
    which = plate("AB CD", facing_deg=90.0)
    card = plate_card(which, 0, 1, 0)
    corners = cell_corners_m(card, layout(which)[0])
    # facing right: its left edge is nearest to the camera's -y side, top edge at +.055
    assert corners[:, 0] == pytest.approx([0.0] * 4, abs=1e-9)
    assert corners[0] == pytest.approx([0.0, 18.0 - 0.26 + 0.142, 1.055 - 0.0175])
    assert corners[2] - corners[0] == pytest.approx([0.0, 0.046, -0.075])
