"""Patches for searches against those that are traced at every moment."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.auto_exposure import settle_exposure
from simulator.camera.region import region_series
from simulator.camera.region_traces import Traces
from simulator.judge.target import find_text, plan_region
from simulator.scene.radiosity.field import rough

TIMES = (-0.08, -0.04, 0.0)


def series(in_scene, state, plan, stray_light):
    return region_series(
        in_scene, state.mode, state.exposure.shutter_s, plan, stray_light, TIMES, Traces()
    )


@pytest.mark.regression
@pytest.mark.parametrize("heading_deg", [0.0, 60.0], ids=["towards the camera", "across"])
def test_what_a_search_remembers_is_near_what_is_traced(make_in_scene, make_scene, heading_deg):
    # 20 km/h: .22 m from frame to frame; found at most .0099 of the contrast
    scene = make_scene(
        natural_light={"illuminance_lux": 20.0},
        plate={"speed_kmh": 20.0, "heading_deg": heading_deg},
    )
    in_scene = make_in_scene(scene)
    state = settle_exposure(in_scene)
    plan = plan_region(in_scene, state, find_text(in_scene, scene.target[0]))
    none = np.zeros((2, 2, 3), np.float32)
    exact = series(in_scene, state, plan, none)
    with rough():
        near = series(in_scene, state, plan, none)
    contrast = float(np.ptp(exact[-1]))
    moved = float(np.sqrt(np.mean((exact[0] - exact[-1]) ** 2))) / contrast
    for k, (a, b) in enumerate(zip(exact, near, strict=True)):
        off = float(np.sqrt(np.mean((a - b) ** 2))) / contrast
        assert off < 0.015, k
    assert moved > 0.03  # the shown frame in place of the others would not do


@pytest.mark.invariant
def test_layers_behind_the_lens_serve_all_frames(make_in_scene, make_scene):
    # the oldest frame is asked for first; those after it need no blur of their own
    scene = make_scene(natural_light={"illuminance_lux": 20.0}, plate={"speed_kmh": 20.0})
    in_scene = make_in_scene(scene)
    state = settle_exposure(in_scene)
    plan = plan_region(in_scene, state, find_text(in_scene, scene.target[0]))
    traces, none = Traces(), np.zeros((2, 2, 3), np.float32)
    with rough():
        region_series(in_scene, state.mode, 0.002, plan, none, TIMES, traces)
    assert max(len(made) for made in traces.blurred.values()) == 1
