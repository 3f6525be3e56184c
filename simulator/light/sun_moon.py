"""Where sun and moon stand, and the illuminance of level ground under a clear sky.

Altitudes are true altitudes of the centre above the horizon, without refraction: the polynomials
of the circular change over at -0.8 degrees, where the sun rises and sets.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from simulator.domain import require
from simulator.errors import InputError
from simulator.units import FloatArray

NIGHT_SKY_CLEAR_LUX: Final = 8.0e-4
"""Starlight and airglow on level ground [lx] (computed): pi times the luminance of a sky of V =
21.6 mag/arcsec2 (Patat, A&A 400 (2003) 1183), 10.8e4 x 10^(-0.4 V) cd/m2 (from memory).
Published values spread from 2e-4 (without airglow) to 2e-3 lx."""
NIGHT_SKY_OVERCAST_LUX: Final = 1.0e-4
"""The same under a closed cloud deck far from any town [lx], published as an order of magnitude."""

MEAN_MOON_PARALLAX_DEG: Final = 0.951
"""Horizontal parallax of the moon at its mean distance [deg], after USNO Circular 171."""

_EARTH_RADII_PER_AU = 23_454.8
_SET_DEG = -0.8

# Janiczek & DeYoung, USNO Circular 171 (1987): upper altitude [deg], L0, L1, L2, L3.
_SUN = (
    (-12.0, 13.84, 262.72, 1447.42, 2797.93),
    (-5.0, 2.70, 12.17, -431.69, -1899.83),
    (-0.8, 2.88, 21.81, -258.11, -858.36),
    (5.0, 2.88, 22.26, -207.64, 1034.30),
    (20.0, 3.05, 13.28, -45.98, 64.33),
    (90.0, 3.74, 3.97, -4.07, 1.47),
)
_MOON = (
    (5.0, -2.79, 24.27, -252.95, 1321.29),
    (20.0, -2.58, 12.58, -42.58, 59.06),
    (90.0, -1.95, 4.06, -4.24, 1.56),
)


def _polynomial(altitude_deg: FloatArray, pieces: Sequence[tuple[float, ...]]) -> FloatArray:
    """log10 of the illuminance, L0 + L1 x + L2 x^2 + L3 x^3 with x = altitude/90."""
    x = altitude_deg / 90.0
    which = np.searchsorted([piece[0] for piece in pieces[:-1]], altitude_deg, side="right")
    _, l0, l1, l2, l3 = np.array(pieces).T[:, which]
    return np.asarray(l0 + x * (l1 + x * (l2 + x * l3)))


def _altitude(altitude_deg: FloatArray | float) -> FloatArray:
    altitude = np.asarray(altitude_deg, dtype=np.float64)
    if not np.all(np.abs(altitude) <= 90.0):
        raise InputError("an altitude is out of range", given=altitude_deg, allowed="-90 to 90 deg")
    return altitude


def sun_illuminance_lux(altitude_deg: FloatArray | float) -> FloatArray:
    """Illuminance of level ground by sun and sky under a clear sky, twilight included.

    log10 E = L0 + L1 x + L2 x^2 + L3 x^3, x = altitude/90 degrees, in six pieces. Below -18
    degrees the published polynomials end; the last slope, 0.21 decades a degree, is carried on
    (assumed), which soon falls far below the light of the night sky.

    Parameters
    ----------
    altitude_deg
        Altitude of the sun [deg], -90 to 90, any shape.

    Returns
    -------
    numpy.ndarray
        Illuminance [lx], same shape.

    Raises
    ------
    InputError
        For an altitude out of range.

    References
    ----------
    P. M. Janiczek and J. A. DeYoung, Computer Programs for Sun and Moon Illuminance, USNO
    Circular 171 (1987); coefficients as seen in public code that follows it.

    Examples
    --------
    >>> sun_illuminance_lux([60.0, 0.0, -6.0]).round(1).tolist()
    [103117.7, 758.6, 3.4]
    """
    altitude = _altitude(altitude_deg)
    end = np.maximum(altitude, -18.0)
    _, _, l1, l2, l3 = _SUN[0]
    slope = (l1 + 2.0 * l2 * -0.2 + 3.0 * l3 * 0.04) / 90.0
    beyond = np.minimum(altitude + 18.0, 0.0) * slope
    return np.asarray(10.0 ** (_polynomial(end, _SUN) + beyond))


def moon_illuminance_lux(
    altitude_deg: FloatArray | float,
    phase_deg: FloatArray | float,
    parallax_deg: FloatArray | float = MEAN_MOON_PARALLAX_DEG,
) -> FloatArray:
    """Illuminance of level ground by moon and moonlit sky under a clear sky.

    log10 E = L0 + L1 x + L2 x^2 + L3 x^3 - 8.68e-3 f - 2.2e-9 f^4 + 2 log10(HP/0.951). Zero where
    the moon is set, below -0.8 degrees.

    Parameters
    ----------
    altitude_deg
        Altitude of the moon [deg], -90 to 90.
    phase_deg
        Phase angle f sun-moon-earth [deg]: 0 full, 90 half, 180 new.
    parallax_deg
        Horizontal parallax HP [deg], above 0; a near moon is brighter.

    Returns
    -------
    numpy.ndarray
        Illuminance [lx], broadcast shape.

    Raises
    ------
    InputError
        For an altitude out of range, or a parallax that is not above 0.

    References
    ----------
    As `sun_illuminance_lux`. Krisciunas & Schaefer (PASP 103 (1991) 1033) differ by 30 percent at
    quarter moon.

    Examples
    --------
    >>> moon_illuminance_lux(40.0, [0.0, 90.0]).round(3).tolist()
    [0.143, 0.017]
    """
    require("parallax_deg", parallax_deg, above=0.0, unit="deg")
    altitude = _altitude(altitude_deg)
    f = np.abs(np.asarray(phase_deg, dtype=np.float64))
    log = _polynomial(np.maximum(altitude, _SET_DEG), _MOON) - 8.68e-3 * f - 2.2e-9 * f**4
    log = log + 2.0 * np.log10(np.asarray(parallax_deg) / MEAN_MOON_PARALLAX_DEG)
    return np.where(altitude >= _SET_DEG, 10.0**log, 0.0)


def night_sky_illuminance_lux(cloud_cover: FloatArray | float = 0.0) -> FloatArray:
    """Starlight and airglow on level ground far from towns, less under cloud.

    Between the clear and the overcast value with the cover to the power of 3.4, as `cloud_factor`
    does for the sun (assumed).

    Parameters
    ----------
    cloud_cover
        Covered share of the sky, 0 to 1, any shape.

    Returns
    -------
    numpy.ndarray
        Illuminance [lx], same shape.

    Raises
    ------
    InputError
        For a cover out of range.

    References
    ----------
    Clear: Patat, A&A 400 (2003) 1183 for the luminance; overcast: published as an order of
    magnitude, see `NIGHT_SKY_CLEAR_LUX` and `NIGHT_SKY_OVERCAST_LUX`.

    Examples
    --------
    >>> night_sky_illuminance_lux([0.0, 1.0]).round(5).tolist()
    [0.0008, 0.0001]
    """
    require("cloud_cover", cloud_cover, least=0.0, most=1.0)
    cover = np.asarray(cloud_cover, dtype=np.float64)
    return NIGHT_SKY_CLEAR_LUX - (NIGHT_SKY_CLEAR_LUX - NIGHT_SKY_OVERCAST_LUX) * cover**3.4


def cloud_factor(cloud_cover: FloatArray | float) -> FloatArray:
    """Light of sun and sky under cloud over that of a clear sky, 1 - 0.75 N^3.4.

    For solar irradiance and the mean of many hours; one cloud deck may pass twice as much or a
    third of it. USNO Circular 171 divides by 1 (cover under 70 percent), 2 (thin), 3 (average) and
    10 (dark, rare clouds).

    Parameters
    ----------
    cloud_cover
        Covered share N of the sky, 0 to 1, any shape.

    Returns
    -------
    numpy.ndarray
        Factor on the light, same shape.

    Raises
    ------
    InputError
        For a cover out of range.

    References
    ----------
    Kasten & Czeplak, Solar Energy 24 (1980) 177 (from memory).

    Examples
    --------
    >>> cloud_factor([0.0, 0.5, 1.0]).round(2).tolist()
    [1.0, 0.93, 0.25]
    """
    require("cloud_cover", cloud_cover, least=0.0, most=1.0)
    return np.asarray(1.0 - 0.75 * np.asarray(cloud_cover, dtype=np.float64) ** 3.4)


def air_mass(altitude_deg: FloatArray | float) -> FloatArray:
    """Relative optical air mass, 1/(sin h + 0.50572 (h + 6.07995)^-1.6364).

    h is held at 0 degrees (38 air masses) below the horizon.

    Parameters
    ----------
    altitude_deg
        Altitude h of sun or moon [deg], -90 to 90, any shape.

    Returns
    -------
    numpy.ndarray
        Air mass over that of the zenith, same shape.

    Raises
    ------
    InputError
        For an altitude out of range.

    References
    ----------
    Kasten & Young, Applied Optics 28 (1989) 4735.

    Examples
    --------
    >>> air_mass([90.0, 30.0, 0.0]).round(2).tolist()
    [1.0, 1.99, 37.92]
    """
    h = np.maximum(_altitude(altitude_deg), 0.0)
    return np.asarray(1.0 / (np.sin(np.radians(h)) + 0.50572 * (h + 6.07995) ** -1.6364))


@dataclass(frozen=True)
class SkyPosition:
    """Sun and moon at times of a place, without refraction, arrays of shape (times,).

    Attributes
    ----------
    sun_altitude_deg, sun_bearing_deg
        Where the sun stands [deg], the bearing clockwise from north.
    moon_altitude_deg, moon_bearing_deg
        Where the moon stands [deg], as seen from the place (parallax included).
    moon_phase_deg
        Phase angle sun-moon-earth [deg], 0 at full moon, 180 at new moon.
    moon_parallax_deg
        Horizontal parallax of the moon [deg].

    Examples
    --------
    >>> at = sky_position([dt.datetime(2026, 6, 21, h, tzinfo=dt.UTC) for h in (0, 12)], 52.5, 13.4)
    >>> (at.sun_altitude_deg > 0.0).tolist()
    [False, True]
    """

    sun_altitude_deg: FloatArray
    sun_bearing_deg: FloatArray
    moon_altitude_deg: FloatArray
    moon_bearing_deg: FloatArray
    moon_phase_deg: FloatArray
    moon_parallax_deg: FloatArray


def sky_position(
    when: Sequence[dt.datetime], latitude_deg: float, longitude_deg: float
) -> SkyPosition:
    """Positions of sun and moon at times of a place.

    Parameters
    ----------
    when
        Times that know their offset from universal time.
    latitude_deg, longitude_deg
        Place [deg], -90 to 90 and -180 to 180, north and east positive.

    Returns
    -------
    SkyPosition
        Altitudes, bearings and phase [deg], arrays of shape (times,).

    Raises
    ------
    InputError
        For a time without offset, or a place out of range.

    References
    ----------
    The library astral; its moon follows Van Flandern & Pulkkinen (ApJS 41 (1979) 391), good to some
    0.1 degrees.

    Examples
    --------
    >>> noon = dt.datetime(2026, 6, 21, 11, 8, tzinfo=dt.UTC)
    >>> at = sky_position([noon], 52.5, 13.4)  # 90 - 52.5 + 23.4 degrees high
    >>> round(float(at.sun_altitude_deg[0]), 1)
    60.9
    """
    from astral import Observer, julian, moon, sun  # noqa: PLC0415  # only where a date is given

    if not (abs(latitude_deg) <= 90.0 and abs(longitude_deg) <= 180.0):
        raise InputError(
            "this place is not on earth",
            given=(latitude_deg, longitude_deg),
            allowed="latitude -90 to 90, longitude -180 to 180 deg",
        )
    # the library's hour angles lose their way on the very pole
    latitude = min(max(latitude_deg, -89.99), 89.99)
    observer = Observer(latitude, longitude_deg, 0.0)
    rows = []
    for time in when:
        if time.utcoffset() is None:
            raise InputError("a time needs its offset from universal time", given=time.isoformat())
        at = time.astimezone(dt.UTC)
        zenith, bearing = sun.zenith_and_azimuth(observer, at, with_refraction=False)
        century = julian.julianday_to_juliancentury(julian.julianday(at))
        body = moon.moon_position(julian.julianday_2000(at))
        parallax = np.degrees(np.arcsin(1.0 / body.distance))
        moon_altitude = moon.elevation(observer, at)
        moon_altitude -= parallax * np.cos(np.radians(moon_altitude))
        rows.append(
            (
                90.0 - zenith,
                bearing,
                moon_altitude,
                moon.azimuth(observer, at),
                _phase_deg(
                    np.radians(sun.sun_rt_ascension(century)),
                    np.radians(sun.sun_declination(century)),
                    sun.sun_rad_vector(century) * _EARTH_RADII_PER_AU,
                    body.right_ascension,
                    body.declination,
                    body.distance,
                ),
                parallax,
            )
        )
    return SkyPosition(*np.array(rows, dtype=np.float64).reshape(-1, 6).T)


def _phase_deg(
    sun_ra: float, sun_dec: float, sun_distance: float, ra: float, dec: float, distance: float
) -> float:
    """Angle sun-moon-earth [deg] from right ascensions, declinations [rad] and distances."""
    cosine = np.sin(sun_dec) * np.sin(dec) + np.cos(sun_dec) * np.cos(dec) * np.cos(sun_ra - ra)
    elongation = np.arccos(np.clip(cosine, -1.0, 1.0))
    across, along = sun_distance * np.sin(elongation), distance - sun_distance * np.cos(elongation)
    return float(np.degrees(np.arctan2(across, along)))
