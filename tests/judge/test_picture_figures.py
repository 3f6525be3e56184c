"""Figures of the picture: noise apart in time and place, what an eye sees of it, trails, glare."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.pipeline import frame_buffer, shoot
from simulator.judge.picture_figures import (
    Measured,
    longest_trail_px,
    noise_levels,
    picture_figures,
    visual_noise,
)
from simulator.judge.silhouette import find_silhouette

SHORT = {"remedies": False, "tolerances": False}
"""What these checks do not need and what takes longest."""

ALL = np.ones((64, 64), np.bool_)


@pytest.mark.by_hand
def test_noise_falls_apart_into_time_and_place():
    rng = np.random.default_rng(3)
    fixed = rng.normal(0.0, 3.0, (6, 1, 64, 64))
    luma = 100.0 + fixed + rng.normal(0.0, 2.0, (6, 5, 64, 64))
    temporal, own = noise_levels(luma.astype(np.float32), ALL)
    assert temporal == pytest.approx(2.0, rel=0.02)
    assert own == pytest.approx(3.0, rel=0.03)
    assert noise_levels(np.full((3, 4, 64, 64), 7.0, np.float32), ALL) == (0.0, 0.0)


@pytest.mark.by_hand
def test_visual_noise_of_a_grain_that_the_eye_sees_best():
    # level 128 emits 0.1912: L* = 116 x 0.1912^(1/3) - 16 = 50.8; near it one level is
    # 116 / 3 x 0.1912^(-2/3) x 2.4 / 255 x (128 / 255)^1.4 = 0.418 L*
    rng = np.random.default_rng(4)
    white = rng.normal(0.0, 1.0, (6, 64, 64))
    found = visual_noise((128.0 + white).astype(np.float32), ALL)
    x = np.arange(64)
    phase = rng.uniform(0.0, 2.0 * np.pi, 40)[:, None, None]
    # 6 cycles over 64 px of 42 a degree: 3.9 cycles a degree, the peak of the eye
    best = np.sqrt(2.0) * np.sin(2.0 * np.pi * 6 * x / 64 + phase) * np.ones((64, 1))
    seen = visual_noise((128.0 + best).astype(np.float32), ALL)
    assert seen == pytest.approx(0.418, rel=0.06)
    # white noise is mostly finer than the eye sees
    assert 0.1 * seen < found < 0.6 * seen
    assert visual_noise(np.full((3, 64, 64), 50.0, np.float32), ALL) == pytest.approx(0.0, abs=1e-6)


@pytest.fixture(scope="module")
def measured(make_judged, make_camera):
    def measure(camera=None, **tables):
        made = make_judged(camera=camera or make_camera(), **tables)
        rates, light = frame_buffer(made.in_scene, made.state)
        frame = shoot(made.in_scene, made.state, rates, seed=1)[0]
        silhouette = find_silhouette(made.in_scene, made.target)
        return picture_figures(
            Measured(
                made.in_scene,
                made.state,
                made.target,
                silhouette,
                rates,
                light.stray_light,
                frame,
                1,
            )
        ), made

    return measure


@pytest.mark.invariant
def test_less_light_is_noisier_and_glare_takes_modulation(measured, make_camera):
    bright, _ = measured(lux=500.0)
    dim, _ = measured(lux=0.1)
    assert bright.noise_temporal_levels < 0.7 * dim.noise_temporal_levels
    assert bright.visual_noise < dim.visual_noise
    assert (bright.compression_psnr_db, bright.compression_ssim) == (None, None)
    assert bright.trail_px == 0.0
    clean, _ = measured(camera=make_camera(lens={"glare_index": 0.0}))
    dirty, _ = measured(camera=make_camera(lens={"glare_index": 0.1}))
    assert clean.glare_loss == pytest.approx(0.0, abs=1e-6)
    assert dirty.glare_loss > 0.02
    assert dirty.modulation_over_ring_without_glare == pytest.approx(
        clean.modulation_over_ring, rel=0.02
    )


@pytest.mark.by_hand
def test_longest_trail_is_that_of_the_open_recursion(make_judged, make_camera):
    # 120 px wide, 4.6 px a frame: 0.8^n = 0.1 at n = 10.32 frames
    camera = make_camera(processing={"temporal_noise_reduction": 0.8, "frame_rate_hz": 25.0})
    made = make_judged(camera=camera, plate={"speed_kmh": 1.8, "heading_deg": 90.0})
    step = 0.5 / 25.0 * made.in_scene.view.pixels_per_m(18.0)
    assert longest_trail_px(made.in_scene, made.target) == pytest.approx(10.32 * step, rel=0.01)


@pytest.mark.invariant
def test_a_tight_bit_rate_loses_more():
    pytest.importorskip("av")
    from simulator.studies.overrides import load_pair
    from simulator.studies.predict import predict

    sets = ["sensor.width_px=320", "sensor.height_px=180", "sensor.pixel_pitch_um=17.4",
            "stream.codec=h264", "task.name=detect", "task.target=truck"]  # fmt: skip

    def rate(kbit_s):
        return f"stream.bitrate_kbit_s={kbit_s}"

    loss = [
        predict(
            *load_pair(
                "depot-gate-dark", "fixed-2mp-lowlight", [*sets, f"stream.bitrate_kbit_s={b}"]
            ),
            **SHORT,
        ).verdict.signal
        for b in (60, 4000)
    ]
    assert loss[0].compression_psnr_db < loss[1].compression_psnr_db
    assert loss[0].compression_ssim < loss[1].compression_ssim <= 1.0
