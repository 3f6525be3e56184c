"""Compiled loops of the air: light that lamps scatter into view, and its way into a picture."""

from __future__ import annotations

import math

import numpy as np

from simulator.kernels import helper, kernel
from simulator.scene.kernels.beams import beam_intensity
from simulator.scene.kernels.distortion import undistort
from simulator.scene.kernels.pack import KINDS, SPHERES

FORWARD_G, BACK_G, BACK_SHARE = 0.85, -0.6, 0.058
TURN, TURN_SHARE = 0.08, 0.2
"""Longest step of the integral, as the angle seen from the lamp [rad], and the longest as a share
of the angle from the middle of the beam."""
HEADLAMP_TURN, TABLE_TURN = 0.006, 0.03
"""Steps that are short enough for headlamps and for tables over the sphere [rad]."""
CELL_MEAN = 0.284
"""A square cell's mean of 1/r about its centre is the value at this share of its side."""
POINT = KINDS["point"]


@helper
def phase(c):  # type: ignore[no-untyped-def]
    g, h = FORWARD_G, BACK_G
    ahead = (1 - g * g) / (4 * math.pi * (1 + g * g - 2 * g * c) ** 1.5)
    back = (1 - h * h) / (4 * math.pi * (1 + h * h - 2 * h * c) ** 1.5)
    return (1.0 - BACK_SHARE) * ahead + BACK_SHARE * back


@helper
def _fall(x, y, view):  # type: ignore[no-untyped-def]
    """Lens fall-off at a place of the picture, as for surfaces: cos^4 and vignetting."""
    qx, qy = x - view.centre[0], y - view.centre[1]
    radius2 = qx * qx + qy * qy
    f2 = view.focal_px * view.focal_px
    cos2 = f2 / (f2 + radius2)
    loss = (1.0 - view.corner_illumination) * min(1.0, radius2 / (view.circle_px * view.circle_px))
    return cos2 * cos2 * (1.0 - loss)


@helper
def _fine_turn(k, lights):  # type: ignore[no-untyped-def]
    """Step that is short enough for the beam of a light [rad]."""
    if lights.web[k] >= SPHERES:
        return TABLE_TURN
    if lights.web[k] >= 0:
        return HEADLAMP_TURN
    return 0.2 / math.sqrt(lights.exponent[k] + 1.0)


@kernel(allocates=True)
def scattered(first, last, x, y, nodes, cell, sigma, view, lights, out):  # type: ignore[no-untyped-def]
    """In-scattered rates (rows, columns, nodes, 3) from the lens up to each node of each ray.

    With h the distance of the lamp from the ray and a0 the place nearest to it, the angle
    atan((a - a0) / h) is stepped: da / (h^2 + (a - a0)^2) = d(angle) / h takes the inverse square
    out of the integral. Steps are shorter near the angle that lies in the middle of the beam.
    """
    many = nodes.shape[0]
    total = np.zeros((many, 3))
    for j in range(first, last):
        for i in range(x.shape[0]):
            sx, sy, denser = undistort(x[i], y[j], view)
            ux = view.rays[0, 0] * sx + view.rays[0, 1] * sy + view.rays[0, 2]
            uy = view.rays[1, 0] * sx + view.rays[1, 1] * sy + view.rays[1, 2]
            uz = view.rays[2, 0] * sx + view.rays[2, 1] * sy + view.rays[2, 2]
            length = math.sqrt(ux * ux + uy * uy + uz * uz)
            ux, uy, uz = ux / length, uy / length, uz / length
            scale = math.pi * _fall(sx, sy, view) * denser * sigma
            for s in range(many):
                for n in range(3):
                    total[s, n] = 0.0
            for k in range(lights.kind.shape[0]):
                if lights.kind[k] != POINT or lights.amount[k] == 0.0:
                    continue
                lx = lights.position[k, 0] - view.position[0]
                ly = lights.position[k, 1] - view.position[1]
                lz = lights.position[k, 2] - view.position[2]
                a0 = lx * ux + ly * uy + lz * uz
                hx, hy, hz = lx - a0 * ux, ly - a0 * uy, lz - a0 * uz
                h = math.sqrt(hx * hx + hy * hy + hz * hz)
                h = max(h, 1e-3, CELL_MEAN * cell / view.focal_px * abs(a0))
                reached = 0.0
                fine = _fine_turn(k, lights)
                beam = math.atan2(
                    lights.direction[k, 0] * ux
                    + lights.direction[k, 1] * uy
                    + lights.direction[k, 2] * uz,
                    -(
                        lights.direction[k, 0] * hx
                        + lights.direction[k, 1] * hy
                        + lights.direction[k, 2] * hz
                    )
                    / h,
                )
                t1 = math.atan((nodes[0] - a0) / h)
                for s in range(1, many):
                    t2 = math.atan((nodes[s] - a0) / h)
                    longest = min(TURN, 0.5001 * (t2 - t1))
                    t = t1
                    while t < t2 - 1e-9 * (t2 - t1):
                        width = max(fine, TURN_SHARE * abs(t - beam))
                        width = min(width, longest, t2 - t)
                        along = h * math.tan(t + 0.5 * width)
                        t += width
                        a = a0 + along
                        d = math.sqrt(h * h + along * along)
                        bx, by, bz = ux * a - lx, uy * a - ly, uz * a - lz
                        b = max(1e-9, math.sqrt(bx * bx + by * by + bz * bz))
                        shine = beam_intensity(k, bx / b, by / b, bz / b, lights)
                        if shine > 0.0:
                            shine *= math.exp(-sigma * (a + d)) * phase(-along / d)
                            reached += shine * width / h
                    t1 = t2
                    for n in range(3):
                        total[s, n] += reached * scale * lights.coefficient[k, 0, n]
            for s in range(many):
                for n in range(3):
                    out[j, i, s, n] = total[s, n]


@kernel
def airlight_over(  # type: ignore[no-untyped-def]
    first, last, rate, depth, x0, y0, step, sigma, airlight, view, left, top, cell, log_nodes, glow
):
    """Extinction, airlight and the lamps' glow on a picture, in place."""
    many = log_nodes.shape[0]
    for j in range(first, last):
        y = y0 + (j + 0.5) * step
        gy = min(max((y - top) / cell, 0.0), glow.shape[0] - 1.001)
        b = int(gy)
        v = gy - b
        for i in range(rate.shape[1]):
            x = x0 + (i + 0.5) * step
            slant = np.inf
            if depth[j, i] < np.inf:
                sx, sy, denser = undistort(x, y, view)
                dx = view.rays[0, 0] * sx + view.rays[0, 1] * sy + view.rays[0, 2]
                dy = view.rays[1, 0] * sx + view.rays[1, 1] * sy + view.rays[1, 2]
                dz = view.rays[2, 0] * sx + view.rays[2, 1] * sy + view.rays[2, 2]
                slant = depth[j, i] * math.sqrt(dx * dx + dy * dy + dz * dz)
                left_over = math.exp(-sigma * slant)
                lit = (1.0 - left_over) * _fall(sx, sy, view) * denser
                for n in range(3):
                    rate[j, i, n] = rate[j, i, n] * left_over + airlight[n] * lit
            if many == 0:
                continue
            s, w = many - 2, 1.0
            if slant < np.inf:
                place = math.log(max(slant, 1e-3))
                s = min(max(np.searchsorted(log_nodes, place) - 1, 0), many - 2)
                w = (place - log_nodes[s]) / (log_nodes[s + 1] - log_nodes[s])
                w = min(max(w, 0.0), 1.0)
            gx = min(max((x - left) / cell, 0.0), glow.shape[1] - 1.001)
            a = int(gx)
            u = gx - a
            for n in range(3):
                p = glow[b, a, s, n] * (1 - w) + glow[b, a, s + 1, n] * w
                q = glow[b, a + 1, s, n] * (1 - w) + glow[b, a + 1, s + 1, n] * w
                r = glow[b + 1, a, s, n] * (1 - w) + glow[b + 1, a, s + 1, n] * w
                t = glow[b + 1, a + 1, s, n] * (1 - w) + glow[b + 1, a + 1, s + 1, n] * w
                rate[j, i, n] += (p * (1 - u) + q * u) * (1 - v) + (r * (1 - u) + t * u) * v
