"""The picture as it comes out of the recording: shot, encoded by the stream's codec, decoded.

The shown picture is the last of `CODED_FRAMES` consecutive ones, a key picture and predicted ones
after it. The quantiser is found once on the whole picture, where the codec must share its bits
among everything that moves and makes noise; patches are then coded at that quantiser, many
repetitions side by side on one picture (`stream.tiled`), which loses what the whole loses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from simulator.camera.auto_exposure import State
from simulator.camera.frame_buffer import CODED_FRAMES
from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import shoot, shoot_series
from simulator.camera.stream import Coded, coded, steady_quantiser, tiled, untiled
from simulator.units import Image

TILES_PX = 1920
"""Width of the picture on which patches are coded side by side [px]."""


def with_quantiser(
    in_scene: CameraInScene, state: State, rates: Sequence[Image], *, seed: int
) -> tuple[State, Coded | None]:
    """The state with the quantiser of its stream, and the whole pictures behind the codec.

    Parameters
    ----------
    rates
        Light of the whole picture, oldest first, as `history.frame_history` gives it.

    Returns
    -------
    The state as it is and None, if the camera records without loss.

    Raises
    ------
    InputError
        If the codec is not installed.
    """
    stream = in_scene.camera.stream
    if stream.codec == "none":
        return state, None
    pictures = shoot_series(in_scene, state, rates, keep=CODED_FRAMES, seed=seed)[:, 0]
    quantiser = steady_quantiser(pictures, stream, in_scene.camera.processing.frame_rate_hz)
    return replace(state, quantiser=quantiser.qp), quantiser


def recorded(
    in_scene: CameraInScene,
    state: State,
    rates: Sequence[Image],
    *,
    seed: int,
    first: int = 0,
    frames: int = 1,
    origin_px: tuple[int, int] = (0, 0),
) -> NDArray[np.uint8]:
    """As `pipeline.shoot`, behind the codec if the state holds a quantiser.

    Returns
    -------
    uint8 array (frames, rows, columns, 3).
    """
    if state.quantiser is None:
        return shoot(
            in_scene, state, rates, seed=seed, first=first, frames=frames, origin_px=origin_px
        )
    series = shoot_series(
        in_scene, state, rates, keep=CODED_FRAMES, seed=seed, first=first, frames=frames,
        origin_px=origin_px,
    )  # fmt: skip
    regions = series.transpose(1, 0, 2, 3, 4)
    width = max(TILES_PX, regions.shape[3])
    rate_hz = in_scene.camera.processing.frame_rate_hz
    decoded = coded(tiled(regions, width), in_scene.camera.stream.codec, state.quantiser, rate_hz)
    shape = (regions.shape[0], regions.shape[2], regions.shape[3])
    return untiled(decoded.frames[-1:], shape, width)[:, 0]
