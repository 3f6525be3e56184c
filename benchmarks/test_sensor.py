"""Exposure of a frame of 1920 x 1080 pixels at several light levels."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.sensor import expose


@pytest.mark.parametrize("electrons", [0.5, 5.0, 20.0, 100.0, 1000.0])
def test_expose(benchmark, rig, state, electrons):
    rate = np.full((1080, 1920, 3), electrons / 0.04, np.float32)
    benchmark(expose, rate, 0.04, rig.camera.sensor, state.chain, seed=1)
