"""Dynamic range on rendered grey steps, against EMVA 1288 arithmetic and the ratio of exposures."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.bench.dynamic_range import measure_dynamic_range
from simulator.camera.model import Sensor
from simulator.camera.sensor_readout import readout

SHUTTER_S = 0.001


def emva_dynamic_range_db(sensor: Sensor, gain_db: float) -> float:
    """Saturation over the light whose SNR is one, EMVA 1288 (from memory, as in its worked case).

    mu_min = sqrt(sigma_d^2 + sigma_q^2 / K^2 + 1/4) + 1/2 [e-], here with dark current, row noise.
    """
    chain = readout(sensor, gain_db)
    dark = sensor.dark_current_e_per_s * 2.0 ** (
        (sensor.temperature_c - 25.0) / sensor.dark_doubling_k
    )
    variance = sensor.read_noise_e**2 + sensor.row_noise_e**2 + dark * SHUTTER_S
    variance += 1.0 / 12.0 / chain.dn_per_e**2
    saturation = min(sensor.full_well_e, chain.white_e)
    return float(20.0 * np.log10(saturation / (np.sqrt(variance + 0.25) + 0.5)))


@pytest.mark.outside
@pytest.mark.parametrize("gain_db", [0.0, 24.0])
@pytest.mark.parametrize(
    "changes",
    [{}, {"read_noise_e": 8.0, "full_well_e": 30_000.0}, {"bit_depth": 10, "read_noise_e": 4.0}],
    ids=["low noise", "large well", "ten bits"],
)
def test_linear_camera_against_emva(make_camera, changes, gain_db):
    camera = make_camera(sensor={"width_px": 64, "height_px": 64, **changes})
    found = measure_dynamic_range(camera, shutter_s=SHUTTER_S, gain_db=gain_db, seed=1)
    # dark frames are cut at digital number zero, well below the noise here
    assert found.measured_db == pytest.approx(
        emva_dynamic_range_db(camera.sensor, gain_db), abs=1.0
    )


@pytest.mark.by_hand
def test_second_exposure_adds_its_ratio(make_camera):
    # The least light is that of the long exposure, saturation that of the short one: 20 log10 16.
    # Shot noise alone lets the ratio fall by 12 dB where the short one takes over.
    sensor = {"width_px": 64, "height_px": 64}
    one = measure_dynamic_range(make_camera(sensor=sensor), shutter_s=SHUTTER_S, frames=16)
    for exposures, ratio in ((2, 16.0), (3, 8.0)):
        wide = {"method": "exposures", "exposures": exposures, "ratio": ratio, "claimed_db": 120.0}
        many = measure_dynamic_range(
            make_camera(sensor=sensor, wide_range=wide), shutter_s=SHUTTER_S, frames=16
        )
        more = 20.0 * (exposures - 1) * np.log10(ratio)
        assert many.measured_db - one.measured_db == pytest.approx(more, abs=1.0)
        assert many.largest_drop_db == pytest.approx(10.0 * np.log10(ratio), abs=3.0)
        assert many.claimed_db == 120.0
    assert one.largest_drop_db < 1.5


@pytest.mark.by_hand
def test_logarithmic_pixel_adds_its_reach(make_camera):
    # full well against 40 dB beyond the knee at 0.6 of it: 40 + 20 log10 0.6 = 35.6 dB more
    sensor = {"width_px": 64, "height_px": 64}
    one = measure_dynamic_range(make_camera(sensor=sensor), shutter_s=SHUTTER_S, frames=16)
    wide = {"method": "logarithmic", "knee": 0.6, "reach_db": 40.0}
    more = measure_dynamic_range(
        make_camera(sensor=sensor, wide_range=wide), shutter_s=SHUTTER_S, frames=16
    )
    assert more.measured_db - one.measured_db == pytest.approx(35.6, abs=1.0)
