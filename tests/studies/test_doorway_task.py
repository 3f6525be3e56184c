"""A person in a bright doorway: what metering does to recognising and identifying him."""

from __future__ import annotations

import pytest

from simulator.studies.overrides import load_pair
from simulator.studies.quick import quick

pytestmark = pytest.mark.invariant
SMALL = ["sensor.width_px=480", "sensor.height_px=270", "sensor.pixel_pitch_um=11.6"]
WINDOW = "exposure.window=[0.45,0.54,0.55,0.85]"
FINER = ["sensor.width_px=960", "sensor.height_px=540", "sensor.pixel_pitch_um=5.8"]


def chances(task):
    ways = (("average", SMALL), ("backlight", SMALL), ("backlight", FINER))
    out = []
    for metering, sensor in ways:
        sets = [*sensor, WINDOW, f"exposure.metering={metering}", f"task.name={task}"]
        out.append(
            quick(*load_pair("doorway-noon", "fixed-2mp-lowlight", sets), seed=3).probability
        )
    return out


@pytest.mark.parametrize("task", ["recognise", "identify"])
def test_backlight_metering_helps_and_finer_pixels_more(task):
    average, backlight, better = chances(task)
    assert average < backlight < better


@pytest.mark.parametrize("task", ["recognise", "identify"])
def test_the_odds_of_a_face_near_black_fall_to_half_or_less(task):
    """It says that somebody is there sooner than who, though a clean dark face on a good display
    keeps some of its detail."""
    average, backlight, _ = chances(task)
    assert average / (1.0 - average) < 0.5 * backlight / (1.0 - backlight)


def test_a_silhouette_is_detected():
    average, backlight, _ = chances("detect")
    assert average > 0.98
    assert backlight > 0.98
