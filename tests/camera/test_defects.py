from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.defects import correct_defects
from simulator.camera.model import Sensor
from simulator.camera.sensor import expose
from simulator.camera.sensor_readout import readout

TABLE = {
    "width_px": 160,
    "height_px": 120,
    "pixel_pitch_um": 3.0,
    "quantum_efficiency": "cmos-standard",
    "full_well_e": 10_000.0,
    "read_noise_e": 3.0,
    "prnu": 0.005,
    "dsnu_e": 1.0,
}
SENSOR = Sensor(**TABLE)
CHAIN = readout(SENSOR, 12.0)


def noisy(level: float, sensor: Sensor = SENSOR, frames: int = 1):
    rate = np.full((120, 160, 3), level * CHAIN.white_e / 0.01, np.float32)
    rate[:, :, 0] *= 0.6  # channels differ
    return expose(rate, 0.01, sensor, CHAIN, seed=3, frames=frames)


@pytest.mark.invariant
@pytest.mark.parametrize("level", [0.0, 0.02, 0.3, 0.8])
def test_ordinary_noise_is_left_alone(level):
    # six deviations beyond the outermost of eight: next to no false alarm in 4e5 pixels
    mosaic = noisy(level, frames=20)
    assert np.count_nonzero(correct_defects(mosaic, SENSOR, CHAIN, 0.01) != mosaic) <= 2


@pytest.mark.by_hand
@pytest.mark.parametrize("place", [(0, 0), (1, 60), (57, 81), (119, 159), (60, 1)])
@pytest.mark.parametrize("value", [0, 3500])
def test_a_lone_pixel_takes_the_median_of_its_colour(place, value):
    mosaic = np.full((2, 120, 160), 1500, np.uint16)
    mosaic[:, ::2, ::2], mosaic[:, 1::2, 1::2] = 900, 600
    wanted = mosaic.copy()
    mosaic[1, place[0], place[1]] = value
    assert np.array_equal(correct_defects(mosaic, SENSOR, CHAIN, 0.01), wanted)


@pytest.mark.invariant
def test_edges_lines_and_slanted_strokes_stay():
    y, x = np.mgrid[:120, :160]
    for picture in (x > 80, x == 80, y == 31, np.abs(x - 0.6 * y - 30) < 1.0, (x + y) % 16 < 2):
        mosaic = np.where(picture, 3000, 300).astype(np.uint16)[None]
        changed = correct_defects(mosaic, SENSOR, CHAIN, 0.01) != mosaic
        # the end of a stroke at the border may look like a dot
        assert not np.any(changed[:, 2:-2, 2:-2])


@pytest.mark.invariant
def test_hot_pixels_go_and_little_else_changes():
    hot = Sensor(**TABLE, hot_pixels_per_million=500.0, hot_pixel_e_per_s=40_000.0)
    with_hot, clean = noisy(0.1, hot), noisy(0.1)
    expected = np.hypot(3.0, np.sqrt(0.1 * CHAIN.white_e)) * CHAIN.dn_per_e
    standing_out = np.abs(with_hot.astype(float) - clean) > 12.0 * expected
    assert np.count_nonzero(standing_out) >= 4
    fixed = correct_defects(with_hot, hot, CHAIN, 0.01).astype(float)
    assert np.all(np.abs(fixed - clean)[standing_out] < 8.0 * expected)
    assert np.count_nonzero(fixed != with_hot) < 25  # of 19200; 500 per million are about 10
