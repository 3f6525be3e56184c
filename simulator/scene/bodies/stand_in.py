"""The card that stands for a body: its outline and materials as seen from its front.

Judges ask cards for place, size, materials and outline of a target. The card of a body answers
for it and is itself neither seen nor in the way of light.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from simulator.scene.geometry import CLEAR, Card, facing_normal, upright_card
from simulator.scene.kernels.pack_bodies import pack_bodies
from simulator.scene.materials import Material
from simulator.scene.mesh import Mesh
from simulator.units import FloatArray

TEXELS = 160
"""Texels along the longer side of the card."""
MOST_TEXTURES = 64
"""Textures that are kept, by body and side: scenes are built again and again."""


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
    key = mesh.content, mesh.inside, facing_deg
    if key not in _textures:
        if len(_textures) >= MOST_TEXTURES:
            del _textures[next(iter(_textures))]
        corner = (float(side.min()), float(high.max()), float(ahead.max()) + 1.0)
        _textures[key] = _seen(mesh, materials, across, normal, corner, (width, height))
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
        _textures[key],
        facing_deg=facing_deg,
        group=mesh.group,
        casts_shadow=False,
        variation=variation,
    )


_textures: dict[tuple[bytes, int, float], NDArray[np.uint8]] = {}


def _seen(
    mesh: Mesh,
    materials: Sequence[Material],
    across: FloatArray,
    normal: FloatArray,
    corner_m: tuple[float, float, float],
    size_m: tuple[float, float],
) -> NDArray[np.uint8]:
    """Materials (rows, columns) that a body shows on one side, `CLEAR` beside it.

    `corner_m` along `across`, up and along `normal`, the upper left one of the picture plane.
    """
    width, height = size_m
    texel = max(width, height) / TEXELS
    columns, rows = max(1, round(width / texel)), max(1, round(height / texel))
    u = corner_m[0] + (np.arange(columns) + 0.5) / columns * width
    v = corner_m[1] - (np.arange(rows) + 0.5) / rows * height
    gu, gv = (a.reshape(-1, 1) for a in np.meshgrid(u, v))
    start = gu * across + gv * np.array([0.0, 0.0, 1.0]) + normal * corner_m[2]
    bodies = pack_bodies((replace(mesh, card=0),), materials)
    assert bodies is not None
    hits = bodies.hits(start, np.broadcast_to(-normal, start.shape).astype(np.float32))
    texture = np.full(rows * columns, CLEAR, np.uint8)
    if hits is not None:
        met = hits.card >= 0
        texture[met] = hits.material[met]
    return texture.reshape(rows, columns)
