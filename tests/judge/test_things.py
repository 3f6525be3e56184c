"""Things other than people: what is not detected is not recognised."""

from __future__ import annotations

import pytest

from simulator import Camera, Scene
from simulator.studies.session import open_session

pytestmark = pytest.mark.invariant
SMALL = {"sensor.width_px": 480, "sensor.height_px": 270, "sensor.pixel_pitch_um": 11.6}


def chances(visibility_m):
    """A blue crate on a yard, 20 m away in fog: detected, recognised and identified."""
    out = []
    for task in ("detect", "recognise", "identify"):
        table = {
            "title": "Crate", "question": "What is it?",
            "natural_light": {"illuminance_lux": 500.0},
            "air": {"visibility_m": visibility_m, "kind": "fog"},
            "station": {"height_m": 2.0, "aim_m": [0.0, 20.0, 0.5], "focus_m": 20.0},
            "surface": [{"name": "yard", "kind": "ground", "material": "concrete"}],
            "target": [
                {"name": "crate", "kind": "parcel", "material": "paint-blue", "label": "",
                 "position_m": [0.0, 20.0, 0.0], "width_m": 1.2, "height_m": 1.0}
            ],
            "task": {"target": "crate", "name": task},
        }  # fmt: skip
        scene = Scene.from_dict(table, name="crate", folder=".")
        camera = Camera.load("fixed-2mp-lowlight").set(SMALL)
        out.append(open_session(scene, camera, seed=2).probability())
    return out


def test_a_thing_is_recognised_no_oftener_than_detected():
    detected, recognised, identified = chances(3000.0)
    assert detected.value > 0.95
    assert identified.value <= recognised.value <= detected.value
    assert recognised.by_cycles is not None and recognised.value <= recognised.by_cycles


def test_an_even_grey_of_fog_holds_no_thing():
    assert all(one.value < 0.05 for one in chances(12.0))
