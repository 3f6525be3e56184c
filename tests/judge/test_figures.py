"""Figures of a plate by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from simulator.camera.pipeline import shoot
from simulator.judge.figures import flattened, levels, plate_figures, plate_signal, sharpness
from simulator.scene.materials import material

pytestmark = pytest.mark.by_hand


def figures_of(made, frame=None):
    sensor = made.in_scene.camera.sensor
    if frame is None:
        frame = np.full((sensor.height_px, sensor.width_px, 3), 100, np.uint8)
    return plate_figures(made.in_scene, made.state, made.target, made.plan, made.rate, frame)


@pytest.fixture(scope="module")
def sharp(make_judged, make_camera):
    """A diffuse plate 6 m away through a lens without blur or stray light: characters 52 px."""
    camera = make_camera(
        sensor={"width_px": 640, "height_px": 320},
        lens={"aberration_sigma_um": 0.0, "glare_index": 0.0, "focus_m": 6.0},
    )
    return make_judged(
        camera=camera,
        ideal=True,
        lux=100.0,
        plate={"position_m": [0.0, 6.0, 1.0], "sheeting": "none"},
        station={"height_m": 1.0, "aim_m": [0.0, 6.0, 1.0]},
    )


def test_levels_are_those_of_the_reflectances(sharp):
    light, dark = levels(sharp.rate, sharp.state, sharp.target, sharp.origin)
    # whole spectrum by hand: E(lambda) rho(lambda) x response x lambda, weighted as the luma is
    power = sharp.in_scene.world.lights[0].spectrum.power
    wavelength = np.arange(380.0, 1101.0)
    weights = np.array([0.2126, 0.7152, 0.0722]) * sharp.state.colour.balance
    response = (weights / weights.sum()) @ sharp.in_scene.response(sharp.state.mode)

    def seen(name):
        return float(np.sum(power * material(name).reflectance * response * wavelength))

    assert sharp.state.mode == "day"
    assert dark / light == pytest.approx(seen("plate-black-ink") / seen("plate-white"), rel=0.01)
    assert light > 5.0 * dark


def test_modulation_and_electrons_by_the_levels(sharp):
    light, dark = levels(sharp.rate, sharp.state, sharp.target, sharp.origin)
    found = figures_of(sharp)
    shutter = sharp.state.exposure.shutter_s
    assert found.electrons_light == pytest.approx(light * shutter)
    assert found.electrons_dark == pytest.approx(dark * shutter)
    assert found.modulation == pytest.approx((light - dark) / (light + dark))


def test_snr_against_the_emva_formula(sharp):
    found = figures_of(sharp)
    sensor, chain = sharp.in_scene.camera.sensor, sharp.state.chain
    top = min((4095.0 - 64.0) / chain.dn_per_e, sensor.full_well_e)
    light, dark = min(found.electrons_light, top), min(found.electrons_dark, top)
    shutter = sharp.state.exposure.shutter_s
    current = sensor.dark_current_e_per_s * 2.0 ** ((sensor.temperature_c - 25.0) / 7.0)
    noise = math.sqrt(
        sensor.read_noise_e**2
        + sensor.row_noise_e**2
        + 1.0 / (12.0 * chain.dn_per_e**2)
        + light
        + current * shutter
    )
    assert found.snr_db == pytest.approx(20.0 * math.log10((light - dark) / noise), abs=1e-6)


def test_blur_of_the_lens_lowers_modulation_and_sharpness(make_judged, make_camera, sharp):
    blurred = make_judged(
        camera=make_camera(
            sensor={"width_px": 640, "height_px": 320},
            lens={"aberration_sigma_um": 8.0, "glare_index": 0.0, "focus_m": 6.0},
        ),
        lux=100.0,
        plate={"position_m": [0.0, 6.0, 1.0], "sheeting": "none"},
        station={"height_m": 1.0, "aim_m": [0.0, 6.0, 1.0]},
    )
    a, b = figures_of(sharp), figures_of(blurred)
    assert b.modulation < a.modulation
    assert b.effective_pixels_per_m < 0.5 * a.effective_pixels_per_m
    # Gaussian of 8 um on pixels of 2.9 um, and diffraction at f/1.6 in 550 nm
    f = np.linspace(0.0, 0.6, 60_001)
    x = f / 2.9e-6 * 550e-9 * 1.6
    transfer = (
        np.sinc(f)
        * np.exp(-2.0 * (np.pi * 8.0 / 2.9 * f) ** 2)
        * (2 / np.pi * (np.arccos(x) - x * np.sqrt(1 - x * x)))
    )
    half = f[np.argmax(transfer < 0.5)]
    found = sharpness(blurred.in_scene, blurred.state, blurred.target, 550.0)
    assert found == pytest.approx(half / 0.6034, abs=0.005)


def test_ideal_lens_keeps_all_pixels(sharp):
    found = figures_of(sharp)
    # image distance over pitch over distance: v = 1 / (1/f - 1/6)
    v = 1.0 / (1.0 / 12e-3 - 1.0 / 6.0)
    assert found.effective_pixels_per_m == pytest.approx(v / 2.9e-6 / 6.0, rel=0.005)
    assert found.motion_blur_px == 0.0


def test_motion_blur_is_speed_times_time_times_density(make_judged, make_camera):
    camera = make_camera(exposure={"shutter_s": 0.01})
    made = make_judged(camera=camera, plate={"speed_kmh": 36.0, "heading_deg": 90.0})
    density = made.in_scene.view.pixels_per_m(18.0)
    assert figures_of(made).motion_blur_px == pytest.approx(10.0 * 0.01 * density, rel=1e-3)


@pytest.mark.invariant
def test_another_vehicle_does_not_blur_the_plate(make_judged, make_camera):
    camera = make_camera(exposure={"shutter_s": 0.02})
    passing = {
        "name": "other",
        "kind": "vehicle-front",
        "position_m": [6.0, 30.0, 0.0],
        "speed_kmh": 80.0,
        "heading_deg": 90.0,
    }
    alone, passed = make_judged(camera=camera), make_judged(camera=camera, target=[passing])
    a, b = figures_of(alone), figures_of(passed)
    assert b.motion_blur_px == a.motion_blur_px == 0.0
    assert b.effective_pixels_per_m == pytest.approx(a.effective_pixels_per_m, rel=1e-6)


def test_clipped_share_counts_the_plate_only(sharp):
    sensor = sharp.in_scene.camera.sensor
    x0, y0, x1, y1 = sharp.target.box_px
    frame = np.full((sensor.height_px, sensor.width_px, 3), 255, np.uint8)
    frame[y0:y1, x0:x1] = 100
    assert figures_of(sharp, frame).clipped_fraction == 0.0
    frame[y0:y1, x0 : (x0 + x1) // 2] = 254
    assert figures_of(sharp, frame).clipped_fraction == pytest.approx(0.5, abs=0.01)
    frame[y0:y1, x0:x1] = (255, 100, 255)  # not clipped in every channel
    assert figures_of(sharp, frame).clipped_fraction == 0.0
    frame[y0:y1, x0:x1] = 255
    assert figures_of(sharp, frame).clipped_fraction == 1.0


def test_contrast_ratio_by_reflectance(make_judged, make_camera):
    # a wall of .9 or of .18 fills the picture behind a small plate, all in the same light
    wall = {"name": "wall", "kind": "wall", "material": "white-90", "position_m": [0, 20, -40],
            "width_m": 100.0, "height_m": 90.0}  # fmt: skip
    camera = make_camera(lens={"aberration_sigma_um": 0.0, "glare_index": 0.0})
    plate = {"sheeting": "none", "position_m": [0.0, 18.0, 1.0]}
    bright = figures_of(make_judged(camera=camera, surface=[wall], plate=plate))
    grey = figures_of(
        make_judged(camera=camera, surface=[{**wall, "material": "grey-18"}], plate=plate)
    )
    # the plate, of .3 to .8, is 120 x 26 of the 320 x 180 px: 5.4 %
    ratio = bright.contrast_ratio / grey.contrast_ratio
    at_least = (0.946 * 0.9 + 0.054 * 0.8) / (0.946 * 0.18 + 0.054 * 0.8)
    at_most = (0.946 * 0.9 + 0.054 * 0.3) / (0.946 * 0.18 + 0.054 * 0.3)
    assert 0.97 * at_least < ratio < 1.03 * at_most


def test_dark_plate_keeps_its_figures_finite(make_judged):
    made = make_judged(lux=0.001)
    empty = made.rate * 0.0
    found = plate_figures(
        made.in_scene, made.state, made.target, made.plan, empty, np.zeros((180, 320, 3), np.uint8)
    )
    assert all(math.isfinite(value) for value in vars(found).values())
    assert found.electrons_light == 0.0
    assert found.modulation == 0.0


def test_flattened_plate_stands_upright(make_judged, make_camera):
    # a plate seen 35 degrees from the side: its flattened picture is the texture itself
    camera = make_camera(
        sensor={"width_px": 640, "height_px": 320},
        lens={"aberration_sigma_um": 0.0, "glare_index": 0.0, "focus_m": 6.0},
    )
    made = make_judged(
        camera=camera,
        ideal=True,
        plate={"position_m": [0.0, 6.0, 1.0], "facing_deg": 35.0, "sheeting": "none"},
        station={"height_m": 1.0, "aim_m": [0.0, 6.0, 1.0]},
    )
    flat = flattened(plate_signal(made.rate, made.state), made.target, made.origin)
    texture = made.target.card.texture
    paper = texture[20, 20]
    truth = (texture == paper).reshape(110, 2, 520, 2).mean(axis=(1, 3))
    assert flat.shape == truth.shape == (110, 520)
    assert np.corrcoef(flat[6:-6, 6:-6].ravel(), truth[6:-6, 6:-6].ravel())[0, 1] > 0.95
    mirrored = np.corrcoef(flat[:, ::-1].ravel(), truth.ravel())[0, 1]
    assert mirrored < 0.6


@pytest.mark.invariant
def test_figures_follow_the_frame_that_was_shot(make_judged):
    made = make_judged(lux=5.0)
    frame = np.zeros((180, 320, 3), np.uint8)
    x0, y0, x1, y1 = made.plan.box_px
    frame[y0:y1, x0:x1] = shoot(
        made.in_scene, made.state, [made.rate], seed=1, origin_px=made.origin
    )[0]  # fmt: skip
    found = figures_of(made, frame)
    assert 0.0 < found.modulation < 1.0
    assert 0.0 <= found.clipped_fraction <= 1.0
    assert found.effective_pixels_per_m < made.in_scene.view.pixels_per_m(18.0)


@pytest.mark.invariant
@pytest.mark.filterwarnings("error")
def test_a_text_in_the_colour_of_its_ground_has_no_contrast(make_judged):
    made = make_judged(lux=5.0)
    texture = np.full_like(made.target.card.texture, 3)
    plain = replace(made.target, card=replace(made.target.card, texture=texture))
    light, dark = levels(made.rate, made.state, plain, made.origin)
    assert light == dark > 0.0
