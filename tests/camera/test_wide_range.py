from __future__ import annotations

import numpy as np
import pytest

from simulator.bench.steps import bench_in_scene, fixed_state
from simulator.camera.frame_buffer import delays_s, exposed_regions, exposed_series, frame_buffer
from simulator.camera.light_field import frame_light
from simulator.camera.model import WideRange
from simulator.camera.pipeline import merged_light, settle_exposure, shoot
from simulator.camera.region_plan import RegionPlan
from simulator.camera.wide_range import (
    compressed,
    expanded,
    lift_for_the_dark,
    merge,
    noise_of_light,
    pixel_law,
    shutters_s,
    top_level,
)

TWO = WideRange(method="exposures", exposures=2, ratio=16.0)
THREE = WideRange(method="exposures", exposures=3, ratio=8.0)
LOGARITHMIC = WideRange(method="logarithmic", knee=0.6, reach_db=40.0)


def camera_with(make_camera, wide, **tables):
    return make_camera(wide_range=wide.model_dump(), **tables)


@pytest.mark.by_hand
def test_exposures_follow_each_other():
    assert shutters_s(THREE, 0.016) == pytest.approx([0.016, 0.002, 0.00025])
    # middles: (16 + 2) / 2 = 9 ms after the first, then (2 + 0.25) / 2 = 1.125 ms more
    assert delays_s(THREE, 0.016) == pytest.approx([0.0, 0.009, 0.010125])
    assert shutters_s(WideRange(), 0.016) == (0.016,)


@pytest.mark.by_hand
def test_logarithmic_pixel():
    well = 10_000.0
    knee, scale = pixel_law(LOGARITHMIC, well)
    assert knee == 6000.0
    # 40 dB beyond the knee, at a hundred times its light, the well is full
    assert float(compressed(600_000.0, LOGARITHMIC, well)) == pytest.approx(well, rel=1e-9)
    assert float(compressed(5000.0, LOGARITHMIC, well)) == 5000.0
    assert float(compressed(6000.0 + scale, LOGARITHMIC, well)) == pytest.approx(
        6000.0 + scale * np.log(2.0)
    )
    light = np.geomspace(1.0, 600_000.0, 400)
    assert expanded(compressed(light, LOGARITHMIC, well), LOGARITHMIC, well) == pytest.approx(light)
    slope = np.gradient(compressed(np.array([5999.0, 6000.0, 6001.0]), LOGARITHMIC, well))
    assert slope == pytest.approx([1.0, 1.0, 1.0], abs=2e-3)
    # a reach that ends before the full well leaves the pixel linear
    short = WideRange(method="logarithmic", knee=0.9, reach_db=6.0).model_copy(
        update={"reach_db": 0.5}
    )
    assert np.all(np.isinf(pixel_law(short, well)))


@pytest.mark.invariant
@pytest.mark.parametrize("wide", [TWO, THREE, LOGARITHMIC], ids=["two", "three", "log"])
@pytest.mark.parametrize("gain_db", [0.0, 18.0])
def test_merged_light_is_linear_and_its_noise_as_expected(make_camera, wide, gain_db):
    """Mean and noise of merged frames of even light against the light and `noise_of_light`."""
    camera = camera_with(make_camera, wide, sensor={"prnu": 0.0, "dsnu_e": 0.0})
    in_scene, state = bench_in_scene(camera), fixed_state(camera, 0.01, gain_db)
    top = top_level(wide, camera.sensor, state.chain)
    for level in np.geomspace(0.003, 0.7 * top, 9):
        rate = np.full((24, 24, 3), level * state.chain.white_e / 0.01, np.float32)
        light = merged_light(in_scene, state, rate, seed=5, frames=20).astype(np.float64)
        expected = float(noise_of_light(level, wide, camera.sensor, state.chain, 0.01))
        found = np.sqrt(light.var(axis=0, ddof=1).mean())
        # where two exposures are mixed, the noise also moves the weights
        assert found == pytest.approx(expected, rel=0.35 if 0.75 < level < 1.0 else 0.1)
        assert light.mean() == pytest.approx(level, abs=0.1 * expected + 0.005 * level)


@pytest.mark.by_hand
def test_signal_to_noise_falls_where_the_short_exposure_takes_over(make_camera):
    # Shot noise alone: of 0.9 white / 16 instead of 0.9 white, so sqrt(16) = 12 dB less
    camera = camera_with(make_camera, TWO, sensor={"read_noise_e": 0.0, "row_noise_e": 0.0})
    state = fixed_state(camera, 0.001, 0.0)
    below, above = (
        level / float(noise_of_light(level, TWO, camera.sensor, state.chain, 0.001))
        for level in (0.79, 0.96)
    )
    assert 20.0 * np.log10(below / above) == pytest.approx(12.04 - 0.85, abs=0.5)


@pytest.mark.by_hand
def test_merge_takes_the_longest_exposure_that_is_not_saturated(make_camera):
    camera = camera_with(make_camera, TWO)
    sensor, chain = camera.sensor, fixed_state(camera, 0.01, 0.0).chain
    span = chain.white_dn - chain.black_dn

    def dn(share: float) -> np.ndarray:
        return np.full((1, 2, 2), round(chain.black_dn + share * span), np.uint16)

    # the two say different things on purpose: .5 of white, and 1/16 x 16 = 1 of white
    for first, wanted in ((0.5, 0.5), (0.96, 1.0), (0.875, 0.5 * (0.875 + 1.0))):
        found = merge([dn(first), dn(1.0 / 16.0)], TWO, sensor, chain, 1e-6)
        assert found == pytest.approx(np.full((1, 2, 2), wanted), abs=4e-3)


@pytest.mark.by_hand
def test_lift_for_the_dark():
    # half the picture at 1, half at 9: mean 5, darkest quarter 1: five times longer
    half = np.repeat([1.0, 9.0], 50).reshape(10, 10).astype(np.float32)
    assert lift_for_the_dark(half, 0.18, 16.0, 1e9) == pytest.approx(5.0)
    # all that is not longer than the shutter allows: a level of .18 needs 5 x .072 = .36
    assert lift_for_the_dark(half, 0.18, 16.0, 0.072) == pytest.approx(2.0)
    # and no further than the shortest exposure holds: .18 x 9 / 5 x 2.5 = .81
    assert lift_for_the_dark(half, 0.18, 0.81, 1e9) == pytest.approx(2.5)
    assert lift_for_the_dark(half, 0.18, 0.1, 1e9) == 1.0
    assert lift_for_the_dark(np.ones((4, 4), np.float32), 0.18, 16.0, 1e9) == 1.0
    assert lift_for_the_dark(np.zeros((4, 4), np.float32), 0.18, 16.0, 1e9) == 1.0


@pytest.mark.invariant
def test_exposures_see_their_own_light(make_in_scene, make_camera, make_scene):
    moving = make_scene(
        natural_light={"illuminance_lux": 500.0}, plate={"speed_kmh": 60.0, "heading_deg": 90.0}
    )
    in_scene = make_in_scene(moving, camera_with(make_camera, TWO, lens={"glare_index": 0.0}))
    shutter = 0.02
    series, light = exposed_series(in_scene, "day", shutter, [-0.04, 0.0])
    assert [picture.shape[2] for picture in series] == [6, 6] and light.rate is series[-1]
    long, short = series[-1][:, :, :3], series[-1][:, :, 3:]
    assert np.array_equal(long, frame_light(in_scene, "day", shutter).rate)
    late = delays_s(TWO, shutter)[1]
    alone = exposed_series(in_scene.at(late), "day", shutter / 16.0, [0.0])[0][0][:, :, :3]
    assert np.abs(short - alone).max() < 0.01 * alone.max()
    # smeared over 16 times the way, so much softer
    assert np.abs(np.diff(long[:, :, 1], axis=1)).max() < 0.5 * (
        np.abs(np.diff(short[:, :, 1], axis=1)).max()
    )
    plan = RegionPlan((130, 70, 190, 110), 24, 3, in_scene.world.cards[0].centre_m, 550.0)
    region = exposed_regions(in_scene, "day", shutter, plan, light.stray_light, [0.0])[0]
    assert region.shape == (40, 60, 6)
    still = make_in_scene(make_scene(natural_light={"illuminance_lux": 500.0}), in_scene.camera)
    assert exposed_series(still, "day", shutter, [0.0])[0][0].shape[2] == 3


@pytest.mark.invariant
def test_doorway_shows_inside_and_outside(make_in_scene, make_camera):
    from simulator.scene.load import Scene

    model = Scene.load("doorway-noon").model

    def picture(wide):
        in_scene = make_in_scene(
            model, camera_with(make_camera, wide, processing={"sharpening": 0.0})
        )
        state = settle_exposure(in_scene)
        frame = shoot(in_scene, state, frame_buffer(in_scene, state)[0], seed=1)[0].astype(float)
        # hall at the left, visitor's chest, sky above the visitor's head
        return [frame[part].mean() for part in (
            np.s_[60:120, 10:30], np.s_[110:120, 70:90], np.s_[10:20, 70:90],
        )]  # fmt: skip

    plain, wide = picture(WideRange()), picture(TWO)
    assert wide[0] > 1.5 * plain[0] and wide[1] > 2.0 * plain[1]
    assert wide[2] < 250.0
