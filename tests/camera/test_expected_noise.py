"""The noise that the camera expects of its own luma is the noise that its luma has."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.colour_path import LUMA, ColourPath
from simulator.camera.denoise import luma_shares, noise_table
from simulator.camera.model import Sensor
from simulator.camera.processing import develop
from simulator.camera.sensor import expose
from simulator.camera.sensor_readout import readout, without_dark_level

SENSOR = Sensor(
    width_px=96, height_px=96, pixel_pitch_um=3.0, quantum_efficiency="cmos", full_well_e=10_000.0,
    read_noise_e=6.0, prnu=0.0, dsnu_e=0.0, row_noise_e=0.0, dark_current_e_per_s=0.0,
)  # fmt: skip
MATRIX = np.array([[1.6, -0.5, -0.1], [-0.3, 1.5, -0.2], [0.0, -0.6, 1.6]])
PATHS = {
    "neutral": ColourPath(np.ones(3), np.eye(3), False),
    "colour": ColourPath(np.array([1.9, 1.0, 1.6]), MATRIX, False),
    "night": ColourPath(np.array([1.0, 1.3, 2.4]), np.eye(3), True),
}


@pytest.mark.by_hand
def test_weights_of_luma_add_up_without_demosaicing_noise():
    """A luma made of one full-weight channel of an even field keeps the whole of its mean."""
    shares, gains = luma_shares(PATHS["neutral"])
    np.testing.assert_allclose(gains, 1.0)
    # green pixels, half of all, carry most of BT.709's luma
    assert shares[1] > shares[0] > shares[2] > 0.0
    assert sum(LUMA) == pytest.approx(1.0)


@pytest.mark.invariant
@pytest.mark.parametrize("name", PATHS)
@pytest.mark.parametrize("level", [0.05, 0.2, 0.5])
def test_expected_is_measured(name, level):
    colour = PATHS[name]
    chain, shutter = readout(SENSOR, 24.0), 0.01
    grey = level * chain.white_e / colour.balance / shutter
    rate = np.broadcast_to(grey, (96, 96, 3)).astype(np.float32)
    mosaics = expose(rate, shutter, SENSOR, chain, seed=4, frames=6)
    planes = develop(mosaics, without_dark_level(SENSOR, chain, shutter), colour, "bt709")
    inner = planes.luma[:, 4:-4, 4:-4]
    table = noise_table(SENSOR, chain, shutter, "bt709", colour)
    expected = float(np.interp(float(inner.mean()) * 255.0, np.arange(256), table))
    assert float(inner.std()) == pytest.approx(expected, rel=0.06)
