"""Tone curves of the finished picture against published values and colour-science."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from simulator.camera.model import Processing
from simulator.camera.processing import ColourPath, develop, finish, tone_of
from simulator.camera.sensor_readout import Readout
from simulator.camera.tone import Tone, encode_tone

pytestmark = pytest.mark.outside
CHAIN = Readout(1.0, 1.0, 0.0, 65535.0)
MONO = ColourPath(np.ones(3), np.eye(3), True)
LINEAR = np.array([0.01, 0.05, 0.18, 0.5, 0.9])


@pytest.mark.parametrize(
    ("tone", "published"),
    [
        ("srgb", [0.0999, 0.2478, 0.4614, 0.7354, 0.9547]),
        ("bt709", [0.0450, 0.1865, 0.4090, 0.7055, 0.9491]),
    ],
)
def test_eight_bits_of_published_encodings(tone, published):
    # IEC 61966-2-1 and ITU-R BT.709, published values; through mosaic, table and rounding
    settings = Processing(noise_reduction=0.0, sharpening=0.0, tone=tone)
    for light, encoded in zip(LINEAR, published, strict=True):
        mosaic = np.full((1, 8, 8), round(light * 65535), np.uint16)
        shown = finish(develop(mosaic, CHAIN, MONO, tone_of(settings)), settings, 8)
        assert np.all(np.abs(shown - encoded * 255.0) < 0.6)


def test_gamma_against_colour_science():
    light = np.linspace(0.0, 1.0, 301)
    for gamma in (1.8, 2.2, 2.6):
        wanted = colour.models.gamma_function(light, 1.0 / gamma)
        assert encode_tone(light, Tone("gamma", gamma=gamma)) == pytest.approx(wanted, abs=1e-12)


def test_knee_leaves_what_lies_below_it_to_bt709():
    light = np.linspace(0.0, 0.8, 301)
    wanted = colour.models.oetf_BT709(light)
    assert encode_tone(light, Tone("knee", knee_point=0.8)) == pytest.approx(wanted, abs=1e-9)
