"""The sky of a moment stands outside: over the open, behind the openings of an interior."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest
from bare import bare

from simulator import Scene
from simulator.errors import InputError
from simulator.studies.outside import at_moment, indoors, under_sky

NOON = {"illuminance_lux": 50_000.0, "spectrum": "daylight"}


@pytest.mark.by_hand
def test_a_moment_replaces_the_sky_in_the_open():
    scene = at_moment(
        Scene.load(bare("depot-gate-infrared")), "2026-11-15 18:00", place=(48.2, 16.4),
        zone=ZoneInfo("Europe/Vienna"),
    )  # fmt: skip
    natural = scene.model.natural_light
    assert (natural.date, natural.time, natural.utc_offset_h) == ("2026-11-15", "18:00", 1.0)
    assert natural.illuminance_lux is None
    # in summer time the clock of Vienna is two hours ahead
    summer = at_moment(scene, "2026-07-15 9:30", zone=ZoneInfo("Europe/Vienna"))
    assert summer.model.natural_light.utc_offset_h == 2.0
    assert summer.model.natural_light.latitude_deg == 48.2


@pytest.mark.by_hand
def test_an_interior_keeps_its_light_and_gets_the_sky_behind_its_openings():
    room = Scene.load("reception-window")
    assert indoors(room.model)
    after = under_sky(room, NOON)
    assert after.model.natural_light == room.model.natural_light
    (window,) = [s for s in after.model.surface if s.kind == "opening"]
    assert window.illuminance_lux == 50_000.0
    night = at_moment(room, "2026-11-15 23:00", place=(48.2, 16.4)).model
    (window,) = [s for s in night.surface if s.kind == "opening"]
    assert window.illuminance_lux < 1.0 and window.spectrum == "night-sky"
    assert night.lamp == room.model.lamp
    # a room that is lit by lamps alone stays as it is
    shelf = Scene.load("parcel-shelf")
    assert indoors(shelf.model) and under_sky(shelf, NOON) == shelf


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["depot-gate-dark", "yard-noon", "low-sun-lane", "snow-yard"])
def test_the_open_is_no_interior(name):
    assert not indoors(Scene.load(name).model)


@pytest.mark.invariant
def test_bad_moments_are_refused():
    gate = Scene.load(bare("depot-gate-dark"))
    with pytest.raises(InputError, match="where on earth"):
        at_moment(gate, "2026-11-15 18:00")
    for text in ("tomorrow", "2026-11-15", "18:00"):
        with pytest.raises(InputError, match="not a date and time"):
            at_moment(gate, text, place=(48.0, 16.0))
    for text in ("2026-02-30 18:00", "2026-11-15 25:00"):
        with pytest.raises(InputError):
            at_moment(gate, text, place=(48.0, 16.0), zone=ZoneInfo("Europe/Vienna"))
