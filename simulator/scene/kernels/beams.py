"""Beams of point lights: their intensity towards a direction, by formula or table."""

from __future__ import annotations

import math

from simulator.kernels import helper
from simulator.scene.kernels.pack import SPHERES, WEB_HALF_DEG, WEB_STEP_DEG, WEB_WIDE_DEG


@helper
def _web_place(angle_deg, count):  # type: ignore[no-untyped-def]
    """Place of an angle in a headlamp table: fine in the middle, coarse towards the sides."""
    away = abs(angle_deg)
    place = min(away, WEB_HALF_DEG) / WEB_STEP_DEG + max(0.0, away - WEB_HALF_DEG) / WEB_WIDE_DEG
    middle = 0.5 * (count - 1)
    return middle + place if angle_deg >= 0.0 else middle - place


@helper
def _web_value(webs, k, forward, right, up):  # type: ignore[no-untyped-def]
    """Intensity of a headlamp table towards a direction in its own axes, bilinear."""
    if forward <= 0.0:
        return 0.0
    h = math.degrees(math.atan2(right, forward))
    v = math.degrees(math.atan2(up, math.sqrt(forward * forward + right * right)))
    fh, fv = _web_place(h, webs.shape[2]), _web_place(v, webs.shape[1])
    ih, iv = math.floor(fh), math.floor(fv)
    if ih < 0 or iv < 0 or ih >= webs.shape[2] - 1 or iv >= webs.shape[1] - 1:
        return 0.0
    a, b = fh - ih, fv - iv
    return (webs[k, iv, ih] * (1 - a) + webs[k, iv, ih + 1] * a) * (1 - b) + (
        webs[k, iv + 1, ih] * (1 - a) + webs[k, iv + 1, ih + 1] * a
    ) * b


@helper
def _sphere_value(spheres, k, forward, x, y):  # type: ignore[no-untyped-def]
    """Value of a table over gamma (0 to 180) and C (0 to 360 degrees), bilinear."""
    gamma = math.degrees(math.atan2(math.sqrt(x * x + y * y), forward))
    c = math.degrees(math.atan2(y, x))
    if c < 0.0:
        c += 360.0
    fg = gamma / 180.0 * (spheres.shape[1] - 1)
    fc = c / 360.0 * (spheres.shape[2] - 1)
    ig = min(int(fg), spheres.shape[1] - 2)
    ic = min(int(fc), spheres.shape[2] - 2)
    a, b = fg - ig, fc - ic
    return (spheres[k, ig, ic] * (1 - a) + spheres[k, ig + 1, ic] * a) * (1 - b) + (
        spheres[k, ig, ic + 1] * (1 - a) + spheres[k, ig + 1, ic + 1] * a
    ) * b


@helper
def beam_intensity(light, ux, uy, uz, lights):  # type: ignore[no-untyped-def]
    """Intensity of a point light towards the unit direction (ux, uy, uz) away from it."""
    ax, ay, az = lights.direction[light, 0], lights.direction[light, 1], lights.direction[light, 2]
    cosine = ax * ux + ay * uy + az * uz
    web = lights.web[light]
    if web >= SPHERES:
        rx = lights.reference[light, 0]
        ry = lights.reference[light, 1]
        rz = lights.reference[light, 2]
        x = ux * rx + uy * ry + uz * rz
        y = ux * (ry * az - rz * ay) + uy * (rz * ax - rx * az) + uz * (rx * ay - ry * ax)
        return lights.amount[light] * _sphere_value(lights.spheres, web - SPHERES, cosine, x, y)
    if cosine <= 1e-6:
        return 0.0
    if web < 0:
        return lights.amount[light] * math.exp(lights.exponent[light] * math.log(cosine))
    level = math.sqrt(ax * ax + ay * ay)
    right = (ux * ay - uy * ax) / level
    forward = (ux * ax + uy * ay) / level
    return lights.amount[light] * _web_value(lights.webs, web, forward, right, uz)
