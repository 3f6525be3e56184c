"""Numbers outside the domain of a law are refused with argument, number and domain."""

from __future__ import annotations

import numpy as np
import pytest

from simulator import InputError, camera, judge, scene
from simulator.domain import require

pytestmark = pytest.mark.by_hand


@pytest.mark.parametrize(
    ("value", "domain"),
    [
        (0.0, {"above": 0.0}),
        (-1e-9, {"least": 0.0}),
        (1.1, {"least": 0.0, "most": 1.0}),
        ([0.5, 2.0], {"most": 1.0}),
        (np.array([[1.0], [-np.inf]]), {"above": 0.0}),
    ],
)
def test_outside(value, domain):
    with pytest.raises(InputError, match="domain") as refused:
        require("x", value, **domain)
    assert refused.value.argument == "x"
    assert isinstance(refused.value, ValueError)


def test_the_ends_belong_to_it_and_nan_passes():
    require("x", [0.0, 1.0, np.nan], least=0.0, most=1.0)
    require("x", np.inf, above=0.0)


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: judge.density_class(-1.0), "pixels_per_m"),
        (lambda: judge.density_class_2025(-1.0), "pixels_per_m"),
        (lambda: judge.contrast_sensitivity(0.0, 100.0, 4.0), "frequency"),
        (lambda: judge.contrast_sensitivity(2.0, -1.0, 4.0), "luminance_cd_m2"),
        (lambda: judge.contrast_sensitivity(2.0, 100.0, 0.0), "size_deg"),
        (lambda: judge.task_probability(-0.1), "ratio"),
        (lambda: judge.eye_threshold(np.array([2.0]), 0.0, 0.2), "critical"),
        (lambda: judge.jeffreys_interval(11, 10), "successes"),
        (lambda: judge.jeffreys_interval(0, 0), "trials"),
    ],
)
def test_the_judge_refuses(call, argument):
    with pytest.raises(InputError) as refused:
        call()
    assert refused.value.argument == argument


LIMITS = camera.Exposure(shutter_min_s=1e-4, shutter_max_s=0.02, gain_max_db=30.0)


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: camera.lens_factor(0.0, 0.0), "f_number"),
        (lambda: camera.lens_factor(2.0, -0.1), "magnification_"),
        (lambda: camera.diffraction_mtf(np.array([1e5]), 550e-9, -2.0), "f_number"),
        (lambda: camera.diffraction_mtf(np.array([1e5]), 0.0, 2.0), "wavelength_m"),
        (lambda: camera.gaussian_mtf(np.array([1e5]), -1e-6), "sigma_m"),
        (lambda: camera.defocus_otf(np.array([1e5]), -1e-6), "blur_diameter_m"),
        (lambda: camera.defocus_blur_m(0.012, 0.0, 10.0, 5.0), "f_number"),
        (lambda: camera.lens_transmittance(1.1, 0.7), "visible"),
        (lambda: camera.lens_transmittance(0.9, -0.1), "infrared"),
        (lambda: camera.coefficients(*np.ones((3, 721)), 0.0), "pixel_area_m2"),
        (lambda: camera.mode_path(camera.DayNight(), [0.0, 1.0], -1.0), "day_lux"),
        (lambda: camera.mode_path(camera.DayNight(), [0.0, 1.0], 1.0, -1.0), "night_lux"),
        (lambda: camera.settle(LIMITS, np.ones((2, 2)), 0.0, 1.4), "full_well_e"),
        (lambda: camera.settle(LIMITS, np.ones((2, 2)), 1e4, 0.0), "f_number_open"),
        (lambda: camera.metering_weights((0, 4), "average"), "shape"),
        (lambda: camera.metering_weights((4, 4), "spot", (0.0, 0.0, 1.5, 1.0)), "window"),
        (lambda: camera.metered_level("spot", -1.0, np.ones(1), np.ones(1), 1e4), "product_s"),
        (lambda: camera.wanted_product(LIMITS, np.ones((2, 2)), 0.0), "full_well_e"),
        (lambda: camera.mean_rate_kbit_s(np.array([1]), camera.Stream(), 25.0), "bits"),
        (lambda: camera.mean_rate_kbit_s(np.ones(2), camera.Stream(), 0.0), "frame_rate_hz"),
    ],
)
def test_the_camera_refuses(call, argument):
    with pytest.raises(InputError) as refused:
        call()
    assert refused.value.argument == argument


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: scene.heading_velocity(-1.0, 0.0), "speed_m_s"),
        (lambda: scene.thin_lens_image_distance(0.0, 2.0), "focal_length_m"),
    ],
)
def test_the_scene_refuses(call, argument):
    with pytest.raises(InputError) as refused:
        call()
    assert refused.value.argument == argument
