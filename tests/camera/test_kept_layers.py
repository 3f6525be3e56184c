"""Layers of pictures that are kept on disk serve only what shows the same."""

from __future__ import annotations

import numpy as np
import pytest
from bare import bare

from simulator.camera import Camera, kept_layers
from simulator.camera.kept_layers import keeping_layers
from simulator.disk_cache import LAYERS
from simulator.scene import Scene
from simulator.scene.radiosity.field import rough
from simulator.studies.session import open_session

pytestmark = pytest.mark.invariant
SMALL = {"sensor.width_px": 160, "sensor.height_px": 90, "sensor.pixel_pitch_um": 30.0}


@pytest.fixture
def folder(monkeypatch, tmp_path):
    monkeypatch.setenv("NIGHTPROOF_CACHE_DIR", str(tmp_path))
    return tmp_path / LAYERS


def whole(scene=None, **changes):
    camera = Camera.load("fixed-2mp-lowlight").set(SMALL | changes)
    return open_session(scene or Scene.load(bare("depot-gate-infrared")), camera).whole.rates[-1]


def test_a_kept_layer_is_the_same_to_the_byte_and_serves_other_settings(folder, monkeypatch):
    plain = whole()
    assert not folder.exists()
    with keeping_layers():
        first = whole()
        kept = {file.name for file in folder.iterdir()}
        traced = []
        monkeypatch.setattr(kept_layers, "trace_layer", lambda *a, **k: traced.append(a))
        again = whole()
        whole(**{"processing.sharpening": 0.0})
    assert plain.tobytes() == first.tobytes() == again.tobytes()
    assert kept and not traced
    assert {file.name for file in folder.iterdir()} == kept


@pytest.mark.parametrize(
    "change",
    [
        {"natural_light.illuminance_lux": 3.0},
        {"station.height_m": 3.2},
        {"target.plate.position_m": [0.4, 17.0, 0.6]},
    ],
)
def test_another_light_place_or_body_is_traced_anew(folder, change):
    scene = Scene.load(bare("depot-gate-infrared"))
    with keeping_layers():
        whole(scene)
        before = {file.name for file in folder.iterdir()}
        whole(scene.set(change))
        assert {file.name for file in folder.iterdir()} > before


def test_a_search_keeps_nothing_and_a_torn_file_is_made_anew(folder):
    with keeping_layers(), rough():
        whole()
    assert not folder.exists() or not list(folder.iterdir())
    with keeping_layers():
        first = whole()
        for file in folder.iterdir():
            file.write_bytes(file.read_bytes()[:100])
        assert np.array_equal(whole(), first)
