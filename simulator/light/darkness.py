"""Hours of a year in which the sun stands below an altitude."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from simulator.domain import require
from simulator.errors import InputError
from simulator.units import FloatArray

SUNSET_DEG = -0.833
"""True altitude of the sun's centre at sunrise and sunset: 34' of refraction and 16' of radius
(convention of the Astronomical Almanac and of the US Naval Observatory)."""
CIVIL_DEG = -6.0
"""End of civil twilight, some 3 lx under a clear sky: lamps are then on (common practice, no
source)."""
STEPS = 60
"""Moments of an hour at which the sun is asked for."""
YEARS = (1900, 2100)
"""Years that the place of the sun is good for (chosen by us)."""


@dataclass(frozen=True)
class Darkness:
    """Hours of a year with the sun below an altitude, by month and in all.

    Attributes
    ----------
    latitude_deg, longitude_deg
        Place [deg], north and east positive.
    year
        Calendar year by universal time.
    below_deg
        True altitude of the sun's centre that it is below [deg].
    monthly_h
        Hours of each month [h], 12 of them.

    Examples
    --------
    >>> vienna = hours_dark(48.2, 16.4, 2026)
    >>> len(vienna.monthly_h), vienna.yearly_h == sum(vienna.monthly_h)
    (12, True)
    """

    latitude_deg: float
    longitude_deg: float
    year: int
    below_deg: float
    monthly_h: tuple[float, ...]

    @property
    def yearly_h(self) -> float:
        """Hours of the year."""
        return sum(self.monthly_h)


def sun_altitude_over_year(
    hours: FloatArray, latitude_deg: float, longitude_deg: float, year: int
) -> FloatArray:
    """True altitude of the sun's centre [deg] at hours of universal time since the year began.

    sin h = sin(phi) sin(delta) + cos(phi) cos(delta) cos(H); declination delta and equation of time
    of every day at noon by the library astral, a cubic spline between them.

    Parameters
    ----------
    hours
        Any shape [h].
    """
    from astral import julian, sun  # noqa: PLC0415  only some studies need it
    from scipy.interpolate import CubicSpline  # noqa: PLC0415

    days = np.arange(-3, 370)
    first = dt.datetime(year, 1, 1, 12, tzinfo=dt.UTC)
    centuries = [
        julian.julianday_to_juliancentury(julian.julianday(first + dt.timedelta(days=int(d))))
        for d in days
    ]
    values = np.array([(sun.sun_declination(c), sun.eq_of_time(c)) for c in centuries])
    declination, minutes = CubicSpline(days * 24.0 + 12.0, values)(hours).T
    declination, minutes = np.radians(declination.T), minutes.T
    angle = np.radians(15.0 * (np.asarray(hours) - 12.0) + minutes / 4.0 + longitude_deg)
    phi = np.radians(latitude_deg)
    sine = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(angle)
    return np.asarray(np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0))))


def hours_dark(
    latitude_deg: float, longitude_deg: float, year: int, below_deg: float = CIVIL_DEG
) -> Darkness:
    """Hours of a year, by universal time, in which the sun's centre is below a true altitude.

    Counted by the minute from `sun_altitude_over_year`.

    Parameters
    ----------
    latitude_deg, longitude_deg
        Place [deg], -90 to 90 and -180 to 180, north and east positive.
    year
        1900 to 2100.
    below_deg
        True altitude of the sun's centre [deg], -18 to 10; the end of civil twilight unless given.

    Returns
    -------
    Darkness
        Hours of every month and of the year [h].

    Raises
    ------
    InputError
        For an altitude above which the sun cannot be called down, or a place or year out of range.

    References
    ----------
    Declination and equation of time by the library astral; civil twilight as defined by the US
    Naval Observatory (from memory).

    Examples
    --------
    >>> round(hours_dark(52.5, 13.4, 2026).yearly_h)
    3798
    """
    require("latitude_deg", latitude_deg, least=-90.0, most=90.0, unit="deg")
    require("longitude_deg", longitude_deg, least=-180.0, most=180.0, unit="deg")
    if not -18.0 <= below_deg <= 10.0:
        raise InputError(
            "The altitude of the sun is out of range.", argument="dark_below", given=below_deg,
            allowed="-18 to 10 deg",
        )  # fmt: skip
    if not YEARS[0] <= year <= YEARS[1]:
        raise InputError(
            "The year is out of range.", argument="year", given=year, allowed="1900 to 2100"
        )
    start = dt.datetime(year, 1, 1, tzinfo=dt.UTC)
    months = [dt.datetime(year + m // 12, m % 12 + 1, 1, tzinfo=dt.UTC) for m in range(13)]
    ends = [round((month - start) / dt.timedelta(hours=1)) * STEPS for month in months]
    moments = (np.arange(ends[-1]) + 0.5) / STEPS
    dark = sun_altitude_over_year(moments, latitude_deg, longitude_deg, year) < below_deg
    monthly = tuple(float(dark[a:b].sum()) / STEPS for a, b in pairwise(ends))
    return Darkness(latitude_deg, longitude_deg, year, below_deg, monthly)
