"""The card that stands for a body: its outline and materials as seen from its front.

Judges ask cards for place, size, materials and outline of a target. The card of a body answers
for it and is itself neither seen nor in the way of light.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from simulator.scene.geometry import CLEAR, Card, facing_normal, upright_card
from simulator.scene.kernels.bodies import pack_bodies
from simulator.scene.materials import Material
from simulator.scene.mesh import Mesh

TEXELS = 160
"""Texels along the longer side of the card."""


def stand_in(
    mesh: Mesh,
    materials: Sequence[Material],
    facing_deg: float,
    *,
    behind_m: float = 0.0,
    variation: float = 0.0,
) -> Card:
    """A card before a body that looks a way.

    Parameters
    ----------
    mesh
        The body.
    materials
        Of the scene.
    facing_deg
        Where the side looks that the card shows; 0 back at the camera [deg].
    behind_m
        How far the card lies behind the foremost point of the body [m].
    variation
        Relative standard deviation of the body's reflectance from place to place.
    """
    normal, phi = facing_normal(facing_deg), np.radians(facing_deg)
    across = np.array([np.cos(phi), np.sin(phi), 0.0])
    side, high, ahead = (mesh.vertices_m @ axis for axis in (across, (0.0, 0.0, 1.0), normal))
    width, height = float(np.ptp(side)), float(np.ptp(high))
    texel = max(width, height) / TEXELS
    columns, rows = max(1, round(width / texel)), max(1, round(height / texel))
    u = side.min() + (np.arange(columns) + 0.5) / columns * width
    v = high.max() - (np.arange(rows) + 0.5) / rows * height
    gu, gv = (a.reshape(-1, 1) for a in np.meshgrid(u, v))
    start = gu * across + gv * np.array([0.0, 0.0, 1.0]) + normal * (ahead.max() + 1.0)
    bodies = pack_bodies((replace(mesh, card=0),), materials)
    assert bodies is not None
    found = bodies.hits(start, np.broadcast_to(-normal, start.shape).astype(np.float32))
    texture = np.full(rows * columns, CLEAR, np.uint8)
    if found is not None:
        texture[found.ray] = found.material
    centre = (
        across * (side.min() + width / 2.0)
        + np.array([0.0, 0.0, high.min() + height / 2.0])
        + normal * (ahead.max() - behind_m)
    )
    return upright_card(
        mesh.name,
        centre,
        width,
        height,
        texture.reshape(rows, columns),
        facing_deg=facing_deg,
        group=mesh.group,
        casts_shadow=False,
        variation=variation,
    )
