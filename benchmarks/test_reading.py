"""Reading the plate: the patch's light, and trials of the whole camera."""

from __future__ import annotations

import pytest

from simulator.camera.region import region_light
from simulator.camera.region_traces import Traces
from simulator.judge.target import find_text, plan_region
from simulator.judge.trials import quick_stray_light, read_probability
from simulator.scene.load import Scene


@pytest.fixture(scope="module")
def target(in_scene):
    targets = Scene.load("depot-gate-infrared").model.target
    return find_text(in_scene, next(t for t in targets if t.name == "plate"))


def test_patch(benchmark, in_scene, state, target):
    plan, stray_light = plan_region(in_scene, state, target), quick_stray_light(in_scene, state)
    benchmark(region_light, in_scene, state.mode, state.exposure.shutter_s, plan, stray_light)


@pytest.mark.parametrize("trials", [24, 180])
def test_trials(benchmark, in_scene, state, target, trials):
    plan, stray_light, traces = (
        plan_region(in_scene, state, target),
        quick_stray_light(in_scene, state),
        Traces(),
    )
    benchmark(
        read_probability,
        in_scene,
        state,
        target,
        seed=1,
        trials=trials,
        plan=plan,
        stray_light=stray_light,
        traces=traces,
    )
