"""Lights in parts that swing together: the layers of a picture are traced once for each part.

Light adds up, so that a layer under lamps that flicker is at any moment

    rate = sum over parts of factor x layer

with one layer for all that shines evenly and one for every way in which lamps swing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene
from simulator.scene.kernels.radiance import Layer
from simulator.units import FloatArray

MOST_PARTS = 4
"""Ways to swing from which single pictures are traced instead: bands need at most three of a
frequency."""

Part = NDArray[np.bool_]
"""Which lights (L,) belong to it."""


def swinging_parts(in_scene: CameraInScene, factors: FloatArray | None) -> list[Part]:
    """Lights that swing alike, each light in one part; one part of all where that serves as well.

    It does where nothing swings, where there are too many ways to, and where every exposure
    averages the light (`factors` None, one exposure a frame).
    """
    lights = in_scene.world.lights
    every = [np.ones(len(lights), np.bool_)]
    if factors is None and in_scene.camera.wide_range.method != "exposures":
        return every
    # lights that are out swing with those that shine evenly
    ways = [
        (light.flicker_depth, light.flicker_hz, light.flicker_phase_deg)
        if light.flicker_depth > 0.0 and light.strength > 0.0
        else (0.0, 0.0, 0.0)
        for light in lights
    ]
    kinds = sorted(set(ways))
    if not 1 < len(kinds) <= MOST_PARTS:
        return every
    return [np.array([way == one for way in ways]) for one in kinds]


def _weights_of(part: Part, factors: FloatArray | None) -> tuple[float, FloatArray]:
    """Factors (L,) on all lights as one on a layer of a part, and weights (L,) within it."""
    own = part.astype(np.float64)
    if factors is None:
        return 1.0, own
    among = factors[part]
    if np.all(among == among[0]):
        return float(among[0]), own
    return 1.0, own * factors


def added_up(
    parts: Sequence[tuple[Part, float]],
    factors: FloatArray | None,
    layer_of: Callable[[FloatArray], Layer],
) -> Layer:
    """A layer under lights of several strengths, from those of its parts.

    Parameters
    ----------
    parts
        Parts of the lights, and by how much each is stronger than its layer has it.
    factors
        On the lights (L,), one if not given.
    layer_of
        Gives a layer by the weights (L,) of all lights.
    """
    mixed: Layer | None = None
    for k, (part, strength) in enumerate(parts):
        factor, weights = _weights_of(part, factors)
        times = strength * factor
        out = times == 0.0 and (mixed is not None or k + 1 < len(parts))
        if out:
            continue
        one = layer_of(weights)
        if times == 1.0 and len(parts) == 1:
            return one
        rate = np.float32(times) * one.rate
        if mixed is not None:
            rate += mixed.rate
        mixed = Layer(rate, one.cover, one.depth)
    assert mixed is not None
    return mixed
