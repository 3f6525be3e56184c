from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace

import numpy as np
import pytest
from bare import bare
from scipy.special import expit

from simulator.errors import InputError, NameNotFoundError
from simulator.light.natural import natural_illuminance_lux
from simulator.light.sun_moon import sky_position
from simulator.report.calendar.chart import _filled, grid
from simulator.report.calendar.record import replaced, save_calendar, table
from simulator.report.document import section_of
from simulator.report.wording import lux as lux_words, say, say_all
from simulator.report.wording.clock import clock_gap, hour
from simulator.studies.calendar.findings import answer, by_month, conditions, worst
from simulator.studies.calendar.nodes import features, first_nodes, interpolated, next_nodes
from simulator.studies.calendar.sky import (
    hours_of_year,
    parse_place,
    parse_schedule,
    sky_of,
    time_zone,
)
from simulator.studies.calendar.study import (
    Place,
    Weather,
    calendar,
    scene_at,
    switched,
    with_others_still,
)
from simulator.studies.overrides import load_pair

SMALL = ["sensor.width_px=480", "sensor.height_px=270", "target.plate.speed_kmh=0.0"]
"""A part of the sensor around the plate, at its own pixel density."""


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("text", "on"),
    [
        # light below 50 lx at 0 to 7 and from 18 on
        ("on", range(24)),
        ("off", ()),
        ("dusk-dawn", [*range(8), *range(18, 24)]),
        ("18-23", range(18, 23)),
        ("22-5", [22, 23, 0, 1, 2, 3, 4]),
        ("dusk-22", range(18, 22)),
        ("dusk-1", [18, 19, 20, 21, 22, 23, 0]),
        ("5-dawn", [5, 6, 7]),
        ("17:30-19", [18]),
    ],
)
def test_lamps_are_on_when_the_schedule_says(text, on):
    name, schedule = parse_schedule(f"gate lamp={text}")
    assert name == "gate lamp"
    clock = np.arange(24.0)
    lux = np.where((clock < 8) | (clock >= 18), 1.0, 1e4)
    expected = np.isin(np.arange(24), list(on))
    np.testing.assert_array_equal(schedule.on(clock, lux, 50.0), expected)


@pytest.mark.invariant
@pytest.mark.parametrize(
    "text", ["gate", "=on", "a=dawn-dusk", "a=25-3", "a=7-7", "a=6:70-8", "a=x"]
)
def test_other_schedules_are_refused(text):
    with pytest.raises(InputError):
        parse_schedule(text)


@pytest.mark.invariant
def test_places_zones_years_and_lamps_that_are_not_are_refused():
    for text in ("91,0", "0", "a,b", "1,2,3", "nan,0"):
        with pytest.raises(InputError):
            parse_place(text)
    with pytest.raises(InputError):
        time_zone("Nowhere/City")
    with pytest.raises(InputError):
        hours_of_year(3000, dt.UTC)
    scene, _ = load_pair(bare("yard-noon"), "fixed-2mp-lowlight", SMALL)
    with pytest.raises(NameNotFoundError):
        switched(scene, dict([parse_schedule("sun=off")]))


@pytest.mark.by_hand
def test_a_year_has_its_hours_by_any_clock():
    london = time_zone("Europe/London")
    for year, count in ((2026, 8760), (2028, 8784)):
        for zone in (dt.UTC, london):
            when = hours_of_year(year, zone)
            assert len(when) == count
            assert {t.year for t in when} == {year}
            assert {t.minute for t in when} == {30}
    # summer time from 29 March 2026 01:00: the clock skips that hour, and shows one twice in autumn
    when = hours_of_year(2026, london)
    shown = [(t.month, t.day, t.hour) for t in when]
    assert (3, 29, 1) not in shown
    assert shown.count((10, 25, 1)) == 2


@pytest.mark.invariant
@pytest.mark.parametrize(("latitude", "longitude"), [(51.5, -0.1), (-1.3, 36.8), (78.2, 15.6)])
def test_splines_of_sun_and_moon_are_those_of_every_hour(latitude, longitude):
    when = hours_of_year(2026, time_zone("Europe/London"))
    sky = sky_of(when, latitude, longitude, cloud_cover=0.4, skyglow_lux=0.02)
    some = np.random.default_rng(3).choice(len(when), 60, replace=False)
    times = [when[i] for i in some]
    direct = sky_position(times, latitude, longitude)
    for name in ("sun_altitude_deg", "moon_altitude_deg", "moon_phase_deg"):
        np.testing.assert_allclose(getattr(sky.at, name)[some], getattr(direct, name), atol=0.02)
    for body in ("sun", "moon"):
        apart = getattr(sky.at, f"{body}_bearing_deg")[some] - getattr(
            direct, f"{body}_bearing_deg"
        )
        apart = (apart + 180.0) % 360.0 - 180.0
        across = apart * np.cos(np.radians(getattr(direct, f"{body}_altitude_deg")))
        assert np.abs(across).max() < 0.02
    lux = natural_illuminance_lux(times, latitude, longitude, cloud_cover=0.4, skyglow_lux=0.02)
    np.testing.assert_allclose(sky.level_lux[some], lux, rtol=0.01)


@pytest.mark.invariant
def test_a_known_function_of_the_sky_is_found_again_from_28_hours():
    when = hours_of_year(2026, dt.UTC)
    sky = sky_of(when, 51.5, -0.1)
    lamps = ((sky.clock_h < 6.0) | (sky.clock_h > 20.0))[:, None]
    space = features(sky.at, sky.level_lux, lamps, 0.0, 0.0, [20.0])
    # fades in twilight, suffers from a sun ahead, steadier with the lamp
    ahead = np.cos(np.radians(sky.at.sun_bearing_deg)) * (sky.at.sun_altitude_deg > 0.0)
    light = np.log10(sky.level_lux + 10.0 * lamps[:, 0])
    truth = expit(4.0 * (light + 0.5) - 2.0 * ahead)
    nodes = first_nodes(space, 12)
    value = {i: float(truth[i]) for i in nodes}
    while len(value) < 28:
        value |= {i: float(truth[i]) for i in next_nodes(space, value, 4)}
    error = np.abs(interpolated(space, value, 1000) - truth)
    assert error.mean() < 0.02
    assert np.quantile(error, 0.95) < 0.1
    # the hours that were judged are kept
    assert max(error[i] for i in value) < 1e-3


@pytest.fixture(scope="module")
def year():
    pair = load_pair(bare("yard-noon"), "fixed-2mp-lowlight", SMALL)
    place = Place(51.5, -0.1, 2026, time_zone("Europe/London"), "Europe/London")
    return calendar(*pair, place, nodes=14, checks=10, trials=24, workers=1, seed=5)


@pytest.mark.invariant
def test_interpolated_hours_are_those_judged_directly(year):
    # hours drawn at random and judged, of which the interpolation knew nothing
    assert len(year.checks) == 10
    assert not set(year.checks) & set(year.nodes)
    assert np.abs(year.error).mean() <= 0.05


@pytest.mark.invariant
def test_a_plate_without_lamps_is_read_by_day_alone(year):
    day = year.sky.at.sun_altitude_deg > 5.0
    night = (year.sky.at.sun_altitude_deg < -15.0) & (year.sky.at.moon_altitude_deg < -1.0)
    assert year.probability[day].mean() > 0.9
    assert year.probability[night].mean() < 0.1
    i, judged = year.worst
    assert judged.probability <= year.probability.min() + 0.05
    assert judged.seen is not None
    assert year.sky.dark[i]


@pytest.mark.by_hand
def test_an_hour_counts_only_if_its_whole_interval_serves(year):
    # every hour at exactly what is wanted: open with an interval, sure only if that starts there
    wanted = np.full(8760, year.wanted)
    half = replace(
        year, probability=wanted, probability_low=wanted - 0.05, probability_high=wanted + 0.05
    )
    assert not half.fine.any()
    assert half.unsure.all()
    assert sum(r.light_unsure + r.dark_unsure for r in by_month(half)) == 8760
    sure = replace(
        year, probability=wanted + 0.05, probability_low=wanted, probability_high=wanted + 0.08
    )
    assert sure.fine.all()
    less = replace(
        year, probability=wanted - 0.2, probability_low=wanted - 0.3, probability_high=wanted - 0.1
    )
    assert not (less.fine | less.unsure).any()


@pytest.mark.invariant
def test_the_scene_light_that_is_not_used_is_told(year):
    lux = year.scene.model.natural_light.illuminance_lux
    assert lux_words(lux) in replaced(year).values["natural"]
    assert say(replaced(year)) in table(year)["conditions"]
    assert (year.probability_low <= year.probability).all()
    assert (year.probability <= year.probability_high).all()


@pytest.mark.by_hand
def test_the_clocks_of_an_hour():
    """16.4 deg east: 4 minutes a degree, 65.6 minutes; Vienna is an hour ahead, two in summer."""
    middle = dt.datetime(2026, 12, 15, 22, 30, tzinfo=dt.UTC)
    told = hour(middle.isoformat(), "UTC", 16.4)
    assert told.startswith("15 December, 22:00 to 23:00 UTC")
    assert "16.40° E: 23:06 to 00:06" in told
    late = hour((middle + dt.timedelta(hours=1)).isoformat(), "UTC", 16.4)
    assert "15 December, 23:00 to 00:00 UTC" in late and "16 December, 00:06 to 01:06" in late
    vienna = time_zone("Europe/Vienna")
    winter = middle.astimezone(vienna).isoformat()
    assert hour(winter, "Europe/Vienna", 16.4) == (
        "15 December, 23:00 to 00:00 Europe/Vienna (CET, UTC+1: 22:00 to 23:00 UTC)"
    )
    summer = dt.datetime(2026, 7, 1, 0, 30, tzinfo=vienna)
    assert hour(summer.isoformat(), "Europe/Vienna", 16.4) == (
        "1 July, 00:00 to 01:00 Europe/Vienna (CEST, UTC+2: 30 June, 22:00 to 23:00 UTC)"
    )
    delhi = time_zone("Asia/Kolkata")
    night = dt.datetime(2026, 1, 1, 22, 30, tzinfo=delhi).isoformat()
    assert "(IST, UTC+5.5: 16:30 to 17:30 UTC)" in hour(night, "Asia/Kolkata", 77.2)
    # 74 deg west: 4 h 56 min behind
    assert clock_gap(-74.0) == "4 h 56 min behind it"


@pytest.mark.invariant
def test_the_answer_counts_the_hours(year):
    first, *others = answer(year)
    assert first.id == "calendar.answer"
    values = first.values
    assert values["fine"] == values["light_fine"] + values["dark_fine"] == year.fine.sum()
    assert values["light"] + values["dark"] == values["hours"] == 8760
    assert others[-1] == worst(year)
    assert worst(year).values["probability"] == year.worst[1].probability
    if year.unsure.any():
        assert others[0].values["count"] == year.unsure.sum()
    ids = [m.id for m in conditions(year)]
    assert ids[0] == "calendar-condition.clock-zone"
    assert ids[-1] == "calendar-condition.error"
    assert all(say_all(conditions(year)))


@pytest.mark.invariant
def test_months_add_up_and_the_result_is_shown_in_a_report(year, tmp_path):
    rows = by_month(year)
    assert sum(r.hours for r in rows) == 8760
    assert sum(r.dark for r in rows) == year.sky.dark.sum()
    assert sum(r.light_fine + r.dark_fine for r in rows) == year.fine.sum()
    assert rows[5].light > rows[11].light
    values = grid(year, year.probability)
    assert values.shape == (24, 365)
    assert np.count_nonzero(np.isnan(values)) == 1
    assert not np.isnan(_filled(values)).any()
    folder = save_calendar(tmp_path / "year", year)
    lines = (folder / "hours.csv").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 8761
    verdict = json.loads((folder / "verdict.json").read_text(encoding="utf-8"))
    assert verdict == json.loads(json.dumps(table(year)))
    assert "Europe/London" in " ".join(verdict["conditions"])
    section = section_of(folder)
    assert len(section.pictures) == 2
    assert len(section.tables[0].rows) == 12


@pytest.mark.invariant
def test_an_hour_changes_light_and_lamps_and_nothing_else():
    scene, _ = load_pair("car-park-led", "fixed-2mp-lowlight", [])
    still = with_others_still(scene)
    speeds = {t.name: getattr(t, "speed_kmh", None) for t in still.model.target}
    assert speeds["passer-by"] == 0.0
    when = dt.datetime(2026, 7, 1, 23, 30, tzinfo=time_zone("Europe/London"))
    place = Place(51.5, -0.1, 2026)
    weather = Weather(0.5, 0.1)
    at = scene_at(still, when, place, weather, 90.0, {"mast left": False, "mast right": True})
    assert at.model.natural_light.local_time() == when
    assert at.model.natural_light.camera_bearing_deg == 90.0
    assert at.model.natural_light.cloud_cover == 0.5
    assert [lamp.on for lamp in at.model.lamp] == [False, True]
    assert at.model.target == still.model.target
    assert at.model.surface == still.model.surface
    assert at.model.station == still.model.station
