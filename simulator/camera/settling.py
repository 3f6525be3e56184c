"""What the camera settles on before a scene: mode, exposure, white balance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.camera.day_night import choose_mode, estimated_illuminance
from simulator.camera.exposure import ExposureState, settle
from simulator.camera.light_field import meter_light
from simulator.camera.processing import ColourPath
from simulator.camera.rig import Mode, Rig
from simulator.camera.sensor import Readout, readout
from simulator.errors import NoLightError
from simulator.units import Image

BALANCE_LIMITS = (0.4, 2.5)
"""Range of the automatic white balance about daylight (assumed)."""


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
