from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from simulator.camera.auto_exposure import added_up, as_exposed, settle_exposure, with_iris
from simulator.camera.exposure import allocate, limit_reached, longest_shutter_s, settle
from simulator.camera.model import Exposure

OPEN = 2.0


def asked(**changes) -> Exposure:
    base = {"shutter_max_s": 0.04, "shutter_min_s": 1e-4, "gain_max_db": 40.0}
    return Exposure.model_validate({**base, **changes})


def told(settings, product):
    levers = allocate(settings, product, OPEN)
    return (
        levers.shutter_s,
        levers.gain,
        OPEN / levers.iris_share**0.5,
        levers.accumulated,
        limit_reached(settings, levers, product),
    )


@pytest.mark.by_hand
def test_shutter_iris_gain_in_turn():
    # f/2 to f/8 is 1/16 of the light
    auto = asked(iris="automatic", f_number_max=8.0)
    # darkest first: 40 dB = 100 times, 4 s in all
    assert told(auto, 8.0)[4] == "largest gain"
    assert told(auto, 8.0)[:3] == pytest.approx((0.04, 100.0, 2.0))
    assert told(auto, 0.4)[:3] == pytest.approx((0.04, 10.0, 2.0))
    assert told(auto, 0.04)[:3] == pytest.approx((0.04, 1.0, 2.0))
    # brighter: the iris closes at the longest shutter
    assert told(auto, 0.01)[:3] == pytest.approx((0.04, 1.0, 4.0))
    assert told(auto, 0.0025)[:3] == pytest.approx((0.04, 1.0, 8.0))
    # then the shutter shortens, to 1e-4 / 16 in all
    assert told(auto, 0.00025)[:3] == pytest.approx((0.004, 1.0, 8.0))
    assert told(auto, 1e-6)[:3] == pytest.approx((1e-4, 1.0, 8.0))
    assert told(auto, 1e-6)[4] == "shortest shutter"
    assert told(auto, 0.01)[4] == "nothing"


@pytest.mark.by_hand
def test_gain_before_shutter():
    auto = asked(priority="gain")
    assert told(auto, 1e-3)[:2] == pytest.approx((1e-4, 10.0))
    assert told(auto, 1e-2)[:2] == pytest.approx((1e-4, 100.0))
    assert told(auto, 1.0)[:2] == pytest.approx((1e-2, 100.0))
    assert told(auto, 8.0)[:2] == pytest.approx((0.04, 100.0))
    assert told(auto, 8.0)[4] == "longest shutter"
    # an automatic iris opens before the gain rises: 1e-4 / 16 closed
    both = asked(priority="gain", iris="automatic", f_number_max=8.0)
    assert told(both, 1e-4 / 4.0)[:3] == pytest.approx((1e-4, 1.0, 4.0))
    assert told(both, 1e-3)[:3] == pytest.approx((1e-4, 10.0, 2.0))


@pytest.mark.by_hand
def test_frames_are_added_once_gain_is_spent():
    slow = asked(slow_shutter_max_s=0.32)
    assert told(slow, 4.0)[:4] == pytest.approx((0.04, 100.0, 2.0, 1))
    # 6 s need 1.5 times more: two frames at 75 times
    assert told(slow, 6.0) == (pytest.approx(0.08), pytest.approx(75.0), 2.0, 2, "nothing")
    # 8 frames at most
    assert told(slow, 32.0)[3:] == (8, "nothing")
    assert told(slow, 100.0)[0] == pytest.approx(0.32)
    assert told(slow, 100.0)[3:] == (8, "slowest accumulation")
    # less than two frames are none
    assert told(asked(slow_shutter_max_s=0.07), 100.0)[3:] == (1, "largest gain")
    # a fixed gain leaves whole frames alone: 3.4 and 3.6 frames
    fixed = asked(slow_shutter_max_s=0.32, gain_db=0.0)
    assert told(fixed, 0.136)[3:] == (3, "nothing")
    assert told(fixed, 0.144)[3:] == (4, "nothing")


@pytest.mark.by_hand
def test_names_of_limits():
    held = {"shutter_s": 0.01, "gain_db": 0.0}
    assert told(asked(**held), 1.0)[4] == "fixed settings"
    iris = asked(**held, iris="automatic", f_number_max=8.0)
    assert told(iris, 1.0)[4] == "widest iris"
    assert told(iris, 1e-5)[4] == "smallest iris"
    assert told(iris, 0.0025)[2:] == (pytest.approx(4.0), 1, "nothing")
    assert told(asked(gain_db=0.0), 1.0)[4] == "longest shutter"
    assert told(asked(shutter_s=0.01), 10.0)[4] == "largest gain"
    assert told(asked(shutter_s=0.01), 1e-4)[4] == "fixed settings"
    assert told(asked(), 1e-6)[4] == "shortest shutter"


@pytest.mark.invariant
@pytest.mark.parametrize("priority", ["shutter", "gain"])
@pytest.mark.parametrize("iris", ["fixed", "automatic"])
@pytest.mark.parametrize("hz", [None, 50, 60])
@pytest.mark.parametrize("slow", [None, 0.5])
def test_any_product_within_reach_is_met_and_every_lever_stays_in_its_range(
    priority, iris, hz, slow
):
    given_ = asked(
        priority=priority, iris=iris, flicker_safe_hz=hz, slow_shutter_max_s=slow, f_number_max=11.0
    )
    low = allocate(given_, 1e-12, OPEN).product_s
    high = allocate(given_, 1e12, OPEN).product_s
    products = np.geomspace(low, high, 400)
    found = [allocate(given_, float(p), OPEN) for p in products]
    assert [f.product_s for f in found] == pytest.approx(products, rel=1e-6)
    for f in found:
        assert 1e-4 <= f.shutter_s / f.accumulated <= 0.04 * (1 + 1e-9)
        assert 1.0 <= f.gain <= 100.0 * (1 + 1e-9)
        assert (OPEN / 11.0) ** 2 * (1 - 1e-9) <= f.iris_share <= 1.0
        assert f.accumulated == 1 or f.shutter_s <= 0.5 * (1 + 1e-9)
        if hz:
            halves = f.shutter_s / f.accumulated * 2 * hz
            assert halves < 1.0 or halves == pytest.approx(round(halves), abs=1e-6)
    # darkness never shortens the exposure time, within one flicker-safe step never changes it
    if not hz:
        assert np.all(np.diff([f.shutter_s for f in found]) >= -1e-12)


@pytest.mark.by_hand
def test_flicker_safe_steps():
    # 60 Hz: halves of 8.33 ms, four of them in 40 ms
    assert longest_shutter_s(asked(flicker_safe_hz=60)) == pytest.approx(4 / 120)
    assert longest_shutter_s(asked(flicker_safe_hz=50, shutter_max_s=0.009)) == 0.009
    auto = asked(flicker_safe_hz=50)
    # 25 ms: two halves of 10 ms and a gain of 1.25
    assert told(auto, 0.025)[:2] == pytest.approx((0.02, 1.25))
    assert told(auto, 0.0125)[:2] == pytest.approx((0.01, 1.25))
    # below one half period the shutter is free
    assert told(auto, 0.009)[:2] == pytest.approx((0.009, 1.0))
    # gain first: the next longer step, and less gain
    first = asked(flicker_safe_hz=50, priority="gain")
    assert told(first, 1.5)[:2] == pytest.approx((0.02, 75.0))
    # nothing can make up for the step: the shutter is free
    assert told(asked(flicker_safe_hz=50, gain_db=0.0), 0.025)[0] == pytest.approx(0.025)
    # an iris makes up before gain does: 40 ms at f/2 x sqrt(1.6)
    iris = asked(flicker_safe_hz=50, iris="automatic", f_number_max=2.0 * 2**0.5)
    # closed 1/2: 12.5 ms / (1/2) = 25 ms, step 20 ms, iris 1/1.6
    assert told(iris, 0.0125)[:3] == pytest.approx((0.02, 1.0, 2.0 * 1.6**0.5))


@pytest.mark.invariant
@settings(max_examples=30, deadline=None)
@given(st.floats(-4.0, 6.0), st.sampled_from(["shutter", "gain"]))
def test_state_says_what_was_spent(log_rate, priority):
    given_ = asked(priority=priority, iris="automatic", slow_shutter_max_s=0.2)
    signal = np.full((9, 16), 10.0**log_rate, np.float32)
    state = settle(given_, signal, 10_000.0, OPEN)
    made = state.shutter_s * 10 ** (state.gain_db / 20) * (OPEN / state.f_number) ** 2
    assert state.level == pytest.approx(min(1.0, made * 10.0**log_rate / 10_000.0), rel=1e-4)
    if state.limited_by == "nothing":
        assert state.level == pytest.approx(given_.target_level, rel=0.011)


@pytest.mark.invariant
def test_bright_scene_closes_the_iris_and_the_rig_follows(make_in_scene, make_scene, make_camera):
    scene = make_scene(natural_light={"illuminance_lux": 3000.0})
    exposure = {"iris": "automatic", "f_number_max": 16.0}
    open_iris = make_in_scene(scene, make_camera(exposure=exposure))
    state = settle_exposure(open_iris, "day")
    assert state.exposure.f_number > 5.0
    assert state.exposure.shutter_s == 0.04
    assert state.exposure.f_number_open == open_iris.camera.lens.f_number
    closed = as_exposed(open_iris, state)
    assert closed.camera.lens.f_number == state.exposure.f_number
    assert with_iris(closed, state.exposure) is closed
    # light falls with the square of the f-number; the lens is sharper in depth
    ratio = (open_iris.camera.lens.f_number / state.exposure.f_number) ** 2
    assert closed.image_factor == pytest.approx(open_iris.image_factor * ratio)
    near = np.array([6.0])
    assert closed.defocus_px(near, 550.0) == pytest.approx(
        open_iris.defocus_px(near, 550.0) * ratio**0.5
    )
    assert closed.camera.lens.relative_illumination_corner == pytest.approx(1.0)
    # settled at the closed iris with the iris fixed, the level is the same
    fixed = make_in_scene(
        scene,
        closed.camera.model_copy(
            update={"exposure": closed.camera.exposure.model_copy(update={"iris": "fixed"})}
        ),
    )
    again = settle_exposure(fixed, "day")
    assert again.exposure.shutter_s == pytest.approx(state.exposure.shutter_s, rel=0.02)


@pytest.mark.by_hand
def test_added_frames_bring_their_own_noise(make_in_scene, make_scene, make_camera):
    camera = make_camera(
        exposure={"slow_shutter_max_s": 0.36},
        sensor={"read_noise_e": 2.0, "dsnu_e": 1.0, "row_noise_e": 0.5},
    )
    in_scene = make_in_scene(make_scene(natural_light={"illuminance_lux": 0.02}), camera)
    state = settle_exposure(in_scene, "night")
    assert state.exposure.accumulated == 9
    assert state.exposure.shutter_s == pytest.approx(0.36)
    slow = as_exposed(in_scene, state).camera
    assert slow.sensor.read_noise_e == pytest.approx(6.0)
    assert slow.sensor.row_noise_e == pytest.approx(1.5)
    assert slow.sensor.dsnu_e == pytest.approx(9.0)
    assert slow.processing.frame_rate_hz == pytest.approx(25.0 / 9.0)
    back = added_up(slow, 1.0 / 9.0)
    assert back.sensor.read_noise_e == pytest.approx(2.0)
    assert back.processing.frame_rate_hz == pytest.approx(25.0)


@pytest.mark.invariant
def test_a_camera_without_iris_and_slow_shutter_stays_the_same_rig(make_in_scene, make_scene):
    in_scene = make_in_scene(make_scene(natural_light={"illuminance_lux": 50.0}))
    assert as_exposed(in_scene, settle_exposure(in_scene)) is in_scene
