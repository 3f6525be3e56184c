"""How much of every light falls on points of the world, shadows included."""

from __future__ import annotations

import math
from typing import Protocol

import numpy as np

from simulator.kernels import kernel, over_rows
from simulator.scene.air import air_at
from simulator.scene.geometry import View
from simulator.scene.kernels.beams import beam_intensity
from simulator.scene.kernels.pack import (
    KINDS,
    PackedCards,
    PackedLights,
    PackedScene,
    pack_lights,
    pack_scene,
)
from simulator.scene.kernels.shadow_bounds import EVERYWHERE
from simulator.scene.kernels.shadows import visible
from simulator.scene.world import World
from simulator.units import FloatArray


class EvenLight(Protocol):
    """Sky and bounced light at any place."""

    def units(
        self,
        points_m: FloatArray,
        normals: FloatArray,
        amount: FloatArray,
        card: int | None = None,
    ) -> FloatArray:
        """Units (n, lights) on points with normals, for lights of strengths (lights,); the body
        that a card stands for does not shade it."""


GREEN_NM = 550.0
"""Wavelength that stands for visible light in the air."""


@kernel
def _incident(first, last, points, normals, receiver, cards, lights, out):  # type: ignore[no-untyped-def]
    many = lights.kind.shape[0]
    for p in range(first, last):
        px, py, pz = points[p, 0], points[p, 1], points[p, 2]
        nx, ny, nz = normals[p, 0], normals[p, 1], normals[p, 2]
        for i in range(many):
            kind = lights.kind[i]
            if kind == 0:
                out[p, i] = lights.amount[i] * 0.5 * (1.0 + nz)
                continue
            if kind == 1:
                out[p, i] = lights.amount[i] * 0.5 * (1.0 - nz)
                continue
            if kind == 2:
                tx = lights.direction[i, 0] * 1e4
                ty = lights.direction[i, 1] * 1e4
                tz = lights.direction[i, 2] * 1e4
            else:
                tx = lights.position[i, 0] - px
                ty = lights.position[i, 1] - py
                tz = lights.position[i, 2] - pz
            d = math.sqrt(tx * tx + ty * ty + tz * tz)
            if d < 1e-3:
                continue
            cosine = (nx * tx + ny * ty + nz * tz) / d
            if cosine <= 0.0:
                continue
            open_share = visible(px, py, pz, tx, ty, tz, i, receiver, cards, lights)
            if open_share <= 0.0:
                continue
            if kind == 2:
                out[p, i] = lights.amount[i] * cosine * open_share
            else:
                perpendicular = beam_intensity(i, -tx / d, -ty / d, -tz / d, lights) / (d * d)
                out[p, i] = perpendicular * cosine * open_share
                if lights.extinction > 0.0:
                    out[p, i] *= math.exp(-lights.extinction * d)


def incident(
    points_m: FloatArray,
    normal: FloatArray,
    scene: PackedScene,
    lights: PackedLights,
    card: int | None = None,
    field: EvenLight | None = None,
) -> FloatArray:
    """Amount of every light on points (n, lights), each in the light's own unit, lx or W/m2.

    Lamps by inverse square, cosine and beam, times what the air on the way leaves of their light,
    exp(-`lights.extinction` d), as in the picture, and times the share of the lamp's face that is
    seen. Sky and bounced light as the scene's light field has them: bounced light counts with the
    light it comes from, that of sun and sky with what open ground throws back. The latter is told
    before the ground's reflectance, which stands in its spectrum.

    Parameters
    ----------
    points_m
        World points (n, 3) [m].
    normal
        Unit normal (3,) or normals (n, 3) of the receiving plane.
    card
        Index of the card the points lie on, which then does not shade itself, nor does the body it
        stands for; without it every card and body may shade them.
    field
        The scene's light field (`radiosity.light_field`). Without one, sky and ground are those of
        an open horizon, and lamps bounce off nothing.
    """
    cards, bodies = scene
    points = np.ascontiguousarray(np.atleast_2d(points_m), dtype=np.float64)
    # a copy: what is only lent may not be written to, and would be compiled for once more
    normals = np.array(np.broadcast_to(normal, points.shape), dtype=np.float64, order="C")
    receiver = len(cards.offset) if card is None else card
    if card is None:
        lights = shaded_anywhere(cards, lights)
    out = np.zeros((len(points), len(lights.kind)))
    over_rows(_incident, len(points), points, normals, receiver, cards, lights, out, least=64)
    if bodies is not None:
        bodies.dim(out, points, lights, without=-1 if card is None else card)
    if field is not None:
        out[:, lights.kind <= KINDS["bounce"]] = 0.0
        out += field.units(points, normals, lights.amount, card)
    return out


def unshaded(
    points_m: FloatArray, normals: FloatArray, cards: PackedCards, lights: PackedLights
) -> FloatArray:
    """Direct light of lamps and the sun (n, lights) on points with normals (n, 3), without shadows.

    Of sky and bounced light it holds what an open horizon gives.
    """
    none = lights._replace(blockers=np.zeros_like(lights.blockers))
    out = np.zeros((len(points_m), len(lights.kind)))
    points, facing = (np.array(a, dtype=np.float64, order="C") for a in (points_m, normals))
    over_rows(_incident, len(points), points, facing, 0, cards, none, out, least=64)
    return out


def shaded_anywhere(cards: PackedCards, lights: PackedLights) -> PackedLights:
    """Lights for points off the ground and off every card, told as the ground's: every card that
    casts shadows may stand between."""
    n = len(cards.offset)
    blockers, box = lights.blockers.copy(), lights.shade_box.copy()
    blockers[:, n, :] = blockers.any(axis=1)
    box[:, n] = [-EVERYWHERE, -EVERYWHERE, EVERYWHERE, EVERYWHERE]
    return lights._replace(blockers=blockers, shade_box=box)


def packed_for_light(
    world: World, wavelength_nm: float = GREEN_NM
) -> tuple[PackedScene, PackedLights]:
    """Cards, bodies and lights of a world packed for `incident`, without a camera.

    The air weakens all light as it does that of one wavelength [nm].
    """
    nowhere = View.aimed(np.array([0.0, -1.0, 1.0]), np.array([0.0, 1.0, 1.0]), 2, 2, 1.0)
    none = np.zeros((len(world.lights), len(world.materials), 3), np.float32)
    extinction = air_at(world.air, wavelength_nm).extinction_per_m if world.air else 0.0
    return pack_scene(world, nowhere), pack_lights(world, none, none, extinction)
