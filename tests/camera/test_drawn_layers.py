"""Layers of other texts and other places of the pixel grid, made from one that was traced."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator.camera.pipeline import settle_exposure
from simulator.camera.region import region_light
from simulator.camera.region_traces import Traces
from simulator.judge.target import find_text, plan_region
from simulator.judge.texts import with_text
from simulator.judge.trials import quick_stray_light

pytestmark = pytest.mark.invariant


@pytest.mark.parametrize("speed_kmh", [0.0, 20.0])
def test_they_are_those_that_are_traced_anew(make_in_scene, make_scene, make_camera, speed_kmh):
    scene = make_scene(natural_light={"illuminance_lux": 30.0}, plate={"speed_kmh": speed_kmh})
    in_scene = make_in_scene(scene, make_camera())
    state = settle_exposure(in_scene)
    target = find_text(in_scene, scene.target[0])
    plan, stray = plan_region(in_scene, state, target), quick_stray_light(in_scene, state)
    shutter = state.exposure.shutter_s

    def light(at, place, traces):
        return region_light(at, state.mode, shutter, place, stray, 0.0, traces)

    own = Traces()
    before = light(in_scene, plan, own)
    text = "".join("8" if c != " " else c for c in target.entry.text)
    other, _ = with_text(in_scene, target, text)
    step = 1.0 / plan.split
    for phase in ((0.0, 0.0), (step, 2.0 * step)):
        moved = replace(plan, phase_px=phase)
        fresh = light(other, moved, Traces())
        # places of samples differ by the rounding of their sums alone
        np.testing.assert_allclose(light(other, moved, own.of_other_text()), fresh, rtol=1e-5)
        assert np.abs(fresh - before).max() > 0.05 * before.max()
    assert np.array_equal(light(in_scene, plan, own), before)
