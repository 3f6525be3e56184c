"""Hours of a year as people write them, by the clocks of a place."""

from __future__ import annotations

import calendar as months_of
import datetime as dt

from simulator.studies.calendar.sky import MIDDLE, time_zone


def solar_offset(longitude_deg: float) -> dt.timedelta:
    """Local mean solar time minus universal time: 4 minutes for each degree east."""
    return dt.timedelta(minutes=round(4.0 * longitude_deg))


def clock_gap(longitude_deg: float) -> str:
    """How far local mean solar time is from universal time.

    Examples
    --------
    >>> clock_gap(-74.0)
    '4 h 56 min behind it'
    """
    minutes = round(solar_offset(longitude_deg) / dt.timedelta(minutes=1))
    hours, rest = divmod(abs(minutes), 60)
    return f"{hours} h {rest:02d} min {'ahead of' if minutes >= 0 else 'behind'} it"


def _span(start: dt.datetime, day: dt.date | None = None) -> str:
    """An hour that begins at a time; its day only where it is not `day`."""
    text = f"{start:%H:%M} to {start + dt.timedelta(hours=1):%H:%M}"
    if start.date() == day:
        return text
    return f"{start.day} {months_of.month_name[start.month]}, {text}"


def hour(middle: str, zone: str, longitude_deg: float) -> str:
    """An hour by the clock of the place, and by universal and sun's time.

    Without a time zone the clock is universal time, and local mean solar time stands beside it.

    Parameters
    ----------
    middle
        The moment at its middle, ISO 8601 with offset.

    Examples
    --------
    >>> hour("2026-12-15T23:30:00+01:00", "Europe/Vienna", 16.4)
    '15 December, 23:00 to 00:00 Europe/Vienna (CET, UTC+1: 22:00 to 23:00 UTC)'
    """
    utc = dt.datetime.fromisoformat(middle).astimezone(dt.UTC) - MIDDLE
    if zone == "UTC":
        east = f"{abs(longitude_deg):.2f}° {'E' if longitude_deg >= 0.0 else 'W'}"
        solar = _span(utc + solar_offset(longitude_deg), utc.date())
        return f"{_span(utc)} UTC (local mean solar time at {east}: {solar}; no time zone given)"
    start = utc.astimezone(time_zone(zone))
    offset = start.utcoffset()
    assert offset is not None
    hours, name = f"UTC{offset / dt.timedelta(hours=1):+g}", start.tzname() or ""
    short = f"{name}, {hours}" if name.isalpha() else hours
    return f"{_span(start)} {zone} ({short}: {_span(utc, start.date())} UTC)"
