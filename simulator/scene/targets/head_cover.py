"""What grows on a head: hair and beard."""

from __future__ import annotations

import numpy as np

from simulator.scene.targets.head import (
    Canvas,
    FaceMaterials,
    Mask,
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
