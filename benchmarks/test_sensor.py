"""Exposure of a frame of 1920 x 1080 pixels at several light levels; what runs over."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.overflow import spill
from simulator.camera.sensor import expose


@pytest.mark.parametrize("electrons", [0.5, 5.0, 20.0, 100.0, 1000.0])
def test_expose(benchmark, in_scene, state, electrons):
    rate = np.full((1080, 1920, 3), electrons / 0.04, np.float32)
    benchmark(expose, rate, 0.04, in_scene.camera.sensor, state.chain, seed=1)


def test_expose_with_everything(benchmark, in_scene, state):
    """Hot pixels, column offsets and converter noise too."""
    more = {"hot_pixels_per_million": 100.0, "column_noise_e": 0.5, "converter_noise_dn": 0.5}
    sensor = in_scene.camera.sensor.model_copy(update=more)
    rate = np.full((1080, 1920, 3), 20.0 / 0.04, np.float32)
    benchmark(expose, rate, 0.04, sensor, state.chain, seed=1)


def test_spill(benchmark, in_scene):
    """Blooming and smear of a picture with lamps in it."""
    sensor = in_scene.camera.sensor.model_copy(update={"blooming": 0.5, "smear_db": -90.0})
    rate = np.full((1080, 1920, 3), 20.0 / 0.04, np.float32)
    rate[500:520, 900:920] = 1e9
    benchmark(spill, rate, 0.01, sensor, 0.04)
