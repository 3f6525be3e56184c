from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator.camera.auto_exposure import metered_signal, settle_exposure
from simulator.camera.control import exposure_path, levers_of
from simulator.camera.exposure import Levers, allocate, settle
from simulator.camera.model import Exposure
from simulator.camera.small_picture import meter_light
from simulator.camera.wide_range import shown_to_the_loop
from simulator.units import ratio_to_db

FULL_WELL, OPEN = 10_000.0, 2.0


def asked(**changes) -> Exposure:
    base = {
        "shutter_max_s": 0.04,
        "shutter_min_s": 1e-4,
        "gain_max_db": 40.0,
        "hysteresis_db": 0.0,
    }
    return Exposure.model_validate({**base, **changes})


def grey(rate: float):
    return np.full((9, 16), rate, np.float32)


def follow(settings, signal, start_product, frames=60):
    return exposure_path(
        settings,
        lambda time_s, shutter_s: signal,
        FULL_WELL,
        OPEN,
        start=allocate(settings, start_product, OPEN),
        frame_rate_hz=25.0,
        frames=frames,
    )


def swing_db(path, last):
    """Largest over smallest exposure in the last frames [dB]; 0 if the loop is at rest."""
    tail = path.product_s[-last:]
    return ratio_to_db(float(tail.max() / tail.min()))


def follow_scene(in_scene, state, start, *, frames):
    """A camera before a still scene, lamps that flicker traced one by one; mode and white balance
    are those of `state`."""
    lights = in_scene.world.lights
    layers = []
    for i in range(len(lights)):
        alone = [light if i == j else light.scaled(0.0) for j, light in enumerate(lights)]
        part = replace(in_scene, world=replace(in_scene.world, lights=alone))
        layers.append(metered_signal(meter_light(part, state.mode), state.colour))

    def signal_at(time_s, shutter_s):
        factors = in_scene.flicker(shutter_s, time_s)
        factors = np.ones(len(layers)) if factors is None else factors
        signal = np.tensordot(factors.astype(np.float32), np.stack(layers), axes=1)
        return shown_to_the_loop(in_scene.camera, signal)

    return exposure_path(
        in_scene.camera.exposure, signal_at, in_scene.camera.sensor.full_well_e,
        in_scene.camera.lens.f_number, start=start, frames=frames,
        frame_rate_hz=in_scene.camera.processing.frame_rate_hz,
    )  # fmt: skip


MIXED = np.random.default_rng(1).lognormal(9.0, 1.5, (9, 16)).astype(np.float32)


@pytest.mark.invariant
@pytest.mark.parametrize("iris", ["fixed", "automatic"])
@pytest.mark.parametrize("hz", [None, 50])
@pytest.mark.parametrize("start", [2e-4, 3.0])
@pytest.mark.parametrize("metering", ["average", "spot", "backlight", "highlight"])
def test_loop_comes_to_rest_where_settle_says(iris, hz, start, metering):
    settings = asked(iris=iris, flicker_safe_hz=hz, metering=metering)
    # a few lamps far over white, so that both starts of highlight suppression end alike
    signal = grey(20_000.0) if metering == "highlight" else MIXED
    signal = signal.copy()
    signal[0, :4] = 1e8
    path = follow(settings, signal, start, frames=120)
    rest = settle(settings, signal, FULL_WELL, OPEN)
    assert path.shutter_s[-1] == pytest.approx(rest.shutter_s, rel=1e-3)
    assert path.gain_db[-1] == pytest.approx(rest.gain_db, abs=0.01)
    assert path.f_number[-1] == pytest.approx(rest.f_number, rel=1e-3)
    assert path.level[-1] == pytest.approx(rest.level, rel=1e-3)
    assert path.limited_by[-1] == rest.limited_by == "nothing"


@pytest.mark.by_hand
def test_hysteresis_keeps_the_loop_still():
    settings = asked(hysteresis_db=1.0, step_share=0.5)
    # 20 000 e/s: .09 s in all; 0.9 dB off, nothing moves
    still = follow(settings, grey(20_000.0), 0.09 * 10 ** (0.9 / 20))
    assert swing_db(still, 60) == 0.0
    assert still.settling_s() == 0.0
    # 4 dB off: 2 dB, 1 dB or just below, and rest
    path = follow(settings, grey(20_000.0), 0.09 * 10 ** (-4.0 / 20))
    assert path.error_db[:3] == pytest.approx([4.0, 2.0, 1.0], abs=1e-6)
    assert abs(path.error_db[-1]) <= 1.0
    assert swing_db(path, 50) == 0.0
    assert set(path.limited_by) == {"nothing"}


@pytest.mark.by_hand
def test_each_frame_is_metered_at_what_the_frame_before_set():
    # the light doubles after one second: frame 25 is the first to show it, 26 the first to answer
    settings = asked(step_share=1.0)
    path = exposure_path(
        settings,
        lambda time_s, shutter_s: grey(20_000.0 if time_s < 0.999 else 40_000.0),
        FULL_WELL,
        OPEN,
        start=allocate(settings, 0.09, OPEN),
        frame_rate_hz=25.0,
        frames=40,
    )
    assert path.time_s[25] == pytest.approx(1.0)
    assert path.level[[24, 25, 26]] == pytest.approx([0.18, 0.36, 0.18], rel=1e-6)
    assert path.product_s[[24, 25, 26]] == pytest.approx([0.09, 0.09, 0.045], rel=1e-6)
    assert path.settling_s() == pytest.approx(1.04)


@pytest.mark.by_hand
def test_added_frames_make_time_pass():
    # 100 e/s need 18 s of product: 100 times, 40 ms, 4.5 frames: five
    path = follow(asked(slow_shutter_max_s=0.4), grey(100.0), 4.0, frames=60)
    assert path.accumulated[-1] == 5
    assert path.time_s[-1] - path.time_s[-2] == pytest.approx(0.2)
    assert path.time_s[1] == pytest.approx(0.04)


@pytest.mark.invariant
def test_limits_end_the_path_without_winding_up():
    # dark for two seconds, then bright: it answers at once, as if it had never asked for more
    def signal(time_s, shutter_s):
        return grey(1.0 if time_s < 2.0 else 20_000.0)

    settings = asked()
    start = allocate(settings, 4.0, OPEN)
    path = exposure_path(
        settings, signal, FULL_WELL, OPEN, start=start, frame_rate_hz=25.0, frames=100
    )
    assert path.product_s[:50] == pytest.approx(np.full(50, 4.0))
    assert path.limited_by[10] == "largest gain"
    assert path.product_s[51] < 4.0
    assert path.limited_by[-1] == "nothing"
    assert path.settling_s() == pytest.approx(2.0, abs=1.0)


@pytest.mark.invariant
def test_a_path_that_does_not_end_has_no_settling_time():
    assert follow(asked(step_share=0.05), grey(20_000.0), 1e-4, frames=20).settling_s() is None


@pytest.mark.invariant
def test_mains_flicker_makes_a_free_shutter_hunt_and_not_a_safe_one(
    make_in_scene, make_scene, make_camera
):
    # 60 Hz lamps under 25 frames a second: the beat comes every five frames
    lamp = {
        "name": "lamp", "spectrum": "led-4000k", "intensity_cd": 30_000.0, "beam_deg": 60.0,
        "position_m": [1.0, 10.0, 4.0], "aim_m": [0.0, 18.0, 1.0], "flicker_depth": 0.9,
        "mains_hz": 60,
    }  # fmt: skip
    wall = {
        "name": "wall", "kind": "wall", "material": "concrete", "position_m": [0, 20, -5],
        "width_m": 40.0, "height_m": 20.0,
    }  # fmt: skip
    scene = make_scene(lamp=[lamp], surface=[wall], natural_light={"illuminance_lux": 0.01})

    def path(**exposure):
        camera = make_camera(
            exposure={"shutter_max_s": 0.0333334, "hysteresis_db": 0.3, **exposure},
            processing={"frame_rate_hz": 25.0},
        )
        in_scene = make_in_scene(scene, camera)
        state = settle_exposure(in_scene, "day")
        return state, follow_scene(in_scene, state, levers_of(state.exposure), frames=80)

    # held to 6 ms, so that the loop has only gain
    _, hunting = path(shutter_s=0.006)
    assert swing_db(hunting, 40) > 1.0
    steps, quiet = path(flicker_safe_hz=60, priority="shutter")
    assert steps.exposure.shutter_s * 120.0 == pytest.approx(
        round(steps.exposure.shutter_s * 120.0), abs=1e-6
    )
    assert swing_db(quiet, 80) == 0.0


@pytest.mark.invariant
def test_a_camera_turned_to_a_brighter_scene_settles(make_in_scene, make_scene, make_camera):
    camera = make_camera(exposure={"hysteresis_db": 0.1})
    dark = settle_exposure(
        make_in_scene(make_scene(natural_light={"illuminance_lux": 5.0}), camera)
    )
    in_scene = make_in_scene(make_scene(natural_light={"illuminance_lux": 500.0}), camera)
    state = settle_exposure(in_scene)
    path = follow_scene(in_scene, state, levers_of(dark.exposure), frames=80)
    assert path.level[0] > 2.0 * path.level[-1]
    settling = path.settling_s()
    assert settling is not None and 0.2 < settling < 2.5
    rest = levers_of(state.exposure)
    assert abs(ratio_to_db(path.product_s[-1] / rest.product_s)) < 0.2
    same = follow_scene(in_scene, state, Levers(rest.shutter_s, rest.gain, 1.0, 1), frames=10)
    assert swing_db(same, 10) == 0.0
