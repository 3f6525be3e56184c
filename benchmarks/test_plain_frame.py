"""The plain composition that a frame is measured against, in its two halves."""

from __future__ import annotations

import numpy as np
from plain_frame import light, shot, textures


def test_plain_light(benchmark):
    cards = textures()
    assert benchmark(light, cards, 1920, 1080).shape == (1080, 1920, 3)


def test_plain_shot(benchmark):
    rate = light(textures(), 1920, 1080)
    assert benchmark(shot, rate, np.random.default_rng(1)).shape == (1080, 1920, 3)
