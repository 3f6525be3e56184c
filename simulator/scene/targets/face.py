"""A head at life size, drawn by us: invented people, many of them by number.

The relief of the head (a half ellipsoid with brow, sockets, nose, lips, cheeks and chin) is a
height field; its shade under light from above and ahead is drawn into the flat card by a row of
skin materials, the same skin times `SKIN_SHADES`. Sizes follow usual adult heads (assumed): 0.24 m
from chin to crown, 0.15 to 0.16 m wide.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.scene.targets.head import (
    CARD_ABOVE_M,
    CARD_BELOW_M,
    CARD_HEIGHT_M,
    CARD_WIDTH_M,
    CLOTH_SHADES,
    HAIR_SHADES,
    HEAD_M,
    LIP_SHADES,
    SKIN_SHADES,
    STYLES,
    TEXEL_M,
    Canvas,
    DrawnHead,
    FaceMaterials,
    Look,
    Mask,
    level_of,
    look_of,
    mouth_y,
)
from simulator.scene.targets.head_cover import (
    draw_beard,
    draw_cap,
    draw_glasses,
    draw_hair,
    draw_hood,
    strands,
)
from simulator.units import FloatArray

__all__ = [
    "CARD_ABOVE_M",
    "CARD_BELOW_M",
    "CARD_HEIGHT_M",
    "CARD_WIDTH_M",
    "CLOTH_SHADES",
    "HAIR_SHADES",
    "HEAD_M",
    "LIP_SHADES",
    "SKIN_SHADES",
    "STYLES",
    "DrawnHead",
    "FaceMaterials",
    "Look",
    "face_texture",
    "head_texture",
    "look_of",
]


def _outline(c: Canvas) -> Mask:
    w, jaw = c.look.half_width, c.look.jaw
    side = [(0.40, 0.006), (0.72, 0.026), (0.92, 0.058), (1.0, 0.098), (0.985, 0.135),
            (0.90 + jaw / 2, 0.172), (0.76 + jaw, 0.202), (0.50 + jaw, 0.228)]  # fmt: skip
    right = [(w * s, y) for s, y in side]
    left = [(-px, y) for px, y in reversed(right)]
    return c.blob([(0.0, 0.0), *right, (0.0, HEAD_M), *left])


def _relief(c: Canvas, head: Mask) -> FloatArray:
    """Height of the face over the card [m]."""
    k = c.look
    wide_m = head.sum(axis=1, keepdims=True) * TEXEL_M / 2.0
    # as a smooth curve: the mask counts whole texels
    half = np.maximum(cv2.GaussianBlur(wide_m, (1, 41), 0.0, sigmaY=6.0), 1e-3)
    round_x = np.sqrt(np.clip(1.0 - (c.x / half / 1.02) ** 2, 0.0, 1.0))
    round_y = np.sqrt(np.clip(1.0 - ((c.y - 0.118) / 0.15) ** 2, 0.0, 1.0))
    h = 0.085 * round_x**0.9 * round_y
    nose_top, tip = k.eye_y - 0.004, k.eye_y - 0.004 + k.nose_length
    along = np.clip((c.y - nose_top) / (tip - nose_top), 0.0, 1.0)
    wide = 0.0065 + 0.006 * along
    bridge = np.exp(-((c.x / wide) ** 2)) * (0.006 + 0.016 * along**1.3)
    end = 1.0 / (1.0 + np.exp((c.y - tip) / 0.0016)) / (1.0 + np.exp(-(c.y - nose_top) / 0.006))
    h = h + bridge * end
    h = h + 0.007 * c.twin(k.nose_half * 0.72, tip - 0.006, 0.0065, 0.0065)
    h = h + 0.006 * c.bump(0.0, tip - 0.006, 0.011, 0.008)
    h = h - 0.0085 * c.twin(k.eye_x, k.eye_y, 0.020, 0.0125)
    h = h + 0.0045 * c.twin(k.eye_x, k.eye_y + 0.0005, 0.0115, 0.008)
    h = h + 0.005 * c.twin(k.eye_x + 0.002, k.eye_y - k.brow_lift, 0.026, 0.008)
    h = h + 0.006 * c.twin(0.047, k.eye_y + 0.030, 0.020, 0.020)
    h = h - 0.0035 * c.twin(k.mouth_half + 0.010, tip + 0.012, 0.006, 0.020)
    h = h + 0.006 * c.bump(0.0, mouth_y(k), k.mouth_half * 1.2, 0.016)
    h = h - 0.005 * c.bump(0.0, mouth_y(k) + 0.0165, 0.020, 0.006)
    h = h + 0.007 * c.bump(0.0, 0.222, 0.020, 0.013)
    return np.asarray(h - 0.0015 * c.bump(0.0, tip + 0.009, 0.003, 0.008))


def _shade(relief: FloatArray) -> FloatArray:
    """Light from above and ahead, half of it from all around, on a relief; about 1 at the brow."""
    dy, dx = np.gradient(cv2.GaussianBlur(relief, (0, 0), 1.6), TEXEL_M)
    length = np.sqrt(1.0 + dx * dx + dy * dy)
    # the normal is (-dx, -dy (down), 1)/length; light from (0.12, up 0.55, ahead 0.83)
    direct = np.clip((-0.12 * dx + 0.55 * dy + 0.83) / length, 0.0, None)
    around = 0.5 + 0.5 / length
    return np.asarray(0.62 * direct / 0.95 + 0.38 * around)


def _behind(c: Canvas, m: FaceMaterials, collar: bool) -> None:
    """Neck, shoulders of cloth, ears, hair that falls behind."""
    k = c.look
    width = k.half_width * (0.66 + 0.5 * max(k.jaw, 0.0))
    if k.style == "long":
        fall = c.blob([(-0.05, 0.02), (0.05, 0.02), (0.092, 0.10), (0.094, 0.20), (0.10, 0.285),
                       (0.06, 0.30), (-0.06, 0.30), (-0.10, 0.285), (-0.094, 0.20),
                       (-0.092, 0.10)])  # fmt: skip
        c.paint(fall, m.hair, strands(c) * 0.7)
    flare = width * (1.0 + (0.9 if collar else 0.25) * np.clip((c.y - 0.262) / 0.05, 0.0, 1.0) ** 2)
    neck = (np.abs(c.x) < flare) & (c.y > 0.18) & (collar | (c.y < 0.292 - 6.0 * c.x**2))
    round_x = np.sqrt(np.clip(1.0 - (c.x / flare / 1.05) ** 2, 0.0, 1.0))
    under = 0.46 + 0.36 * np.clip((c.y - 0.238) / 0.05, 0.0, 1.0)
    cords = 0.07 * c.twin(0.020, 0.29, 0.007, 0.03)
    c.paint(neck, m.skin, level_of(under * (0.50 + 0.50 * round_x) + cords))
    if collar:
        away = np.abs(c.x)
        neckline = 0.304 - 2.4 * np.clip(away - 0.042, 0.0, 0.018)
        bust = c.y > neckline + 0.30 * np.clip(away - 0.06, 0.0, 1.0)
        c.paint(bust, m.cloth, level_of(0.98 - np.abs(c.x) * 2.4, CLOTH_SHADES))
    ears = c.blob([(k.half_width * 0.97, 0.108), (k.half_width + 0.009, 0.104),
                   (k.half_width + 0.012, 0.118), (k.half_width + 0.008, 0.140),
                   (k.half_width * 0.97, 0.160)], mirrored=True)  # fmt: skip
    inner = c.twin(k.half_width + 0.005, 0.126, 0.004, 0.013)
    c.paint(ears, m.skin, level_of(0.80 - 0.28 * inner))


def _eyes(c: Canvas, m: FaceMaterials) -> None:
    k = c.look
    for side in (-1.0, 1.0):
        u = (c.x * side - k.eye_x) / k.eye_half
        arch = np.clip(1.0 - u * u, 0.0, 1.0)
        upper = k.eye_y - k.eye_open * 1.15 * arch**0.62 - 0.0012 * u
        lower = k.eye_y + k.eye_open * 0.85 * arch**0.85 - 0.0012 * u
        inside = (np.abs(u) < 1.0) & (c.y > upper) & (c.y < lower)
        c.texture[inside] = m.white
        iris_y = k.eye_y - 0.0006
        far = np.hypot(c.x - side * k.eye_x, c.y - iris_y)
        c.texture[inside & (far < 0.0059)] = m.iris
        c.texture[inside & (far < 0.0059) & (far > 0.0051)] = m.dark
        c.texture[inside & (far < 0.0024)] = m.dark
        glint = np.hypot(c.x - side * k.eye_x - 0.0016, c.y - iris_y + 0.0020)
        c.texture[inside & (glint < 0.0010)] = m.white
        lid = (np.abs(u) < 1.06) & (c.y > upper - 0.0016) & (c.y < upper + 0.0006)
        c.texture[lid] = m.dark
        crease = (np.abs(u) < 0.95) & (np.abs(c.y - upper + 0.0052) < 0.0006)
        c.texture[crease] = m.skin[3]
        under = (np.abs(u) < 0.9) & (np.abs(c.y - lower - 0.0005) < 0.0005)
        c.texture[under] = m.skin[4]
        _brow(c, m, side)


def _brow(c: Canvas, m: FaceMaterials, side: float) -> None:
    k = c.look
    u = (c.x * side - k.eye_x) / (k.eye_half * 1.45)
    middle = k.eye_y - k.brow_lift - 0.0035 * (1.0 - (u - 0.25) ** 2) - k.brow_tilt * 0.012 * u
    thick = k.brow_thick * np.clip(1.0 - 0.55 * np.clip(u, 0.0, 1.0), 0.0, 1.0)
    thick = thick * np.clip((1.05 - np.abs(u)) * 3.0, 0.0, 1.0)
    ragged = thick * (1.0 + 0.25 * np.sin(c.x * 4200.0 + c.y * 900.0))
    mask = (np.abs(u) < 1.05) & (np.abs(c.y - middle) < ragged)
    c.paint(mask, m.hair, np.full(c.x.shape, 0.3))


def _nose(c: Canvas, m: FaceMaterials) -> None:
    k = c.look
    tip = k.eye_y - 0.004 + k.nose_length
    holes = np.minimum(
        np.hypot((c.x - k.nose_half * 0.50) / 0.0046, (c.y - tip) / 0.0020),
        np.hypot((c.x + k.nose_half * 0.50) / 0.0046, (c.y - tip) / 0.0020),
    )
    c.texture[holes < 1.25] = m.skin[2]
    c.texture[holes < 0.85] = m.dark
    for side in (-1.0, 1.0):
        u, v = c.x * side - k.nose_half, c.y - tip + 0.006
        ring = np.hypot(u / 0.0040, v / 0.0072)
        c.texture[(np.abs(ring - 1.0) < 0.16) & (u > 0.0008)] = m.skin[4]


def _mouth(c: Canvas, m: FaceMaterials) -> None:
    k = c.look
    y, w, full = mouth_y(k), k.mouth_half, k.lip_full
    u = c.x / w
    arch = np.clip(1.0 - u * u, 0.0, 1.0)
    line = y - k.mouth_bend * (u * u) + 0.0009 * np.cos(3.0 * np.pi * u) * arch
    bow = 1.0 - 0.30 * np.exp(-((u / 0.14) ** 2))
    upper = line - 0.82 * full * arch**0.75 * bow
    lower = line + full * arch**0.62
    inside = np.abs(u) < 1.0
    above = inside & (c.y > upper) & (c.y <= line)
    below = inside & (c.y > line) & (c.y < lower)
    depth = (c.y - line) / np.maximum(lower - line, 1e-5)
    c.paint(above, m.lips, np.full(u.shape, 0.4))
    c.paint(below, m.lips, np.where((depth > 0.2) & (depth < 0.7), 0.99, 0.6))
    c.texture[(np.abs(u) < 1.06) & (np.abs(c.y - line) < 0.0009)] = m.skin[0]


def face_texture(
    look: Look,
    m: FaceMaterials,
    *,
    glasses: bool = False,
    headwear: str = "none",
    back: bool = False,
    collar: bool = True,
) -> NDArray[np.uint8]:
    """The head as material indices, `TEXEL_M` a texel, clear around it.

    Parameters
    ----------
    back
        Seen from behind: hair or headwear, no features.
    collar
        Draw the shoulders of a shirt; a person's body has its own.
    """
    c = Canvas(look)
    head = _outline(c)
    if headwear == "hood":
        w = look.half_width
        inner = c.blob([(0.0, 0.0), (w * 1.2, 0.06), (w * 1.3, 0.2), (w * 1.2, 0.3),
                        (-w * 1.2, 0.3), (-w * 1.3, 0.2), (-w * 1.2, 0.06)])  # fmt: skip
        c.texture[inner] = m.cloth[0]
    _behind(c, m, collar)
    shade = _shade(_relief(c, head))
    if headwear == "cap":
        shade = shade * (1.0 - 0.45 / (1.0 + np.exp((c.y - 0.105) / 0.006)))
    elif headwear == "hood":
        edge = np.clip((np.abs(c.x) / look.half_width - 0.55) / 0.45, 0.0, 1.0)
        shade = shade * (1.0 - 0.45 * edge - 0.4 / (1.0 + np.exp((c.y - 0.055) / 0.008)))
    c.paint(head, m.skin, level_of(shade))
    if back:
        nape = head & (c.y < 0.20)
        if look.style != "bald":
            c.paint(nape, m.hair, strands(c))
            draw_hair(c, m, head)
            c.paint(nape, m.hair, strands(c))
    else:
        _eyes(c, m)
        _nose(c, m)
        _mouth(c, m)
        draw_beard(c, m, head)
        draw_hair(c, m, head)
        if glasses:
            draw_glasses(c, m)
    if headwear == "cap":
        draw_cap(c, m)
    elif headwear == "hood":
        draw_hood(c, m)
        if back:
            c.paint(head, m.cloth, level_of(0.95 - 60 * c.x**2, CLOTH_SHADES))
    return c.texture


def head_texture(drawn: DrawnHead) -> NDArray[np.uint8]:
    """The head as material indices of the world it is drawn for; see `face_texture`."""
    return face_texture(
        drawn.look,
        drawn.materials,
        glasses=drawn.glasses,
        headwear=drawn.headwear,
        back=drawn.back,
        collar=drawn.collar,
    )
