"""One scene and camera for all benchmarks; nothing here asserts a time."""

from __future__ import annotations

import pytest

from simulator.camera.load import Camera
from simulator.camera.pipeline import settle_camera
from simulator.camera.rig import Rig
from simulator.scene.build import build_world
from simulator.scene.load import Scene


@pytest.fixture(scope="session")
def rig() -> Rig:
    """The gate by infrared, with a camera of 1920 x 1080 pixels."""
    model = Scene.load("depot-gate-infrared").model
    return Rig(build_world(model), model.station, Camera.load("fixed-2mp-lowlight").model)


@pytest.fixture(scope="session")
def state(rig):
    """What the camera settled on."""
    return settle_camera(rig)
