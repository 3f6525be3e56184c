"""Tracing of the whole picture: what stands still, what moves, and geometry alone."""

from __future__ import annotations

import pytest

from simulator.camera.frame_layers import EDGE_SPLIT
from simulator.scene.kernels.radiance import STATIC, Sampling, trace_layer


@pytest.mark.parametrize("group", [STATIC, 1])
@pytest.mark.parametrize("fine", [1, EDGE_SPLIT])
def test_layer(benchmark, in_scene, state, group, fine):
    sampling = Sampling(0.0, 0.0, 1.0, 1080, 1920)
    packed = (in_scene.packed_scene, in_scene.lights(state.mode), in_scene.packed_view)
    benchmark(trace_layer, sampling, *packed, mode=group, fine=fine)
