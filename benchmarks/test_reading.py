"""Reading the plate: the patch's light, and trials of the whole camera."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.lens import gaussian_mtf
from simulator.camera.region import Traces, region_light
from simulator.judge.readers import PERSON
from simulator.judge.readers.analytic import analytic_read_probability
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.target import find_plate, plan_region
from simulator.judge.trials import quick_stray_light, read_probability
from simulator.scene.load import Scene
from simulator.scene.targets.plate import plate_design


@pytest.fixture(scope="module")
def target(in_scene):
    targets = Scene.load("depot-gate-infrared").model.target
    return find_plate(in_scene, next(t for t in targets if t.name == "plate"))


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


def test_analytic(benchmark):
    shapes = design_shapes(plate_design("dark-on-white-520x110"))

    def mtf(fx, fy):
        return gaussian_mtf(np.hypot(fx, fy), 1.0) * np.sinc(fx) * np.sinc(fy)

    benchmark(
        analytic_read_probability, shapes, "A1B2 X3Y", PERSON, height_px=16.0, mtf=mtf,
        contrast=80.0, noise=20.0,
    )  # fmt: skip
