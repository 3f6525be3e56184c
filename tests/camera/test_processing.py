from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.model import Processing, Sensor
from simulator.camera.processing import (
    ColourPath,
    Planes,
    demosaic,
    develop,
    encode_tone,
    finish,
    follow,
    noise_table,
    reduce_noise,
)
from simulator.camera.sensor import expose
from simulator.camera.sensor_readout import Readout, readout

CHAIN = Readout(1.0, 1.0, 64.0, 4095.0)
NEUTRAL = ColourPath(np.ones(3), np.eye(3), False)
SENSOR = Sensor(
    width_px=128,
    height_px=96,
    pixel_pitch_um=3.0,
    quantum_efficiency="cmos-standard",
    full_well_e=10_000.0,
    read_noise_e=3.0,
    dark_current_e_per_s=0.0,
    prnu=0.0,
    dsnu_e=0.0,
    row_noise_e=0.0,
)
PLAIN = Processing(noise_reduction=0.0, sharpening=0.0)


def flat_planes(level: float, frames: int = 1, seed: int = 1):
    """Developed noisy frames of a uniform grey, and what noise the camera expects."""
    chain = readout(SENSOR, 12.0)
    rate = np.full((96, 128, 3), level * chain.white_e / 0.01, np.float32)
    mosaic = expose(rate, 0.01, SENSOR, chain, seed=seed, frames=frames)
    return develop(mosaic, chain, NEUTRAL, "bt709"), noise_table(SENSOR, chain, 0.01, "bt709")


@pytest.mark.invariant
@pytest.mark.parametrize("dn", [64, 300, 1500, 4095])
def test_uniform_grey_stays_grey(dn):
    # any matrix with rows of sum one, every step on
    matrix = np.array([[1.6, -0.4, -0.2], [-0.3, 1.5, -0.2], [0.1, -0.7, 1.6]])
    planes = develop(
        np.full((1, 20, 30), dn, np.uint16), CHAIN, ColourPath(np.ones(3), matrix, False), "bt709"
    )
    level = float(encode_tone((dn - 64.0) / 4031.0, "bt709"))
    # the tone curve is read from a table of 4096 values
    assert planes.luma == pytest.approx(np.full((1, 20, 30), level), abs=2e-4)
    assert planes.blue == pytest.approx(np.zeros((1, 20, 30)), abs=1e-6)
    assert planes.red == pytest.approx(np.zeros((1, 20, 30)), abs=1e-6)
    full = Processing(noise_reduction=0.8, sharpening=1.0, analogue_tv_lines=100.0)
    noise = np.full(256, 0.01, np.float32)
    shown = finish(reduce_noise(planes, noise, full), full, 96)
    assert shown.shape == (1, 20, 30, 3)
    assert np.all(np.abs(shown.astype(int) - round(level * 255.0)) <= 1)
    assert np.ptp(shown) <= 1


@pytest.mark.invariant
def test_demosaic_keeps_flat_colours_and_ramps():
    y, x = np.mgrid[:20, :30].astype(np.float32)
    flat = np.where((y % 2 == 0) & (x % 2 == 0), 0.2, np.where((y + x) % 2 == 1, 0.5, 0.8))
    out = demosaic(flat.astype(np.float32))
    assert out == pytest.approx(np.broadcast_to([0.2, 0.5, 0.8], out.shape), abs=1e-6)
    ramp = (0.01 * x + 0.02 * y).astype(np.float32)  # grey ramp: exact for kernels of first order
    inner = demosaic(ramp)[2:-2, 2:-2]
    assert inner == pytest.approx(np.repeat(ramp[2:-2, 2:-2, None], 3, axis=2), abs=1e-5)


@pytest.mark.invariant
def test_patch_is_developed_as_the_whole():
    mosaic = np.random.default_rng(1).integers(64, 3000, (1, 60, 80)).astype(np.uint16)
    whole = develop(mosaic, CHAIN, NEUTRAL, "srgb")
    for x, y in ((11, 6), (20, 15)):
        region = develop(mosaic[:, y : y + 30, x : x + 40], CHAIN, NEUTRAL, "srgb", (x, y))
        for a, b in zip(whole, region, strict=True):
            inner = a[:, y + 2 : y + 28, x + 2 : x + 38]
            assert np.array_equal(b[:, 2:-2, 2:-2], inner)


@pytest.mark.invariant
def test_saturated_is_white_under_any_balance():
    balance = np.array([1.9, 1.0, 1.6])
    white = develop(
        np.full((1, 12, 12), 4095, np.uint16), CHAIN, ColourPath(balance, np.eye(3), False), "bt709"
    )
    assert np.all(finish(white, PLAIN, 96) == 255)


@pytest.mark.invariant
def test_expected_noise_is_the_noise_that_comes():
    # what the camera expects of itself against developed frames; a colour pixel mixes unequal
    # kernels, so a third either way is allowed
    for level in (0.02, 0.1, 0.4, 0.8):
        planes, noise = flat_planes(level)
        expected = noise[int(float(planes.luma.mean()) * 255.0)]
        found = planes.luma[:, 4:-4, 4:-4].std()
        assert 0.67 < found / expected < 1.5


@pytest.mark.invariant
@pytest.mark.parametrize("level", [0.05, 0.3])
def test_noise_reduction_lowers_variance_and_keeps_the_mean(level):
    planes, noise = flat_planes(level)
    middle = np.s_[0, 4:-4, 4:-4]
    left = []
    for strength in (0.0, 0.2, 0.5, 1.0):
        out = reduce_noise(planes, noise, Processing(noise_reduction=strength))
        left.append([float(plane[middle].var()) for plane in out])
        for old, new in zip(planes, out, strict=True):
            shift = abs(float(new[middle].mean()) - float(old[middle].mean()))
            assert shift < 0.05 * float(old[middle].std())
    assert np.all(np.diff(np.array(left), axis=0) < 0.0)  # stronger is smoother, in every plane
    assert left[-1][0] < 0.5 * left[0][0]


@pytest.mark.invariant
def test_noise_reduction_keeps_what_noise_does_not_explain():
    luma = np.full((1, 40, 40), 0.2, np.float32)
    luma[:, :, 20:] = 0.6
    noise = np.full(256, 0.01, np.float32)
    out = reduce_noise(Planes(luma, None, None), noise, Processing(noise_reduction=0.5)).luma
    assert np.abs(out - luma).max() < 0.01


@pytest.mark.by_hand
def test_temporal_recursion_decays_geometrically():
    # share .8, a change far below the noise: y_n = .8^n y_0
    settings = Processing(temporal_noise_reduction=0.8)
    noise = np.full(256, 1.0, np.float32)
    now = Planes(np.full((1, 4, 4), 0.5, np.float32), None, None)
    memory = Planes(np.full((1, 4, 4), 0.51, np.float32), None, None)
    for n in range(1, 8):
        memory = follow(now, memory, noise, settings)
        assert memory.luma - 0.5 == pytest.approx(np.full((1, 4, 4), 0.01 * 0.8**n), abs=1e-6)


@pytest.mark.invariant
def test_temporal_recursion_lowers_variance_but_lets_movement_through():
    settings = Processing(temporal_noise_reduction=0.8)
    memory, noise = flat_planes(0.3, seed=100)
    for i in range(12):
        planes, _ = flat_planes(0.3, seed=i)
        memory = follow(planes, memory, noise, settings)
    # a plain recursion would leave (1 - .8)/(1 + .8) = .11 of the variance; holding back near
    # three deviations costs some of that
    share = memory.luma[:, 4:-4, 4:-4].var() / planes.luma[:, 4:-4, 4:-4].var()
    assert 0.1 < share < 0.35
    jump = Planes(np.full((1, 4, 4), 0.9, np.float32), None, None)
    old = Planes(np.full((1, 4, 4), 0.2, np.float32), None, None)
    out = follow(jump, old, np.full(256, 0.01, np.float32), settings).luma
    assert out == pytest.approx(np.full((1, 4, 4), 0.9), abs=1e-3)


@pytest.mark.invariant
def test_temporal_recursion_judges_colour_by_the_light_it_stands_in():
    # Noise is large only at bright levels. A small change of colour in bright light is then within
    # the noise and is averaged; the same change in the dark is not.
    noise = np.where(np.arange(256) > 128, 0.1, 0.001).astype(np.float32)
    settings = Processing(temporal_noise_reduction=0.5)

    def kept(luma: float) -> float:
        def planes(blue: float) -> Planes:
            full = [np.full((1, 4, 4), v, np.float32) for v in (luma, blue, 0.0)]
            return Planes(*full)

        out = follow(planes(0.0), planes(0.02), noise, settings)
        return float(out.blue[0, 0, 0] / 0.02)

    assert kept(0.9) == pytest.approx(0.5, abs=0.01)
    assert kept(0.1) < 0.01


@pytest.mark.invariant
def test_sharpening_keeps_the_mean_and_overshoots():
    luma = np.full((1, 40, 60), 0.3, np.float32)
    luma[:, :, 30:] = 0.6
    sharp = finish(Planes(luma, None, None), Processing(noise_reduction=0.0, sharpening=1.0), 96)
    plain = finish(Planes(luma, None, None), PLAIN, 96)
    assert sharp.astype(float).mean() == pytest.approx(plain.astype(float).mean(), abs=0.5)
    assert sharp.max() > plain.max() and sharp.min() < plain.min()


@pytest.mark.by_hand
def test_bytes():
    # full range, rounded: 0 -> 0, .5 -> 128 (127.5 up), 1 -> 255; cut outside
    luma = np.array([[[-0.1, 0.0, 0.2, 0.5, 1.0, 1.2]]], np.float32)
    shown = finish(Planes(luma, None, None), PLAIN, 96)
    assert shown[0, 0, :, 0].tolist() == [0, 0, 51, 128, 255, 255]
    assert np.all(shown == shown[..., :1])


@pytest.mark.outside
@pytest.mark.parametrize("lines", [200.0, 300.0, 450.0])
def test_analogue_limit_on_a_grating(lines):
    # Poynton: n TV lines per picture height are n/2 cycles per height; half of it comes through
    height = 576
    cycles_per_px = lines / 2.0 / height
    x = np.arange(768)
    luma = (0.5 + 0.3 * np.cos(2 * np.pi * cycles_per_px * x)).astype(np.float32)
    planes = Planes(np.repeat(luma[None, None], 4, axis=1), None, None)
    limited = PLAIN.model_copy(update={"analogue_tv_lines": lines})
    row = finish(planes, limited, height)[0, 1, 32:-32, 0] / 255.0
    phase = np.exp(-2j * np.pi * cycles_per_px * x[32:-32])
    found = 2.0 * abs(np.mean((row - row.mean()) * phase)) / 0.3
    assert found == pytest.approx(0.5, abs=0.04)


@pytest.mark.invariant
def test_noise_of_a_weak_channel_leaves_no_specks_in_white():
    """Blue needs a gain of 3.6 and is noisy; red and green are white all over."""
    chain = readout(SENSOR, 0.0)
    rng = np.random.default_rng(5)
    mosaic = np.full((1, 64, 64), chain.white_dn)
    blue = mosaic[:, 1::2, 1::2]
    blue[:] = chain.black_dn + (chain.white_dn - chain.black_dn) * rng.uniform(
        0.28, 1.0, blue.shape
    )
    path = ColourPath(np.array([1.0, 1.2, 3.6]), np.eye(3), False)
    luma = develop(mosaic.astype(np.uint16), chain, path, "bt709").luma
    assert luma.min() > 0.99
