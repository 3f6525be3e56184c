"""What temporal noise reduction leaves of the noise, from the first picture on."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.bench.steps import bench_in_scene, fixed_state
from simulator.camera.pipeline import shoot

LEVEL, SHUTTER_S, GAIN_DB = 0.2, 0.02, 42.0


def noise_left(make_camera, share, *, frames=1, level=LEVEL, smoothing=0.4):
    """Spread over time of one pixel, and mean, of even light, after some frames [levels]."""
    camera = make_camera(
        sensor={"width_px": 128, "height_px": 64, "prnu": 0.0, "dsnu_e": 0.0},
        processing={
            "temporal_noise_reduction": share, "noise_reduction": smoothing, "sharpening": 0.0,
            "tone": "linear",
        },
    )  # fmt: skip
    in_scene, state = bench_in_scene(camera), fixed_state(camera, SHUTTER_S, GAIN_DB)
    rate = np.full((64, 128, 3), level * state.chain.white_e / SHUTTER_S, np.float32)
    seen = shoot(in_scene, state, [rate] * frames, seed=3, frames=16)[..., 1].astype(float)
    inner = seen[:, 4:-4, 4:-4]
    return float(np.sqrt(inner.var(axis=0, ddof=1).mean())), float(inner.mean())


@pytest.mark.by_hand
@pytest.mark.parametrize("share", [0.5, 0.8, 0.9])
@pytest.mark.parametrize("frames", [1, 3])
def test_noise_is_that_of_the_steady_recursion(make_camera, share, frames):
    """(1 - a) / (1 + a) of the variance, as of a first-order recursive filter of white noise."""
    before, level = noise_left(make_camera, 0.0)
    after, there = noise_left(make_camera, share, frames=frames)
    # rounding to whole levels adds a twelfth
    ratio = (after**2 - 1.0 / 12.0) / (before**2 - 1.0 / 12.0)
    assert math.sqrt(ratio) == pytest.approx(math.sqrt((1.0 - share) / (1.0 + share)), rel=0.1)
    assert there == pytest.approx(level, abs=0.3)


@pytest.mark.invariant
def test_more_memory_leaves_less_noise(make_camera):
    left = [noise_left(make_camera, share)[0] for share in (0.0, 0.5, 0.7, 0.8, 0.9)]
    assert left == sorted(left, reverse=True)


@pytest.mark.invariant
def test_the_start_is_what_many_frames_come_to(make_camera):
    """Noise and mean of dark light on a steep curve: from rest, and after forty frames more."""
    start = noise_left(make_camera, 0.8, level=0.02)
    later = noise_left(make_camera, 0.8, level=0.02, frames=40)
    assert start[0] == pytest.approx(later[0], rel=0.12)
    assert start[1] == pytest.approx(later[1], abs=0.5)
