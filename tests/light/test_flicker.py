from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from simulator.light.flicker import mean_over_exposure


@pytest.mark.invariant
@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
@pytest.mark.parametrize("shutter_s", [1e-4, 1 / 500, 1 / 120, 1 / 50, 0.033])
@pytest.mark.parametrize(("depth", "phase_deg", "start_s"), [(0.9, 0.0, 0.0), (0.4, 217.0, 0.0043)])
def test_mean_is_the_integral(depth, mains_hz, phase_deg, start_s, shutter_s):
    def light(t: float) -> float:
        return 1.0 + depth * np.cos(4.0 * np.pi * mains_hz * t + np.radians(phase_deg))

    integral, _ = quad(light, start_s, start_s + shutter_s, epsabs=1e-13)
    found = mean_over_exposure(depth, mains_hz, phase_deg, start_s, shutter_s)
    assert found == pytest.approx(integral / shutter_s, rel=1e-9)


@pytest.mark.by_hand
def test_whole_half_cycles_do_not_flicker():
    for shutter_s in (1 / 100, 1 / 50, 1 / 25):
        assert mean_over_exposure(0.9, 50.0, 70.0, 0.001, shutter_s) == pytest.approx(1.0)
    # a very short exposure at the crest sees all of the depth
    assert mean_over_exposure(0.9, 50.0, 0.0, 0.0, 1e-7) == pytest.approx(1.9, rel=1e-6)


@pytest.mark.invariant
def test_rows_of_a_rolling_shutter_broadcast():
    rows = np.arange(1080) * 15e-6
    factor = mean_over_exposure(0.9, 50.0, 0.0, rows, 1e-3)
    assert factor.shape == (1080,)
    assert 0.1 < factor.min() < 0.3
    assert 1.7 < factor.max() < 1.9
