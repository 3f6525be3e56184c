"""Sky and bounced light at points of the scene, and what a glossy coat mirrors there."""

from __future__ import annotations

import math

import numpy as np

from simulator.kernels import helper
from simulator.scene.geometry import CLEAR
from simulator.scene.kernels.light_map import (
    FAR_ROW,
    SKY_ROW,
    even_light,
    mirror_body,
    mirror_light,
)
from simulator.scene.kernels.shadows import texel


@helper
def even_at(px, py, pz, nx, ny, nz, card, mat, cards, light_map):  # type: ignore[no-untyped-def]
    """Rates by sky and bounced light at a point of a card or the ground."""
    n = cards.offset.shape[0]
    if card == n:
        u = (px - light_map.ground[0]) / light_map.ground[2]
        v = (py - light_map.ground[1]) / light_map.ground[3]
        return even_light(light_map, 2 * n, u, v, n, mat)
    f = cards.frame
    ox, oy, oz = px - f[card, 0, 0], py - f[card, 0, 1], pz - f[card, 0, 2]
    u = (ox * f[card, 1, 0] + oy * f[card, 1, 1] + oz * f[card, 1, 2]) / cards.size[card, 0]
    v = (ox * f[card, 2, 0] + oy * f[card, 2, 1] + oz * f[card, 2, 2]) / cards.size[card, 1]
    front = nx * f[card, 3, 0] + ny * f[card, 3, 1] + nz * f[card, 3, 2] > 0.0
    return even_light(light_map, 2 * card + (0 if front else 1), u, v, card, mat)


@helper
def mirrored(  # type: ignore[no-untyped-def]
    px, py, pz, nx, ny, nz, vx, vy, vz, facing, alpha, thrown, p, card, cards, lights, weights
):
    """Rates of a perfect mirror of roughness alpha: what a ray thrown back meets.

    `thrown` (places, 5) tells of sample number p the body that the ray meets, see `ask_mirrors`;
    it may be empty. Sky and far ground run into one another over the width of the lobe about the
    horizon.
    """
    m = lights.light_map
    n = cards.offset.shape[0]
    tx, ty, tz = 2.0 * facing * nx - vx, 2.0 * facing * ny - vy, 2.0 * facing * nz - vz
    best, side, glow, at_u, at_v = np.inf, -1, -1, 0.0, 0.0
    for c in range(n):
        if c == card:
            continue
        f = cards.frame
        den = tx * f[c, 3, 0] + ty * f[c, 3, 1] + tz * f[c, 3, 2]
        if den == 0.0:
            continue
        ox, oy, oz = px - f[c, 0, 0], py - f[c, 0, 1], pz - f[c, 0, 2]
        s = -(ox * f[c, 3, 0] + oy * f[c, 3, 1] + oz * f[c, 3, 2]) / den
        if s <= 1e-3 or s >= best or cards.solid[c]:
            continue
        hx, hy, hz = ox + s * tx, oy + s * ty, oz + s * tz
        u = (hx * f[c, 1, 0] + hy * f[c, 1, 1] + hz * f[c, 1, 2]) / cards.size[c, 0]
        v = (hx * f[c, 2, 0] + hy * f[c, 2, 1] + hz * f[c, 2, 2]) / cards.size[c, 1]
        if u < 0.0 or u >= 1.0 or v < 0.0 or v >= 1.0:
            continue
        if not cards.full[c] and texel(cards, c, u, v) == CLEAR:
            continue
        best, glow, at_u, at_v = s, cards.glow[c], u, v
        side = 2 * c + (1 if den > 0.0 else 0)
    ground = tz < 0.0 and -pz / tz < best and card != n
    body = thrown.shape[0] > 0 and thrown[p, 0] > 0.0 and thrown[p, 0] < best
    if body and not (ground and -pz / tz < thrown[p, 0]):
        triangle, inside = int(thrown[p, 1]), thrown[p, 4] > 0.0
        return mirror_body(m, triangle, float(thrown[p, 2]), float(thrown[p, 3]), inside)
    if glow >= 0 and not ground:
        e = math.pi * lights.amount[glow] * weights[glow]
        w = lights.coefficient
        return e * w[glow, 0, 0], e * w[glow, 0, 1], e * w[glow, 0, 2]
    r, g, b = m.sent[FAR_ROW, 0], m.sent[FAR_ROW, 1], m.sent[FAR_ROW, 2]
    if ground:
        s = -pz / tz
        u = (px + s * tx - m.ground[0]) / m.ground[2]
        v = (py + s * ty - m.ground[1]) / m.ground[3]
        if 0.0 <= u < 1.0 and 0.0 <= v < 1.0:
            r, g, b = mirror_light(m, 2 * n, u, v)
    elif side >= 0:
        return mirror_light(m, side, at_u, at_v)
    # half of the lobe's width: GGX half vectors lie within atan(alpha) half of the time
    wide = max(2.0 * alpha, 1e-3)
    up = min(1.0, max(0.0, 0.5 + 0.5 * tz / wide))
    up = up * up * (3.0 - 2.0 * up)
    return (
        up * m.sent[SKY_ROW, 0] + (1.0 - up) * r,
        up * m.sent[SKY_ROW, 1] + (1.0 - up) * g,
        up * m.sent[SKY_ROW, 2] + (1.0 - up) * b,
    )
