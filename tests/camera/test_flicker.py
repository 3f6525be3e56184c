"""Flicker of lamps through the camera's light: pictures of several moments."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.light_field import frame_light, frame_series
from simulator.camera.region import region_light
from simulator.camera.region_plan import RegionPlan
from simulator.camera.region_traces import Traces
from simulator.camera.small_picture import meter_light
from simulator.scene.kernels.radiance import STATIC, Sampling, trace_layer

DEPTH = 0.6
LAMP = {
    "name": "lamp",
    "spectrum": "high-pressure-sodium",
    "intensity_cd": 500.0,
    "beam_deg": 60.0,
    "position_m": [0.4, 2.0, 1.8],
    "aim_m": [0.0, 18.0, 1.0],
    "flicker_depth": DEPTH,
}
SEEN = {**LAMP, "name": "seen", "position_m": [0.3, 19.0, 1.2], "aim_m": [0.0, 0.0, 1.0]}
BOX = (70, 40, 250, 140)
SHORT = 1e-5


@pytest.fixture(scope="module")
def steady(make_in_scene, make_scene):
    """The scene without flicker."""
    return make_in_scene(make_scene(lamp=[{**lamp, "flicker_depth": 0.0} for lamp in (LAMP, SEEN)]))


def alike(picture, wanted):
    """pytest.approx takes 10 s for a picture."""
    np.testing.assert_allclose(picture, wanted, rtol=1e-4, atol=1e-3)


def flickering(make_in_scene, make_scene, **changes):
    return make_in_scene(make_scene(lamp=[{**lamp, **changes} for lamp in (LAMP, SEEN)]))


@pytest.mark.by_hand
@pytest.mark.parametrize(("mains_hz", "shutter_s"), [(50, 0.01), (50, 0.03), (60, 1.0 / 60.0)])
def test_whole_periods_show_no_flicker(make_in_scene, make_scene, steady, mains_hz, shutter_s):
    in_scene = flickering(make_in_scene, make_scene, mains_hz=mains_hz, phase_deg=40.0)
    times = [-0.013, -0.0021, 0.0]
    series, shown = frame_series(in_scene, "day", shutter_s, times)
    wanted = frame_light(steady, "day", shutter_s).rate
    assert all(np.array_equal(picture, wanted) for picture in series)
    assert in_scene.flicker(shutter_s, -0.0021) is None
    assert np.array_equal(shown.rate, wanted)


@pytest.mark.by_hand
@pytest.mark.parametrize("phase_deg", [0.0, 90.0, 180.0, 233.0])
def test_a_short_shutter_follows_the_light(make_in_scene, make_scene, steady, phase_deg):
    """1 + depth cos(phase) at the middle of the exposure, lamps and what they light alike."""
    in_scene = flickering(make_in_scene, make_scene, phase_deg=phase_deg)
    mean = frame_light(steady, "day", SHORT).rate
    factor = 1.0 + DEPTH * np.cos(np.radians(phase_deg))
    alike(frame_light(in_scene, "day", SHORT).rate, factor * mean)
    # a quarter of a period of 10 ms later
    later = 1.0 + DEPTH * np.cos(np.radians(phase_deg + 90.0))
    series, _ = frame_series(in_scene, "day", SHORT, [0.0025, 0.0])
    alike(series[0], later * mean)
    alike(series[1], factor * mean)


@pytest.mark.by_hand
def test_half_a_period_leaves_its_mean(make_in_scene, make_scene, steady):
    # mean of cos over half a period about its crest is 2 / pi
    in_scene = flickering(make_in_scene, make_scene)
    ratio = (
        frame_light(in_scene, "day", 0.005).rate.mean()
        / frame_light(steady, "day", 0.005).rate.mean()
    )
    assert float(ratio) == pytest.approx(1.0 + DEPTH * 2.0 / np.pi, rel=1e-4)


@pytest.mark.invariant
def test_frames_of_the_lights_own_rate_share_one_picture(make_in_scene, make_scene):
    in_scene = flickering(make_in_scene, make_scene)
    series, shown = frame_series(in_scene, "day", SHORT, [-0.08, -0.04, 0.0])
    assert all(picture is shown.rate for picture in series)


@pytest.mark.invariant
def test_metering_sees_the_mean(make_in_scene, make_scene, steady):
    in_scene = flickering(make_in_scene, make_scene, phase_deg=10.0)
    assert np.array_equal(meter_light(in_scene, "day"), meter_light(steady, "day"))


@pytest.mark.invariant
def test_traced_weights_are_dimmed_lights(make_in_scene, make_scene):
    in_scene = flickering(make_in_scene, make_scene, phase_deg=70.0)
    grid = Sampling(0.0, 0.0, 2.0, 90, 160)
    parts = (in_scene.packed_scene, in_scene.lights("day"), in_scene.packed_view)
    factors = in_scene.flicker(SHORT, 0.002)
    weighed = trace_layer(grid, *parts, mode=STATIC, fine=1, weights=factors)
    lights = parts[1]._replace(amount=parts[1].amount * factors)
    dimmed = trace_layer(grid, parts[0], lights, parts[2], mode=STATIC, fine=1)
    assert dimmed.rate == pytest.approx(weighed.rate, rel=1e-6)


@pytest.mark.invariant
@pytest.mark.parametrize("speed_kmh", [0.0, 20.0])
def test_kept_traces_know_the_phase(make_in_scene, make_scene, speed_kmh):
    in_scene = make_in_scene(
        make_scene(
            lamp=[LAMP], plate={"speed_kmh": speed_kmh}, natural_light={"illuminance_lux": 0.1}
        )
    )
    point = in_scene.world.cards[in_scene.world.plates["plate"]].centre_m
    plan, traces = RegionPlan(BOX, 24, 3, point, 550.0), Traces()
    stray_light = frame_light(in_scene, "day", SHORT).stray_light
    pictures = []
    for shutter_s in (SHORT, 0.01, SHORT):
        for time_s in (0.0, -0.0333):
            kept = region_light(in_scene, "day", shutter_s, plan, stray_light, time_s, traces)
            fresh = region_light(in_scene, "day", shutter_s, plan, stray_light, time_s)
            assert np.array_equal(kept, fresh)
            pictures.append(float(kept.mean()))
    assert pictures[0] > 1.2 * pictures[1]


@pytest.mark.invariant
def test_a_moving_thing_in_flickering_light(make_in_scene, make_scene):
    """The earlier picture of a moving scene is the picture of that moment alone."""
    in_scene = make_in_scene(
        make_scene(lamp=[LAMP], plate={"speed_kmh": 20.0, "heading_deg": 90.0})
    )
    series, _ = frame_series(in_scene, "day", SHORT, [-0.0333, 0.0])
    then = in_scene.at(-0.0333)
    dimmed = flickering(make_in_scene, make_scene)
    assert dimmed.flicker(SHORT, -0.0333)[-1] == then.flicker(SHORT, -0.0333)[-1]
    alone, _ = frame_series(in_scene, "day", SHORT, [-0.0333])
    assert np.array_equal(series[0], alone[0])
