"""What every drawing of a head shares: measures, looks of invented people, a canvas."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.scene.targets.sketch import Sketch, smooth
from simulator.units import FloatArray

HEAD_M = 0.24
"""From chin to crown [m]."""
CARD_WIDTH_M, CARD_ABOVE_M, CARD_BELOW_M = 0.30, 0.05, 0.08
"""Width of the card, and how far it reaches over the crown and under the chin [m]."""
CARD_HEIGHT_M = HEAD_M + CARD_ABOVE_M + CARD_BELOW_M
TEXEL_M = 0.00075
SKIN_SHADES = (0.5, 0.8, 1.0)
"""Skin in folds where no light gets, in creases, and everywhere else."""
CLOTH_SHADES = (0.6, 1.0)
"""Cloth in its seams, and everywhere else."""
HAIR_SHADES = (0.5, 0.75, 1.0, 1.3, 1.7)
LIP_SHADES = (0.6, 0.8, 1.0)
HAIRS = ("hair-black", "hair-brown", "hair-blond", "hair-grey")
STYLES = ("short", "parted", "long", "receding", "bald")
BEARDS = ("none", "none", "none", "moustache", "full")

Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class FaceMaterials:
    """Indices into the scene's material list; arrays run from dark to light."""

    skin: NDArray[np.uint8]
    hair: NDArray[np.uint8]
    lips: NDArray[np.uint8]
    cloth: NDArray[np.uint8]
    white: int
    iris: int
    dark: int


@dataclass(frozen=True)
class Look:
    """What tells one invented person from another; lengths in metres."""

    half_width: float
    jaw: float
    eye_x: float
    eye_y: float
    eye_half: float
    eye_open: float
    brow_lift: float
    brow_thick: float
    brow_tilt: float
    nose_length: float
    nose_half: float
    mouth_half: float
    lip_full: float
    mouth_bend: float
    hairline: float
    style: str
    beard: str
    hair: str
    iris: str


def look_of(variant: int, skin: str) -> Look:
    """The look that belongs to a number; the same number always gives the same look."""
    rng = np.random.default_rng([20_250_101, variant])
    u = rng.random(16)

    def between(k: int, low: float, high: float) -> float:
        return low + (high - low) * float(u[k])

    pale = skin in ("very-light", "light")
    hairs = HAIRS if pale else ("hair-black", "hair-black", "hair-black", "hair-grey")
    style = STYLES[int(u[13] * len(STYLES))]
    beard = "none" if style == "long" else BEARDS[int(u[14] * len(BEARDS))]
    return Look(
        half_width=between(0, 0.073, 0.080),
        jaw=between(1, -0.05, 0.09),
        eye_x=between(2, 0.0290, 0.0345),
        eye_y=between(3, 0.116, 0.122),
        eye_half=between(4, 0.0135, 0.0160),
        eye_open=between(5, 0.0042, 0.0060),
        brow_lift=between(6, 0.0160, 0.0210),
        brow_thick=between(7, 0.0022, 0.0048),
        brow_tilt=between(8, -0.12, 0.18),
        nose_length=between(9, 0.048, 0.058),
        nose_half=between(10, 0.0145, 0.0195),
        mouth_half=between(11, 0.0225, 0.0290),
        lip_full=between(12, 0.0060, 0.0105),
        mouth_bend=between(15, -0.0020, 0.0028),
        hairline=between(6, 0.042, 0.056),
        style=style,
        beard=beard,
        hair=hairs[int(u[10] * len(hairs))],
        iris="iris-blue" if pale and u[5] < 0.4 else "iris-brown",
    )


@dataclass(frozen=True)
class DrawnHead:
    """How the head of one target is made: whose look, in which materials, with what on it.

    `back` whether it is seen from behind, `collar` whether it has shoulders of its own. `centre_m`
    (3,) the middle of its card [m], where it looks and how far it leans back [deg], and its size.
    """

    look: Look
    materials: FaceMaterials
    glasses: bool
    headwear: str
    back: bool
    collar: bool
    centre_m: tuple[float, float, float] = (0.0, 0.0, 0.0)
    facing_deg: float = 0.0
    tilt_deg: float = 0.0
    scale: float = 1.0


class Canvas:
    """A sketch with y measured down from the crown [m], and what is drawn on it so far."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self.sketch = Sketch(CARD_WIDTH_M, CARD_HEIGHT_M, texel_m=TEXEL_M)
        x, z = self.sketch.grid()
        self.x, self.y = x, CARD_HEIGHT_M - CARD_ABOVE_M - z
        self.texture = self.sketch.texture

    def blob(self, points: list[tuple[float, float]], *, mirrored: bool = False) -> Mask:
        """Inside of a smooth closed curve through (x, y), y down from the crown."""
        top = CARD_HEIGHT_M - CARD_ABOVE_M
        mask = self.sketch.mask(smooth([(px, top - py) for px, py in points]))
        if mirrored:
            mask = mask | mask[:, ::-1]
        return mask

    def bump(self, x: float, y: float, sx: float, sy: float) -> FloatArray:
        return np.asarray(np.exp(-(((self.x - x) / sx) ** 2) - ((self.y - y) / sy) ** 2))

    def twin(self, x: float, y: float, sx: float, sy: float) -> FloatArray:
        return self.bump(x, y, sx, sy) + self.bump(-x, y, sx, sy)

    def paint(self, mask: Mask, shades: NDArray[np.uint8], level: FloatArray) -> None:
        """Shades by level 0 (darkest) to 1 (lightest)."""
        index = np.clip((level * len(shades)).astype(int), 0, len(shades) - 1)
        self.texture[mask] = shades[index][mask]


def mouth_y(k: Look) -> float:
    return k.eye_y + k.nose_length + 0.022
