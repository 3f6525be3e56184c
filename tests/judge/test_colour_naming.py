"""Colours of cars and clothes under lamps: daylight tells them, sodium and infrared do not."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from bare import bare

from simulator import Camera, Scene
from simulator.errors import InputError
from simulator.judge.colour_naming import name_shares, right_names
from simulator.scene.build import build_world
from simulator.studies.overrides import load_pair, set_pair
from simulator.studies.predict import predict
from simulator.studies.quick import quick, quick_of
from simulator.studies.session import open_session

SHORT = {"remedies": False, "tolerances": False}
"""What these checks do not need and what takes longest."""

pytestmark = pytest.mark.invariant
SMALL = ["sensor.width_px=320", "sensor.height_px=180", "sensor.pixel_pitch_um=17.4",
         "processing.temporal_noise_reduction=0.0"]  # fmt: skip
"""Few pixels, and no memory of frames before, which are traced as well."""
LOW_PRESSURE = ["lamp.mast left.spectrum=low-pressure-sodium",
                "lamp.mast right.spectrum=low-pressure-sodium"]  # fmt: skip


@lru_cache
def lot(name) -> Scene:
    """A car park without what has many leaves and rails, which takes most of the time."""
    table = Scene.load(name).table()
    table["body"] = [one for one in table["body"] if one["kind"] not in {"tree", "hedge"}]
    table["surface"] = [one for one in table["surface"] if one["kind"] != "gate"]
    return Scene.from_dict(table, name=name, folder=".")


@lru_cache
def world(scene, paint, sets):
    """A car park with the car in that paint, which pictures by day and by night share."""
    changed = [f"target.car.paint=car-{paint}", "task.target=car", "task.name=colour", *sets]
    return build_world(set_pair(lot(scene), Camera.load("fixed-2mp-lowlight"), changed)[0].model)


def chance(scene, paint, *sets, mode="day"):
    whole = [*SMALL, f"day_night.mode={mode}", f"target.car.paint=car-{paint}",
             "task.target=car", "task.name=colour", *sets]  # fmt: skip
    pair = set_pair(lot(scene), Camera.load("fixed-2mp-lowlight"), whole)
    return quick_of(open_session(*pair, seed=1, world=world(scene, paint, sets))).probability


def test_shares_are_probabilities_and_near_prototypes_sure():
    lab = np.array([[30.0, 60.0, 40.0], [5.0, 0.0, 0.0], [98.0, 0.0, 0.0], [50.0, 0.0, 0.0]])
    for mono in (False, True):
        total = sum(name_shares(lab, mono).values())
        assert total == pytest.approx(1.0)
    names = [right_names(row)[0] for row in lab]
    assert names == ["red", "black", "white", "grey"]
    # without colour nothing is sure, whatever the lightness
    assert max(float(share.max()) for share in name_shares(lab, mono=True).values()) < 0.9


@pytest.mark.parametrize("paint", ["blue", "red", "yellow", "white"])
def test_white_light_tells_colours(paint):
    assert chance("car-park-led", paint) > 0.75


@pytest.mark.parametrize("paint", ["blue", "red", "white"])
def test_sodium_does_not(paint):
    assert chance("car-park-sodium", paint) < 0.6
    assert chance("car-park-sodium", paint, *LOW_PRESSURE) < 0.1


@pytest.mark.parametrize("paint", ["blue", "red", "white"])
def test_a_monochrome_picture_is_luck(paint):
    assert chance("car-park-led", paint, mode="night") < 0.5


def test_daylight_tells_them_and_the_verdict_holds_the_colour():
    sets = [*SMALL, "natural_light.illuminance_lux=3000", "natural_light.spectrum=daylight"]
    found = predict(
        *load_pair(bare("parking-colour"), "fixed-2mp-lowlight", sets), seed=1, **SHORT
    ).verdict
    assert found.probability > 0.75
    colour = found.target.colour
    assert colour.right_names == ("blue",)
    assert next(iter(colour.named)) == "blue"
    assert colour.ciede2000 > 0.0
    assert (colour.monochrome, found.target.cycles) == (False, None)


def test_what_has_no_colour_of_its_own_is_refused():
    sets = [*SMALL, "task.target=plate", "task.name=colour"]
    with pytest.raises(InputError, match="no colour to be named"):
        quick(*load_pair(bare("car-park-led"), "fixed-2mp-lowlight", sets), seed=1)
