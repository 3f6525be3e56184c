"""Hours of darkness against a second library and published day lengths; energy by hand."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from simulator.errors import InputError
from simulator.light.darkness import SUNSET_DEG, hours_dark, sun_altitude_over_year
from simulator.light.sun_moon import sky_position
from simulator.studies.calendar.sky import parse_place
from simulator.studies.lighting.costs import cost_of, energy_kwh, parse_price


@pytest.fixture(scope="module")
def vienna():
    return hours_dark(48.2, 16.4, 2026)


@pytest.mark.outside
def test_hours_of_darkness_against_pvlib(vienna):
    """pvlib's solar position (NREL SPA, true altitude) every two minutes of June and December."""
    import pandas as pd
    import pvlib

    for month, days in ((6, 30), (12, 31)):
        times = pd.date_range(f"2026-{month:02d}-01", periods=days * 720, freq="2min", tz="UTC")
        times = times + pd.Timedelta(minutes=1)
        found = pvlib.solarposition.get_solarposition(times, 48.2, 16.4, method="nrel_numpy")
        altitude = found["elevation"].to_numpy()
        theirs = float(np.sum(altitude < -6.0)) / 30.0
        assert vienna.monthly_h[month - 1] == pytest.approx(theirs, abs=0.2)


@pytest.mark.invariant
def test_the_sun_of_the_year_is_that_of_the_moment():
    hours = np.linspace(5.0, 8750.0, 40)
    when = [dt.datetime(2026, 1, 1, tzinfo=dt.UTC) + dt.timedelta(hours=float(h)) for h in hours]
    np.testing.assert_allclose(
        sun_altitude_over_year(hours, -33.9, 151.2, 2026),
        sky_position(when, -33.9, 151.2).sun_altitude_deg,
        atol=0.02,
    )


@pytest.mark.outside
def test_day_length_of_the_equator():
    """Almanac: the day from sunrise to sunset lasts 12 h 7 min at the equator all the year round
    (12 h and 4 x 0.833 x 2 min at an equinox), so night is 365 x 11.884 h; published tables give
    12 h 6 min to 12 h 8 min."""
    dark = hours_dark(0.0, 0.0, 2025, SUNSET_DEG)
    assert dark.yearly_h / 365.0 == pytest.approx(24.0 - 12.0 - 7.0 / 60.0, abs=1.5 / 60.0)


@pytest.mark.outside
def test_polar_night_and_day():
    """Astronomy: at 80 degrees north the sun neither rises in December nor sets in June."""
    dark = hours_dark(80.0, 15.0, 2026, SUNSET_DEG)
    assert dark.monthly_h[11] == 31 * 24
    assert dark.monthly_h[5] == 0


@pytest.mark.invariant
def test_twilight_ends_later_than_the_sun_sets(vienna):
    assert hours_dark(48.2, 16.4, 2026, SUNSET_DEG).yearly_h > vienna.yearly_h
    assert max(vienna.monthly_h) == vienna.monthly_h[11]


@pytest.mark.by_hand
def test_energy_and_cost():
    """12 W over 4000 h are 48 kWh; at 0.25 each 12.00 a year; 140 + 10 x 12 = 260."""
    assert energy_kwh(12.0, 4000.0) == 48.0
    cost = cost_of("lamp", 12.0, 4000.0, years=10, prices={"lamp": 140.0}, price_per_kwh=0.25)
    assert (cost.energy_per_year, cost.whole_life) == (12.0, 260.0)


@pytest.mark.by_hand
def test_what_is_missing_is_told_and_not_invented():
    cost = cost_of("lamp", 12.0, 4000.0, years=10, prices={}, price_per_kwh=None)
    assert (cost.price, cost.energy_per_year, cost.whole_life) == (None, None, None)
    lens = cost_of("lens", 0.0, 4000.0, years=10, prices={"lens": 90.0}, price_per_kwh=None)
    assert lens.whole_life == 90.0


@pytest.mark.invariant
@pytest.mark.parametrize("text", ["", "48", "48,16,3", "91,0", "0,181", "north,east", "nan,0"])
def test_bad_places(text):
    with pytest.raises(InputError) as refused:
        parse_place(text)
    assert refused.value.fix


@pytest.mark.invariant
@pytest.mark.parametrize("text", ["lamp", "lamp=", "=3", "lamp=-1", "lamp=inf", "lamp=cheap"])
def test_bad_prices(text):
    with pytest.raises(InputError) as refused:
        parse_price(text)
    assert refused.value.fix
