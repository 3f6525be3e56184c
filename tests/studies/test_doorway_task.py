"""A person in a bright doorway: what metering does to recognising and identifying him."""

from __future__ import annotations

from functools import lru_cache

import pytest
from bare import bare

from simulator.scene.build import build_world
from simulator.studies.overrides import load_pair
from simulator.studies.quick import quick_of
from simulator.studies.session import open_session

pytestmark = pytest.mark.invariant
SENSORS = {
    "small": ["sensor.width_px=480", "sensor.height_px=270", "sensor.pixel_pitch_um=11.6"],
    "finer": ["sensor.width_px=960", "sensor.height_px=540", "sensor.pixel_pitch_um=5.8"],
}
WINDOW = "exposure.window=[0.45,0.54,0.55,0.85]"


@lru_cache
def world():
    """The hall, whose light all cameras share."""
    return build_world(load_pair(bare("doorway-noon"), "fixed-2mp-lowlight")[0].model)


@lru_cache
def chance(task, metering, sensor="small"):
    sets = [*SENSORS[sensor], WINDOW, f"exposure.metering={metering}", f"task.name={task}"]
    scene, camera = load_pair(bare("doorway-noon"), "fixed-2mp-lowlight", sets)
    return quick_of(open_session(scene, camera, seed=3, world=world())).probability


@pytest.mark.parametrize("task", ["recognise", "identify"])
def test_backlight_metering_helps_and_finer_pixels_more(task):
    assert chance(task, "average") < chance(task, "backlight") < chance(task, "backlight", "finer")


@pytest.mark.parametrize("task", ["recognise", "identify"])
def test_the_odds_of_a_face_near_black_fall_to_half_or_less(task):
    """It says that somebody is there sooner than who, though a clean dark face on a good display
    keeps some of its detail."""
    average, backlight = chance(task, "average"), chance(task, "backlight")
    assert average / (1.0 - average) < 0.5 * backlight / (1.0 - backlight)


@pytest.mark.parametrize("metering", ["average", "backlight"])
def test_a_silhouette_is_detected(metering):
    assert chance("detect", metering) > 0.98
