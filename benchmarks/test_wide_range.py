"""Defect correction, and a whole frame of a camera with a wide range."""

from __future__ import annotations

import pytest

from simulator.camera.defects import correct_defects
from simulator.camera.light_field import frame_light
from simulator.camera.load import Camera
from simulator.camera.pipeline import mosaic_of, settle_camera, shoot
from simulator.camera.rig import Rig
from simulator.scene.build import build_world
from simulator.scene.load import Scene


def test_defects(benchmark, rig, state):
    shutter = state.exposure.shutter_s
    mosaic = mosaic_of(rig, state, frame_light(rig, state.mode, shutter).rate, seed=1)
    benchmark(correct_defects, mosaic, rig.camera.sensor, state.chain, shutter)


@pytest.mark.parametrize("method", ["off", "exposures", "logarithmic"])
def test_doorway(benchmark, method):
    model, camera = Scene.load("doorway-noon").model, Camera.load("fixed-2mp-lowlight").model
    wide = camera.wide_range.model_copy(update={"method": method})
    camera = camera.model_copy(update={"wide_range": wide})
    rig = Rig(build_world(model), model.station, camera)
    state = settle_camera(rig)
    rate = frame_light(rig, state.mode, state.exposure.shutter_s).rate
    benchmark(shoot, rig, state, [rate], seed=1)
