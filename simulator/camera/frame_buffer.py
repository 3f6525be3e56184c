"""The light of the frame that is shown and of the frames that the camera still remembers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from simulator.camera.auto_exposure import State
from simulator.camera.frame_layers import FrameTraces
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.light_field import Light, frame_series
from simulator.camera.overflow import overflows
from simulator.camera.region import region_series
from simulator.camera.region_plan import RegionPlan
from simulator.camera.region_traces import Traces
from simulator.camera.wide_range import delays_s, shutters_s
from simulator.units import FloatArray, Image

BUFFER_LEFT = 0.1
"""Temporal noise reduction is run over as many frames as leave this share of the oldest."""
MAX_BUFFER = 6
"""What lies further back counts as a picture at rest (`pipeline.steady_planes`), and so does all
that is remembered where every frame shows the same light."""
CODED_FRAMES = 4
"""A key picture and the predicted ones up to the shown one, where a codec is judged."""


def buffer_length(share: float) -> int:
    """Frames before the shown one that temporal noise reduction still remembers."""
    if share <= 0.0:
        return 0
    return min(MAX_BUFFER, math.ceil(math.log(BUFFER_LEFT) / math.log(share)))


def frame_times(in_scene: CameraInScene) -> FloatArray:
    """Moments of the frames that count, oldest first, the shown one at 0 [s].

    Those that temporal noise reduction remembers, and those that the codec predicts from.
    """
    buffer = 0
    if changes(in_scene):
        buffer = buffer_length(in_scene.camera.processing.temporal_noise_reduction)
    if in_scene.camera.stream.codec != "none":
        buffer += CODED_FRAMES - 1
    return -np.arange(buffer, -1, -1) / in_scene.camera.processing.frame_rate_hz


def changes(in_scene: CameraInScene) -> bool:
    """Whether frames see different light: something moves or flickers."""
    world = in_scene.world
    return bool(
        np.any(world.velocities) or any(light.flicker_depth > 0.0 for light in world.lights)
    )


def own_light(in_scene: CameraInScene) -> bool:
    """Whether the exposures of one frame see different light, so that each needs its own.

    They do where something moves or flickers, or where charge runs over.
    """
    return in_scene.camera.wide_range.method == "exposures" and (
        changes(in_scene) or overflows(in_scene.camera.sensor)
    )


def exposed_series(
    in_scene: CameraInScene, mode: Mode, shutter_s: float, times_s: Sequence[float]
) -> tuple[list[Image], Light]:
    """Pictures of light at several moments, and the whole of the last one.

    As `light_field.frame_series`, but with three channels for every exposure of a wide range, the
    longest first: each with its own smear and flicker, the shorter ones a little later. Where
    exposures see the same light, three channels serve all.
    """
    if not own_light(in_scene):
        return frame_series(in_scene, mode, shutter_s, times_s)
    wide, traces = in_scene.camera.wide_range, FrameTraces()
    made = [
        frame_series(in_scene, mode, own, [t + late for t in times_s], traces)
        for own, late in zip(shutters_s(wide, shutter_s), delays_s(wide, shutter_s), strict=True)
    ]
    series = _side_by_side([pictures for pictures, _ in made])
    return series, replace(made[0][1], rate=series[-1])


def exposed_regions(
    in_scene: CameraInScene,
    mode: Mode,
    shutter_s: float,
    plan: RegionPlan,
    stray_light: Image,
    times_s: Sequence[float],
    traces: Traces | None = None,
) -> list[Image]:
    """As `patch.patch_series`, with channels as in `exposed_series`."""
    if not own_light(in_scene):
        return region_series(in_scene, mode, shutter_s, plan, stray_light, times_s, traces)
    wide = in_scene.camera.wide_range
    return _side_by_side(
        [
            region_series(
                in_scene, mode, own, plan, stray_light, [t + late for t in times_s], traces
            )
            for own, late in zip(
                shutters_s(wide, shutter_s), delays_s(wide, shutter_s), strict=True
            )
        ]
    )


def _side_by_side(exposures: list[list[Image]]) -> list[Image]:
    """Frames (rows, columns, 3 E) from the frames of E exposures; pictures shared stay shared."""
    made: dict[tuple[int, ...], Image] = {}
    out = []
    for pictures in zip(*exposures, strict=True):
        key = tuple(id(picture) for picture in pictures)
        if key not in made:
            made[key] = np.concatenate(pictures, axis=2)
        out.append(made[key])
    return out


def frame_buffer(in_scene: CameraInScene, state: State) -> tuple[list[Image], Light]:
    """Light of the shown frame and of those its noise reduction remembers, oldest first.

    Frames of a scene where nothing moves share one picture of light.
    """
    times = [float(t) for t in frame_times(in_scene)]
    return exposed_series(in_scene, state.mode, state.exposure.shutter_s, times)


def with_region(light: Light, region: Image, origin_px: tuple[int, int]) -> Light:
    """The whole picture with the finely traced patch set in."""
    x, y = origin_px
    rate = light.rate.copy()
    top, left = max(0, -y), max(0, -x)
    area = rate[max(0, y) : y + region.shape[0], max(0, x) : x + region.shape[1]]
    area[:] = region[top : top + area.shape[0], left : left + area.shape[1]]
    return replace(light, rate=rate)
