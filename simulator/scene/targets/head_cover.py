"""What grows on a head and what it wears: hair, beard, glasses, cap, hood."""

from __future__ import annotations

import cv2
import numpy as np

from simulator.scene.targets.head import (
    CLOTH_SHADES,
    TEXEL_M,
    Canvas,
    FaceMaterials,
    Mask,
    level_of,
    mouth_y,
)
from simulator.units import FloatArray


def strands(c: Canvas, scale: float = 1.0) -> FloatArray:
    """Level 0 to 1 of hair: a broad sheen and fine strands."""
    radius = np.hypot(c.x / 0.085, (c.y - 0.10) / 0.10)
    sheen = np.exp(-(((radius - 0.80) / 0.16) ** 2)) * np.clip(1.3 - c.y / 0.09, 0.0, 1.0)
    angle = np.arctan2(c.x, 0.14 - c.y)
    fine = np.sin(angle * 90.0 + 2.0 * np.sin(angle * 31.0)) * np.sin(angle * 57.0 + radius * 9.0)
    return np.asarray(np.clip(0.38 + 0.36 * sheen + 0.14 * fine * scale, 0.0, 0.999))


def draw_beard(c: Canvas, m: FaceMaterials, head: Mask) -> None:
    k = c.look
    y = mouth_y(k)
    if k.beard == "none":
        return
    moustache = c.blob([(0.0, y - 0.017), (0.020, y - 0.015), (k.mouth_half + 0.006, y - 0.001),
                        (k.mouth_half, y + 0.003), (0.014, y - 0.006), (0.0, y - 0.0075),
                        (-0.014, y - 0.006), (-k.mouth_half, y + 0.003),
                        (-k.mouth_half - 0.006, y - 0.001), (-0.020, y - 0.015)])  # fmt: skip
    fine = 0.30 + 0.18 * np.sin(c.x * 3300.0 + 40.0 * c.y) * np.sin(c.y * 2100.0)
    if k.beard == "full":
        ring = c.blob([(k.mouth_half + 0.010, y - 0.006), (k.mouth_half + 0.004, y + 0.013),
                       (0.0, y + 0.018), (-k.mouth_half - 0.004, y + 0.013),
                       (-k.mouth_half - 0.010, y - 0.006), (0.0, y - 0.020)])  # fmt: skip
        edge = 0.150 + 0.055 * np.clip(1.0 - (np.abs(c.x) - 0.035) / 0.030, 0.0, 1.0)
        lower = head & (c.y > edge)
        c.paint(lower & ~ring, m.hair, fine)
    c.paint(moustache & head, m.hair, fine)


def draw_hair(c: Canvas, m: FaceMaterials, head: Mask) -> None:
    k = c.look
    if k.style == "bald":
        return
    w = k.half_width
    lift = {"short": 0.008, "parted": 0.013, "long": 0.014, "receding": 0.005}[k.style]
    low = {"short": 0.108, "parted": 0.112, "long": 0.16, "receding": 0.112}[k.style]
    out = w + {"short": 0.004, "parted": 0.007, "long": 0.014, "receding": 0.003}[k.style]
    cap = c.blob([(0.0, -lift), (w * 0.55, 0.004 - lift), (w * 0.92, 0.034), (out, 0.08),
                  (out, low), (w * 0.4, low), (-w * 0.4, low), (-out, low), (-out, 0.08),
                  (-w * 0.92, 0.034), (-w * 0.55, 0.004 - lift)])  # fmt: skip
    line = k.hairline - 0.006
    side = w - (0.014 if k.style == "long" else 0.009)
    corner = {"receding": -0.014, "parted": 0.004}.get(k.style, 0.0)
    face = c.blob([(0.0, line - (0.004 if k.style == "receding" else 0.0)),
                   (w * 0.45, line + corner + 0.001), (w * 0.72, line + 0.012 + corner / 2),
                   (side, line + 0.040), (side + 0.002, 0.118), (side + 0.004, 0.18),
                   (0.0, 0.26), (-side - 0.004, 0.18), (-side - 0.002, 0.118),
                   (-side, line + 0.040), (-w * 0.72, line + 0.012 + corner / 2),
                   (-w * 0.45, line + corner + 0.001)])  # fmt: skip
    if k.style in ("parted", "long"):
        # a fringe brushed to one side
        slope = c.y < line + 0.010 - 0.22 * (c.x - 0.02) * np.sign(c.x + w)
        face = face & ~(slope & (c.y < line + 0.018))
    ragged = 0.0022 * np.sin(c.x * 1500.0) * np.sin(c.x * 420.0 + 1.0)
    mask = cap & ~(face & (c.y > line - 0.03 + ragged))
    c.paint(mask, m.hair, strands(c))


def draw_glasses(c: Canvas, m: FaceMaterials) -> None:
    k = c.look
    y = k.eye_y + 0.002
    for side in (-1.0, 1.0):
        u = np.abs(c.x * side - k.eye_x - 0.001) / 0.0255
        v = np.abs(c.y - y) / 0.0185
        ring = (u**4 + v**4) ** 0.25
        c.texture[np.abs(ring - 0.95) < 0.07] = m.dark
    inner = k.eye_x - 0.0245
    bridge = (np.abs(c.x) < inner + 0.002) & (np.abs(c.y - y + 0.006 - 60 * c.x**2) < 0.0013)
    c.texture[bridge] = m.dark
    outer = k.eye_x + 0.0255
    temple = (np.abs(c.x) > outer - 0.001) & (np.abs(c.x) < k.half_width + 0.004)
    c.texture[temple & (np.abs(c.y - y + 0.007) < 0.0016)] = m.dark


def draw_cap(c: Canvas, m: FaceMaterials) -> None:
    w = c.look.half_width
    dome = c.blob([(0.0, -0.022), (w * 0.6, -0.014), (w * 1.0, 0.024), (w * 1.07, 0.070),
                   (w * 0.6, 0.062), (0.0, 0.058), (-w * 0.6, 0.062), (-w * 1.07, 0.070),
                   (-w * 1.0, 0.024), (-w * 0.6, -0.014)])  # fmt: skip
    light = 0.95 - 0.55 * (c.x / (1.1 * w)) ** 2 - 1.5 * np.clip(c.y - 0.03, 0.0, None)
    seam = 0.25 * np.exp(-((c.x / 0.0012) ** 2))
    c.paint(dome, m.cloth, level_of(light - seam, CLOTH_SHADES))
    visor = c.blob([(0.0, 0.052), (w * 0.7, 0.058), (w * 1.03, 0.076), (w * 0.8, 0.088),
                    (0.0, 0.092), (-w * 0.8, 0.088), (-w * 1.03, 0.076),
                    (-w * 0.7, 0.058)])  # fmt: skip
    c.paint(visor, m.cloth, level_of(0.85 - 10.0 * (c.y - 0.055), CLOTH_SHADES))


def draw_hood(c: Canvas, m: FaceMaterials) -> None:
    w = c.look.half_width
    outer = c.blob([(0.0, -0.040), (w * 0.8, -0.022), (w * 1.36, 0.05), (w * 1.50, 0.15),
                    (w * 1.44, 0.24), (w * 1.7, 0.36), (-w * 1.7, 0.36), (-w * 1.44, 0.24),
                    (-w * 1.50, 0.15), (-w * 1.36, 0.05), (-w * 0.8, -0.022)])  # fmt: skip
    opening = c.blob([(0.0, 0.020), (w * 0.62, 0.034), (w * 0.96, 0.09), (w * 0.98, 0.16),
                      (w * 0.78, 0.235), (0.0, 0.275), (-w * 0.78, 0.235), (-w * 0.98, 0.16),
                      (-w * 0.96, 0.09), (-w * 0.62, 0.034)])  # fmt: skip
    cloth = outer & ~opening
    inside = cv2.distanceTransform(cloth.astype(np.uint8), cv2.DIST_L2, 5) * TEXEL_M
    rim = cv2.distanceTransform((~opening).astype(np.uint8), cv2.DIST_L2, 5) * TEXEL_M
    light = 0.55 + 0.5 * np.exp(-(((rim - 0.008) / 0.010) ** 2)) + 6.0 * np.minimum(inside, 0.03)
    c.paint(cloth, m.cloth, level_of(np.clip(light, 0.0, 1.0), CLOTH_SHADES))
