"""One scene and camera for all benchmarks; nothing here asserts a time."""

from __future__ import annotations

import pytest

from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera
from simulator.camera.pipeline import settle_exposure
from simulator.scene.build import build_world
from simulator.scene.load import Scene


@pytest.fixture(scope="session")
def in_scene() -> CameraInScene:
    """The gate by infrared, with a camera of 1920 x 1080 pixels."""
    model = Scene.load("depot-gate-infrared").model
    return CameraInScene(build_world(model), model.station, Camera.load("fixed-2mp-lowlight").model)


@pytest.fixture(scope="session")
def state(in_scene):
    """What the camera settled on."""
    return settle_exposure(in_scene)
