"""What a picture shows beside its target: mean level, and what of it is white or black."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.camera.auto_exposure import State
from simulator.camera.frame_buffer import frame_buffer
from simulator.camera.in_scene import CameraInScene
from simulator.camera.recording import recorded
from simulator.camera.sensor_readout import readout
from simulator.judge.removal import other_pixels
from simulator.judge.silhouette import luma_levels
from simulator.studies.quick import WHITE_LEVEL
from simulator.studies.session import Session

COLUMNS = 480
"""The picture is taken with about so many columns, as by a sensor of fewer, larger pixels."""
FIGURE_COLUMNS = 240
"""The same where its levels alone are asked for."""
BLACK_LEVEL = 5
"""Up to here in every channel a pixel counts as black [levels of 255]."""

BLACKENED = 0.5
"""Share of the rest of the picture that is black from which on it counts as blackened."""


class Rest(NamedTuple):
    """The picture without the box of its target."""

    mean_level: float
    """Mean luma [levels of 255]."""
    white_fraction: float
    """Share from `WHITE_LEVEL` up in every channel."""
    black_fraction: float
    """Share down from `BLACK_LEVEL` in every channel."""


def coarse_picture(site: Session, columns: int = COLUMNS) -> NDArray[np.uint8]:
    """The whole picture (rows, columns, 3) as the camera shows it, smaller, before any codec.

    The sensor's pixels are taken together into larger ones with as much light, well and noise for
    their area, so that levels stay as they are; detail of less than such a pixel is lost.

    Parameters
    ----------
    columns
        About so many.
    """
    return _taken(site.in_scene, site, columns)


def _taken(in_scene: CameraInScene, site: Session, columns: int) -> NDArray[np.uint8]:
    in_scene, state = _coarser(in_scene, site.state, columns)
    buffer, _ = frame_buffer(in_scene, state)
    return recorded(in_scene, state, buffer, seed=site.seed)[0]


def rest_of_picture(site: Session, frame: NDArray[np.uint8] | None = None) -> Rest:
    """The rest of the picture as the camera shows it, before any codec.

    Parameters
    ----------
    frame
        Its `coarse_picture`, if it is there already; else one coarser still, with all at rest: what
        smears and trails takes next to nothing of the whole.
    """
    if frame is None:
        frame = _taken(site.in_scene.at_rest(), site, FIGURE_COLUMNS)
    down, across = (
        frame.shape[0] / site.in_scene.view.height_px,
        frame.shape[1] / site.in_scene.view.width_px,
    )
    x0, y0, x1, y1 = site.part.box_px
    beside = np.ones(frame.shape[:2], dtype=bool)
    beside[
        max(0, int(y0 * down)) : max(0, int(np.ceil(y1 * down))),
        max(0, int(x0 * across)) : max(0, int(np.ceil(x1 * across))),
    ] = False
    if not np.any(beside):
        beside[:] = True
    pixels = frame[beside]
    return Rest(
        float(luma_levels(pixels).mean()),
        float(np.mean(pixels.min(axis=1) >= WHITE_LEVEL)),
        float(np.mean(pixels.max(axis=1) <= BLACK_LEVEL)),
    )


def _coarser(in_scene: CameraInScene, state: State, columns: int) -> tuple[CameraInScene, State]:
    """The camera with fewer and larger pixels on the same area, and its state."""
    s = in_scene.camera.sensor
    k = max(1, s.width_px // columns)
    if k == 1:
        return in_scene, replace(state, quantiser=None)
    coarse = other_pixels(in_scene, s.width_px // k // 2 * 2, s.height_px // k // 2 * 2, k)
    tones = state.tones and replace(state.tones, meter_px=state.tones.meter_px / k)
    chain = readout(coarse.camera.sensor, state.exposure.gain_db)
    return coarse, replace(state, chain=chain, tones=tones, quantiser=None)
