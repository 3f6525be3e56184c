"""The camera from light to eight bits, in order; every intermediate can be looked at."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simulator.camera.day_night import choose_mode, estimated_illuminance
from simulator.camera.exposure import ExposureState, settle
from simulator.camera.light_field import Light, frame_series, meter_light
from simulator.camera.processing import (
    ColourPath,
    Planes,
    develop,
    finish,
    follow,
    noise_table,
    reduce_noise,
)
from simulator.camera.rig import Mode, Rig
from simulator.camera.sensor import Readout, expose, readout, without_dark_level
from simulator.errors import NoLightError
from simulator.units import FloatArray, Image

HISTORY_LEFT = 0.1
"""Temporal noise reduction is run over as many frames as leave this share of the oldest."""
MAX_HISTORY = 6
BALANCE_LIMITS = (0.4, 2.5)
"""Range of the automatic white balance about daylight (assumed)."""
_FRAME_STRIDE = 1_000_000


@dataclass(frozen=True)
class State:
    """What the camera settled on before a scene."""

    mode: Mode
    estimated_lux: float
    exposure: ExposureState
    chain: Readout
    colour: ColourPath


def settle_camera(rig: Rig, mode: Mode | None = None) -> State:
    """Mode, exposure and white balance of the camera at rest before the scene.

    Parameters
    ----------
    mode
        Force a mode; otherwise the profile's thresholds decide.

    Raises
    ------
    NoLightError
        If no light at all reaches the sensor.
    """
    metered = meter_light(rig, "day")
    lux = estimated_illuminance(rig, metered)
    chosen = mode or choose_mode(rig.camera.day_night, lux)
    if chosen == "night":
        metered = meter_light(rig, "night")
    if not np.any(metered > 0.0):
        raise NoLightError(
            "No light at all reaches the sensor: there is nothing to expose.",
            key="natural_light.illuminance_lux",
            given=float(sum(light.amount for light in rig.world.lights)),
            allowed="some light that the sensor can see in this mode",
            mend="give the natural light a value above 0, or switch on a lamp or illuminator",
        )
    colour = _colour_path(rig, metered, chosen)
    signal = _signal(metered, colour)
    exposure = settle(rig.camera.exposure, signal, rig.camera.sensor.full_well_e)
    return State(chosen, lux, exposure, readout(rig.camera.sensor, exposure.gain_db), colour)


def _signal(metered: Image, colour: ColourPath) -> Image:
    """What the exposure loop looks at: balanced luma [e-/s]."""
    weights = np.array([0.25, 0.5, 0.25]) if colour.mono else np.array([0.2126, 0.7152, 0.0722])
    return np.asarray(metered @ (weights * colour.balance), dtype=np.float32)


def _colour_path(rig: Rig, metered: Image, mode: Mode) -> ColourPath:
    """White balance from the picture itself, and the colour matrix.

    The smallest gain is one, so that a saturated pixel is white in every channel.
    """
    means = metered.reshape(-1, 3).mean(axis=0).astype(np.float64)
    if mode == "night":
        balance = means.max() / np.maximum(means, 1e-12)
        balance = np.minimum(balance, 4.0)
        return ColourPath(balance / balance.min(), np.eye(3), True)
    daylight, matrix = rig.daylight_colour
    balance = daylight.astype(np.float64)
    if rig.camera.processing.white_balance == "automatic":
        grey_world = means[1] / np.maximum(means, 1e-12)
        balance = np.clip(grey_world, daylight * BALANCE_LIMITS[0], daylight * BALANCE_LIMITS[1])
    return ColourPath(balance / balance.min(), matrix, False)


def history_length(share: float) -> int:
    """Frames before the shown one that temporal noise reduction still remembers."""
    if share <= 0.0:
        return 0
    return min(MAX_HISTORY, math.ceil(math.log(HISTORY_LEFT) / math.log(share)))


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
