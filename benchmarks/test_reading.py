"""Reading the plate: the patch's light, and trials of the whole camera."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.lens import gaussian_mtf
from simulator.camera.patch import Traces, patch_light
from simulator.judge.analytic import analytic_read_probability
from simulator.judge.readers import PERSON
from simulator.judge.shapes import design_shapes
from simulator.judge.target import find_plate, plan_patch
from simulator.judge.trials import quick_veil, read_probability
from simulator.scene.load import Scene
from simulator.scene.targets.plate import plate_design


@pytest.fixture(scope="module")
def target(rig):
    targets = Scene.load("depot-gate-infrared").model.target
    return find_plate(rig, next(t for t in targets if t.name == "plate"))


def test_patch(benchmark, rig, state, target):
    plan, veil = plan_patch(rig, state, target), quick_veil(rig, state)
    benchmark(patch_light, rig, state.mode, state.exposure.shutter_s, plan, veil)


@pytest.mark.parametrize("trials", [24, 180])
def test_trials(benchmark, rig, state, target, trials):
    plan, veil, traces = plan_patch(rig, state, target), quick_veil(rig, state), Traces()
    benchmark(
        read_probability, rig, state, target, seed=1, trials=trials, plan=plan, veil=veil,
        traces=traces,
    )  # fmt: skip


def test_analytic(benchmark):
    shapes = design_shapes(plate_design("dark-on-white-520x110"))

    def mtf(fx, fy):
        return gaussian_mtf(np.hypot(fx, fy), 1.0) * np.sinc(fx) * np.sinc(fy)

    benchmark(
        analytic_read_probability, shapes, "AB12 XYZ", PERSON, height_px=16.0, mtf=mtf,
        contrast=80.0, noise=20.0,
    )  # fmt: skip
