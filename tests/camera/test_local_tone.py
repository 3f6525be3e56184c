from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.local_tone import MIDDLE, bend_of, elasticity, pressed, tone_map
from simulator.camera.processing import ColourPath, Tone, develop_wide

MONO = ColourPath(np.ones(3), np.eye(3), True)
LINEAR = Tone("linear")


@pytest.mark.by_hand
@pytest.mark.parametrize("peak", [1.0, 1.2, 4.0, 16.0, 256.0, 4000.0])
def test_curve_keeps_the_middle_and_ends_at_white(peak):
    bend = bend_of(peak)
    assert pressed(np.array([0.0, MIDDLE, peak]), peak, bend) == pytest.approx([0.0, MIDDLE, 1.0])
    light = np.geomspace(1e-4, peak, 2000)
    shown = pressed(light, peak, bend)
    assert np.all(np.diff(shown) > 0.0)
    slope = np.gradient(np.log(shown), np.log(light))
    assert elasticity(light, bend)[1:-1] == pytest.approx(slope[1:-1], abs=2e-3)


def scene(detail: float = 0.0) -> np.ndarray:
    """A dark half at 0.1 and a bright half at 8, with stripes of a few pixels on both."""
    picture = np.full((180, 320), 0.1, np.float32)
    picture[:, 160:] = 8.0
    stripes = 1.0 + detail * np.sign(np.sin(np.arange(320) * np.pi / 6.0 + 0.1))
    return picture * stripes.astype(np.float32)


def shown(strength: float, detail: float = 0.0) -> np.ndarray:
    light = scene(detail)
    tones = tone_map(light[::2, ::2], 16.0, strength, 2.0)
    return develop_wide(light[None], 16.0, tones, MONO, LINEAR).luma[0]


@pytest.mark.invariant
@pytest.mark.parametrize("strength", [0.0, 0.5, 1.0])
def test_no_halo_at_an_edge_of_light(strength):
    # three pixels from the edge both sides are as they are far from it
    row = shown(strength)[90]
    assert row[100:157] == pytest.approx(np.full(57, row[40]), rel=0.03)
    assert row[163:220] == pytest.approx(np.full(57, row[280]), rel=0.03)
    assert 0.08 < row[40] < 0.2 and 0.7 < row[280] <= 1.0


@pytest.mark.invariant
def test_local_part_keeps_the_contrast_of_small_things():
    def contrast(strength: float) -> float:
        # quartiles are the middles of the stripes, away from the overshoot of the demosaic
        low, high = np.percentile(shown(strength, detail=0.1)[90, 200:296], [25.0, 75.0])
        return float((high - low) / (high + low))

    found = [contrast(strength) for strength in (0.0, 0.5, 1.0)]
    # one curve presses it by its elasticity; the local part leaves the stripes' tenth whole
    light = scene(0.1)
    peak = 1.25 * float(np.percentile(light, 99.9))
    assert found[0] == pytest.approx(0.1 * float(elasticity(8.0, bend_of(peak))), rel=0.1)
    assert found[2] == pytest.approx(0.1, rel=0.15)
    assert found[0] < found[1] < found[2]


@pytest.mark.invariant
def test_patch_is_mapped_as_the_whole():
    light = scene(0.2)
    tones = tone_map(light[::2, ::2], 16.0, 0.7, 2.0)
    whole = develop_wide(light[None], 16.0, tones, MONO, LINEAR).luma[0]
    x, y = 131, 62
    part = np.ascontiguousarray(light[y : y + 50, x : x + 60])
    region = develop_wide(part[None], 16.0, tones, MONO, LINEAR, (x, y)).luma[0]
    assert np.array_equal(region[4:-4, 4:-4], whole[y + 4 : y + 46, x + 4 : x + 56])


@pytest.mark.invariant
def test_light_within_one_exposure_is_left_as_it_is():
    light = np.random.default_rng(1).uniform(0.05, 0.7, (60, 80)).astype(np.float32)
    tones = tone_map(light, 16.0, 0.5, 1.0)
    assert tones.peak == 1.0
    flat = np.full((1, 60, 80), 0.4, np.float32)
    assert develop_wide(flat, 16.0, tones, MONO, LINEAR).luma == pytest.approx(flat, rel=1e-3)


@pytest.mark.invariant
def test_lamps_beyond_white_stay_white():
    light = scene()
    light[80:100, 200:220] = 500.0
    tones = tone_map(light[::2, ::2], 16.0, 1.0, 2.0)
    found = develop_wide(np.minimum(light, 16.0)[None], 16.0, tones, MONO, LINEAR).luma[0]
    assert found[90, 210] == pytest.approx(1.0, abs=0.02)
