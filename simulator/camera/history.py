"""The light of the frame that is shown and of the frames that the camera still remembers."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from simulator.camera.light_field import Light, frame_series
from simulator.camera.rig import Rig
from simulator.camera.settling import State
from simulator.units import FloatArray, Image

HISTORY_LEFT = 0.1
"""Temporal noise reduction is run over as many frames as leave this share of the oldest."""
MAX_HISTORY = 6


def history_length(share: float) -> int:
    """Frames before the shown one that temporal noise reduction still remembers."""
    if share <= 0.0:
        return 0
    return min(MAX_HISTORY, math.ceil(math.log(HISTORY_LEFT) / math.log(share)))


def frame_times(rig: Rig) -> FloatArray:
    """Moments of the frames that count, oldest first, the shown one at 0 [s]."""
    history = history_length(rig.camera.processing.temporal_noise_reduction)
    return -np.arange(history, -1, -1) / rig.camera.processing.frame_rate_hz


def frame_history(rig: Rig, state: State) -> tuple[list[Image], Light]:
    """Light of the shown frame and of those its noise reduction remembers, oldest first.

    Frames of a scene where nothing moves share one picture of light.
    """
    times = [float(t) for t in frame_times(rig)]
    return frame_series(rig, state.mode, state.exposure.shutter_s, times)


def with_patch(light: Light, patch: Image, origin_px: tuple[int, int]) -> Light:
    """The whole picture with the finely traced patch set in."""
    x, y = origin_px
    rate = light.rate.copy()
    top, left = max(0, -y), max(0, -x)
    area = rate[max(0, y) : y + patch.shape[0], max(0, x) : x + patch.shape[1]]
    area[:] = patch[top : top + area.shape[0], left : left + area.shape[1]]
    return replace(light, rate=rate)
