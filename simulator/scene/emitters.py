"""Lamps and the sun as the camera sees them: bright discs, or points smaller than a pixel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from simulator.kernels import kernel
from simulator.light.sources import SUN_DIAMETER_DEG
from simulator.scene.geometry import View
from simulator.scene.kernels.beams import beam_intensity
from simulator.scene.kernels.irradiance import shaded_anywhere
from simulator.scene.kernels.pack import KINDS, PackedLights, PackedScene, PackedView
from simulator.scene.kernels.radiance import Sampling
from simulator.scene.kernels.shadows import shaded
from simulator.scene.world import World
from simulator.units import FloatArray, Image

HIDDEN_SLACK_M = 0.3
BEYOND_M = 1.0e9
"""Depth at which sun and moon stand: before it everything but the sky hides them [m]."""


class Glint(NamedTuple):
    """A lamp or the sun before the lens, as a source of stray light.

    `place_px` (2,) and `radius_px` [px] of its image, which may lie outside the picture; `total`
    (3,) [e-/s] all its light; `seen` its share that falls on the picture and is not hidden,
    `outside` its share that falls beside the picture.
    """

    light: int
    place_px: FloatArray
    radius_px: float
    distance_m: float
    total: FloatArray
    seen: float
    outside: float


class _Bright(NamedTuple):
    light: int
    place_px: FloatArray
    depth_m: float
    distance_m: float
    radius_px: float
    total: FloatArray
    flow_px_s: FloatArray


def add_emitters(
    rate: Image,
    depth: Image,
    sampling: Sampling,
    world: World,
    view: View,
    packed: PackedView,
    lights: PackedLights,
    shutter_s: float = 0.0,
) -> list[Glint]:
    """Add every lamp that faces the camera, sun and moon to a rate picture, in place.

    A light that throws the illuminance E on the lens, square to its rays, adds in all

        pi c0 E f_px^2 cos(theta) x vignetting   [e-/s]

    with c0 the coefficient of a perfect diffuser (luminance L and pixel solid angle cos^3/f_px^2).
    For a lamp of intensity I towards the camera, at distance d, E = I / d^2 exp(-extinction d). Sun
    and moon stand at infinity, a disc of 0.53 degrees across and of the luminance E / solid angle;
    their E is that on the ground, so that the air takes no more of it. The light is spread over
    the disc, or over one sample if smaller, and along its movement.

    Parameters
    ----------
    rate
        (rows, columns, 3) [e-/s per pixel], changed in place.
    depth
        (rows, columns) depth of what stands there [m]; lamps behind it stay hidden.
    shutter_s
        Time over which lamps that move are drawn out [s].

    Returns
    -------
    Every one of them before the lens, also those whose image falls beside the picture.
    """
    out = []
    for bright in _lamps(world, view, packed, lights) + _suns(view, packed, lights):
        move = bright.flow_px_s * shutter_s
        steps = max(1, int(np.ceil(np.hypot(*move) / sampling.step)))
        shares = np.zeros(2)
        for k in range(steps):
            place = bright.place_px + move * ((k + 0.5) / steps - 0.5)
            shares += _splat(rate, depth, sampling, place, bright, bright.total / steps)
        out.append(
            Glint(
                bright.light, bright.place_px, bright.radius_px, bright.distance_m, bright.total,
                *(float(share) for share in shares / steps),
            )
        )  # fmt: skip
    return out


def _fall(xy: FloatArray, packed: PackedView) -> float:
    """Vignetting at a place of the image plane; outside the image circle that of its edge."""
    radius2 = float(np.sum((xy - packed.centre) ** 2))
    return float(1.0 - (1.0 - packed.corner_illumination) * min(1.0, radius2 / packed.circle_px**2))


def _image_of(view: View, undistorted_px: FloatArray) -> FloatArray:
    """Image (2,) of a place in a pinhole picture [px]; where distortion has none, far beside the
    picture, the place itself."""
    distort = view.distort(undistorted_px)
    return distort if np.all(np.isfinite(distort)) else undistorted_px


def _lamps(world: World, view: View, packed: PackedView, lights: PackedLights) -> list[_Bright]:
    out = []
    for emitter in world.emitters:
        offset = view.position_m - emitter.position_m
        d = float(np.linalg.norm(offset))
        if d < 1e-3:
            continue
        u = offset / d
        intensity = beam_intensity(emitter.light, u[0], u[1], u[2], lights)
        undistort, z = view.project_undistorted(emitter.position_m)
        if intensity <= 0.0 or z <= 1e-9:
            continue
        xy = _image_of(view, undistort)
        total = (
            np.pi * lights.coefficient[emitter.light, 0] * (intensity / d**2)
            * view.focal_px**2 * (z / d) * _fall(xy, packed) * np.exp(-lights.extinction * d)
        )  # fmt: skip
        radius = min(emitter.diameter_m / 2.0 / d * view.focal_px, float(view.width_px))
        flow = view.flow(emitter.position_m, world.velocities[emitter.group])
        out.append(_Bright(emitter.light, xy, float(z), d, radius, total, flow))
    return out


def _suns(view: View, packed: PackedView, lights: PackedLights) -> list[_Bright]:
    out = []
    for i in np.flatnonzero(lights.kind == KINDS["sun"]):
        right, down, ahead = view.axes @ lights.direction[i]
        if ahead <= 1e-3 or lights.amount[i] <= 0.0:
            continue
        xy = _image_of(view, np.array([right, down]) / ahead * view.focal_px + packed.centre)
        total = (
            np.pi * lights.coefficient[i, 0] * lights.amount[i]
            * view.focal_px**2 * ahead * _fall(xy, packed)
        )  # fmt: skip
        radius = np.tan(np.radians(SUN_DIAMETER_DEG / 2.0)) * view.focal_px
        out.append(_Bright(int(i), xy, BEYOND_M, np.inf, float(radius), total, np.zeros(2)))
    return out


def _splat(
    rate: Image,
    depth: Image,
    s: Sampling,
    place_px: FloatArray,
    bright: _Bright,
    total: FloatArray,
) -> FloatArray:
    """Spread `total` over a disc; the sum over samples times step^2 is what was put in.

    Returns the shares that are seen and that fall outside the samples (2,).
    """
    cx, cy = (place_px[0] - s.x0) / s.step - 0.5, (place_px[1] - s.y0) / s.step - 0.5
    r = max(0.6, bright.radius_px / s.step)
    x0, x1 = int(np.floor(cx - r - 1)), int(np.ceil(cx + r + 1)) + 1
    y0, y1 = int(np.floor(cy - r - 1)), int(np.ceil(cy + r + 1)) + 1
    ax, bx = max(0, x0), min(s.columns, x1)
    ay, by = max(0, y0), min(s.rows, y1)
    if ax >= bx or ay >= by:
        return np.array([0.0, 1.0])
    x, y = np.arange(x0, x1), np.arange(y0, y1)
    mask = np.clip(r + 0.5 - np.hypot(x[None, :] - cx, y[:, None] - cy), 0.0, 1.0)
    mask /= mask.sum()
    part = mask[ay - y0 : by - y0, ax - x0 : bx - x0]
    seen = part * (depth[ay:by, ax:bx] > bright.depth_m - HIDDEN_SLACK_M)
    rate[ay:by, ax:bx] += (seen[:, :, None] * (total / s.step**2)).astype(np.float32)
    return np.array([seen.sum(), 1.0 - part.sum()])


@kernel
def _hidden(point, towards, light, cards, lights):  # type: ignore[no-untyped-def]
    n = cards.offset.shape[0]
    return shaded(
        point[0], point[1], point[2], towards[0], towards[1], towards[2], light, n, cards, lights
    )


def stray_totals(
    glints: Sequence[Glint], position_m: FloatArray, scene: PackedScene, lights: PackedLights
) -> FloatArray:
    """Light (n, 3) [e-/s] by which each source feeds the lens's stray light.

    What of it is seen on the picture, and what falls beside the picture unless something stands
    between it and the lens.
    """
    out = np.zeros((len(glints), 3))
    cards, bodies = scene
    open_lights = shaded_anywhere(cards, lights)
    for k, glint in enumerate(glints):
        share = glint.seen
        if glint.outside > 0.0:
            if np.isinf(glint.distance_m):
                towards = lights.direction[glint.light] * 1e4
            else:
                towards = lights.position[glint.light] - position_m
                towards = towards * max(0.0, 1.0 - HIDDEN_SLACK_M / glint.distance_m)
            behind = bodies is not None and bool(bodies.hidden(position_m[None], towards[None])[0])
            if not behind and not _hidden(position_m, towards, glint.light, cards, open_lights):
                share += glint.outside
        out[k] = share * glint.total
    return out
