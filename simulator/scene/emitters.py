"""Lamps as the camera sees them: bright discs, or points smaller than a pixel."""

from __future__ import annotations

import numpy as np

from simulator.scene.build import World
from simulator.scene.geometry import View
from simulator.scene.pack import PackedLights, PackedView
from simulator.scene.radiance import Sampling
from simulator.scene.shading import beam_intensity
from simulator.units import FloatArray, Image

HIDDEN_SLACK_M = 0.3


def add_emitters(
    rate: Image,
    depth: Image,
    sampling: Sampling,
    world: World,
    view: View,
    packed: PackedView,
    lights: PackedLights,
    smear_px: FloatArray,
) -> None:
    """Add every lamp that faces the camera to a rate picture, in place.

    A lamp of intensity I towards the camera, at distance d, adds in all

        pi c0 (I / d^2) f_px^2 cos(theta) x vignetting   [e-/s]

    with c0 the coefficient of a perfect diffuser (luminance L and pixel solid angle cos^3/f_px^2),
    times what the air leaves of it, exp(-extinction d).
    It is spread over its disc, or over one sample if smaller, and along its movement.

    Parameters
    ----------
    rate
        (rows, columns, 3) [e-/s per pixel], changed in place.
    depth
        (rows, columns) depth of what stands there [m]; lamps behind it stay hidden.
    smear_px
        (groups, 2) movement on the picture during the exposure [px].
    """
    for emitter in world.emitters:
        offset = view.position_m - emitter.position_m
        d = float(np.linalg.norm(offset))
        if d < 1e-3:
            continue
        u = offset / d
        intensity = beam_intensity(emitter.light, u[0], u[1], u[2], lights)
        xy, z = view.project(emitter.position_m)
        if intensity <= 0.0 or z <= 0.0:
            continue
        radius2 = float(np.sum((xy - packed.centre) ** 2))
        fall = 1.0 - (1.0 - packed.corner_light) * min(1.0, radius2 / packed.circle_px**2)
        total = (
            np.pi * lights.coefficient[emitter.light, 0] * (intensity / d**2)
            * view.focal_px**2 * (z / d) * fall * np.exp(-lights.extinction * d)
        )  # fmt: skip
        radius = emitter.diameter_m / 2.0 / d * view.focal_px
        move = smear_px[emitter.group]
        steps = max(1, int(np.ceil(np.hypot(*move) / sampling.step)))
        for k in range(steps):
            place = xy + move * ((k + 0.5) / steps - 0.5)
            _splat(rate, depth, sampling, place, radius, float(z), total / steps)


def _splat(
    rate: Image,
    depth: Image,
    s: Sampling,
    place_px: FloatArray,
    radius_px: float,
    z_m: float,
    total: FloatArray,
) -> None:
    """Spread `total` over a disc; the sum over samples times step^2 is what was put in."""
    cx, cy = (place_px[0] - s.x0) / s.step - 0.5, (place_px[1] - s.y0) / s.step - 0.5
    r = max(0.6, radius_px / s.step)
    x0, x1 = int(np.floor(cx - r - 1)), int(np.ceil(cx + r + 1)) + 1
    y0, y1 = int(np.floor(cy - r - 1)), int(np.ceil(cy + r + 1)) + 1
    x, y = np.arange(x0, x1), np.arange(y0, y1)
    mask = np.clip(r + 0.5 - np.hypot(x[None, :] - cx, y[:, None] - cy), 0.0, 1.0)
    mask /= mask.sum()
    ax, bx = max(0, x0), min(s.columns, x1)
    ay, by = max(0, y0), min(s.rows, y1)
    if ax >= bx or ay >= by:
        return
    part = mask[ay - y0 : by - y0, ax - x0 : bx - x0]
    seen = depth[ay:by, ax:bx] > z_m - HIDDEN_SLACK_M
    rate[ay:by, ax:bx] += ((part * seen)[:, :, None] * (total / s.step**2)).astype(np.float32)
