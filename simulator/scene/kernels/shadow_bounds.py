"""Where shadows can lie: which card may shade which, from which light, and in what rectangle.

Safe bounds: the ray tests of the kernels have the last word.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.light.sources import SUN_DIAMETER_DEG, LightSource
from simulator.scene.world import World
from simulator.units import FloatArray

EVERYWHERE = 1.0e9
TOUCHING_M = 1e-6
"""Cards that rise no higher above a receiver than this do not shade it [m]."""
WIDER = 1.5
"""Penumbras are taken so much wider than their first-order width."""


def face_radius(light: LightSource) -> float:
    """Radius of a light's face [m]; of the sun the tangent of its disc's half angle."""
    if light.kind == "sun":
        return float(np.tan(np.radians(SUN_DIAMETER_DEG / 2.0)))
    return light.diameter_m / 2.0


def shadow_bounds(world: World) -> tuple[NDArray[np.bool_], NDArray[np.float32]]:
    """Which card b may shade card a (the ground last) from a light, and where on a.

    Returns
    -------
    tuple
        (lights, n + 1, n) and (lights, n + 1, n, 4): first and last place along the width and the
        height of card a from its upper left corner, of the ground world x and y [m].
    """
    cards, lights = world.cards, world.lights
    n = len(cards)
    may = np.zeros((len(lights), n + 1, n), dtype=np.bool_)
    box = np.empty((len(lights), n + 1, n, 4), dtype=np.float32)
    everywhere = [-EVERYWHERE, -EVERYWHERE, EVERYWHERE, EVERYWHERE]
    box[...] = everywhere
    if not n:
        return may, box
    frame = np.array([[c.corner_m, c.across, c.down, c.normal] for c in cards])
    ground = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    frame = np.concatenate([frame, ground[None]])
    corners = np.stack([c.corners_m for c in cards])
    # bodies shade by their triangles; a card that stands for one may be shaded by every card
    solid = np.isin(np.arange(n + 1), [mesh.card for mesh in world.meshes])
    casts = np.array([c.casts_shadow for c in cards]) & ~solid[:n]
    other = casts & ~np.eye(n + 1, n, dtype=np.bool_)
    # corners (n + 1, n, 4, 3) told from every receiver: across, down and height above it
    away = corners[None] - frame[:, None, None, 0]
    local = np.einsum("abcx,akx->abck", away, frame[:, 1:])
    for i, light in enumerate(lights):
        if light.kind in ("sun", "point"):
            may[i], box[i] = _of_light(light, frame, local)
            may[i, solid] = True
            box[i, solid] = everywhere
            may[i] &= other
    return may, box


def _of_light(
    light: LightSource, frame: FloatArray, local: FloatArray
) -> tuple[NDArray[np.bool_], FloatArray]:
    sun = light.kind == "sun"
    place = light.direction if sun else light.position_m
    assert place is not None
    radius = face_radius(light)
    towards = np.broadcast_to(place, frame[:, 0].shape) - (0.0 if sun else frame[:, 0])
    seen = np.einsum("ax,akx->ak", towards, frame[:, 1:])
    high, height = seen[:, 2, None], local[..., 2]
    may = ((high > -radius) & np.any(height > TOUCHING_M, axis=2)) | (
        (high < radius) & np.any(height < -TOUCHING_M, axis=2)
    )
    # on the side of the light; a light that touches the receiver's plane shades everywhere
    sign = np.where(high >= 0.0, 1.0, -1.0)
    h, high = height * sign[..., None], np.abs(high)[..., None]
    above = np.maximum(h, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        if sun:
            foot = local[..., :2] - seen[:, None, None, :2] * (h / high)[..., None]
            soft = above * radius / high**2
            clear = (high > 3.0 * radius)[..., 0] & np.ones(h.shape[:2], np.bool_)
        else:
            drop = high - h
            from_light = local[..., :2] - seen[:, None, None, :2]
            foot = seen[:, None, None, :2] + from_light * (high / drop)[..., None]
            length = np.sqrt((from_light**2).sum(axis=3) + drop**2)
            soft = radius * above * length / np.maximum(drop - radius, 1e-9) ** 2
            clear = np.all(drop > radius + 1e-3, axis=2) & (high > 3.0 * radius)[..., 0]
        wider = (WIDER * soft.max(axis=2) + 1e-3)[..., None]
        box = np.concatenate([foot.min(axis=2) - wider, foot.max(axis=2) + wider], axis=2)
    everywhere = np.array([-EVERYWHERE, -EVERYWHERE, EVERYWHERE, EVERYWHERE])
    return may, np.where(clear[..., None], box, everywhere)
