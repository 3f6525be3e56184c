from __future__ import annotations

import numpy as np
import pytest

from simulator.bench.trails import LEFT, measure_trail

OFF = {"noise_reduction": 0.0, "sharpening": 0.0}


@pytest.fixture(scope="module")
def camera_of(make_camera):
    def camera(share: float, **changes: float):
        return make_camera(
            sensor={"width_px": 256, "height_px": 64},
            processing={**OFF, "temporal_noise_reduction": share, **changes},
        )

    return camera


@pytest.mark.by_hand
@pytest.mark.parametrize("share", [0.5, 0.7, 0.85])
def test_trail_of_what_noise_hides_is_geometric(camera_of, share):
    """A faint bar at much noise: the recursion is open, (1 - share^4) share^n is left.

    The bar of 12 px covers a place for 4 frames at 3 px a frame. Noise reduction within the frame
    takes the noise that would close the recursion now and then.
    """
    found = measure_trail(
        camera_of(share, noise_reduction=0.5),
        level=0.2, contrast=0.1, speed_px=3, gain_db=54.0, seed=2,
    )  # fmt: skip
    risen = 1.0 - share**4
    frames = np.log(LEFT / risen) / np.log(share)
    count = int(frames)
    decay = found.left[1:count] / found.left[: count - 1]
    assert decay.mean() == pytest.approx(share, abs=0.04)
    assert found.left[:count] == pytest.approx(risen * share ** np.arange(1, count + 1), abs=0.09)
    assert found.frames == pytest.approx(frames, rel=0.15)
    assert found.length_px == pytest.approx(3 * found.frames)


@pytest.mark.invariant
def test_trail_is_short_behind_what_stands_out_or_without_recursion(camera_of):
    clear = measure_trail(camera_of(0.8), level=0.2, contrast=1.0, speed_px=3, gain_db=10.0)
    assert clear.frames < 1.0 and np.abs(clear.left).max() < 0.05
    none = measure_trail(camera_of(0.0), level=0.2, contrast=0.2, speed_px=3, gain_db=50.0)
    assert none.frames < 1.0


@pytest.mark.invariant
def test_trail_grows_with_speed_in_pixels_and_with_gain(camera_of):
    camera = camera_of(0.7)
    slow, fast = (
        measure_trail(camera, level=0.2, contrast=0.2, speed_px=speed, gain_db=54.0, seed=2)
        for speed in (2, 4)
    )
    assert fast.length_px == pytest.approx(2.0 * slow.length_px, rel=0.25)
    bright = measure_trail(camera, level=0.2, contrast=0.2, speed_px=2, gain_db=18.0, seed=2)
    assert bright.frames < 0.8 * slow.frames
