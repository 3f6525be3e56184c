"""The camera from light to eight bits, in order; every intermediate can be looked at."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from simulator.camera.auto_exposure import State, settle_exposure
from simulator.camera.defects import correct_defects
from simulator.camera.frame_buffer import buffer_length, frame_buffer, frame_times, with_region
from simulator.camera.in_scene import CameraInScene
from simulator.camera.processing import (
    Planes,
    develop,
    develop_wide,
    finish,
    follow,
    noise_table,
    reduce_noise,
    tone_of,
    wide_noise_table,
)
from simulator.camera.sensor import expose, full_well_e, without_dark_level
from simulator.camera.wide_range import exposure_light, merge, pixel_law, shutters_s, top_level
from simulator.units import Image

__all__ = [
    "State",
    "buffer_length",
    "frame_buffer",
    "frame_times",
    "merged_light",
    "mosaic_of",
    "next_planes",
    "settle_exposure",
    "shoot",
    "shoot_series",
    "shown",
    "with_region",
]

_FRAME_STRIDE = 1_000_000
_EXPOSURE_STRIDE = 200_000


def shoot(
    in_scene: CameraInScene,
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
    in_scene
        The camera in its scene.
    state
        What the camera settled on, see `settle_exposure`.
    rates
        Light of consecutive frames, oldest first, each (rows, columns, 3) [e-/s per pixel]; the
        last one is shown, those before feed the temporal noise reduction. With several exposures a
        frame three channels for each, or three for all (see `merged_light`).
    seed
        Of the noise; the same seed gives the same pictures.
    first, frames
        Number of the first independent repetition, and how many.
    origin_px
        Left and top of a patch in the whole picture [px].

    Returns
    -------
    numpy.ndarray
        Pictures, uint8 (frames, rows, columns, 3), RGB.

    References
    ----------
    EMVA 1288 (sensor, see `expose`); ITU-R BT.709 (colour and tone curve of the output).

    Examples
    --------
    >>> from simulator.camera import Camera, place_camera
    >>> from simulator.scene import Scene, build_world
    >>> scene = Scene.load("depot-gate-infrared").model
    >>> camera = Camera.load("fixed-2mp-lowlight").model
    >>> in_scene = place_camera(build_world(scene), scene.station, camera)
    >>> state = settle_exposure(in_scene)
    >>> even = np.full((8, 8, 3), 2000.0, np.float32)
    >>> shoot(in_scene, state, [even], seed=1, frames=2).shape
    (2, 8, 8, 3)
    """
    return shoot_series(
        in_scene, state, rates, keep=1, seed=seed, first=first, frames=frames, origin_px=origin_px
    )[0]


def shoot_series(
    in_scene: CameraInScene,
    state: State,
    rates: Sequence[Image],
    *,
    keep: int,
    seed: int,
    first: int = 0,
    frames: int = 1,
    origin_px: tuple[int, int] = (0, 0),
) -> NDArray[np.uint8]:
    """As `shoot`, but the last `keep` pictures: uint8 (keep, frames, rows, columns, 3)."""
    memory: Planes | None = None
    out = []
    for age, rate in enumerate(rates):
        left = len(rates) - 1 - age
        memory = next_planes(
            in_scene,
            state,
            rate,
            memory,
            seed=seed,
            first=first + left * _FRAME_STRIDE,
            frames=frames,
            origin_px=origin_px,
        )
        if left < keep:
            out.append(shown(in_scene, state, memory))
    return np.stack(out)


def next_planes(
    in_scene: CameraInScene,
    state: State,
    rate: Image,
    memory: Planes | None,
    *,
    seed: int,
    first: int = 0,
    frames: int = 1,
    origin_px: tuple[int, int] = (0, 0),
) -> Planes:
    """One more picture of light through noise, processing, and the memory of the last planes.

    Parameters
    ----------
    memory
        What this gave for the frame before; None for the first.
    """
    noise, settings = _expected_noise(in_scene, state), in_scene.camera.processing
    planes = _developed(
        in_scene, state, rate, seed=seed, first=first, frames=frames, origin_px=origin_px
    )
    planes = reduce_noise(planes, noise, settings)
    if memory is None or (memory.blue is None) != (planes.blue is None):
        return planes
    return follow(planes, memory, noise, settings)


def shown(in_scene: CameraInScene, state: State, planes: Planes) -> NDArray[np.uint8]:
    """Eight-bit pictures (frames, rows, columns, 3) of planes."""
    return finish(
        planes, in_scene.camera.processing, in_scene.camera.sensor.height_px, state.exposure.gain_db
    )


def _expected_noise(in_scene: CameraInScene, state: State) -> Image:
    """Noise of the encoded luma by its level, as the camera expects it of itself."""
    camera, shutter, tone = (
        in_scene.camera,
        state.exposure.shutter_s,
        tone_of(in_scene.camera.processing),
    )
    if state.tones is None:
        return noise_table(camera.sensor, state.chain, shutter, tone, state.colour)
    return wide_noise_table(
        camera.sensor, state.chain, shutter, tone, camera.wide_range, state.tones, state.colour
    )


def _developed(
    in_scene: CameraInScene,
    state: State,
    rate: Image,
    *,
    seed: int,
    first: int,
    frames: int,
    origin_px: tuple[int, int],
) -> Planes:
    """Encoded planes of one picture of light, before noise reduction."""
    camera, shutter, tone = (
        in_scene.camera,
        state.exposure.shutter_s,
        tone_of(in_scene.camera.processing),
    )
    if state.tones is None:
        mosaic = mosaic_of(
            in_scene, state, rate, seed=seed, first=first, frames=frames, origin_px=origin_px
        )
        if camera.processing.defect_correction:
            mosaic = correct_defects(mosaic, camera.sensor, state.chain, shutter)
        chain = without_dark_level(camera.sensor, state.chain, shutter)
        return develop(mosaic, chain, state.colour, tone, origin_px)
    light = merged_light(
        in_scene, state, rate, seed=seed, first=first, frames=frames, origin_px=origin_px
    )
    top = top_level(camera.wide_range, camera.sensor, state.chain)
    return develop_wide(light, top, state.tones, state.colour, tone, origin_px)


def merged_light(
    in_scene: CameraInScene,
    state: State,
    rate: Image,
    *,
    seed: int,
    first: int = 0,
    frames: int = 1,
    origin_px: tuple[int, int] = (0, 0),
) -> Image:
    """Mosaics (frames, rows, columns) of light in units of white, as a wide range reads it.

    Parameters
    ----------
    rate
        Light (rows, columns, 3 E) [e-/s]: three channels for every exposure, the longest first, or
        three that serve all exposures.
    """
    camera, shutter = in_scene.camera, state.exposure.shutter_s
    mosaics = []
    for k in range(len(shutters_s(camera.wide_range, shutter))):
        mosaic = mosaic_of(
            in_scene,
            state,
            rate,
            seed=seed,
            first=first,
            frames=frames,
            origin_px=origin_px,
            exposure=k,
        )
        if camera.processing.defect_correction:
            own = shutters_s(camera.wide_range, shutter)[k]
            mosaic = correct_defects(mosaic, camera.sensor, state.chain, own)
        mosaics.append(mosaic)
    return merge(mosaics, camera.wide_range, camera.sensor, state.chain, shutter)


def mosaic_of(
    in_scene: CameraInScene,
    state: State,
    rate: Image,
    *,
    seed: int,
    first: int = 0,
    frames: int = 1,
    origin_px: tuple[int, int] = (0, 0),
    exposure: int = 0,
) -> NDArray[np.uint16]:
    """Raw mosaics (frames, rows, columns) [DN] of one picture of light.

    Parameters
    ----------
    exposure
        Which of the exposures of a wide range, 0 the longest.
    """
    wide = in_scene.camera.wide_range
    return expose(
        exposure_light(rate, exposure),
        shutters_s(wide, state.exposure.shutter_s)[exposure],
        in_scene.camera.sensor,
        state.chain,
        seed=seed,
        frame=first + exposure * _EXPOSURE_STRIDE,
        frames=frames,
        origin_px=origin_px,
        pixel_law=pixel_law(wide, full_well_e(in_scene.camera.sensor, state.chain)),
        piece=in_scene.switches.sensor_piece,
    )
