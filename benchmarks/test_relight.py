"""Switching lamps: the stored layers weighed anew, against tracing the picture again."""

from __future__ import annotations

import pytest

from simulator.camera.in_scene import CameraInScene
from simulator.camera.light_field import frame_light
from simulator.camera.load import Camera
from simulator.camera.pipeline import settle_exposure
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.studies.relight import light_layers


@pytest.fixture(scope="module")
def lit() -> CameraInScene:
    """The loading bay with its lamps, at 1920 x 1080 pixels."""
    model = Scene.load("loading-bay-dusk").model
    return CameraInScene(build_world(model), model.station, Camera.load("fixed-2mp-lowlight").model)


@pytest.fixture(scope="module")
def settled(lit):
    return settle_exposure(lit)


def test_weigh_layers(benchmark, lit, settled):
    layers = light_layers(lit, settled)
    benchmark(layers.picture, {layers.names[-1]: 0.0})


def test_trace_layers(benchmark, lit, settled):
    benchmark(light_layers, lit, settled)


def test_trace_again(benchmark, lit, settled):
    benchmark(frame_light, lit, settled.mode, settled.exposure.shutter_s)
