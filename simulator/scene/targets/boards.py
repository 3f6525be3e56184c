"""Signs and parcels: boards with text in our own capitals."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.errors import FileFormatError
from simulator.scene.geometry import Card, facing_normal, upright_card
from simulator.scene.model_targets import Parcel, Sign
from simulator.scene.targets.glyphs import ALPHABET, SIGN_ALPHABET
from simulator.scene.targets.lettering import Cell, PlateDesign, draw_cells, lay_out, text_rows
from simulator.scene.targets.sketch import Sketch

WIDTH_SHARE, STROKE_SHARE, GAP_SHARE, SPACE_SHARE = 0.62, 0.14, 0.16, 0.55
"""Width, stroke, gap and space between words over the height of a character (our own lettering)."""
ROW_GAP_SHARE, MARGIN_SHARE, BORDER_SHARE = 0.55, 0.7, 0.12
TEXELS_A_STROKE = 8


def _rows(text: str, key: str) -> list[str]:
    rows = text_rows(text.upper())
    lacking = sorted(set("".join(rows)) - set(SIGN_ALPHABET) - {" "})
    if lacking or not any(rows):
        raise FileFormatError(
            "There is no drawing of a character of this text.",
            key=key,
            given=text,
            allowed=f"{SIGN_ALPHABET}, the space, and / for a new line",
            fix=f"leave out {' '.join(lacking)}" if lacking else "give some characters",
        )
    return rows


def likely_characters(rows: list[str]) -> str:
    """Characters that whoever reads a text like this one reckons with.

    Letters and digits, and the other marks that it uses itself; accented letters all or none, as a
    text that bears one is in a language that has them.

    Parameters
    ----------
    rows
        The text, line by line, in capitals.
    """
    used = set("".join(rows))
    accented = {c for c in SIGN_ALPHABET if c.isalpha() and not c.isascii()}
    more = used | accented if used & accented else used
    return "".join(c for c in SIGN_ALPHABET if c in ALPHABET or c in more)


def _design(
    name: str,
    rows: list[str],
    height_mm: float,
    *,
    width_mm: float | None,
    board_height_mm: float | None,
    border_mm: float,
    background: str,
    ink: str,
    sheeting: str,
) -> PlateDesign:
    d = PlateDesign(
        name=name,
        width_mm=0.0,
        height_mm=0.0,
        character_height_mm=height_mm,
        character_width_mm=WIDTH_SHARE * height_mm,
        stroke_mm=STROKE_SHARE * height_mm,
        gap_mm=GAP_SHARE * height_mm,
        group_gap_mm=SPACE_SHARE * height_mm,
        border_mm=border_mm,
        background=background,
        ink=ink,
        sheeting=sheeting,
        origin="our own lettering and proportions",
        alphabet=likely_characters(rows),
        rows=len(rows),
        row_gap_mm=ROW_GAP_SHARE * height_mm,
    )
    margin = 2.0 * (MARGIN_SHARE * height_mm + border_mm)
    width = width_mm or max(d.row_width_mm(row) for row in rows) + margin
    height = board_height_mm or d.text_height_mm(len(rows)) + margin
    return PlateDesign(**{**vars(d), "width_mm": width, "height_mm": height})


def sign_design(sign: Sign) -> PlateDesign:
    """Measures of a sign, as those of a plate, so that it can be read the same way.

    Raises
    ------
    FileFormatError
        If a character cannot be drawn.
    """
    height = sign.character_height_m * 1000.0
    return _design(
        "sign",
        _rows(sign.text, f"target.{sign.name}.text"),
        height,
        width_mm=None if sign.width_m is None else sign.width_m * 1000.0,
        board_height_mm=None if sign.height_m is None else sign.height_m * 1000.0,
        border_mm=BORDER_SHARE * height if sign.border else 0.0,
        background=sign.background,
        ink=sign.ink,
        sheeting=sign.sheeting or "none",
    )


def sign_layout(sign: Sign) -> list[Cell]:
    """Places of the characters of a sign, each row centred.

    Raises
    ------
    FileFormatError
        If a character cannot be drawn or the text does not fit on the given board.
    """
    d, key = sign_design(sign), f"target.{sign.name}.text"
    _refuse_tall(d, key, sign.text)
    return lay_out(d, _rows(sign.text, key), key, sign.text, "board")


def _refuse_tall(d: PlateDesign, key: str, text: str) -> None:
    needed, room = d.text_height_mm(d.rows), d.height_mm - 2.0 * d.border_mm
    if needed > room:
        raise FileFormatError(
            "The text does not fit on the board.",
            key=key,
            given=text,
            allowed=f"rows up to {room:.0f} mm high in all, these take {needed:.0f} mm",
            fix="give fewer lines, smaller characters or a higher board",
        )


def texel_mm(d: PlateDesign) -> float:
    """Size of a texel of a board: a fraction of a stroke."""
    return d.stroke_mm / TEXELS_A_STROKE


def sign_card(sign: Sign, background: int, ink: int, group: int) -> Card:
    """A sign as a card; its border is of the ink."""
    d = sign_design(sign)
    texel = texel_mm(d)
    shape = (round(d.height_mm / texel), round(d.width_mm / texel))
    texture = np.full(shape, background, dtype=np.uint8)
    edge = round(d.border_mm / 2.0 / texel)
    if edge:
        # a rim of background, then a line as wide as the rim
        line = np.s_[edge : 2 * edge]
        far = np.s_[-2 * edge : -edge]
        texture[line, edge:-edge] = ink
        texture[far, edge:-edge] = ink
        texture[edge:-edge, line] = ink
        texture[edge:-edge, far] = ink
    draw_cells(texture, sign_layout(sign), d, ink, texel)
    return upright_card(
        sign.name,
        np.asarray(sign.position_m),
        d.width_mm / 1000.0,
        d.height_mm / 1000.0,
        texture,
        facing_deg=sign.facing_deg,
        tilt_deg=sign.tilt_deg,
        group=group,
    )


def label_design(parcel: Parcel) -> PlateDesign:
    """Measures of a parcel's label; its size follows the text.

    Raises
    ------
    FileFormatError
        If a character cannot be drawn.
    """
    height = parcel.character_height_m * 1000.0
    return _design(
        "label",
        _rows(parcel.label, f"target.{parcel.name}.label"),
        height,
        width_mm=None,
        board_height_mm=None,
        border_mm=0.0,
        background="paper-white",
        ink=parcel.label_ink,
        sheeting="none",
    )


def label_corner_m(parcel: Parcel) -> tuple[float, float]:
    """Upper left corner of the label on the front card, across and down [m]."""
    d = label_design(parcel)
    return (
        (parcel.width_m - d.width_mm / 1000.0) / 2.0,
        (parcel.height_m - d.height_mm / 1000.0) / 2.0,
    )


def label_layout(parcel: Parcel) -> list[Cell]:
    """Places of the label's characters on the front card of the parcel.

    Raises
    ------
    FileFormatError
        If a character cannot be drawn or the label is larger than the front.
    """
    d, key = label_design(parcel), f"target.{parcel.name}.label"
    x, y = label_corner_m(parcel)
    if min(x, y) < 0.0:
        raise FileFormatError(
            "The label does not fit on the parcel.",
            key=key,
            given=parcel.label,
            allowed=f"a label within {parcel.width_m:g} x {parcel.height_m:g} m, this one is"
            f" {d.width_mm / 1e3:.3f} x {d.height_mm / 1e3:.3f} m",
            fix="shorten it or give smaller characters (character_height_m)",
        )
    cells = lay_out(d, _rows(parcel.label, key), key, parcel.label, "label")
    return [
        Cell(c.character, c.left_m + x, c.top_m + y, c.width_m, c.height_m) for c in cells
    ]  # one list in the front card's own measures


def parcel_cards(
    parcel: Parcel, box: int, shade: int, tape: int, paper: int, ink: int, group: int
) -> list[Card]:
    """Front, top and two sides of a parcel; the front first."""
    w, h, depth = parcel.width_m, parcel.height_m, parcel.depth_m
    texel = texel_mm(label_design(parcel)) / 1000.0 if parcel.label else min(0.002, h / 100.0)
    s = Sketch(w, h, texel_m=texel, fill=box)
    s.box(-w / 2, 0.0, w / 2, 2 * texel, shade)
    s.box(-0.03, h - 0.12 * h, 0.03, h, tape)
    if parcel.label:
        d = label_design(parcel)
        cells = label_layout(parcel)
        half_w, half_h = d.width_mm / 2000.0, d.height_mm / 2000.0
        s.box(-half_w, h / 2 - half_h, half_w, h / 2 + half_h, paper)
        draw_cells(s.texture, cells, d, ink, texel * 1000.0)
    normal = facing_normal(parcel.facing_deg)
    phi = np.radians(parcel.facing_deg)
    across = np.array([np.cos(phi), np.sin(phi), 0.0])
    foot = np.asarray(parcel.position_m)
    up = np.array([0.0, 0.0, 1.0])
    front = upright_card(
        parcel.name,
        foot + up * (h / 2.0),
        w,
        h,
        s.texture,
        facing_deg=parcel.facing_deg,
        group=group,
    )
    top = Card(
        f"{parcel.name} top",
        foot + up * h - across * (w / 2.0) - normal * depth,
        across,
        normal,
        w,
        depth,
        _taped(w, box, tape),
        group,
    )
    left = foot + up * h - across * (w / 2.0)
    right = foot + up * h + across * (w / 2.0)
    plain: NDArray[np.uint8] = np.full((1, 1), box, np.uint8)
    sides = [
        Card(f"{parcel.name} left", left - normal * depth, normal, -up, depth, h, plain, group),
        Card(f"{parcel.name} right", right, -normal, -up, depth, h, plain, group),
    ]
    return [front, top, *sides]


def _taped(width_m: float, box: int, tape: int) -> NDArray[np.uint8]:
    columns = max(3, round(width_m / 0.005))
    texture = np.full((1, columns), box, np.uint8)
    middle = (np.arange(columns) + 0.5) / columns * width_m - width_m / 2.0
    texture[:, np.abs(middle) < 0.03] = tape
    return texture
