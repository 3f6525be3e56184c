"""Shadows of cards: what of a light's face a point sees. Compiled functions of single places.

A lamp is a bright disc square to the way to it, the sun one of 0.53 degrees. Cards that hide it
wholly or not at all are told by one test each. Where the rim of one opaque card crosses it, the
share that is hidden is the exact area; where several do, or one with holes, places spread evenly
over the face are looked at.
"""

from __future__ import annotations

import math

from simulator.kernels import helper
from simulator.scene.geometry import CLEAR

LEAST_SHARE, MOST_SHARE = 1e-5, 0.9999
"""What stands nearer to a point or a light than this share of the way does not shade."""


@helper
def texel(cards, c, u, v):  # type: ignore[no-untyped-def]
    rows = cards.texture[c, 1]
    columns = cards.texture[c, 2]
    return cards.texels[cards.texture[c, 0] + int(v * rows) * columns + int(u * columns)]


@helper
def _meets(px, py, pz, tx, ty, tz, c, cards):  # type: ignore[no-untyped-def]
    """Whether the way from a point to point + (tx, ty, tz) meets the opaque part of a card."""
    f = cards.frame
    den = tx * f[c, 3, 0] + ty * f[c, 3, 1] + tz * f[c, 3, 2]
    if den == 0.0:
        return False
    ox, oy, oz = px - f[c, 0, 0], py - f[c, 0, 1], pz - f[c, 0, 2]
    s = -(ox * f[c, 3, 0] + oy * f[c, 3, 1] + oz * f[c, 3, 2]) / den
    if s <= LEAST_SHARE or s >= MOST_SHARE:
        return False
    hx, hy, hz = ox + s * tx, oy + s * ty, oz + s * tz
    u = (hx * f[c, 1, 0] + hy * f[c, 1, 1] + hz * f[c, 1, 2]) / cards.size[c, 0]
    v = (hx * f[c, 2, 0] + hy * f[c, 2, 1] + hz * f[c, 2, 2]) / cards.size[c, 1]
    if u < 0.0 or u >= 1.0 or v < 0.0 or v >= 1.0:
        return False
    return cards.full[c] or texel(cards, c, u, v) != CLEAR


@helper
def _place(px, py, pz, receiver, cards):  # type: ignore[no-untyped-def]
    """Where a point lies on the card that receives light there, or on the ground."""
    if receiver == cards.offset.shape[0]:
        return px, py
    f = cards.frame
    ox, oy, oz = px - f[receiver, 0, 0], py - f[receiver, 0, 1], pz - f[receiver, 0, 2]
    return (
        ox * f[receiver, 1, 0] + oy * f[receiver, 1, 1] + oz * f[receiver, 1, 2],
        ox * f[receiver, 2, 0] + oy * f[receiver, 2, 1] + oz * f[receiver, 2, 2],
    )


@helper
def _may_lie(a, b, light, receiver, c, lights):  # type: ignore[no-untyped-def]
    """Whether a card's shadow can lie at a place of the receiver."""
    if not lights.blockers[light, receiver, c]:
        return False
    box = lights.shade_box
    if a < box[light, receiver, c, 0] or a > box[light, receiver, c, 2]:
        return False
    return box[light, receiver, c, 1] <= b <= box[light, receiver, c, 3]


@helper
def shaded(px, py, pz, tx, ty, tz, light, receiver, cards, lights):  # type: ignore[no-untyped-def]
    """Whether a card stands between a point and a light at point + (tx, ty, tz)."""
    a, b = _place(px, py, pz, receiver, cards)
    for c in range(cards.offset.shape[0]):
        if _may_lie(a, b, light, receiver, c, lights) and _meets(px, py, pz, tx, ty, tz, c, cards):
            return True
    return False


@helper
def _hides(px, py, pz, tx, ty, tz, d, radius, c, cards):  # type: ignore[no-untyped-def]
    """What a card hides of a disc of a radius about point + (tx, ty, tz), square to the way.

    0 nothing, 1 all, 2 perhaps a part. At the share s of the way the cone to the disc has s times
    the radius of the disc; on the card's plane it reaches farther by 1/cos.
    """
    f = cards.frame
    den = tx * f[c, 3, 0] + ty * f[c, 3, 1] + tz * f[c, 3, 2]
    ox, oy, oz = px - f[c, 0, 0], py - f[c, 0, 1], pz - f[c, 0, 2]
    off = ox * f[c, 3, 0] + oy * f[c, 3, 1] + oz * f[c, 3, 2]
    slant = math.sqrt(max(0.0, 1.0 - (den / d) * (den / d))) * radius
    apart = (off > 0.0) == (off + den > slant) and (off > 0.0) == (off + den > -slant)
    if apart or (abs(off) < 1e-7 and abs(den) > slant):
        return 0
    if abs(den) <= 1.5 * slant:
        return 2
    s = -off / den
    hx, hy, hz = ox + s * tx, oy + s * ty, oz + s * tz
    u = hx * f[c, 1, 0] + hy * f[c, 1, 1] + hz * f[c, 1, 2]
    v = hx * f[c, 2, 0] + hy * f[c, 2, 1] + hz * f[c, 2, 2]
    reach = s * radius * d / (abs(den) - slant)
    w, h = cards.size[c, 0], cards.size[c, 1]
    beside = u < -reach or u > w + reach or v < -reach or v > h + reach
    if beside or s <= LEAST_SHARE:
        return 0
    within = reach < u < w - reach and reach < v < h - reach
    return 1 if within and cards.full[c] and s < MOST_SHARE else 2


@helper
def _disc_wedge(ax, ay, bx, by):  # type: ignore[no-untyped-def]
    """Signed area that the unit disc shares with the triangle of its middle and an edge a to b."""
    ex, ey = bx - ax, by - ay
    cross = ax * by - ay * bx
    length2 = ex * ex + ey * ey
    if length2 == 0.0:
        return 0.0
    along = -(ax * ex + ay * ey) / length2
    apart2 = cross * cross / length2
    if apart2 >= 1.0:
        return 0.5 * math.atan2(cross, ax * bx + ay * by)
    half = math.sqrt((1.0 - apart2) / length2)
    s, t = max(0.0, along - half), min(1.0, along + half)
    if s >= t:
        return 0.5 * math.atan2(cross, ax * bx + ay * by)
    sx, sy, tx, ty = ax + s * ex, ay + s * ey, ax + t * ex, ay + t * ey
    area = 0.5 * (sx * ty - sy * tx)
    if s > 0.0:
        area += 0.5 * math.atan2(ax * sy - ay * sx, ax * sx + ay * sy)
    if t < 1.0:
        area += 0.5 * math.atan2(tx * by - ty * bx, tx * bx + ty * by)
    return area


@helper
def _hidden_share(px, py, pz, tx, ty, tz, d, radius, axes, c, cards):  # type: ignore[no-untyped-def]
    """Share of a disc that an opaque card hides, exactly; -1 where the card does not lie between.

    The card as the point throws it on the disc's plane is a quadrangle, which has an area in common
    with the disc.
    """
    f = cards.frame
    w, h = cards.size[c, 0], cards.size[c, 1]
    area = 0.0
    ux, uy, first_x, first_y = 0.0, 0.0, 0.0, 0.0
    for k in range(5):
        a = w if 1 <= k <= 2 else 0.0
        b = h if 2 <= k <= 3 else 0.0
        ox = f[c, 0, 0] + a * f[c, 1, 0] + b * f[c, 2, 0] - px
        oy = f[c, 0, 1] + a * f[c, 1, 1] + b * f[c, 2, 1] - py
        oz = f[c, 0, 2] + a * f[c, 1, 2] + b * f[c, 2, 2] - pz
        share = (ox * tx + oy * ty + oz * tz) / (d * d)
        if share < 1e-4 or share > MOST_SHARE:
            return -1.0
        x = (ox * axes[0] + oy * axes[1] + oz * axes[2]) / (share * radius)
        y = (ox * axes[3] + oy * axes[4] + oz * axes[5]) / (share * radius)
        if k == 0:
            first_x, first_y = x, y
        elif k == 4:
            area += _disc_wedge(ux, uy, first_x, first_y)
        else:
            area += _disc_wedge(ux, uy, x, y)
        ux, uy = x, y
    return min(1.0, abs(area) / math.pi)


@helper
def _disc_axes(tx, ty, tz, d):  # type: ignore[no-untyped-def]
    """Two unit vectors square to a way and to each other, as six numbers."""
    if abs(tz) < 0.9 * d:
        k = 1.0 / math.sqrt(tx * tx + ty * ty)
        ax, ay, az = -ty * k, tx * k, 0.0
    else:
        k = 1.0 / math.sqrt(ty * ty + tz * tz)
        ax, ay, az = 0.0, -tz * k, ty * k
    return ax, ay, az, (ty * az - tz * ay) / d, (tz * ax - tx * az) / d, (tx * ay - ty * ax) / d


@helper
def _sampled(px, py, pz, tx, ty, tz, radius, axes, few, light, receiver, cards, lights):  # type: ignore[no-untyped-def]
    """`visible` by looking at places spread evenly over the face."""
    p, q = _place(px, py, pz, receiver, cards)
    free = 0
    many = lights.disc.shape[0]
    for k in range(many):
        a, b = lights.disc[k, 0] * radius, lights.disc[k, 1] * radius
        sx = tx + a * axes[0] + b * axes[3]
        sy = ty + a * axes[1] + b * axes[4]
        sz = tz + a * axes[2] + b * axes[5]
        open_way = True
        if few >= 0:
            left = few
            while left > 0 and open_way:
                open_way = not _meets(px, py, pz, sx, sy, sz, (left & 0xFFFF) - 1, cards)
                left >>= 16
        else:
            for c in range(cards.offset.shape[0]):
                if _may_lie(p, q, light, receiver, c, lights) and _meets(
                    px, py, pz, sx, sy, sz, c, cards
                ):
                    open_way = False
                    break
        if open_way:
            free += 1
    return free / many


@helper
def visible(px, py, pz, tx, ty, tz, light, receiver, cards, lights):  # type: ignore[no-untyped-def]
    """Share of a light's face at point + (tx, ty, tz) that a point sees between the cards."""
    radius = lights.radius[light]
    d = math.sqrt(tx * tx + ty * ty + tz * tz)
    if lights.kind[light] == 2:
        radius *= d
    if radius <= 0.0:
        if shaded(px, py, pz, tx, ty, tz, light, receiver, cards, lights):
            return 0.0
        return 1.0
    p, q = _place(px, py, pz, receiver, cards)
    partly, only = 0, 0
    few = 0  # numbers of up to three cards that hide a part, one more than theirs, 16 bits each
    for c in range(cards.offset.shape[0]):
        if not _may_lie(p, q, light, receiver, c, lights):
            continue
        how = _hides(px, py, pz, tx, ty, tz, d, radius, c, cards)
        if how == 1:
            return 0.0
        if how == 2:
            partly += 1
            only = c
            few = (few << 16) | (c + 1)
    if partly == 0:
        return 1.0
    axes = _disc_axes(tx, ty, tz, d)
    if partly == 1 and cards.full[only]:
        share = _hidden_share(px, py, pz, tx, ty, tz, d, radius, axes, only, cards)
        if share >= 0.0:
            return 1.0 - share
    if partly > 3:
        few = -1
    return _sampled(px, py, pz, tx, ty, tz, radius, axes, few, light, receiver, cards, lights)
