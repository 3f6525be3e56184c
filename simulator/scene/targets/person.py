"""A standing or walking person as two cards, body and head; nobody in particular.

Proportions of a usual adult of 1.75 m (assumed): shoulders at 1.44 m and 0.43 m wide, crotch at
0.80 m, the head as in `face`. Other heights scale the whole. Limbs are drawn as tapered tubes and
shaded as round things are by light from ahead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from simulator.scene.geometry import Card, facing_normal, upright_card
from simulator.scene.targets.face import (
    CARD_ABOVE_M,
    CARD_HEIGHT_M,
    CARD_WIDTH_M,
    CLOTH_SHADES,
    SKIN_SHADES,
    DrawnHead,
    head_texture,
)
from simulator.scene.targets.sketch import Sketch, smooth
from simulator.units import FloatArray

USUAL_HEIGHT_M = 1.75
BODY_WIDTH_M, BODY_HEIGHT_M = 1.0, 1.56
TEXEL_M = 0.003
HEAD_BEFORE_BODY_M = 0.01
"""How far the head stands before the body, so that it covers the collar [m]."""

Joint = tuple[float, float, float]
"""x, z and radius of a limb at a joint [m]."""


@dataclass(frozen=True)
class ClothMaterials:
    """Indices into the scene's material list, each array from dark to light as `CLOTH_SHADES`."""

    upper: NDArray[np.uint8]
    lower: NDArray[np.uint8]
    shoes: NDArray[np.uint8]
    bag: NDArray[np.uint8] | None


@dataclass(frozen=True)
class _Pose:
    """Joints of the limbs; the first of each pair is drawn first, so it lies behind."""

    legs: tuple[Sequence[Joint], Sequence[Joint]]
    arms: tuple[Sequence[Joint], Sequence[Joint]]
    feet: tuple[tuple[float, float, float], tuple[float, float, float]]
    """x, z of the sole, and half the length seen."""
    dim: tuple[float, float]
    """Level of light on the two legs."""


_POSES = {
    "standing": _Pose(
        legs=(
            [(-0.085, 0.90, 0.100), (-0.095, 0.50, 0.066), (-0.100, 0.10, 0.048)],
            [(0.085, 0.90, 0.100), (0.095, 0.50, 0.066), (0.100, 0.10, 0.048)],
        ),
        arms=(
            [(-0.190, 1.385, 0.060), (-0.235, 1.10, 0.048), (-0.245, 0.86, 0.036)],
            [(0.190, 1.385, 0.060), (0.235, 1.10, 0.048), (0.245, 0.86, 0.036)],
        ),
        feet=((-0.115, 0.0, 0.055), (0.115, 0.0, 0.055)),
        dim=(1.0, 1.0),
    ),
    "walking": _Pose(
        legs=(
            [(-0.080, 0.90, 0.098), (-0.075, 0.52, 0.064), (-0.060, 0.24, 0.046)],
            [(0.080, 0.90, 0.102), (0.070, 0.48, 0.070), (0.055, 0.08, 0.050)],
        ),
        arms=(
            [(0.190, 1.385, 0.060), (0.245, 1.12, 0.047), (0.215, 0.92, 0.033)],
            [(-0.190, 1.385, 0.060), (-0.225, 1.11, 0.050), (-0.165, 0.92, 0.040)],
        ),
        feet=((-0.060, 0.16, 0.045), (0.060, 0.0, 0.060)),
        dim=(0.78, 1.0),
    ),
}


class _Figure:
    def __init__(self) -> None:
        self.sketch = Sketch(BODY_WIDTH_M, BODY_HEIGHT_M, texel_m=TEXEL_M)
        self.x, self.z = self.sketch.grid()
        folds = np.sin(self.z * 47.0 + 3.0 * np.sin(self.x * 21.0)) * np.sin(self.x * 33.0 + 1.0)
        self.folds: FloatArray = 0.035 * folds

    def paint(self, mask: NDArray[np.bool_], shades: NDArray[np.uint8], light: FloatArray) -> None:
        steps = CLOTH_SHADES if len(shades) == len(CLOTH_SHADES) else SKIN_SHADES
        index = np.round(np.interp(light, steps, np.arange(len(steps)))).astype(int)
        self.sketch.texture[mask] = shades[index][mask]

    def limb(self, joints: Sequence[Joint], shades: NDArray[np.uint8], light: float = 1.0) -> None:
        """A tapered tube through joints."""
        nearest = np.full(self.x.shape, np.inf)
        for (x0, z0, r0), (x1, z1, r1) in pairwise(joints):
            dx, dz = x1 - x0, z1 - z0
            t = ((self.x - x0) * dx + (self.z - z0) * dz) / (dx * dx + dz * dz)
            t = np.clip(t, 0.0, 1.0)
            away = np.hypot(self.x - x0 - t * dx, self.z - z0 - t * dz) / (r0 + t * (r1 - r0))
            nearest = np.minimum(nearest, away)
        inside = nearest < 1.0
        bulge = np.sqrt(np.clip(1.0 - nearest**2, 0.0, 1.0))
        self.paint(inside, shades, (0.42 + 0.56 * bulge + self.folds) * light)

    def region(
        self,
        points: Sequence[tuple[float, float]],
        shades: NDArray[np.uint8],
        half_m: float,
        middle_m: float = 0.0,
    ) -> None:
        """A smooth shape, shaded as a tube of half width `half_m` about `middle_m`."""
        mask = self.sketch.mask(smooth(points))
        bulge = np.sqrt(np.clip(1.0 - ((self.x - middle_m) / half_m) ** 2, 0.0, 1.0))
        self.paint(mask, shades, 0.40 + 0.60 * bulge + self.folds)


def body_texture(
    cloth: ClothMaterials, skin: NDArray[np.uint8], pose: str, back: bool
) -> NDArray[np.uint8]:
    """The body without its head as material indices, `TEXEL_M` a texel, clear around it."""
    f, p = _Figure(), _POSES[pose]
    for leg, (x, z, half), dim in zip(p.legs, p.feet, p.dim, strict=True):
        high = 0.075 if not back else 0.06
        shoe = [(x - half, z + 0.004), (x + half, z + 0.004), (x + half * 1.05, z + 0.035),
                (x + half * 0.7, z + high + 0.03), (x - half * 0.7, z + high + 0.03),
                (x - half * 1.05, z + 0.035)]  # fmt: skip
        f.region(shoe, cloth.shoes, half * 1.2, x)
        f.limb(leg, cloth.lower, dim)
    f.region(
        [(-0.165, 0.95), (-0.17, 0.86), (-0.09, 0.79), (0.0, 0.80), (0.09, 0.79), (0.17, 0.86),
         (0.165, 0.95), (0.15, 1.02), (-0.15, 1.02)], cloth.lower, 0.21)  # fmt: skip
    if pose == "walking":
        _arm(f, p.arms[0], cloth, skin, 0.85)
    else:
        for arm in p.arms:
            _arm(f, arm, cloth, skin, 1.0)
    f.region(
        [(-0.172, 0.93), (0.172, 0.93), (0.158, 1.08), (0.178, 1.26), (0.205, 1.38), (0.185, 1.435),
         (0.075, 1.475), (0.0, 1.46), (-0.075, 1.475), (-0.185, 1.435), (-0.205, 1.38),
         (-0.178, 1.26), (-0.158, 1.08)], cloth.upper, 0.235)  # fmt: skip
    if not back:
        f.paint((np.abs(f.x) < 0.003) & (f.z > 0.95) & (f.z < 1.43), cloth.upper,
                np.full(f.x.shape, 0.5))  # fmt: skip
    if pose == "walking":
        _arm(f, p.arms[1], cloth, skin, 1.0)
    if cloth.bag is not None:
        x, z, _ = p.arms[1][-1]
        f.region(
            [(x - 0.15, z - 0.46), (x + 0.15, z - 0.46), (x + 0.165, z - 0.30),
             (x + 0.14, z - 0.16), (x - 0.14, z - 0.16), (x - 0.165, z - 0.30)],
            cloth.bag, 0.19, x)  # fmt: skip
        ring = np.hypot((f.x - x) / 0.06, (f.z - z + 0.16) / 0.10)
        f.paint((np.abs(ring - 1.0) < 0.12) & (f.z > z - 0.16), cloth.bag, np.full(ring.shape, 0.6))
    return f.sketch.texture


def _arm(
    f: _Figure,
    joints: Sequence[Joint],
    cloth: ClothMaterials,
    skin: NDArray[np.uint8],
    light: float,
) -> None:
    (x0, z0, _), (x1, z1, _) = joints[-2:]
    length = np.hypot(x1 - x0, z1 - z0)
    dx, dz = (x1 - x0) / length, (z1 - z0) / length
    hand = [(x1, z1, 0.030), (x1 + 0.06 * dx, z1 + 0.06 * dz, 0.042),
            (x1 + 0.13 * dx, z1 + 0.13 * dz, 0.026)]  # fmt: skip
    f.limb(hand, skin, light * 0.95)
    f.limb(joints, cloth.upper, light)


def person_cards(
    name: str,
    ground_point_m: FloatArray,
    facing_deg: float,
    height_m: float,
    drawn: DrawnHead,
    cloth: ClothMaterials,
    group: int,
    *,
    pose: str,
) -> list[Card]:
    """Body and head of a person who stands over a ground point (3,) [m]; the head last.

    `facing_deg` says where the drawn side looks; 0 towards the camera.
    """
    s = height_m / USUAL_HEIGHT_M
    normal = facing_normal(facing_deg)
    base = np.array([ground_point_m[0], ground_point_m[1], ground_point_m[2]])
    up = np.array([0.0, 0.0, 1.0])
    body = upright_card(
        f"{name} body",
        base + up * (s * BODY_HEIGHT_M / 2.0),
        s * BODY_WIDTH_M,
        s * BODY_HEIGHT_M,
        body_texture(cloth, drawn.materials.skin, pose, drawn.back),
        facing_deg=facing_deg,
        group=group,
    )
    top = height_m + s * CARD_ABOVE_M
    head = upright_card(
        f"{name} head",
        base + normal * HEAD_BEFORE_BODY_M + up * (top - s * CARD_HEIGHT_M / 2.0),
        s * CARD_WIDTH_M,
        s * CARD_HEIGHT_M,
        head_texture(drawn),
        facing_deg=facing_deg,
        group=group,
    )
    return [body, head]
