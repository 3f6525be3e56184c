"""Sunrise, sunset and the hours of darkness against a second library and almanac values."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from simulator.light.darkness import SUNSET_DEG
from simulator.studies.calendar.sky import hours_of_year, sky_of

pytestmark = pytest.mark.outside
MINUTE = dt.timedelta(minutes=1)


def nearest(moment, word, latitude, longitude):
    """The sunrise or sunset next to a moment, on a grid of ten minutes."""
    when = [moment + 10 * k * MINUTE for k in range(-90, 91)]
    above = sky_of(when, latitude, longitude).at.sun_altitude_deg - SUNSET_DEG
    found = []
    for i in np.flatnonzero(np.diff(np.sign(above))):
        if (above[i] < 0.0) == (word == "rise"):
            share = above[i] / (above[i] - above[i + 1])
            found.append(when[i] + share * 10 * MINUTE)
    return min(found, key=lambda t: abs(t - moment))


@pytest.mark.parametrize(
    ("latitude", "longitude", "day"),
    [
        (51.48, 0.0, dt.date(2026, 6, 21)),
        (51.48, 0.0, dt.date(2026, 12, 21)),
        (-1.29, 36.82, dt.date(2026, 3, 20)),
        (40.71, -74.01, dt.date(2026, 9, 23)),
        (-33.87, 151.21, dt.date(2026, 1, 15)),
        (60.17, 24.94, dt.date(2026, 11, 1)),
    ],
)
def test_sunrise_and_sunset_agree_with_pvlib(latitude, longitude, day):
    # pvlib's sun_rise_set_transit_spa: NREL's solar position algorithm (Reda & Andreas 2004)
    import pandas as pd
    from pvlib.solarposition import sun_rise_set_transit_spa

    times = pd.DatetimeIndex([pd.Timestamp(day, tz="UTC")])
    row = sun_rise_set_transit_spa(times, latitude, longitude).iloc[0]
    for word, other in (("rise", row["sunrise"]), ("set", row["sunset"])):
        expected = other.floor("s").to_pydatetime()
        assert abs(nearest(expected, word, latitude, longitude) - expected) < 1.5 * MINUTE, word


@pytest.mark.parametrize(
    ("day", "rise", "set_"),
    [
        # London, nearly the same from year to year; HM Nautical Almanac Office (from memory)
        (dt.date(2026, 6, 21), dt.time(3, 43), dt.time(20, 21)),
        (dt.date(2026, 12, 21), dt.time(8, 4), dt.time(15, 53)),
    ],
)
def test_the_longest_and_the_shortest_day_of_london(day, rise, set_):
    for word, clock in (("rise", rise), ("set", set_)):
        expected = dt.datetime.combine(day, clock, dt.UTC)
        assert abs(nearest(expected, word, 51.51, -0.13) - expected) <= 2 * MINUTE, word


@pytest.mark.parametrize(("latitude", "longitude"), [(0.0, 0.0), (51.5, -0.1), (69.65, 18.96)])
def test_hours_of_darkness_of_a_year_agree_with_pvlib(latitude, longitude):
    import pandas as pd
    from pvlib.solarposition import get_solarposition

    when = hours_of_year(2026, dt.UTC)
    dark = sky_of(when, latitude, longitude).dark
    other = get_solarposition(pd.DatetimeIndex(when), latitude, longitude)["elevation"].to_numpy()
    # hours at whose middle the sun is within some thousandths of a degree of the limit may differ
    assert np.count_nonzero(dark != (other < SUNSET_DEG)) <= 3
    assert abs(int(dark.sum()) - int((other < SUNSET_DEG).sum())) <= 3


def test_the_equator_is_dark_nearly_half_of_the_year():
    # half, less refraction and the sun's radius: 2 x 0.833 degrees of 15 degrees an hour, 6.7
    # minutes a day over cos(declination)
    dark = sky_of(hours_of_year(2026, dt.UTC), 0.0, 10.0).dark
    lost_h = 365 * 2 * 0.833 / 15.0 / 0.96
    assert dark.sum() == pytest.approx(4380 - lost_h, abs=30)


def test_polar_night_and_midnight_sun():
    # Longyearbyen has no sunrise from late October to mid February, no sunset from late April to
    # late August (common knowledge, from memory: 26 October, 15 February; 20 April, 22 August)
    when = hours_of_year(2026, dt.UTC)
    dark = sky_of(when, 78.22, 15.65).dark
    days = np.array([t.timetuple().tm_yday for t in when])
    whole = [d for d in range(1, 366) if dark[days == d].all()]
    light = [d for d in range(1, 366) if not dark[days == d].any()]
    starts = [dt.date(2026, m, d).timetuple().tm_yday for m, d in ((10, 26), (2, 15))]
    assert min(d for d in whole if d > 183) == pytest.approx(starts[0], abs=2)
    assert max(d for d in whole if d < 183) == pytest.approx(starts[1], abs=2)
    ends = [dt.date(2026, m, d).timetuple().tm_yday for m, d in ((4, 20), (8, 22))]
    assert (light[0], light[-1]) == pytest.approx(ends, abs=2)
