"""What a result is traced back to: photographs count by their content and go with the result."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from simulator.camera.load import Camera
from simulator.scene.load import Scene
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
    scene = Scene.load("depot-gate-dark")
    assert input_hash(scene, camera) == input_hash(Scene.load("depot-gate-dark"), camera)
    other = Scene.load("depot-gate-dark", ["station.height_m=3.5"])
    assert input_hash(other, camera) != input_hash(scene, camera)
