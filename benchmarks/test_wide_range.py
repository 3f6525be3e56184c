"""Defect correction, and a whole frame of a camera with a wide range."""

from __future__ import annotations

import pytest

from simulator.camera.defects import correct_defects
from simulator.camera.in_scene import CameraInScene
from simulator.camera.light_field import frame_light
from simulator.camera.load import Camera
from simulator.camera.pipeline import mosaic_of, settle_exposure, shoot
from simulator.scene.build import build_world
from simulator.scene.load import Scene


def test_defects(benchmark, in_scene, state):
    shutter = state.exposure.shutter_s
    mosaic = mosaic_of(in_scene, state, frame_light(in_scene, state.mode, shutter).rate, seed=1)
    benchmark(correct_defects, mosaic, in_scene.camera.sensor, state.chain, shutter)


@pytest.mark.parametrize("method", ["off", "exposures", "logarithmic"])
def test_doorway(benchmark, method):
    model, camera = Scene.load("doorway-noon").model, Camera.load("fixed-2mp-lowlight").model
    wide = camera.wide_range.model_copy(update={"method": method})
    camera = camera.model_copy(update={"wide_range": wide})
    in_scene = CameraInScene(build_world(model), model.station, camera)
    state = settle_exposure(in_scene)
    rate = frame_light(in_scene, state.mode, state.exposure.shutter_s).rate
    benchmark(shoot, in_scene, state, [rate], seed=1)
