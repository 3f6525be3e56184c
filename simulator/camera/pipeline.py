"""The camera from light to eight bits, in order; every intermediate can be looked at."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from simulator.camera.history import frame_history, frame_times, history_length, with_patch
from simulator.camera.processing import (
    Planes,
    develop,
    finish,
    follow,
    noise_table,
    reduce_noise,
)
from simulator.camera.rig import Rig
from simulator.camera.sensor import expose, without_dark_level
from simulator.camera.settling import State, settle_camera
from simulator.units import Image

__all__ = [
    "State",
    "frame_history",
    "frame_times",
    "history_length",
    "mosaic_of",
    "settle_camera",
    "shoot",
    "with_patch",
]

_FRAME_STRIDE = 1_000_000


def shoot(
    rig: Rig,
    state: State,
    rates: Sequence[Image],
    *,
    seed: int,
    first: int = 0,
    frames: int = 1,
    origin_px: tuple[int, int] = (0, 0),
) -> NDArray[np.uint8]:
    """Eight-bit pictures of light on the sensor, through noise, processing and its memory.

    Parameters
    ----------
    rates
        Light of consecutive frames, oldest first (rows, columns, 3) [e-/s]; the last one is shown,
        those before feed the temporal noise reduction.
    first, frames
        Number of the first independent repetition, and how many.
    origin_px
        Left and top of a patch in the whole picture.

    Returns
    -------
    uint8 array (frames, rows, columns, 3).
    """
    settings = rig.camera.processing
    shutter = state.exposure.shutter_s
    noise = noise_table(rig.camera.sensor, state.chain, shutter, settings.tone)
    chain = without_dark_level(rig.camera.sensor, state.chain, shutter)
    memory: Planes | None = None
    for age, rate in enumerate(reversed(range(len(rates)))):
        mosaic = mosaic_of(
            rig,
            state,
            rates[age],
            seed=seed,
            first=first + rate * _FRAME_STRIDE,
            frames=frames,
            origin_px=origin_px,
        )
        planes = develop(mosaic, chain, state.colour, settings.tone, origin_px)
        planes = reduce_noise(planes, noise, settings)
        memory = planes if memory is None else follow(planes, memory, noise, settings)
    assert memory is not None
    return finish(memory, settings, rig.camera.sensor.height_px)


def mosaic_of(
    rig: Rig,
    state: State,
    rate: Image,
    *,
    seed: int,
    first: int = 0,
    frames: int = 1,
    origin_px: tuple[int, int] = (0, 0),
) -> NDArray[np.uint16]:
    """Raw mosaics (frames, rows, columns) [DN] of one picture of light."""
    return expose(
        rate,
        state.exposure.shutter_s,
        rig.camera.sensor,
        state.chain,
        seed=seed,
        frame=first,
        frames=frames,
        origin_px=origin_px,
    )
