"""Hours of a year at a place: sun, moon, light, and which lamps are on."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import NDArray

from simulator.errors import InputError
from simulator.light.darkness import SUNSET_DEG
from simulator.light.sun_moon import (
    SkyPosition,
    cloud_factor,
    moon_illuminance_lux,
    night_sky_illuminance_lux,
    sky_position,
    sun_illuminance_lux,
)
from simulator.units import FloatArray

DUSK_LUX = 50.0
"""Level illuminance below which a lamp on "dusk-dawn" is on (common practice, no source; photocells
of street lighting are set from some 20 to 100 lx)."""
YEARS = (1900, 2100)
KNOT_H = 4
"""Time between the hours at which sun and moon are asked for [h]."""
SIDEREAL = np.radians(15.0410686)
"""Turn of the earth against the stars in an hour (360 degrees in 23.9344696 h)."""
MIDDLE = dt.timedelta(minutes=30)
"""Every hour is judged at its middle."""

SCHEDULES = 'on, off, "dusk-dawn", hours such as 18-23 or 18:30-6, "dusk-23" or "5-dawn"'
_PART = r"(dusk|dawn|\d{1,2}(?::\d{2})?)"


def time_zone(name: str) -> dt.tzinfo:
    """A time zone by its name in the tz database.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    if name.upper() == "UTC":
        return dt.UTC
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError(
            "There is no such time zone.",
            argument="timezone",
            given=name,
            allowed="UTC or a name of the tz database, Continent/City",
            fix="write it as Africa/Nairobi, or leave it out for universal time",
        ) from None


def hours_of_year(year: int, zone: dt.tzinfo) -> list[dt.datetime]:
    """The middle of every hour of a year by the clock of a zone; 8760, or 8784 in a leap year.

    Raises
    ------
    InputError
        For a year out of range.
    """
    if not YEARS[0] <= year < YEARS[1]:
        raise InputError(
            "The year is out of range.", argument="year", given=year,
            allowed=f"{YEARS[0]} to {YEARS[1] - 1}",
        )  # fmt: skip
    first, end = (dt.datetime(y, 1, 1, tzinfo=zone).astimezone(dt.UTC) for y in (year, year + 1))
    count = round((end - first) / dt.timedelta(hours=1))
    return [(first + k * dt.timedelta(hours=1) + MIDDLE).astimezone(zone) for k in range(count)]


@dataclass(frozen=True)
class Schedule:
    """When a lamp is on: from `start` to `end`, each "dusk", "dawn" or an hour of the clock.

    "on" and "off" have neither.
    """

    text: str
    start: str | float | None = None
    end: str | float | None = None

    def on(self, clock_h: FloatArray, level_lux: FloatArray, dusk_lux: float) -> NDArray[np.bool_]:
        """Whether the lamp is on at times (n,) by clock [h] and natural light on the ground [lx].

        From "dusk" to an hour means: dark, and between noon and that hour; from an hour to "dawn":
        dark, and between that hour and noon.
        """
        if self.start is None:
            return np.full(len(clock_h), self.text == "on")
        dark = level_lux < dusk_lux
        if self.start == "dusk" and self.end == "dawn":
            return np.asarray(dark)
        start = 12.0 if self.start == "dusk" else self.start
        end = 12.0 if self.end == "dawn" else self.end
        assert isinstance(start, float) and isinstance(end, float)
        inside = (clock_h - start) % 24.0 < (end - start) % 24.0
        by_light = self.start == "dusk" or self.end == "dawn"
        return np.asarray(inside & dark) if by_light else np.asarray(inside)


def parse_schedule(text: str) -> tuple[str, Schedule]:
    """Name of the lamp and its schedule, of `NAME=SCHEDULE`.

    Raises
    ------
    InputError
        For another form.
    """
    name, equal, rest = text.partition("=")
    rest = rest.strip().lower()
    if not name.strip() or not equal:
        raise _refused(text)
    if rest in ("on", "off"):
        return name.strip(), Schedule(rest)
    match = re.fullmatch(f"{_PART}-{_PART}", rest)
    if match is None or match[1] == "dawn" or match[2] == "dusk":
        raise _refused(text)
    start, end = (_clock(part, text) for part in match.groups())
    if start == end:
        raise _refused(text)
    return name.strip(), Schedule(rest, start, end)


def _clock(part: str, text: str) -> str | float:
    if part in ("dusk", "dawn"):
        return part
    hours, _, minutes = part.partition(":")
    value = int(hours) + int(minutes or 0) / 60.0
    if value > 24.0 or int(minutes or 0) > 59:
        raise _refused(text)
    return value


def _refused(text: str) -> InputError:
    return InputError(
        "This is not a schedule of a lamp.",
        argument="lamp",
        given=text,
        allowed=f"NAME=SCHEDULE, the schedule one of: {SCHEDULES}",
        fix="for example gate lamp=dusk-dawn",
    )


@dataclass(frozen=True)
class Sky:
    """The sky at the times of a year: positions, and level illuminance (n,) [lx]."""

    when: list[dt.datetime]
    at: SkyPosition
    level_lux: FloatArray

    @property
    def clock_h(self) -> FloatArray:
        """Time of the day by the clock (n,) [h]."""
        return np.array([t.hour + t.minute / 60.0 + t.second / 3600.0 for t in self.when])

    @property
    def dark(self) -> NDArray[np.bool_]:
        """Whether the sun is set (n,)."""
        return np.asarray(self.at.sun_altitude_deg < SUNSET_DEG)


def level_lux(at: SkyPosition, cloud_cover: float = 0.0, skyglow_lux: float = 0.0) -> FloatArray:
    """Illuminance of level ground (n,) [lx] by all natural light, as `light.natural` adds it up."""
    moon = moon_illuminance_lux(at.moon_altitude_deg, at.moon_phase_deg, at.moon_parallax_deg)
    both = sun_illuminance_lux(at.sun_altitude_deg) + moon
    night = night_sky_illuminance_lux(cloud_cover)
    return np.asarray(both * cloud_factor(cloud_cover) + night + skyglow_lux)


def sky_of(
    when: Sequence[dt.datetime],
    latitude_deg: float,
    longitude_deg: float,
    *,
    cloud_cover: float = 0.0,
    skyglow_lux: float = 0.0,
) -> Sky:
    """Sun, moon and light at many times of a place, in the order of time.

    Sun and moon are asked for every `KNOT_H` hours; in a frame that turns with the stars they move
    slowly, and cubic splines between are good to some thousandths of a degree.

    Raises
    ------
    InputError
        For a place out of range.
    """
    first = when[0].astimezone(dt.UTC)
    from scipy.interpolate import CubicSpline  # noqa: PLC0415  takes a while to import

    # in universal time: the difference of two times of one zone leaves out its summer time
    hours = np.array([(t.astimezone(dt.UTC) - first) / dt.timedelta(hours=1) for t in when])
    knots = np.arange(-1.0, np.ceil(hours[-1] / KNOT_H) + 2.0) * float(KNOT_H)
    known = sky_position(
        [first + dt.timedelta(hours=float(k)) for k in knots], latitude_deg, longitude_deg
    )
    sun, moon = (
        _interpolated(knots, hours, altitude, bearing, latitude_deg)
        for altitude, bearing in (
            (known.sun_altitude_deg, known.sun_bearing_deg),
            (known.moon_altitude_deg, known.moon_bearing_deg),
        )
    )
    phase, parallax = (
        CubicSpline(knots, row)(hours) for row in (known.moon_phase_deg, known.moon_parallax_deg)
    )
    at = SkyPosition(*sun, *moon, np.clip(phase, 0.0, 180.0), parallax)
    return Sky(list(when), at, level_lux(at, cloud_cover, skyglow_lux))


def _interpolated(
    knots: FloatArray, hours: FloatArray, altitude_deg: FloatArray, bearing_deg: FloatArray,
    latitude_deg: float,
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Altitude and bearing [deg] at hours, of those at knots."""
    from scipy.interpolate import CubicSpline  # noqa: PLC0415  takes a while to import

    phi = np.radians(latitude_deg)
    altitude, bearing = np.radians(altitude_deg), np.radians(bearing_deg)
    north, east = np.cos(altitude) * np.cos(bearing), np.cos(altitude) * np.sin(bearing)
    # towards the equator on the meridian, east, along the axis of the earth; then with the stars
    plane = np.sin(altitude) * np.cos(phi) - north * np.sin(phi) + 1j * east
    turned = CubicSpline(knots, plane * np.exp(1j * SIDEREAL * knots))(hours)
    axis = CubicSpline(knots, north * np.cos(phi) + np.sin(altitude) * np.sin(phi))(hours)
    plane = turned * np.exp(-1j * SIDEREAL * hours)
    size = np.sqrt(np.abs(plane) ** 2 + axis**2)
    up = (plane.real * np.cos(phi) + axis * np.sin(phi)) / size
    north = (axis * np.cos(phi) - plane.real * np.sin(phi)) / size
    direction_deg = np.degrees(np.arctan2(plane.imag / size, north)) % 360.0
    return np.degrees(np.arcsin(np.clip(up, -1.0, 1.0))), direction_deg


def parse_place(text: str) -> tuple[float, float]:
    """Latitude and longitude [deg] of `LAT,LON`.

    Raises
    ------
    InputError
        For another form or a place that is not on earth.
    """
    try:
        latitude, longitude = (float(part) for part in text.split(","))
    except ValueError:
        latitude = longitude = np.nan
    if not (abs(latitude) <= 90.0 and abs(longitude) <= 180.0):
        raise InputError(
            "This is not a place.",
            argument="place",
            given=text,
            allowed="LAT,LON in degrees: -90 to 90 (north positive), -180 to 180 (east positive)",
            fix="for example -1.29,36.82 for Nairobi",
        )
    return latitude, longitude
