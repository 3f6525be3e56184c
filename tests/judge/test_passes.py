"""Reading over several frames of a pass."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator.errors import GeometryError
from simulator.judge.passes import moments_of_pass, read_over_pass
from simulator.judge.readers import MACHINE
from simulator.judge.target import find_text

TIMES = (-0.08, -0.04, 0.0)
FAR_M = 41.0


@pytest.fixture(scope="module")
def passing(make_judged, make_camera):
    """A plate that drives towards the camera at the edge of what can be read."""
    return make_judged(
        camera=make_camera(
            sensor={"width_px": 640, "height_px": 360}, exposure={"shutter_s": 0.002},
            processing={"temporal_noise_reduction": 0.0},
        ),
        lux=4000.0,
        plate={"position_m": [0.0, FAR_M, 1.0], "speed_kmh": 60.0, "heading_deg": 0.0},
        station={"height_m": 1.0, "aim_m": [0.0, FAR_M, 1.0]},
    )  # fmt: skip


@pytest.mark.invariant
def test_any_good_read_counts(passing):
    found = read_over_pass(
        passing.in_scene, passing.state, passing.target.entry, TIMES, seed=3, trials=40,
        reader="machine", stray_light=passing.stray_light,
    )  # fmt: skip
    assert found.read.shape == (40, 3)
    assert np.all(np.diff(found.heights_px) > 0.0)  # it comes nearer
    assert found.value == pytest.approx(found.read.any(axis=1).mean())
    assert found.frames == pytest.approx(found.read.mean(axis=0))
    assert found.frames.max() <= found.value
    assert found.low <= found.value <= found.high
    assert 0.02 < found.frames.mean() < 0.98


@pytest.mark.invariant
def test_what_stays_the_same_ties_the_frames(passing):
    tied, free = (
        read_over_pass(
            passing.in_scene, passing.state, passing.target.entry, TIMES, seed=3, trials=60,
            reader=replace(MACHINE, shared_noise=share), stray_light=passing.stray_light,
        )
        for share in (1.0, 0.0)
    )  # fmt: skip
    gain = [r.value - r.frames.max() for r in (tied, free)]
    assert tied.value <= tied.independent + 0.02
    assert gain[0] < gain[1]
    assert free.value == pytest.approx(free.independent, abs=0.15)


@pytest.mark.invariant
def test_frames_without_the_text_are_left_out(passing):
    entry = passing.target.entry
    some = read_over_pass(
        passing.in_scene,
        passing.state,
        entry,
        (0.0, 60.0),
        seed=3,
        trials=8,
        stray_light=passing.stray_light,
    )
    assert some.times_s.tolist() == [0.0]
    with pytest.raises(GeometryError):
        read_over_pass(passing.in_scene, passing.state, entry, (60.0,), seed=3, trials=8)


@pytest.mark.invariant
def test_moments_of_a_pass_lie_around_the_picture_and_show_all_of_the_text(
    make_in_scene, make_scene
):
    scene = make_scene(plate={"speed_kmh": 20.0, "heading_deg": 90.0})
    in_scene = make_in_scene(scene)
    entry = scene.target[0]
    times = moments_of_pass(in_scene, entry, most=5)
    assert 2 <= len(times) <= 5
    assert 0.0 in times
    assert np.all(np.diff(times) > 0.0)
    for time in times:
        assert find_text(in_scene.at(float(time)), entry).character_height_px > 0.0
    still = make_scene()
    assert len(moments_of_pass(make_in_scene(still), still.target[0])) == 0
