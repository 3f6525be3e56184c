"""The light of a scene in words."""

from __future__ import annotations

import pytest

from simulator.report.wording.light import light_words, natural_words, short_words
from simulator.scene.load import Scene
from simulator.scene.model_light import NaturalLight


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("natural", "told", "short"),
    [
        (
            {"illuminance_lux": 0.02, "spectrum": "night-sky"},
            "night sky, 0.02 lx on level ground", "night sky, 0.02 lx",
        ),
        (
            {"illuminance_lux": 60000.0, "sun_share": 0.8, "sun_altitude_deg": 50.0},
            "daylight with sun (80 % of it), 60 000 lx on level ground", "daylight, 60 000 lx",
        ),
        (
            {"illuminance_lux": 300.0, "spectrum": "led-4000k"},
            "even light (led-4000k), 300 lx on level ground", "even light, 300 lx",
        ),
    ],
)  # fmt: skip
def test_light_by_amount(natural, told, short):
    light = NaturalLight(**natural)
    assert (natural_words(light), short_words(light)) == (told, short)


@pytest.mark.by_hand
def test_light_by_the_sun_and_by_date():
    """The clear moonless night sky of USNO Circular 171 with 0.05 lx of a town is some 0.05 lx."""
    dark = NaturalLight(sun_altitude_deg=-20.0, skyglow_lux=0.05)
    assert natural_words(dark).startswith("sun 20° below the horizon, no moon, 0.05")
    overcast = NaturalLight(sun_altitude_deg=18.0, cloud_cover=1.0)
    assert "sun 18° above the horizon, cloud over 100 % of the sky, " in natural_words(overcast)
    # sun at declination -22.85 and hour angle 176.5 deg: arcsin(-0.2895 - 0.6130) = -64.5 deg;
    # the moon was full 12.7 h before, so some 6 to 9 deg from it: (1 + cos 8.5)/2 = 0.994
    night = NaturalLight(
        date="2026-01-03", time="23:45", latitude_deg=48.2, longitude_deg=16.4, utc_offset_h=1.0
    )
    text = natural_words(night)
    assert text.startswith("2026-01-03, 23:45 (UTC+1) at 48.2, 16.4: sun 64° below the horizon")
    assert "moon" in text and "(99 % lit)" in text
    assert short_words(night).startswith("2026-01-03 23:45, 0.")


@pytest.mark.invariant
def test_lamps_that_are_on():
    assert light_words(Scene.load("car-park-led").model).endswith("; on: mast left, mast right")
    assert light_words(Scene.load("depot-gate-dark").model).endswith("; no lamp on")
