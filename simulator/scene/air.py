"""Air between things: extinction, airlight of the sky, and light that lamps scatter into view.

Koschmieder: C(x) = C0 exp(-sigma x), sigma = 3.912 / V for the meteorological visibility V at a
contrast threshold of 0.02 (AMS Glossary of Meteorology). By wavelength after Kruse, McGlauchlin and
McQuistan (1962, from memory): sigma(lambda) = sigma (lambda / 550 nm)^-q with q = 1.3 above 6 km,
0.585 V^(1/3) (V in km) below, and 0 in fog under 500 m (Kim, McArthur, Korevaar 2001, from memory).

Scattering is single, without absorption, with a double Henyey-Greenstein phase function (g = 0.85
forward and -0.6 back, share 0.058 of the latter) whose value straight back, 0.05 per steradian,
agrees with the lidar ratio of about 20 sr of water clouds (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit, prange

from simulator.scene.pack import PackedLights, PackedView
from simulator.scene.shading import beam_intensity
from simulator.units import FloatArray, Image

KOSCHMIEDER = 3.912
FORWARD_G, BACK_G, BACK_SHARE = 0.85, -0.6, 0.058
STEPS = 40
NEAREST_M, FARTHEST_M = 0.1, 400.0


@dataclass(frozen=True)
class Air:
    """Air of one visibility as the camera sees it: extinction per metre at its wavelength."""

    extinction_per_m: float

    def transmission(self, distance_m: FloatArray) -> FloatArray:
        """Share of light left after a way, exp(-sigma x)."""
        return np.asarray(np.exp(-self.extinction_per_m * np.asarray(distance_m)))


def extinction_per_m(visibility_m: float, wavelength_nm: float) -> float:
    """Extinction coefficient [1/m] for a visibility and wavelength; see the module's text."""
    kilometres = visibility_m / 1000.0
    if kilometres < 0.5:
        q = 0.0
    elif kilometres < 6.0:
        q = 0.585 * kilometres ** (1.0 / 3.0)
    else:
        q = 1.3
    return KOSCHMIEDER / visibility_m * (wavelength_nm / 550.0) ** -q


def phase_function(cosine: FloatArray | float) -> FloatArray:
    """Scattered share per steradian by the cosine of the scattering angle (1 straight on)."""
    c = np.asarray(cosine, dtype=np.float64)

    def lobe(g: float) -> FloatArray:
        return np.asarray((1 - g * g) / (4 * np.pi * (1 + g * g - 2 * g * c) ** 1.5))

    return (1.0 - BACK_SHARE) * lobe(FORWARD_G) + BACK_SHARE * lobe(BACK_G)


@njit(cache=True, parallel=True, nogil=True)
def _glow(x, y, depth, sigma, view, lights, weights):  # type: ignore[no-untyped-def]
    """In-scattered rates (rows, columns, 3) along rays through picture places."""
    rows, columns = depth.shape
    out = np.zeros((rows, columns, 3), np.float32)
    for j in prange(rows):
        for i in range(columns):
            dx = view.rays[0, 0] * x[i] + view.rays[0, 1] * y[j] + view.rays[0, 2]
            dy = view.rays[1, 0] * x[i] + view.rays[1, 1] * y[j] + view.rays[1, 2]
            dz = view.rays[2, 0] * x[i] + view.rays[2, 1] * y[j] + view.rays[2, 2]
            length = math.sqrt(dx * dx + dy * dy + dz * dz)
            ux, uy, uz = dx / length, dy / length, dz / length
            end = min(FARTHEST_M, depth[j, i] * length)
            ratio = math.log(max(end, 1.01 * NEAREST_M) / NEAREST_M) / STEPS
            qx, qy = x[i] - view.centre[0], y[j] - view.centre[1]
            radius2 = qx * qx + qy * qy
            f2 = view.focal_px * view.focal_px
            cos2 = f2 / (f2 + radius2)
            loss = (1.0 - view.corner_light) * min(1.0, radius2 / (view.circle_px**2))
            fall = cos2 * cos2 * (1.0 - loss)
            for k in range(lights.kind.shape[0]):
                if lights.kind[k] != 3 or weights[k] == 0.0:
                    continue
                total = 0.0
                for s in range(STEPS):
                    a = NEAREST_M * math.exp(ratio * (s + 0.5))
                    width = a * ratio
                    tx = lights.position[k, 0] - (view.position[0] + ux * a)
                    ty = lights.position[k, 1] - (view.position[1] + uy * a)
                    tz = lights.position[k, 2] - (view.position[2] + uz * a)
                    d2 = tx * tx + ty * ty + tz * tz
                    d = math.sqrt(d2)
                    if d < 0.02:
                        continue
                    tx, ty, tz = tx / d, ty / d, tz / d
                    intensity = beam_intensity(k, -tx, -ty, -tz, lights)
                    if intensity <= 0.0:
                        continue
                    c = tx * ux + ty * uy + tz * uz
                    g, h = FORWARD_G, BACK_G
                    ahead = (1 - g * g) / (4 * math.pi * (1 + g * g - 2 * g * c) ** 1.5)
                    back = (1 - h * h) / (4 * math.pi * (1 + h * h - 2 * h * c) ** 1.5)
                    phase = (1.0 - BACK_SHARE) * ahead + BACK_SHARE * back
                    total += intensity / d2 * math.exp(-sigma * (a + d)) * phase * sigma * width
                total *= math.pi * fall * weights[k]
                for n in range(3):
                    out[j, i, n] += total * lights.coefficient[k, 0, n]
    return out


def lamp_glow(
    x_px: FloatArray,
    y_px: FloatArray,
    depth_m: Image,
    air: Air,
    view: PackedView,
    lights: PackedLights,
    weights: FloatArray | None = None,
) -> Image:
    """Light of lamps that the air scatters towards the camera [e-/s per pixel].

    L = integral of E_perp(s) exp(-sigma s) sigma p(theta) ds along the view up to what stands
    there, with E_perp = I / r^2 exp(-sigma r) from each lamp; shadows in the air are left out. An
    illuminator beside the lens scatters straight back, most of it from the first metres.

    Parameters
    ----------
    x_px, y_px
        Picture places of the columns and rows.
    depth_m
        Depth along the axis (rows, columns), infinite for the sky.
    """
    w = np.ones(len(lights.kind)) if weights is None else weights
    depth = np.minimum(np.asarray(depth_m, dtype=np.float64), 1e6)
    return np.asarray(
        _glow(
            np.asarray(x_px, np.float64), np.asarray(y_px, np.float64), depth,
            air.extinction_per_m, view, lights, w,
        )
    )  # fmt: skip


def sky_airlight(lights: PackedLights, weights: FloatArray | None = None) -> FloatArray:
    """Rate of a horizon that is all airlight (3,) [e-/s per pixel, on axis]: the sky's luminance.

    Koschmieder's horizon: air lit by the whole sky and ground looks at great depth like the sky.
    """
    w = np.ones(len(lights.kind)) if weights is None else weights
    sky = lights.kind == 0
    amounts = (lights.amount * w)[sky]
    return np.asarray(amounts @ lights.coefficient[sky, 0, :].astype(np.float64))
