"""What a result is traced back to: photographs count by their content and go with the result."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bare import bare
from PIL import Image

from simulator.api.prediction import Prediction
from simulator.camera.load import Camera
from simulator.report.compare_sheet import save_comparison
from simulator.scene.load import Scene
from simulator.studies.compare import compare
from simulator.studies.overrides import load_pair
from simulator.studies.predict import predict
from simulator.studies.provenance import input_hash

pytestmark = pytest.mark.invariant


def picture(path, level):
    Image.fromarray(np.full((8, 12, 3), level, np.uint8)).save(path)


@pytest.fixture
def scene(make_scene, tmp_path):
    def load():
        raw = make_scene().model_dump(exclude_none=True, exclude_defaults=True)
        raw["surface"] = [
            {
                "name": name,
                "kind": "photograph",
                "file": "view.png",
                "position_m": [0.0, 25.0, 0.0],
                "width_m": 8.0,
            }
            for name in ("left", "right")
        ]
        return Scene.from_dict(raw, name="s", folder=tmp_path)

    picture(tmp_path / "view.png", 100)
    return load


def test_another_picture_is_another_input(scene, tmp_path):
    camera = Camera.load("fixed-2mp-lowlight")
    first = input_hash(scene(), camera)
    assert input_hash(scene(), camera) == first
    picture(tmp_path / "view.png", 101)
    assert input_hash(scene(), camera) != first


def test_the_copy_loads_by_itself_and_is_the_same_input(scene, tmp_path):
    camera = Camera.load("fixed-2mp-lowlight")
    first = input_hash(scene(), camera)
    inputs = tmp_path / "inputs"
    inputs.mkdir()
    scene().save(inputs / "scene.toml")
    (tmp_path / "view.png").unlink()
    photograph, text = sorted(inputs.iterdir())
    assert photograph.name.startswith("photograph-") and text.name == "scene.toml"
    assert text.read_text().count(f'file = "{photograph.name}"') == 2
    assert str(tmp_path) not in text.read_text()
    assert input_hash(Scene.load(inputs / "scene.toml"), camera) == first


def test_a_scene_without_photographs_hashes_its_tables():
    camera = Camera.load("fixed-2mp-lowlight")
    scene = Scene.load(bare("depot-gate-dark"))
    assert input_hash(scene, camera) == input_hash(Scene.load(bare("depot-gate-dark")), camera)
    other = Scene.load(bare("depot-gate-dark"), ["station.height_m=3.5"])
    assert input_hash(other, camera) != input_hash(scene, camera)


SMALL = ("sensor.width_px=480", "sensor.height_px=270", "processing.temporal_noise_reduction=0")
SHORT = {"seed": 3, "trials": 4, "remedies": False, "tolerances": False}


def changed(entry, **tables):
    """A scene or camera whose model was copied with other values, as Python callers do it."""
    model = entry.model
    for name, values in tables.items():
        model = model.model_copy(update={name: getattr(model, name).model_copy(update=values)})
    return replace(entry, model=model)


def test_a_result_folder_reproduces_the_picture_of_changed_models(tmp_path):
    scene, camera = load_pair(bare("depot-gate-infrared"), "fixed-2mp-lowlight", SMALL)
    picture(tmp_path / "view.png", 90)
    view = {
        "kind": "photograph",
        "file": tmp_path / "view.png",
        "position_m": [0.0, 26.0, 0.0],
        "width_m": 8.0,
    }
    scene = scene.set({"surface.view": view, "task.name": "detect"})
    higher = changed(scene, station={"height_m": np.float64(4.0)})
    noisy = changed(camera, sensor={"read_noise_e": 6.0}, exposure={"gain_max_db": 30.0})
    first = predict(higher, noisy, **SHORT)
    assert first.verdict.input_hash != input_hash(scene, camera)
    inputs = Prediction.of(first).save(tmp_path / "result") / "inputs"
    (tmp_path / "view.png").unlink()
    assert str(tmp_path) not in (inputs / "scene.toml").read_text()
    again = predict(inputs / "scene.toml", inputs / "camera.toml", **SHORT)
    assert again.scene == higher and again.camera == noisy
    assert again.verdict.input_hash == first.verdict.input_hash
    np.testing.assert_array_equal(again.frame, first.frame)


def test_a_comparison_keeps_the_cameras_as_they_were_judged(tmp_path):
    scene, camera = load_pair(
        bare("depot-gate-dark"), "fixed-2mp-lowlight", [*SMALL, "lens.focus_m=5"]
    )
    found = compare([scene], [camera], seed=1)
    inputs = save_comparison(tmp_path / "result", found) / "inputs"
    judged = found.results[scene.name, camera.name]
    kept = Camera.load(inputs / "camera-fixed-2mp-lowlight.toml")
    assert kept == judged.camera
    assert input_hash(scene, kept) == judged.verdict.input_hash
