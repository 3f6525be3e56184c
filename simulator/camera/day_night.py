"""Day or night: what the camera itself believes the light to be, and what it then does."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from simulator.camera.model import DayNight
from simulator.camera.response import coefficients
from simulator.camera.rig import REFERENCE_LIGHT, Mode, Rig
from simulator.light.spectra import spectrum
from simulator.units import WAVELENGTH_NM, Image

REFERENCE_REFLECTANCE = 0.18


class ModeChoice(NamedTuple):
    """The mode, and the illuminance the camera estimated from its own signal [lx]."""

    mode: Mode
    estimated_lux: float


def estimated_illuminance(rig: Rig, metered_day: Image) -> float:
    """Illuminance that would give this mean green signal on an 18 % grey scene in daylight [lx].

    This is how a camera without a light sensor judges the light: it knows only its own signal,
    shutter and gain. Infrared does not count, since the filter is in when it looks.
    """
    grey = np.full_like(WAVELENGTH_NM, REFERENCE_REFLECTANCE)
    one_lux = coefficients(
        spectrum(REFERENCE_LIGHT).power[None],
        grey[None],
        rig.response("day"),
        rig.pitch_m**2,
    )
    return float(metered_day[:, :, 1].mean() / (one_lux[0, 0, 1] * rig.image_factor))


def choose_mode(settings: DayNight, estimated_lux: float, before: Mode = "day") -> Mode:
    """Mode after the thresholds; between the two the camera stays as it was before."""
    if settings.mode != "auto":
        return settings.mode
    if estimated_lux < settings.to_night_lux:
        return "night"
    if estimated_lux > settings.to_day_lux:
        return "day"
    return before
