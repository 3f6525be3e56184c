"""Air between things: extinction, airlight of the sky, and light that lamps scatter into view.

Koschmieder: C(x) = C0 exp(-sigma x), sigma = 3.912 / V for the meteorological visibility V at a
contrast threshold of 0.02 (AMS Glossary of Meteorology). By wavelength sigma(lambda) = sigma
(lambda / 550 nm)^-q (Kruse, McGlauchlin and McQuistan 1962) with q after Kim, McArthur and Korevaar
(Proc. SPIE 4214, 26, 2001; from memory), V in km: 1.6 above 50, 1.3 above 6, 0.16 V + 0.34 above 1,
V - 0.5 above 0.5, and 0 in fog.

Rain of R mm/h adds 1.076 R^0.67 dB/km (Carbonneau and Wisely, Proc. SPIE 3532, 128, 1998; from
memory) at every wavelength, an even veil that scatters as fog does; single drops are left out. It
lies between what Marshall and Palmer's drops (1948) block, pi N0 / (2 Lambda^3), and twice that, as
the half that drops only diffract, by less than a pixel, is partly caught again.

Scattering is single, without absorption, with a double Henyey-Greenstein phase function (g = 0.85
forward and -0.6 back, share 0.058 of the latter, chosen by us) whose value straight back, 0.05 per
steradian, agrees with the lidar ratio of about 20 sr of water clouds (from memory). Left out: light
scattered twice or more, which softens and widens every glow in thick fog; shadows in the air;
sunlight scattered by the air itself beyond what stands in the sky's light.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from simulator.bounded import Bounded
from simulator.domain import require
from simulator.kernels import over_rows
from simulator.scene.kernels.pack import KINDS, PackedLights, PackedView
from simulator.scene.kernels.radiance import Sampling
from simulator.scene.kernels.scattering import POINT, airlight_over, phase, scattered
from simulator.scene.model_air import AirModel
from simulator.units import FloatArray, Image

KOSCHMIEDER = 3.912
RAIN_DB_PER_KM, RAIN_EXPONENT = 1.076, 0.67
NEAREST_M, FARTHEST_M = 0.1, 400.0
"""Along a ray lamps light the air between these distances from the lens."""
NODES = 40
AROUND_LAMP = (0.97, 0.995, 1.005, 1.03)
"""Distances at which scattered light is added up: evenly in their logarithm, and around lamps."""
GLOW_COLUMNS = 160
COSINE_SLACK = 1e-9
"""A cosine may lie beyond one by the rounding of what it was computed from."""
_SKY = KINDS["sky"]


@dataclass(frozen=True)
class Air:
    """Air of one visibility as the camera sees it.

    Attributes
    ----------
    extinction_per_m
        Extinction coefficient at the camera's wavelength [1/m].
    """

    extinction_per_m: float


def wavelength_exponent(visibility_m: float) -> float:
    """Exponent q of the extinction by wavelength, sigma(lambda) ~ (lambda / 550 nm)^-q.

    Parameters
    ----------
    visibility_m
        Meteorological visibility, above 0 [m].

    Returns
    -------
    float
        q: 0 up to 500 m, 1.6 above 50 km.

    Raises
    ------
    InputError
        For a visibility of 0 or less.

    References
    ----------
    Kruse, McGlauchlin and McQuistan 1962; Kim, McArthur and Korevaar, Proc. SPIE 4214, 26, 2001
    (from memory).

    Examples
    --------
    >>> [round(wavelength_exponent(v), 2) for v in (200.0, 800.0, 3000.0, 10_000.0)]
    [0.0, 0.3, 0.82, 1.3]
    """
    require("visibility_m", visibility_m, above=0.0, unit="m")
    kilometres = visibility_m / 1000.0
    if kilometres <= 0.5:
        return 0.0
    if kilometres <= 1.0:
        return kilometres - 0.5
    if kilometres <= 6.0:
        return 0.16 * kilometres + 0.34
    return 1.3 if kilometres <= 50.0 else 1.6


def extinction_per_m(visibility_m: float, wavelength_nm: float, q: float | None = None) -> float:
    """Extinction coefficient for a visibility and wavelength: 3.912 / V (lambda / 550 nm)^-q.

    Parameters
    ----------
    visibility_m
        Meteorological visibility V at a contrast threshold of 2 %, above 0 [m].
    wavelength_nm
        lambda, above 0 [nm].
    q
        Exponent by wavelength, from the visibility if it is not given.

    Returns
    -------
    float
        Extinction coefficient [1/m].

    Raises
    ------
    InputError
        For a visibility or wavelength of 0 or less.

    References
    ----------
    Koschmieder's law (AMS Glossary of Meteorology); exponent as in `wavelength_exponent`.

    Examples
    --------
    Over the visibility 2 % of the contrast is left:

    >>> round(math.exp(-extinction_per_m(1000.0, 550.0) * 1000.0), 3)
    0.02
    """
    require("visibility_m", visibility_m, above=0.0, unit="m")
    require("wavelength_nm", wavelength_nm, above=0.0, unit="nm")
    q = wavelength_exponent(visibility_m) if q is None else q
    return KOSCHMIEDER / visibility_m * (wavelength_nm / 550.0) ** -q


def rain_extinction_per_m(rain_mm_per_h: float) -> float:
    """Extinction coefficient of rain, 1.076 R^0.67 dB/km, the same at every wavelength.

    Parameters
    ----------
    rain_mm_per_h
        Rate of rain R, 0 or more [mm/h].

    Returns
    -------
    float
        Extinction coefficient [1/m].

    Raises
    ------
    InputError
        For a rate below 0.

    References
    ----------
    Carbonneau and Wisely, Proc. SPIE 3532, 128, 1998 (from memory).

    Examples
    --------
    >>> round(1000.0 * rain_extinction_per_m(10.0), 2)  # heavy rain, per kilometre
    1.16
    """
    require("rain_mm_per_h", rain_mm_per_h, least=0.0, unit="mm/h")
    decibel_per_km = RAIN_DB_PER_KM * rain_mm_per_h**RAIN_EXPONENT
    return decibel_per_km / (10.0 * math.log10(math.e)) / 1000.0


def air_at(model: AirModel, wavelength_nm: float) -> Air:
    """Air of a scene file for light of a wavelength."""
    sigma = rain_extinction_per_m(model.rain_mm_per_h)
    if model.visibility_m is not None:
        q = 0.0 if model.kind == "fog" else None
        sigma += extinction_per_m(model.visibility_m, wavelength_nm, q)
    return Air(sigma)


def phase_function(cosine: FloatArray | float) -> FloatArray:
    """Scattered share per steradian by the angle between the ways of the light.

    Parameters
    ----------
    cosine
        Cosine of the scattering angle, of any shape, -1 (straight back) to 1 (straight on).

    Returns
    -------
    numpy.ndarray
        Share, of the shape of `cosine` [1/sr]; its integral over the sphere is one.

    Raises
    ------
    InputError
        For a cosine outside -1 to 1.

    References
    ----------
    Double Henyey-Greenstein function (Henyey and Greenstein, Astrophys. J. 93, 70, 1941; from
    memory), with values chosen by us to agree with the lidar ratio of water clouds.

    Examples
    --------
    >>> phase_function([1.0, 0.0, -1.0]).round(2).tolist()
    [6.16, 0.01, 0.05]
    """
    require("cosine", cosine, least=-1.0 - COSINE_SLACK, most=1.0 + COSINE_SLACK)
    c = np.asarray(cosine, dtype=np.float64)
    return np.asarray(phase.py_func(c))


def _nodes(view: PackedView, lights: PackedLights) -> FloatArray:
    """Distances from the lens (n,) at which scattered light is added up [m]; none without lamps."""
    lamps = lights.kind == POINT  # those switched off too: settings of the lamps add up exactly
    if not np.any(lamps):
        return np.zeros(0)
    away = np.linalg.norm(lights.position[lamps] - view.position, axis=1)
    near = (away[:, None] * np.array(AROUND_LAMP)).ravel()
    every = np.concatenate([np.geomspace(NEAREST_M, FARTHEST_M, NODES), near])
    every = np.sort(every[(every >= NEAREST_M) & (every <= FARTHEST_M)])
    apart = np.append(True, np.diff(every) > 1e-3 * every[1:])
    return np.asarray(every[apart])


def lamp_glow(
    x_px: FloatArray,
    y_px: FloatArray,
    distance_m: FloatArray,
    air: Air,
    view: PackedView,
    lights: PackedLights,
    cell_px: float = 0.0,
) -> Image:
    """Light of lamps that the air scatters towards the camera [e-/s per pixel].

    L = integral of E_perp(s) exp(-sigma s) sigma p(theta) ds along the view up to a distance, with
    E_perp = I / r^2 exp(-sigma r) from each lamp; shadows in the air are left out. An illuminator
    beside the lens scatters straight back, most of it from the first metres.

    Parameters
    ----------
    x_px, y_px
        Picture places of the columns and rows.
    distance_m
        Rising distances from the lens (n,); the integral begins at the first one.
    cell_px
        Side of the square that each place stands for; softens the glow at a lamp's own place.

    Returns
    -------
    Rates (rows, columns, n, 3), 0 at the first distance.
    """
    x, y, nodes = (np.asarray(a, np.float64) for a in (x_px, y_px, distance_m))
    out = np.zeros((len(y), len(x), len(nodes), 3), np.float32)
    over_rows(
        scattered, len(y), x, y, nodes, float(cell_px), air.extinction_per_m, view, lights, out,
        least=1,
    )  # fmt: skip
    return out


MOST_GLOW = 40_000_000
"""Bytes of glow that are kept: it does not depend on what stands there, only on lamps and view."""
_GLOWS: Bounded[tuple[Image, object]] = Bounded(MOST_GLOW, lambda kept: kept[0].nbytes)


def _kept_glow(
    x: FloatArray, y: FloatArray, nodes: FloatArray, air: Air, view: PackedView,
    lights: PackedLights, cell_px: float,
) -> Image:  # fmt: skip
    """As `lamp_glow`; the last ones are kept."""
    tables = lights.webs, lights.spheres
    arrays = (
        x, y, nodes, lights.kind, lights.amount, lights.position, lights.direction,
        lights.exponent, lights.web, lights.reference, lights.coefficient[:, 0], *view,
    )  # fmt: skip
    key = (air, cell_px, *map(id, tables), *(np.asarray(a).tobytes() for a in arrays))
    known = _GLOWS.get(key)
    if known is None:
        # tables are known by their number, so they are held with what was made of them
        glow = lamp_glow(x, y, nodes, air, view, lights, cell_px)
        known = _GLOWS.put(key, (glow, tables))
    return known[0]


def add_air(
    rate: Image,
    depth_m: Image,
    sampling: Sampling,
    air: Air,
    view: PackedView,
    lights: PackedLights,
    cell_px: float,
) -> None:
    """Put the air between the camera and a picture, in place.

    rate exp(-sigma s) + airlight (1 - exp(-sigma s)) + glow of lamps, s the slant distance. The sky
    is airlight already and only takes the glow.

    Parameters
    ----------
    rate
        (rows, columns, 3) [e-/s per pixel] without bright lamp faces; changed in place.
    depth_m
        Depth along the axis (rows, columns) [m], infinite for the sky.
    cell_px
        Side of the squares for which the glow is computed, interpolated between them [px].
    """
    s = sampling
    nodes = _nodes(view, lights)
    first = np.floor(np.array([s.x0, s.y0]) / cell_px)
    last = np.ceil(np.array([s.x0 + s.columns * s.step, s.y0 + s.rows * s.step]) / cell_px)
    x, y = (np.arange(a, max(a + 1.0, b) + 0.5) * cell_px for a, b in zip(first, last, strict=True))
    if nodes.size:
        glow = _kept_glow(x, y, nodes, air, view, lights, cell_px)
    else:
        glow = np.zeros((2, 2, 1, 3), np.float32)
    over_rows(
        airlight_over, len(rate),
        rate, depth_m, float(s.x0), float(s.y0), float(s.step), air.extinction_per_m,
        sky_airlight(lights), view, x[0], y[0], float(cell_px), np.log(nodes), glow,
    )  # fmt: skip


def sky_airlight(lights: PackedLights) -> FloatArray:
    """Rate of a horizon that is all airlight (3,) [e-/s per pixel, on axis]: the sky's luminance.

    Koschmieder's horizon: air lit by the whole sky and ground looks at great depth like the sky.
    """
    sky = lights.kind == _SKY
    return np.asarray(lights.amount[sky] @ lights.coefficient[sky, 0, :].astype(np.float64))
