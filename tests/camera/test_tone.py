from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.model import Processing
from simulator.camera.processing import ColourPath, Planes, develop, finish, saturation_at
from simulator.camera.sensor_readout import Readout
from simulator.camera.tone import Tone, encode_tone, tone_of

CHAIN = Readout(1.0, 1.0, 64.0, 4095.0)
MONO = ColourPath(np.ones(3), np.eye(3), True)
PLAIN = Processing(noise_reduction=0.0, sharpening=0.0)


@pytest.mark.by_hand
def test_gamma_curve():
    # 0.25^(1/2) = 0.5; light below black counts as much as light above it
    assert encode_tone(np.array([0.0, 0.25, 1.0, -0.25]), Tone("gamma", gamma=2.0)) == (
        pytest.approx([0.0, 0.5, 1.0, -0.5])
    )


@pytest.mark.by_hand
def test_knee_curve():
    # BT.709 of 0.5 is 1.099 x 0.5^0.45 - 0.099 = 0.70552; from there straight to 1 at 4
    knee = Tone("knee", knee_point=0.5, knee_reach=4.0)
    below = np.array([0.0, 0.01, 0.3, 0.5])
    assert encode_tone(below, knee) == pytest.approx(encode_tone(below, "bt709"))
    assert float(encode_tone(2.25, knee)) == pytest.approx((0.70552 + 1.0) / 2.0, abs=1e-4)
    assert float(encode_tone(4.0, knee)) == pytest.approx(1.0)


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["bt709", "srgb", "linear", "gamma", "knee"])
def test_curves_rise_from_black_to_white(name):
    tone = Tone(name)
    light = np.linspace(0.0, tone.reach, 5000)
    encoded = encode_tone(light, tone)
    assert np.all(np.diff(encoded) > 0.0)
    assert encoded[[0, -1]] == pytest.approx([0.0, 1.0], abs=1e-9)
    assert tone_of(Processing(tone=name)).name == name


@pytest.mark.by_hand
def test_white_of_the_mosaic_is_the_reach_of_the_knee():
    # reach 4: a quarter of the mosaic's range is white of BT.709, past the knee at 0.8
    knee = Tone("knee", knee_point=0.8, knee_reach=4.0)
    for share, light in ((0.05, 0.2), (0.25, 1.0), (1.0, 4.0)):
        dn = round(64 + share * 4031)
        luma = develop(np.full((1, 8, 8), dn, np.uint16), CHAIN, MONO, knee).luma
        assert luma == pytest.approx(np.full((1, 8, 8), float(encode_tone(light, knee))), abs=2e-3)


@pytest.mark.by_hand
def test_black_level_is_added_to_the_encoded_picture():
    luma = np.array([[[0.0, 0.4, 0.98]]], np.float32)
    place_camera = PLAIN.model_copy(update={"black_level": 0.05})
    # 0.05 x 255 = 12.75; 0.45 x 255 = 114.75; 1.03 is cut
    assert finish(Planes(luma, None, None), place_camera, 8)[0, 0, :, 0].tolist() == [13, 115, 255]


@pytest.mark.by_hand
def test_saturation_falls_with_gain_in_decibels():
    settings = Processing(saturation=0.8, saturation_full_until_db=20.0, saturation_gone_at_db=40.0)
    found = [saturation_at(settings, gain_db) for gain_db in (0.0, 20.0, 25.0, 30.0, 40.0, 60.0)]
    assert found == pytest.approx([0.8, 0.8, 0.6, 0.4, 0.0, 0.0])
    at_once = Processing(saturation_full_until_db=30.0, saturation_gone_at_db=30.0)
    assert [saturation_at(at_once, g) for g in (30.0, 30.1)] == [1.0, 0.0]


@pytest.mark.by_hand
def test_colour_taken_back_leaves_luma():
    # Y .4, Cr .1: R = .4 + 1.5748 x .1 x saturation; without saturation grey of the same luma
    planes = Planes(*[np.full((1, 4, 4), v, np.float32) for v in (0.4, 0.0, 0.1)])
    half = PLAIN.model_copy(update={"saturation": 0.5})
    assert finish(planes, half, 8)[0, 0, 0, 0] == round((0.4 + 0.07874) * 255)
    gone = finish(planes, PLAIN, 8, gain_db=PLAIN.saturation_gone_at_db)
    assert np.all(gone == 102)


@pytest.mark.by_hand
@pytest.mark.parametrize("amount", [0.5, 1.0])
def test_halo_of_sharpening(amount):
    # A step of 0.4 beside a Gaussian of one pixel: half of what is not at its middle weight
    # 1 / sum exp(-n^2 / 2) = 0.3989 lies beyond the edge, so that the pixel beside it overshoots by
    # amount x 0.4 x (1 - 0.3989) / 2, and the third pixel from it by next to nothing
    luma = np.full((1, 9, 40), 0.3, np.float32)
    luma[:, :, 20:] = 0.7
    shown = finish(Planes(luma, None, None), PLAIN.model_copy(update={"sharpening": amount}), 8)
    row = shown[0, 4, :, 0] / 255.0
    halo = amount * 0.4 * (1.0 - 0.3989) / 2.0
    assert row[20] - 0.7 == pytest.approx(halo, abs=0.004)
    assert 0.3 - row[19] == pytest.approx(halo, abs=0.004)
    assert abs(row[23] - 0.7) < 0.004
