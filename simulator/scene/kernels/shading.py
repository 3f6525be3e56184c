"""What one ray sees and how it is lit: compiled functions of single places.

Cards, lights and view come packed (`pack`); card number n (one past the last) is the ground, -1
the sky. Places of the picture are in pixels, depth along the axis and points in metres.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernels import helper, kernel
from simulator.scene.geometry import CLEAR
from simulator.scene.kernels.beams import beam_intensity
from simulator.scene.kernels.distortion import undistort
from simulator.scene.kernels.even import even_at, mirrored
from simulator.scene.kernels.light_map import even_on_body
from simulator.scene.kernels.patterns import field
from simulator.scene.kernels.shadows import texel, visible

NOTHING = -1
NEAR_M = 0.002
"""How far over a surface the way to a light starts: a facet does not shade its own smooth skin."""


@helper
def find(x, y, cards, view, static_only):  # type: ignore[no-untyped-def]
    """Nearest surface along a ray: (card or n for ground or -1 for sky, material, depth)."""
    n = cards.offset.shape[0]
    best = np.inf
    card = NOTHING
    mat = 0
    x, y, _ = undistort(x, y, view)
    dz = view.rays[2, 0] * x + view.rays[2, 1] * y + view.rays[2, 2]
    if dz < -1e-9:
        best = -view.position[2] / dz
        card = n
        mat = cards.ground
    for c in range(n):
        if x < cards.box[c, 0] or x > cards.box[c, 2]:
            continue
        if y < cards.box[c, 1] or y > cards.box[c, 3]:
            continue
        if static_only and cards.group[c] > 0:
            continue
        den = cards.plane[c, 2, 0] * x + cards.plane[c, 2, 1] * y + cards.plane[c, 2, 2]
        if den == 0.0:
            continue
        t = cards.offset[c] / den
        if t <= 1e-6 or t >= best:
            continue
        u = (cards.plane[c, 0, 0] * x + cards.plane[c, 0, 1] * y + cards.plane[c, 0, 2]) / den
        v = (cards.plane[c, 1, 0] * x + cards.plane[c, 1, 1] * y + cards.plane[c, 1, 2]) / den
        if u < 0.0 or u >= 1.0 or v < 0.0 or v >= 1.0:
            continue
        seen = texel(cards, c, u, v)
        if seen == CLEAR:
            continue
        best = t
        card = c
        mat = seen
    return card, mat, best


@helper
def _towards(x, y, view):  # type: ignore[no-untyped-def]
    """Ray of an undistorted place of the picture, its component along the axis one."""
    return (
        view.rays[0, 0] * x + view.rays[0, 1] * y + view.rays[0, 2],
        view.rays[1, 0] * x + view.rays[1, 1] * y + view.rays[1, 2],
        view.rays[2, 0] * x + view.rays[2, 1] * y + view.rays[2, 2],
    )


@helper
def _place(dx, dy, dz, depth, view):  # type: ignore[no-untyped-def]
    """Point that a ray meets at a depth [m]."""
    return (
        view.position[0] + dx * depth,
        view.position[1] + dy * depth,
        view.position[2] + dz * depth,
    )


@helper
def _normal(card, normals, p, cards):  # type: ignore[no-untyped-def]
    """Whether sample number p shows a body, its normal, and the light that it is the face of.

    The ground faces up; a card its normal, whichever side is seen; -1 for no light.
    """
    n = cards.offset.shape[0]
    solid = normals.shape[0] > 0 and (
        normals[p, 0] != 0.0 or normals[p, 1] != 0.0 or normals[p, 2] != 0.0
    )
    if solid:
        return True, float(normals[p, 0]), float(normals[p, 1]), float(normals[p, 2]), -1
    if card == n:
        return False, 0.0, 0.0, 1.0, -1
    frame = cards.frame
    return False, frame[card, 3, 0], frame[card, 3, 1], frame[card, 3, 2], cards.glow[card]


@helper
def _retro(tables, k, observation_deg, entrance_deg):  # type: ignore[no-untyped-def]
    """R_A from a dense table (observation in steps of 0.05, entrance in steps of 2 degrees)."""
    a, b = observation_deg / 0.05, entrance_deg / 2.0
    ia, ib = int(a), int(b)
    if ia >= tables.shape[1] - 1 or ib >= tables.shape[2] - 1:
        return 0.0
    fa, fb = a - ia, b - ib
    return (tables[k, ia, ib] * (1 - fa) + tables[k, ia + 1, ib] * fa) * (1 - fb) + (
        tables[k, ia, ib + 1] * (1 - fa) + tables[k, ia + 1, ib + 1] * fa
    ) * fb


@helper
def _fresnel(normal, cosine):  # type: ignore[no-untyped-def]
    """Reflected share at an angle from that at normal incidence (Schlick 1994)."""
    c = 1.0 - cosine
    return normal + (1.0 - normal) * c * c * c * c * c


@helper
def _coat(nx, ny, nz, lx, ly, lz, vx, vy, vz, mirror, alpha):  # type: ignore[no-untyped-def]
    """Reflection of a rough clear coat [1/sr]: D G F / (4 n.l n.v), GGX (Walter et al. 2007)."""
    nl = nx * lx + ny * ly + nz * lz
    nv = max(nx * vx + ny * vy + nz * vz, 1e-3)
    hx, hy, hz = lx + vx, ly + vy, lz + vz
    size = math.sqrt(hx * hx + hy * hy + hz * hz)
    if size < 1e-9 or nl <= 0.0:
        return 0.0
    nh = (nx * hx + ny * hy + nz * hz) / size
    vh = min(1.0, max(0.0, (vx * hx + vy * hy + vz * hz) / size))
    a2 = alpha * alpha
    base = nh * nh * (a2 - 1.0) + 1.0
    spread = a2 / (math.pi * base * base)
    seen = 2.0 * nv / (nv + math.sqrt(a2 + (1.0 - a2) * nv * nv))
    lit = 2.0 * nl / (nl + math.sqrt(a2 + (1.0 - a2) * nl * nl))
    return spread * seen * lit * _fresnel(mirror, vh) / (4.0 * nl * nv)


@helper
def grain(x, y, card, depth, normals, p, cards, view):  # type: ignore[no-untyped-def]
    """Factor by which the reflectance differs at this place from its mean.

    `normals` (places, 3 or more) as for `shade`: a body is seen along the axis that its side faces.
    """
    if card < 0:
        return 1.0
    variation = cards.rough[card, 0]
    if variation <= 0.0:
        return 1.0
    x, y, _ = undistort(x, y, view)
    dx, dy, dz = _towards(x, y, view)
    px, py, pz = _place(dx, dy, dz, depth, view)
    length = math.sqrt(dx * dx + dy * dy + dz * dz)
    solid, nx, ny, nz, _ = _normal(card, normals, p, cards)
    if card == cards.offset.shape[0]:
        facing = -dz / length
        gx, gy = px, py
    elif solid:
        facing = abs(dx * nx + dy * ny + dz * nz) / length
        level = math.sqrt(nx * nx + ny * ny)
        if level < 0.5:
            gx, gy = px, py
        else:
            gx, gy = (py * nx - px * ny) / level, -pz
    else:
        ox, oy, oz = (
            px - cards.frame[card, 0, 0],
            py - cards.frame[card, 0, 1],
            pz - cards.frame[card, 0, 2],
        )
        gx = (
            ox * cards.frame[card, 1, 0]
            + oy * cards.frame[card, 1, 1]
            + oz * cards.frame[card, 1, 2]
        )
        gy = (
            ox * cards.frame[card, 2, 0]
            + oy * cards.frame[card, 2, 1]
            + oz * cards.frame[card, 2, 2]
        )
        facing = abs(dx * nx + dy * ny + dz * nz) / length
    size = cards.rough[card, 1]
    footprint = depth / (view.focal_px * max(facing, 1e-3))
    noise = field(int(cards.rough[card, 2]), cards.tile, gx, gy, size, footprint)
    return max(0.05, 1.0 + variation * noise)


@kernel
def ask_bodies(  # type: ignore[no-untyped-def]
    first, last, x, y, card, depth, normals, cards, lights, view, weights, bounds, points, asked
):
    """Points of samples (n, 3), and whether a body may keep each light from them (n, lights).

    A body may where the way to the light meets the box `bounds` (bodies, 2, 3) around it.
    """
    for p in range(first, last):
        if card[p] == NOTHING:
            continue
        _, nx, ny, nz, glow = _normal(card[p], normals, p, cards)
        if glow >= 0:
            continue
        ux, uy, _ = undistort(x[p], y[p], view)
        dx, dy, dz = _towards(ux, uy, view)
        px, py, pz = _place(dx, dy, dz, depth[p], view)
        if nx * dx + ny * dy + nz * dz > 0.0:
            nx, ny, nz = -nx, -ny, -nz
        px, py, pz = px + nx * NEAR_M, py + ny * NEAR_M, pz + nz * NEAR_M
        points[p, 0], points[p, 1], points[p, 2] = px, py, pz
        for i in range(lights.kind.shape[0]):
            if weights[i] == 0.0 or lights.amount[i] == 0.0:
                continue
            if lights.kind[i] == 2:
                tx = lights.direction[i, 0] * 1e4
                ty = lights.direction[i, 1] * 1e4
                tz = lights.direction[i, 2] * 1e4
            elif lights.kind[i] == 3:
                tx = lights.position[i, 0] - px
                ty = lights.position[i, 1] - py
                tz = lights.position[i, 2] - pz
            else:
                continue
            if nx * tx + ny * ty + nz * tz <= 0.0:
                continue
            for b in range(bounds.shape[0]):
                if _meets(px, py, pz, tx, ty, tz, bounds, b):
                    asked[p, i] = True
                    break


@kernel
def ask_mirrors(  # type: ignore[no-untyped-def]
    first, last, x, y, card, mats, depth, normals, cards, gloss, view, points, rays, asked
):
    """Points of samples (n, 3) with a coat, and unit vectors of the rays that it throws back."""
    for p in range(first, last):
        if card[p] == NOTHING or gloss[mats[p], 1] <= 0.0:
            continue
        _, nx, ny, nz, glow = _normal(card[p], normals, p, cards)
        if glow >= 0:
            continue
        ux, uy, _ = undistort(x[p], y[p], view)
        dx, dy, dz = _towards(ux, uy, view)
        points[p, 0], points[p, 1], points[p, 2] = _place(dx, dy, dz, depth[p], view)
        length = math.sqrt(dx * dx + dy * dy + dz * dz)
        along = 2.0 * (nx * dx + ny * dy + nz * dz)
        rays[p, 0] = (dx - along * nx) / length
        rays[p, 1] = (dy - along * ny) / length
        rays[p, 2] = (dz - along * nz) / length
        asked[p] = True


@helper
def _slab(at, towards, low, high, enter, leave):  # type: ignore[no-untyped-def]
    """Share of a way that lies between two planes across one axis, of what lay between others."""
    if abs(towards) < 1e-12:
        return (enter, leave) if low <= at <= high else (1.0, 0.0)
    a, b = (low - at) / towards, (high - at) / towards
    return max(enter, min(a, b)), min(leave, max(a, b))


@helper
def _meets(px, py, pz, tx, ty, tz, bounds, b):  # type: ignore[no-untyped-def]
    """Whether the way from a point to (tx, ty, tz) away from it meets a box."""
    enter, leave = _slab(px, tx, bounds[b, 0, 0], bounds[b, 1, 0], 0.0, 1.0)
    enter, leave = _slab(py, ty, bounds[b, 0, 1], bounds[b, 1, 1], enter, leave)
    enter, leave = _slab(pz, tz, bounds[b, 0, 2], bounds[b, 1, 2], enter, leave)
    return enter <= leave


@helper
def shade(  # type: ignore[no-untyped-def]
    x, y, card, mat, depth, normals, free, thrown, p, cards, lights, view, weights
):
    """Rates of the three channels of one sample, before the grain of its surface.

    `normals` (places, 6), `free` (places, lights) and `thrown` (places, 5) tell of sample number
    `p` the normal of a body, zero on a card, with its triangle and the place in it, the share of
    each light that bodies leave, and the body that its coat mirrors; any of them may be empty.
    """
    r, g, b = 0.0, 0.0, 0.0
    x, y, denser = undistort(x, y, view)
    dx, dy, dz = _towards(x, y, view)
    qx, qy = x - view.centre[0], y - view.centre[1]
    radius2 = qx * qx + qy * qy
    f2 = view.focal_px * view.focal_px
    cos2 = f2 / (f2 + radius2)
    fall = (
        denser
        * cos2
        * cos2
        * (
            1.0
            - (1.0 - view.corner_illumination)
            * min(1.0, radius2 / (view.circle_px * view.circle_px))
        )
    )
    if card == NOTHING:
        for i in range(lights.kind.shape[0]):
            if lights.kind[i] == 0:
                e = lights.amount[i] * weights[i]
                r += e * lights.coefficient[i, 0, 0]
                g += e * lights.coefficient[i, 0, 1]
                b += e * lights.coefficient[i, 0, 2]
        return r * fall, g * fall, b * fall
    px, py, pz = _place(dx, dy, dz, depth, view)
    length = math.sqrt(dx * dx + dy * dy + dz * dz)
    vx, vy, vz = -dx / length, -dy / length, -dz / length
    solid, nx, ny, nz, glow = _normal(card, normals, p, cards)
    if glow >= 0:
        e = math.pi * lights.amount[glow] * weights[glow] * fall
        r = e * lights.coefficient[glow, 0, 0]
        g = e * lights.coefficient[glow, 0, 1]
        b = e * lights.coefficient[glow, 0, 2]
        return r, g, b
    facing = nx * vx + ny * vy + nz * vz
    inside = facing < 0.0
    if inside:
        nx, ny, nz, facing = -nx, -ny, -nz, -facing
    facing = max(facing, 1e-3)
    mirror, alpha = lights.gloss[mat, 0], lights.gloss[mat, 1]
    mapped = lights.light_map.grid.shape[0] > 0
    if mapped:
        if solid:
            r, g, b = even_on_body(
                lights.light_map, int(normals[p, 3]), float(normals[p, 4]), float(normals[p, 5]),
                inside, card, mat,
            )  # fmt: skip
        else:
            r, g, b = even_at(px, py, pz, nx, ny, nz, card, mat, cards, lights.light_map)
        if alpha > 0.0:
            # a coat mirrors what stands there: Fresnel share of its luminance
            q, s, t = mirrored(
                px, py, pz, nx, ny, nz, vx, vy, vz, facing, alpha, thrown, p, card, cards, lights,
                weights,
            )  # fmt: skip
            back = _fresnel(mirror, facing) * (1.0 - alpha)
            r, g, b = r + back * q, g + back * s, b + back * t
    for i in range(lights.kind.shape[0]):
        w = weights[i]
        if free.shape[0] > 0:
            w *= free[p, i]
        if w == 0.0:
            continue
        kind = lights.kind[i]
        if kind <= 1 and mapped:
            continue
        if kind == 0:
            e = lights.amount[i] * 0.5 * (1.0 + nz) * w
            if alpha > 0.0 and 2.0 * facing * nz - vz > 0.0:
                # a coat mirrors the even sky: Fresnel share of its luminance
                back = lights.amount[i] * w * _fresnel(mirror, facing) * (1.0 - alpha)
                r += back * lights.coefficient[i, 0, 0]
                g += back * lights.coefficient[i, 0, 1]
                b += back * lights.coefficient[i, 0, 2]
        elif kind == 1:
            e = lights.amount[i] * 0.5 * (1.0 - nz) * w
        elif kind == 2:
            tx = lights.direction[i, 0]
            ty = lights.direction[i, 1]
            tz = lights.direction[i, 2]
            cosine = nx * tx + ny * ty + nz * tz
            if cosine <= 0.0:
                continue
            open_share = visible(px, py, pz, tx * 1e4, ty * 1e4, tz * 1e4, i, card, cards, lights)
            if open_share <= 0.0:
                continue
            e = lights.amount[i] * cosine * w * open_share
            if alpha > 0.0:
                back = math.pi * e * _coat(nx, ny, nz, tx, ty, tz, vx, vy, vz, mirror, alpha)
                r += back * lights.coefficient[i, 0, 0]
                g += back * lights.coefficient[i, 0, 1]
                b += back * lights.coefficient[i, 0, 2]
        elif kind == 4:
            continue
        else:
            tx = lights.position[i, 0] - px
            ty = lights.position[i, 1] - py
            tz = lights.position[i, 2] - pz
            d2 = tx * tx + ty * ty + tz * tz
            if d2 < 1e-6:
                continue
            d = math.sqrt(d2)
            cosine = (nx * tx + ny * ty + nz * tz) / d
            if cosine <= 0.0:
                continue
            perpendicular = beam_intensity(i, -tx / d, -ty / d, -tz / d, lights) / d2 * w
            if perpendicular <= 0.0:
                continue
            perpendicular *= visible(px, py, pz, tx, ty, tz, i, card, cards, lights)
            if perpendicular <= 0.0:
                continue
            if lights.extinction > 0.0:
                perpendicular *= math.exp(-lights.extinction * d)
            e = perpendicular * cosine
            if alpha > 0.0:
                back = _coat(nx, ny, nz, tx / d, ty / d, tz / d, vx, vy, vz, mirror, alpha)
                back *= math.pi * e
                r += back * lights.coefficient[i, 0, 0]
                g += back * lights.coefficient[i, 0, 1]
                b += back * lights.coefficient[i, 0, 2]
            sheet = lights.sheeting[mat]
            if sheet >= 0:
                dot = (vx * tx + vy * ty + vz * tz) / d
                observation = math.degrees(math.acos(min(1.0, max(-1.0, dot))))
                entrance = math.degrees(math.acos(min(1.0, cosine)))
                value = _retro(lights.tables, sheet, observation, entrance)
                back = perpendicular * value * math.pi / facing
                r += back * lights.retro[i, mat, 0]
                g += back * lights.retro[i, mat, 1]
                b += back * lights.retro[i, mat, 2]
        r += e * lights.coefficient[i, mat, 0]
        g += e * lights.coefficient[i, mat, 1]
        b += e * lights.coefficient[i, mat, 2]
    return r * fall, g * fall, b * fall
