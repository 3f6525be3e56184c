"""The camera from light to eight bits, in order; every intermediate can be looked at."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import cv2
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
from simulator.camera.sensor import expose
from simulator.camera.sensor_readout import full_well_e, without_dark_level, without_temporal_noise
from simulator.camera.wide_range import (
    exposure_light,
    merge,
    pixel_law,
    saturation,
    shutters_s,
    top_level,
)
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

SHIFT_PX = 31
"""Side of the square over which the shift of the mean by noise is found [px]."""
PROBE = 61
"""Step between the pixels by which light is told from other light in the same array [px]."""
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
        step = steady_planes if age == 0 else partial(next_planes, memory=memory)
        memory = step(
            in_scene,
            state,
            rate,
            seed=seed,
            first=first + left * _FRAME_STRIDE,
            frames=frames,
            origin_px=origin_px,
        )
        if left < keep:
            out.append(shown(in_scene, state, memory))
    return np.stack(out)


def steady_planes(
    in_scene: CameraInScene,
    state: State,
    rate: Image,
    *,
    seed: int,
    first: int = 0,
    frames: int = 1,
    origin_px: tuple[int, int] = (0, 0),
) -> Planes:
    """A picture of light through noise and processing, after a long look at the same light.

    The recursion y' = (1 - a) x + a y of temporal noise reduction with a share a leaves
    (1 - a) / (1 + a) of the variance of a frame, and all of its mean. So a frame's own noise is
    scaled by the root of that about the planes without temporal noise, shifted by as much as noise
    shifts the mean on the curves (found by a wide mean).

    Parameters
    ----------
    rate
        Light of the oldest frame (rows, columns, 3) [e-/s per pixel].

    References
    ----------
    Steady state of a first-order recursive filter fed with white noise (any textbook of signal
    processing).
    """
    settings, noise = in_scene.camera.processing, _expected_noise(in_scene, state)
    planes = _developed(
        in_scene, state, rate, seed=seed, first=first, frames=frames, origin_px=origin_px
    )
    own = reduce_noise(planes, noise, settings)
    share = settings.temporal_noise_reduction
    if share <= 0.0:
        return own
    calm = _calm_planes(in_scene, state, rate, origin_px, noise)
    left = math.sqrt((1.0 - share) / (1.0 + share))

    def settled(noisy: Image | None, mean: Image | None) -> Image | None:
        if noisy is None or mean is None:
            return None
        return np.stack([_drawn_in(plane, mean[0], left) for plane in noisy])

    luma = settled(own.luma, calm.luma)
    assert luma is not None
    return Planes(luma, settled(own.blue, calm.blue), settled(own.red, calm.red))


def _calm_planes(
    in_scene: CameraInScene,
    state: State,
    rate: Image,
    origin_px: tuple[int, int],
    noise: Image,
) -> Planes:
    """Reduced planes without temporal noise; the last ones are kept, for repetitions."""
    few = rate[::PROBE, ::PROBE].copy()
    kept = in_scene.__dict__.get("_calm")
    if kept is not None:
        of_rate, of_state, at, probe, planes = kept
        same = of_rate is rate and of_state is state and at == origin_px
        if same and np.array_equal(probe, few):
            return planes
    quiet, still = _without_temporal_noise(in_scene, state)
    raw = _developed(quiet, still, rate, seed=0, first=0, frames=1, origin_px=origin_px)
    planes = reduce_noise(raw, noise, in_scene.camera.processing)
    in_scene.__dict__["_calm"] = (rate, state, origin_px, few, planes)
    return planes


def _drawn_in(noisy: Image, calm: Image, left: float) -> Image:
    """A plane whose difference from a calm one, less its wide mean, is scaled by `left`."""
    side = (min(SHIFT_PX, noisy.shape[1]), min(SHIFT_PX, noisy.shape[0]))
    shift = cv2.blur(cv2.subtract(noisy, calm), side, borderType=cv2.BORDER_REFLECT)
    return np.asarray(cv2.addWeighted(cv2.add(calm, shift), 1.0 - left, noisy, left, 0.0))


def _without_temporal_noise(in_scene: CameraInScene, state: State) -> tuple[CameraInScene, State]:
    """The same camera without temporal noise, its numbers as fine as 16 bits hold."""
    fine = float(2 ** (16 - in_scene.camera.sensor.bit_depth))
    chain = replace(
        state.chain,
        dn_per_e=state.chain.dn_per_e * fine,
        black_dn=state.chain.black_dn * fine,
        white_dn=state.chain.white_dn * fine,
    )
    return in_scene.with_switches(temporal_noise=False), replace(state, chain=chain)


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
        full = saturation(camera.sensor, state.chain)
        return develop(mosaic, chain, state.colour, tone, origin_px, full)
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
    wide, sensor = in_scene.camera.wide_range, in_scene.camera.sensor
    if not in_scene.switches.temporal_noise:
        sensor = without_temporal_noise(sensor)
    return expose(
        exposure_light(rate, exposure),
        shutters_s(wide, state.exposure.shutter_s)[exposure],
        sensor,
        state.chain,
        seed=seed,
        frame=first + exposure * _EXPOSURE_STRIDE,
        frames=frames,
        origin_px=origin_px,
        pixel_law=pixel_law(wide, full_well_e(in_scene.camera.sensor, state.chain)),
        photon_noise=in_scene.switches.temporal_noise,
        piece=in_scene.switches.sensor_piece,
    )
