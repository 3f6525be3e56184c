"""The face of a head, drawn by us: invented people, many of them by number.

Eyes, brows, lips, hair and beard as materials, seen squarely; the relief of the face and its light
are no part of the drawing (`bodies.head`). Sizes follow usual adult heads (assumed): 0.24 m from
chin to crown, 0.15 to 0.16 m wide.
"""

from __future__ import annotations

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
    Canvas,
    DrawnHead,
    FaceMaterials,
    Look,
    Mask,
    look_of,
    mouth_y,
)
from simulator.scene.targets.head_cover import (
    draw_beard,
    draw_hair,
    strands,
)

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
    "look_of",
]


def _outline(c: Canvas) -> Mask:
    w, jaw = c.look.half_width, c.look.jaw
    side = [(0.40, 0.006), (0.72, 0.026), (0.92, 0.058), (1.0, 0.098), (0.985, 0.135),
            (0.90 + jaw / 2, 0.172), (0.76 + jaw, 0.202), (0.50 + jaw, 0.228)]  # fmt: skip
    right = [(w * s, y) for s, y in side]
    left = [(-px, y) for px, y in reversed(right)]
    return c.blob([(0.0, 0.0), *right, (0.0, HEAD_M), *left])


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
        c.texture[crease] = m.skin[1]
        under = (np.abs(u) < 0.9) & (np.abs(c.y - lower - 0.0005) < 0.0005)
        c.texture[under] = m.skin[1]
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
    c.texture[holes < 1.25] = m.skin[0]
    c.texture[holes < 0.85] = m.dark
    for side in (-1.0, 1.0):
        u, v = c.x * side - k.nose_half, c.y - tip + 0.006
        ring = np.hypot(u / 0.0040, v / 0.0072)
        c.texture[(np.abs(ring - 1.0) < 0.16) & (u > 0.0008)] = m.skin[1]


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


def face_texture(look: Look, m: FaceMaterials, *, back: bool = False) -> NDArray[np.uint8]:
    """What the skin of a head shows, as material indices, `TEXEL_M` a texel, clear around it.

    Seen squarely from the front, or from behind: hair and no features. Light is no part of it.
    """
    c = Canvas(look)
    head = _outline(c)
    c.texture[head] = m.skin[-1]
    if back:
        nape = head & (c.y < 0.20)
        if look.style != "bald":
            c.paint(nape, m.hair, strands(c))
        return c.texture
    _eyes(c, m)
    _nose(c, m)
    _mouth(c, m)
    draw_beard(c, m, head)
    draw_hair(c, m, head)
    return c.texture
