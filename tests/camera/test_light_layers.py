"""Kept layers: each is found again under its own name, and all together stay within bounds."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera import light_layers
from simulator.camera.light_layers import LightLayers
from simulator.scene.kernels.radiance import Layer, Sampling


def layer(value: float) -> Layer:
    plane = np.full((8, 8), value, np.float32)
    return Layer(np.full((8, 8, 3), value, np.float32), plane, plane)


def bytes_of(one: Layer) -> int:
    return sum(plane.nbytes for plane in one)


@pytest.mark.invariant
def test_old_layers_make_room_and_new_ones_keep_their_names(monkeypatch):
    monkeypatch.setattr(light_layers, "MOST_BYTES", 3 * bytes_of(layer(0.0)))
    grid = Sampling(0.0, 0.0, 1.0, 8, 8)
    store = LightLayers()
    for k in range(8):
        store.keep(("lamp", k), grid, layer(float(k)))
    assert store.held <= light_layers.MOST_BYTES
    kept = {k: store.find(("lamp", k), grid) for k in range(8)}
    assert sum(one is not None for one in kept.values()) == 3
    assert kept[7] is not None
    assert all(one is None or one.rate[0, 0, 0] == k for k, one in kept.items())
