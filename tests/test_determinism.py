"""Same inputs and seed, same bytes, whatever the number of threads."""

from __future__ import annotations

import cv2
import numba
import numpy as np
import pytest

from simulator.camera.light_field import frame_light
from simulator.camera.patch import PatchPlan, patch_light
from simulator.camera.pipeline import frame_history, settle_camera, shoot

pytestmark = [
    pytest.mark.invariant,
    pytest.mark.skipif(numba.config.NUMBA_NUM_THREADS < 2, reason="one processor only"),
]


@pytest.fixture
def with_threads():
    """Runs a function with a number of threads, and puts the old numbers back."""
    before = numba.get_num_threads(), cv2.getNumThreads()

    def run(threads: int, make):
        numba.set_num_threads(threads)
        cv2.setNumThreads(threads)
        return make()

    yield run
    numba.set_num_threads(before[0])
    cv2.setNumThreads(before[1])


def _scene(make_scene):
    return make_scene(
        natural_light={"illuminance_lux": 3.0},
        plate={"speed_kmh": 20.0},
        target=[{"name": "car", "kind": "vehicle-front", "carries": "plate",
                 "headlights": "dipped"}],
        surface=[{"name": "road", "kind": "ground", "material": "asphalt", "variation": 0.2}],
    )  # fmt: skip


def test_bytes_do_not_depend_on_threads(make_rig, make_scene, make_camera, with_threads):
    scene = _scene(make_scene)
    camera = make_camera(processing={"temporal_noise_reduction": 0.5, "noise_reduction": 0.5})

    def everything():
        rig = make_rig(scene, camera)
        state = settle_camera(rig, "day")
        rates, light = frame_history(rig, state)
        frame = shoot(rig, state, rates, seed=7)
        point = rig.world.cards[0].centre_m
        plan = PatchPlan((80, 50, 240, 130), 24, 3, point, 550.0)
        patch = patch_light(rig, "day", state.exposure.shutter_s, plan, light.veil)
        trials = shoot(rig, state, [patch], seed=7, frames=3, origin_px=(80, 50))
        return [light.rate, light.veil, light.depth, *rates, patch, frame, trials]

    one = with_threads(1, everything)
    two = with_threads(2, everything)
    for a, b in zip(one, two, strict=True):
        assert a.tobytes() == b.tobytes()


def test_seed_matters(make_rig, make_scene):
    rig = make_rig(_scene(make_scene))
    state = settle_camera(rig, "day")
    rate = frame_light(rig, "day", state.exposure.shutter_s).rate
    frames = [shoot(rig, state, [rate], seed=seed) for seed in (1, 1, 2)]
    assert np.array_equal(frames[0], frames[1])
    assert not np.array_equal(frames[0], frames[2])
