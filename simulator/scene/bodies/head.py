"""A head with the relief of a face, hair, and what it wears; drawn by us, nobody in particular.

Axes: the middle of the head's card is the origin, it looks along -y, z up; y of the drawing runs
down from the crown as in `targets.head`. A head is a stack of outlines: half width as `face`
draws it, half an ellipse before and one behind, the relief of brow, sockets, nose, lips, cheeks
and chin added to the front. Light makes the rest: nothing of it is drawn.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from simulator.scene.bodies.parts import ellipsoid, outward, tube
from simulator.scene.geometry import Card, upright_card
from simulator.scene.mesh import DRAWN, Mesh, grid_triangles, joined, of_grid, smooth_normals
from simulator.scene.targets.face import face_texture
from simulator.scene.targets.head import (
    CARD_ABOVE_M,
    CARD_BELOW_M,
    CARD_HEIGHT_M,
    CARD_WIDTH_M,
    HEAD_M,
    DrawnHead,
    FaceMaterials,
    Look,
    mouth_y,
)
from simulator.units import FloatArray

BEHIND_M = 0.05
"""How far the middle of the skull lies behind the card that stands for a head [m]."""
ROWS, FRONT, BACK = 150, 130, 48
"""Outlines of a head, and corners of the front and the back half of each."""
MIDDLE_M = (CARD_BELOW_M - CARD_ABOVE_M) / 2.0 + HEAD_M / 2.0
"""Middle of the card, down from the crown [m]."""
Field = FloatArray


def half_width(look: Look, y: FloatArray) -> FloatArray:
    """Half the width of a head by the way down from the crown [m]."""
    w, jaw = look.half_width, look.jaw
    at = [0.0, 0.006, 0.026, 0.058, 0.098, 0.135, 0.172, 0.202, 0.228, HEAD_M]
    share = [0.0, 0.40, 0.72, 0.92, 1.0, 0.985, 0.90 + jaw / 2, 0.76 + jaw, 0.50 + jaw, 0.20]
    fine = np.linspace(0.0, HEAD_M, 481)
    soft = np.interp(fine, at, share)
    # as a smooth curve, but for the round crown
    round_off = cv2.GaussianBlur(
        soft[:, None], (1, 0), 0.0, sigmaY=14.0, borderType=cv2.BORDER_REPLICATE
    )
    crown = np.sqrt(np.clip(1.0 - (1.0 - fine / 0.085) ** 2, 0.0, 1.0))
    value = np.where(fine < 0.05, np.minimum(crown, 1.0) * 1.02, round_off[:, 0])
    value = cv2.GaussianBlur(
        value[:, None], (1, 0), 0.0, sigmaY=6.0, borderType=cv2.BORDER_REPLICATE
    )[:, 0]
    value[:8] = crown[:8]
    return np.asarray(w * np.interp(y, fine, value))


def features(k: Look, x: Field, y: Field) -> Field:
    """How far the features stand before the ellipse of the skull, by place [m]."""

    def bump(bx: float, by: float, sx: float, sy: float) -> Field:
        return np.asarray(np.exp(-(((x - bx) / sx) ** 2) - ((y - by) / sy) ** 2))

    def twin(bx: float, by: float, sx: float, sy: float) -> Field:
        return bump(bx, by, sx, sy) + bump(-bx, by, sx, sy)

    top, tip = k.eye_y - 0.004, k.eye_y - 0.004 + k.nose_length
    along = np.clip((y - top) / (tip - top), 0.0, 1.0)
    wide = 0.0070 + 0.005 * along
    bridge = np.exp(-((x / wide) ** 2)) * (0.006 + 0.017 * along**1.3)
    end = 1.0 / (1.0 + np.exp((y - tip) / 0.0016)) / (1.0 + np.exp(-(y - top) / 0.006))
    h = bridge * end
    h += 0.008 * twin(k.nose_half * 0.72, tip - 0.006, 0.0060, 0.0065)
    h += 0.006 * bump(0.0, tip - 0.006, 0.010, 0.008)
    h -= 0.0115 * twin(k.eye_x, k.eye_y, 0.019, 0.0125)
    h += 0.0062 * twin(k.eye_x, k.eye_y + 0.0005, 0.0115, 0.0075)
    h += 0.0058 * twin(k.eye_x + 0.001, k.eye_y - k.brow_lift, 0.024, 0.008)
    h += 0.006 * twin(0.046, k.eye_y + 0.030, 0.020, 0.020)
    h -= 0.0045 * twin(k.mouth_half + 0.010, tip + 0.012, 0.007, 0.020)
    mouth = mouth_y(k)
    h += 0.006 * bump(0.0, mouth, k.mouth_half * 1.2, 0.016)
    lips = np.clip(1.0 - (x / k.mouth_half) ** 2, 0.0, 1.0)
    h += lips * 0.0035 * np.exp(-(((y - mouth + 0.45 * k.lip_full) / (0.5 * k.lip_full)) ** 2))
    h += lips * 0.0045 * np.exp(-(((y - mouth - 0.5 * k.lip_full) / (0.55 * k.lip_full)) ** 2))
    h -= lips * 0.0025 * np.exp(-(((y - mouth) / 0.0016) ** 2))
    h -= 0.006 * bump(0.0, mouth + 0.0165, 0.020, 0.006)
    h += 0.009 * bump(0.0, 0.222, 0.022, 0.014)
    h += 0.005 * twin(0.030, 0.205, 0.03, 0.03)
    return np.asarray(h - 0.0018 * bump(0.0, tip + 0.009, 0.003, 0.008))


def _depths(y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far the skull reaches forward and back of its middle [m]."""
    dome = np.sqrt(np.clip(1.0 - (1.0 - np.clip(y / 0.075, 0.0, 1.0)) ** 2, 0.0, 1.0))
    front = 0.094 * np.sqrt(np.clip(1.0 - ((y - 0.125) / 0.19) ** 2, 0.0, 1.0))
    back = 0.100 * np.sqrt(np.clip(1.0 - ((y - 0.095) / 0.165) ** 2, 0.0, 1.0))
    return front * dome, back * dome


def _skin(look: Look, y: FloatArray, angle: FloatArray, hair: FloatArray | None) -> FloatArray:
    """Points (rows, columns, 3) at heights and angles, 0 ahead; hair lifts them outwards [m]."""
    gy, ga = np.meshgrid(y, angle, indexing="ij")
    w = half_width(look, gy)
    front, back = _depths(gy)
    x = w * np.sin(ga)
    level = np.abs(np.cos(ga))
    f = np.where(np.cos(ga) >= 0.0, front * level**0.92, -back * level)
    f = f + features(look, x, gy) * np.clip(1.6 * np.cos(ga), 0.0, 1.0)
    out = np.stack([x, BEHIND_M - f, MIDDLE_M - gy], axis=2)
    if hair is not None:
        lift = np.stack([np.sin(ga), -np.cos(ga), np.clip(1.0 - gy / 0.07, 0.0, 1.0)], axis=2)
        lift /= np.linalg.norm(lift, axis=2, keepdims=True)
        out = out + hair[:, :, None] * lift
    return out


def _hair_lift(
    look: Look, texture: NDArray[np.uint8], hair: NDArray[np.uint8], y: FloatArray, x: FloatArray
) -> FloatArray:
    """How far hair stands off the skin at places of a drawing [m]."""
    drawn = np.isin(texture, hair).astype(np.float32)
    soft = cv2.GaussianBlur(drawn, (0, 0), 3.5)
    rows, columns = texture.shape
    column = (x / CARD_WIDTH_M + 0.5) * columns
    row = (y + CARD_ABOVE_M) / CARD_HEIGHT_M * rows
    lift = cv2.remap(soft, column.astype(np.float32), row.astype(np.float32), cv2.INTER_LINEAR)
    thick = {"short": 0.008, "parted": 0.013, "long": 0.015, "receding": 0.006, "bald": 0.0}
    upper = np.clip((look.eye_y - 0.03 - y) / 0.02, 0.0, 1.0) + (np.abs(x) > 0.055)
    return np.asarray(lift * thick[look.style] * np.clip(upper, 0.0, 1.0))


def _half(drawn: DrawnHead, texture: NDArray[np.uint8], angle: FloatArray, *, hair: bool) -> Mesh:
    look = drawn.look
    y = HEAD_M * (1.0 - np.cos(np.linspace(0.02, np.pi * 0.985, ROWS))) / 2.0
    lift = None
    if hair:
        x = half_width(look, y)[:, None] * np.sin(angle)[None]
        grid_y = np.broadcast_to(y[:, None], x.shape)
        lift = _hair_lift(look, texture, drawn.materials.hair, grid_y, x)
        if angle.max() > 2.0:
            # the nape is bare, the rest of the back is covered
            lift = np.maximum(lift, 0.7 * lift.max() * np.clip((0.20 - grid_y) / 0.02, 0.0, 1.0))
    points = _skin(look, y, angle, lift)
    rows, columns, _ = points.shape
    flat = _skin(look, y, angle, None)
    places = np.stack(
        [
            flat[:, :, 0] * (1.0 if angle.max() < 2.0 else -1.0) / CARD_WIDTH_M + 0.5,
            (MIDDLE_M - flat[:, :, 2] + CARD_ABOVE_M) / CARD_HEIGHT_M,
        ],
        axis=2,
    ).reshape(-1, 2)
    triangles = grid_triangles(rows, columns)
    vertices = points.reshape(-1, 3)
    return Mesh(
        "half", vertices, triangles, smooth_normals(vertices, triangles),
        np.full(len(triangles), DRAWN, np.uint8), places=np.clip(places, 0.0, 0.9999),
        texture=texture,
    )  # fmt: skip


def _opaque(texture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The drawing with its nearest material where it is clear: a head has no holes."""
    clear = texture == DRAWN
    rows, columns = distance_transform_edt(clear, return_distances=False, return_indices=True)
    return np.asarray(texture[rows, columns])


def _skull(drawn: DrawnHead) -> list[Mesh]:
    look, m = drawn.look, drawn.materials
    skin = int(m.skin[-1])
    bare = drawn.headwear != "none"
    shades = shades_of(drawn)
    front = _opaque(_texture_of(look, shades, False))
    back = _opaque(_texture_of(look, shades, True))
    hair = look.style != "bald" and not bare
    quarter = np.pi / 2.0
    # the front's corners lie close where the features are
    t = np.linspace(-1.0, 1.0, FRONT)
    ahead = quarter * (0.75 * t + 0.25 * t**3)
    behind = np.linspace(quarter, 3.0 * quarter, BACK)
    halves = [
        _half(drawn, front, ahead, hair=hair),
        _half(drawn, back, behind, hair=hair),
    ]
    halves = _seamed(halves)
    w = look.half_width
    parts = [*halves]
    for side in (-1.0, 1.0):
        parts.append(
            ellipsoid(
                skin,
                (side * (w + 0.001), BEHIND_M + 0.006, MIDDLE_M - 0.130),
                (0.009, 0.017, 0.031),
                power=2.4,
            )
        )
    neck = w * (0.66 + 0.5 * max(look.jaw, 0.0))
    parts.append(
        tube(
            skin,
            [(0.0, BEHIND_M + 0.022, MIDDLE_M - z) for z in (0.15, 0.20, 0.25, 0.29, 0.33, 0.36)],
            [neck * s for s in (0.90, 0.96, 1.0, 1.06, 1.3, 1.6)],
            around=36,
        )
    )
    return parts


def _seamed(halves: list[Mesh]) -> list[Mesh]:
    """The two halves with one normal where they meet."""
    front, back = halves
    f = front.normals.reshape(ROWS, FRONT, 3).copy()
    b = back.normals.reshape(ROWS, BACK, 3).copy()
    for i, j in ((-1, 0), (0, -1)):
        both = f[:, i] + b[:, j]
        both /= np.maximum(np.linalg.norm(both, axis=1, keepdims=True), 1e-9)
        f[:, i] = b[:, j] = both
    return [replace(front, normals=f.reshape(-1, 3)), replace(back, normals=b.reshape(-1, 3))]


def _long_hair(drawn: DrawnHead) -> list[Mesh]:
    w, hair = drawn.look.half_width, int(drawn.materials.hair[2])
    falls = [
        ellipsoid(hair, (side * (w + 0.004), BEHIND_M + 0.035, MIDDLE_M - 0.175),
                  (0.019, 0.055, 0.125), power=2.6)
        for side in (-1.0, 1.0)
    ]  # fmt: skip
    return [
        *falls,
        ellipsoid(hair, (0.0, BEHIND_M + 0.075, MIDDLE_M - 0.17), (0.075, 0.035, 0.125)),
    ]


def _cap(drawn: DrawnHead) -> list[Mesh]:
    """A cap: a dome over the skull, and a brim that keeps light from the face."""
    look, cloth = drawn.look, int(drawn.materials.cloth[-1])
    y = np.linspace(0.0006, 0.078, 26)
    angle = np.linspace(0.0, 2.0 * np.pi, 72, endpoint=False)
    dome = _skin(look, y, angle, np.full((26, 72), 0.010))
    # it sits lower behind than before
    dome[:, :, 2] -= np.clip(-np.cos(angle), 0.0, 1.0)[None] * (y[:, None] / 0.078) * 0.018
    dome[:, :, 2] += np.clip(np.cos(angle), 0.0, 1.0)[None] * (y[:, None] / 0.078) * 0.012
    parts = [outward(of_grid("dome", dome, cloth, around=True))]
    a = np.linspace(-1.25, 1.25, 40)
    rim = dome[-1]
    turn = np.where(angle > np.pi, angle - 2.0 * np.pi, angle)
    order = np.argsort(turn)
    inner = np.stack([np.interp(a, turn[order], rim[order, k]) for k in range(3)], axis=1)
    reach = 0.072 * np.cos(a / 1.25 * np.pi / 2.0) ** 0.6
    rows = []
    for t in (0.0, 0.25, 0.5, 0.75, 1.0):
        row = inner.copy()
        row[:, 1] -= t * reach
        row[:, 2] -= t * reach * 0.22 + 4.0 * t * row[:, 0] ** 2 * 0.6
        rows.append(row)
    low = [row - np.array([0.0, 0.0, 0.004]) for row in reversed(rows)]
    brim = np.stack([*rows, *low])
    parts.append(outward(of_grid("brim", brim, cloth)))
    return parts


def _hood(drawn: DrawnHead) -> list[Mesh]:
    """A hood around head and neck, open before the face."""
    look, cloth = drawn.look, int(drawn.materials.cloth[-1])
    y = np.linspace(0.0, 0.30, 110)
    angle = np.linspace(0.0, 2.0 * np.pi, 220, endpoint=False)
    skull = _skin(look, np.clip(y, 0.001, 0.20), angle, None)
    skull[:, :, 2] = MIDDLE_M - y[:, None]
    gy, ga = np.meshgrid(y, angle, indexing="ij")
    off = 0.022 + 0.03 * np.clip((gy - 0.16) / 0.12, 0.0, 1.0)
    out = np.stack([np.sin(ga), -np.cos(ga) * 0.8, np.clip(1.0 - gy / 0.08, 0.0, 1.0)], axis=2)
    points = skull + off[:, :, None] * out
    mesh = outward(of_grid("hood", points, cloth, around=True))
    # the opening: what lies before the face is cut away
    where = mesh.vertices_m[mesh.triangles].mean(axis=1)
    down = MIDDLE_M - where[:, 2]
    hole = (np.abs(where[:, 0]) / (look.half_width * 0.98)) ** 2.4 + (
        np.abs(down - 0.150) / 0.118
    ) ** 2.4 < 1.0
    keep = ~(hole & (where[:, 1] < BEHIND_M - 0.005))
    return [replace(mesh, triangles=mesh.triangles[keep], materials=mesh.materials[keep])]


def _glasses(drawn: DrawnHead) -> list[Mesh]:
    look, dark = drawn.look, int(drawn.materials.dark)
    y = look.eye_y + 0.002
    ahead = BEHIND_M - 0.104
    parts = []
    turn = np.linspace(0.0, 2.0 * np.pi, 33)
    for side in (-1.0, 1.0):
        x0 = side * (look.eye_x + 0.001)
        rim = [
            (x0 + 0.0245 * np.sign(np.cos(a)) * abs(np.cos(a)) ** 0.6,
             ahead + 0.006 * ((x0 + 0.0245 * np.cos(a)) / 0.06) ** 2,
             MIDDLE_M - y + 0.0175 * np.sign(np.sin(a)) * abs(np.sin(a)) ** 0.6)
            for a in turn
        ]  # fmt: skip
        parts.append(tube(dark, rim, 0.0015, around=8))
        outer = (side * (look.eye_x + 0.0255), ahead + 0.005, MIDDLE_M - y + 0.006)
        ear = (side * (look.half_width + 0.006), BEHIND_M, MIDDLE_M - y + 0.004)
        parts.append(
            tube(dark, [outer, (ear[0], ahead + 0.02, ear[2] + 0.002), ear], 0.0016, around=8)
        )
    inner = look.eye_x - 0.0235
    parts.append(
        tube(
            dark,
            [(x, ahead - 0.001, MIDDLE_M - y + 0.006) for x in (-inner, 0.0, inner)],
            0.0016,
            around=8,
        )
    )
    return parts


def _bust(drawn: DrawnHead) -> list[Mesh]:
    """Shoulders in a shirt under a head that stands alone."""
    cloth = int(drawn.materials.cloth[-1])
    y = np.array([0.272, 0.285, 0.297, 0.308, 0.33, 0.37, 0.44, 0.95])
    wide = np.array([0.062, 0.072, 0.085, 0.125, 0.175, 0.205, 0.215, 0.190])
    deep = np.array([0.062, 0.070, 0.078, 0.088, 0.098, 0.110, 0.120, 0.115])
    fine = np.linspace(y[0], y[-1], 110)
    angle = np.linspace(0.0, 2.0 * np.pi, 64, endpoint=False)
    w, d = np.interp(fine, y, wide)[:, None], np.interp(fine, y, deep)[:, None]
    x = w * np.sign(np.sin(angle)) * np.abs(np.sin(angle)) ** 0.8
    f = d * np.sign(np.cos(angle)) * np.abs(np.cos(angle)) ** 0.8
    drop = (
        0.02 * np.clip(np.cos(angle), 0.0, 1.0) * np.clip((0.31 - fine) / 0.04, 0.0, 1.0)[:, None]
    )
    points = np.stack(
        [x, BEHIND_M + 0.03 - f, MIDDLE_M - fine[:, None] - drop + np.zeros_like(x)], axis=2
    )
    return [outward(of_grid("bust", points, cloth, around=True))]


@lru_cache(maxsize=32)
def head(
    look: Look, shades: tuple[tuple[int, ...], ...], glasses: bool, headwear: str, collar: bool
) -> Mesh:
    """A head looking along -y, the middle of its card over the origin.

    `shades` gives the materials as `shades_of` does.
    """
    drawn = DrawnHead(look, materials_of(shades), glasses, headwear, False, collar)
    parts = _skull(drawn)
    if look.style == "long" and headwear != "hood":
        parts += _long_hair(drawn)
    if headwear == "cap":
        parts += _cap(drawn)
    elif headwear == "hood":
        parts += _hood(drawn)
    if glasses:
        parts += _glasses(drawn)
    if collar:
        parts += _bust(drawn)
    return joined("head", parts)


def shades_of(drawn: DrawnHead) -> tuple[tuple[int, ...], ...]:
    """The materials of a head as numbers that can be kept."""
    m = drawn.materials
    rows = [tuple(int(i) for i in row) for row in (m.skin, m.hair, m.lips, m.cloth)]
    return (*rows, (int(m.white), int(m.iris), int(m.dark)))


def materials_of(shades: tuple[tuple[int, ...], ...]) -> FaceMaterials:
    """The materials of a head again, see `shades_of`."""
    skin, hair, lips, cloth, (white, iris, dark) = shades
    return FaceMaterials(
        np.array(skin, np.uint8), np.array(hair, np.uint8), np.array(lips, np.uint8),
        np.array(cloth, np.uint8), white, iris, dark,
    )  # fmt: skip


def head_of(drawn: DrawnHead) -> Mesh:
    """The head of a target in its place; see `head`."""
    mesh = head(drawn.look, shades_of(drawn), drawn.glasses, drawn.headwear, drawn.collar)
    a = np.radians(drawn.tilt_deg)
    c, s = np.cos(a), np.sin(a)
    lean = np.array([[1.0, 0.0, 0.0], [0.0, c, s], [0.0, -s, c]])
    leant = replace(
        mesh, vertices_m=mesh.vertices_m @ lean, normals=mesh.normals @ lean, apart=True
    )
    facing = drawn.facing_deg + (180.0 if drawn.back else 0.0)
    return leant.placed(np.asarray(drawn.centre_m), facing, drawn.scale)


@lru_cache(maxsize=64)
def _texture_of(look: Look, shades: tuple[tuple[int, ...], ...], back: bool) -> NDArray[np.uint8]:
    """What a head shows; see `face_texture`."""
    texture = face_texture(look, materials_of(shades), back=back)
    texture.flags.writeable = False
    return texture


def head_card(name: str, drawn: DrawnHead, group: int) -> Card:
    """The card that stands for a head: its size and place are those of the drawing.

    It shows what the skin shows; a head seen from behind shows that side.
    """
    texture = _texture_of(drawn.look, shades_of(drawn), drawn.back)
    return upright_card(
        name,
        np.asarray(drawn.centre_m),
        drawn.scale * CARD_WIDTH_M,
        drawn.scale * CARD_HEIGHT_M,
        texture,
        facing_deg=drawn.facing_deg,
        tilt_deg=drawn.tilt_deg,
        group=group,
        casts_shadow=False,
    )
