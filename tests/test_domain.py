"""Numbers outside the domain of a law are refused with argument, number and domain."""

from __future__ import annotations

import numpy as np
import pytest

from simulator import InputError, bench, camera, judge, light, scene
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
        (lambda: camera.shutters_s(camera.WideRange(), -1.0), "shutter_s"),
        (lambda: camera.compressed(1.0, camera.WideRange(), 0.0), "well_e"),
        (lambda: camera.expanded(1.0, camera.WideRange(), 0.0), "well_e"),
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
        (lambda: scene.wavelength_exponent(0.0), "visibility_m"),
        (lambda: scene.extinction_per_m(-10.0, 550.0), "visibility_m"),
        (lambda: scene.extinction_per_m(100.0, 0.0), "wavelength_nm"),
        (lambda: scene.rain_extinction_per_m(-1.0), "rain_mm_per_h"),
        (lambda: scene.phase_function([0.0, 1.1]), "cosine"),
    ],
)
def test_the_scene_refuses(call, argument):
    with pytest.raises(InputError) as refused:
        call()
    assert refused.value.argument == argument


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: light.relative_intensity(1.0, -1.0), "exponent"),
        (lambda: light.beam_flux(-5.0, 1.0), "peak_intensity"),
        (lambda: light.beam_flux(5.0, -0.5), "exponent"),
        (lambda: light.point_irradiance(*np.eye(3)[:2], -1.0, 1.0, *np.eye(3)[1:]), "intensity"),
        (lambda: light.point_irradiance(*np.eye(3)[:2], 1.0, 1.0, *np.eye(3)[:2]), "point"),
        (lambda: light.hours_dark(91.0, 0.0, 2026), "latitude_deg"),
        (lambda: light.hours_dark(0.0, -181.0, 2026), "longitude_deg"),
        (lambda: light.cornea_time_s([50.0, -1.0]), "irradiance_w_m2"),
        (lambda: light.axial_irradiance_w_m2(-1.0, 1.0), "intensity_w_per_sr"),
        (lambda: light.axial_irradiance_w_m2(1.0, 0.0), "distance_m"),
        (lambda: light.hazard_distance_m(-1.0), "intensity_w_per_sr"),
        (lambda: light.hazard_distance_m(1.0, 0.0), "limit_w_m2"),
        (lambda: light.mean_over_exposure(1.1, 50.0, 0.0, 0.0, 0.01), "depth"),
        (lambda: light.mean_over_exposure(0.5, -50.0, 0.0, 0.0, 0.01), "mains_hz"),
        (lambda: light.mean_over_exposure(0.5, 50.0, 0.0, 0.0, -0.01), "shutter_s"),
        (lambda: light.photon_irradiance(np.ones(721), 300.0), "lo_nm"),
        (lambda: light.photon_irradiance(np.ones(721), 800.0, 700.0), "hi_nm"),
        (lambda: light.photon_irradiance(np.ones(721), 800.0, 1200.0), "hi_nm"),
        (lambda: light.clear_sky_power(0.0), "altitude_deg"),
        (lambda: light.direct_share(-91.0), "altitude_deg"),
        (lambda: light.sky_spectrum(91.0), "altitude_deg"),
        (lambda: light.sky_spectrum(10.0, 1.5), "cloud_share"),
        (
            lambda: light.filtered(light.spectrum("cie-a"), np.full(721, -0.1), "dark"),
            "reflectance",
        ),
        (lambda: light.moon_illuminance_lux(40.0, 0.0, 0.0), "parallax_deg"),
        (lambda: light.night_sky_illuminance_lux(-0.1), "cloud_cover"),
        (lambda: light.cloud_factor([0.5, 1.1]), "cloud_cover"),
        (lambda: light.web_intensity(light.flat_beam(60.0), 181.0, 0.0), "gamma_deg"),
        (lambda: light.sky_state(30.0, skyglow_lux=-1.0), "skyglow_lux"),
        (
            lambda: light.natural_illuminance_lux([], 0.0, 0.0, skyglow_lux=-1.0),
            "skyglow_lux",
        ),
    ],
)
def test_light_refuses(call, argument):
    with pytest.raises(InputError) as refused:
        call()
    assert refused.value.argument == argument


@pytest.mark.parametrize(
    ("changes", "argument"),
    [
        ({"level": 0.0}, "level"),
        ({"contrast": -1.1}, "contrast"),
        ({"contrast": 0.0}, "contrast"),
        ({"speed_px": 0}, "speed_px"),
        ({"speed_px": 40}, "speed_px"),
        ({"shutter_s": 0.0}, "shutter_s"),
    ],
)
def test_a_trail_is_refused(make_camera, changes, argument):
    settings = {"level": 0.2, "contrast": 0.2, "speed_px": 2, **changes}
    with pytest.raises(InputError) as refused:
        bench.measure_trail(make_camera(), **settings)
    assert refused.value.argument == argument


def test_other_measurements_are_refused(make_camera):
    camera = make_camera()
    with pytest.raises(InputError) as refused:
        bench.measure_dynamic_range(camera, shutter_s=0.0)
    assert refused.value.argument == "shutter_s"
    with pytest.raises(InputError) as refused:
        bench.measure_dynamic_range(camera, frames=1)
    assert refused.value.argument == "frames"
    with pytest.raises(InputError) as refused:
        bench.photograph_chart(camera, light.spectrum("cie-a"), frames=0)
    assert refused.value.argument == "frames"


def test_the_sensor_refuses_a_shutter_below_zero():
    sensor = camera.Camera.load("fixed-2mp-lowlight").model.sensor
    chain = camera.readout(sensor, 0.0)
    for call in (
        lambda: camera.noise_electrons(100.0, sensor, chain, -0.01),
        lambda: camera.expose(np.ones((2, 2, 3), np.float32), -0.01, sensor, chain, seed=1),
    ):
        with pytest.raises(InputError) as refused:
            call()
        assert refused.value.argument == "shutter_s"
