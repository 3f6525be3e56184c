"""Dynamic range by the idea of ISO 15739: from saturation down to where signal equals noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.bench.steps import bench_in_scene, fixed_state
from simulator.camera.auto_exposure import State
from simulator.camera.in_scene import CameraInScene
from simulator.camera.model import CameraModel
from simulator.camera.pipeline import merged_light, mosaic_of
from simulator.camera.sensor_readout import without_dark_level
from simulator.domain import require
from simulator.errors import InputError
from simulator.units import FloatArray, ratio_to_db

STEPS_PER_DECADE = 12
SIDE_PX = 24
FRAMES = 24
PLATEAU = 0.98
"""Share of the largest output from which a step counts as saturated."""


@dataclass(frozen=True)
class DynamicRange:
    """Measured on grey steps; light in electrons a pixel of the longest exposure.

    Attributes
    ----------
    light_e
        Light of the steps [e-], shape (n,).
    output
        Linear output in units of white, shape (n,).
    snr
        Signal-to-noise ratio by the incremental gain, shape (n,).
    saturation_e
        Least light that gives the largest output [e-].
    least_e
        Light at which the signal-to-noise ratio is one [e-].
    claimed_db
        What the profile claims [dB]; None if nothing.

    Examples
    --------
    >>> steps = np.array([1.0, 10.0])
    >>> DynamicRange(steps, steps, steps, 10_000.0, 10.0, claimed_db=None).measured_db
    60.0
    """

    light_e: FloatArray
    output: FloatArray
    snr: FloatArray
    saturation_e: float
    least_e: float
    """Light at which the signal-to-noise ratio is one [e-]."""
    claimed_db: float | None

    @property
    def measured_db(self) -> float:
        """20 log10 of saturation over least light [dB]."""
        return ratio_to_db(self.saturation_e / self.least_e)

    @property
    def largest_drop_db(self) -> float:
        """How far the signal-to-noise ratio falls below its best as light grows, before
        saturation [dB]: the step of noise where one exposure gives way to the next."""
        # in the dark the slope of the output is uncertain, near saturation it is the plateau's
        usable = (self.light_e > 10.0 * self.least_e) & (self.light_e < 0.6 * self.saturation_e)
        used = self.snr[usable]
        return float(np.max(20.0 * np.log10(np.maximum.accumulate(used) / used)))


def linear_output(
    in_scene: CameraInScene, state: State, rate_e_s: float, *, seed: int, frames: int = FRAMES
) -> FloatArray:
    """Linear output (frames, `SIDE_PX`, `SIDE_PX`) of even light, in units of white."""
    rate = np.full((SIDE_PX, SIDE_PX, 3), rate_e_s, np.float32)
    if state.tones is not None:
        return np.asarray(merged_light(in_scene, state, rate, seed=seed, frames=frames), np.float64)
    sensor = in_scene.camera.sensor
    mosaic = mosaic_of(in_scene, state, rate, seed=seed, frames=frames).astype(np.float64)
    chain = without_dark_level(sensor, state.chain, state.exposure.shutter_s)
    return (mosaic - chain.black_dn) / (chain.white_dn - chain.black_dn)


def measure_dynamic_range(
    camera: CameraModel,
    *,
    shutter_s: float = 0.01,
    gain_db: float = 0.0,
    seed: int = 0,
    frames: int = FRAMES,
) -> DynamicRange:
    """Dynamic range of a camera at one exposure, on rendered grey steps.

    DR = L_sat / L(SNR = 1): L_sat the least light that gives the largest output, noise the temporal
    one of a pixel over frames, and SNR = L g / sigma with the incremental gain g = dO / dL of the
    linear output, so that pressing highlights together does not hide their noise. The standard
    measures the finished picture; here the linear output before noise reduction is taken (merged,
    if there are several exposures), as figures of sensors are.

    Parameters
    ----------
    camera
        Model of the camera.
    shutter_s
        Exposure time, of the longest exposure if there are several [s], above 0.
    gain_db
        Gain [dB].
    seed
        Of the noise.
    frames
        Frames a step, 2 or more.

    Returns
    -------
    DynamicRange
        The steps, and the range [dB].

    Raises
    ------
    InputError
        If no step reaches a signal-to-noise ratio of one; for a shutter or frames out of range.

    References
    ----------
    ISO 15739 (from memory).

    Examples
    --------
    >>> from simulator import Camera
    >>> small = {"sensor.width_px": 64, "sensor.height_px": 64}
    >>> camera = Camera.load("fixed-2mp-lowlight").set(small).model
    >>> found = measure_dynamic_range(camera)
    >>> 65.0 < found.measured_db < 80.0  # 12 000 e- of full well over some 3 e- of noise
    True
    """
    require("shutter_s", shutter_s, above=0.0, unit="s")
    require("frames", frames, least=2)
    in_scene = bench_in_scene(camera)
    state = fixed_state(camera, shutter_s, gain_db)
    low, high = _reach(in_scene, state, shutter_s)
    count = int(np.ceil(STEPS_PER_DECADE * np.log10(high / low))) + 1
    light = np.geomspace(low, high, count)
    mean, noise = np.empty(count), np.empty(count)
    for k, electrons in enumerate(light):
        output = linear_output(in_scene, state, electrons / shutter_s, seed=seed + k, frames=frames)
        mean[k] = output.mean()
        noise[k] = np.sqrt(output.var(axis=0, ddof=1).mean())
    saturated = int(np.flatnonzero(mean >= PLATEAU * mean[-1])[0])
    saturation = light[saturated]
    if saturated > 0:
        # where the line through the last step below meets the plateau
        saturation = light[saturated - 1] * mean[-1] / mean[saturated - 1]
    gain = np.gradient(mean, light)
    with np.errstate(divide="ignore", invalid="ignore"):
        snr = np.where(noise > 0.0, light * gain / noise, np.inf)
    below = np.flatnonzero(snr[:saturated] < 1.0)
    if below.size == 0 or below[-1] + 1 >= saturated:
        raise InputError(
            "The signal of this camera never equals its noise below saturation.",
            key="sensor.full_well_e",
            given=camera.sensor.full_well_e,
            allowed="a full well well above the dark noise",
            fix="check full well, read noise and gain",
        )
    i = int(below[-1])
    least = np.exp(np.interp(0.0, np.log(snr[i : i + 2]), np.log(light[i : i + 2])))
    return DynamicRange(
        light, mean, snr, float(saturation), float(least), camera.wide_range.claimed_db
    )


def _reach(in_scene: CameraInScene, state: State, shutter_s: float) -> tuple[float, float]:
    """Steps reach from a tenth of an electron to twice what saturates everything [e-]."""
    high = 2.0 * state.chain.white_e
    full = linear_output(in_scene, state, 1e9 / shutter_s, seed=0, frames=2).mean()
    while high < 1e9:
        if (
            linear_output(in_scene, state, high / shutter_s, seed=0, frames=2).mean()
            > PLATEAU * full
        ):
            break
        high *= 2.0
    return 0.1, 2.0 * high
