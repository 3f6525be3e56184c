"""What a picture may ask of the computer; said before the work, with the reason."""

from __future__ import annotations

import math
import os
from typing import Final

from simulator.camera.lens import defocus_blur_m
from simulator.camera.model import CameraModel
from simulator.errors import InputError

BYTES_PER_PIXEL: Final = 400
"""Memory that a prediction takes for each pixel at its widest place [byte]: some thirty pictures of
three channels in single precision (estimated from the arrays that live together)."""
MOST_OF_MEMORY: Final = 0.8
"""Share of the free memory that may be taken (chosen by us)."""
MOST_BLUR: Final = 0.25
"""Largest blur disc over the picture's height (chosen by us): beyond, every point of the view is a
patch of a quarter of the picture, and no task is left; time and memory grow with its square."""
MOST_SMEAR: Final = 2.0
"""Longest smear of a moving thing over the picture's diagonal (chosen by us): beyond, it has
crossed the whole view within one exposure and is nowhere to be seen."""


def free_memory() -> float:
    """Memory that is free [byte]; infinite where the system does not say."""
    try:
        with open("/proc/meminfo", encoding="ascii") as file:  # noqa: PTH123  no file of a user's
            for line in file:
                if line.startswith("MemAvailable:"):
                    return 1024.0 * float(line.split()[1])
        return float(os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE"))
    except (OSError, ValueError, AttributeError):
        return math.inf


def check_memory(camera: CameraModel, free: float | None = None) -> None:
    """Refuse a sensor whose picture does not fit into the memory.

    Parameters
    ----------
    camera
        The camera.
    free
        Free memory [byte]; what the system says if not given.

    Raises
    ------
    InputError
        With the memory needed and the memory free.
    """
    pixels = camera.sensor.width_px * camera.sensor.height_px
    needed = pixels * BYTES_PER_PIXEL
    free = free_memory() if free is None else free
    if needed > MOST_OF_MEMORY * free:
        raise InputError(
            "The picture of this sensor does not fit into the memory of this computer.",
            key="sensor.width_px",
            given=f"{camera.sensor.width_px} x {camera.sensor.height_px} pixels, some"
            f" {needed / 1e9:.1f} GB",
            allowed=f"{MOST_OF_MEMORY * free / 1e9:.1f} GB,"
            f" {MOST_OF_MEMORY * free / BYTES_PER_PIXEL / 1e6:.0f} million pixels",
            fix="set sensor.width_px and sensor.height_px smaller, or use a larger computer",
        )


def check_blur(camera: CameraModel) -> None:
    """Refuse a focus so near that whatever is far becomes a patch.

    Parameters
    ----------
    camera
        The camera as it is focused.

    Raises
    ------
    InputError
        With the disc of a far point.
    """
    lens, sensor = camera.lens, camera.sensor
    if lens.focus_m is None:  # it is focused on what it looks at, in its scene
        return
    disc = float(
        defocus_blur_m(
            lens.focal_length_mm * 1e-3, lens.f_number, lens.focus_m, math.inf
        )
    )  # fmt: skip
    disc_px = disc / (sensor.pixel_pitch_um * 1e-6)
    if not disc_px <= MOST_BLUR * sensor.height_px:
        raise InputError(
            "The lens is focused so near that far points become patches as wide as the view.",
            key="lens.focus_m",
            given=f"{lens.focus_m:g} m: a far point is {disc_px:.0f} px wide",
            allowed=f"at most a quarter of the picture's height, {sensor.height_px // 4} px",
            fix="focus farther (station.focus_m or lens.focus_m), or close the iris"
            " (lens.f_number)",
        )


def check_smear(smear_px: float, camera: CameraModel) -> None:
    """Refuse a thing that crosses the whole view while the shutter is open.

    Parameters
    ----------
    smear_px
        Length of its smear [px].
    camera
        The camera.

    Raises
    ------
    InputError
        With the length of the smear.
    """
    diagonal = math.hypot(camera.sensor.width_px, camera.sensor.height_px)
    if not smear_px <= MOST_SMEAR * diagonal:
        raise InputError(
            "Something crosses the whole view while the shutter is open.",
            key="exposure.shutter_max_s",
            given=f"motion blur of {smear_px:.0f} px",
            allowed=f"at most twice the picture's diagonal, {MOST_SMEAR * diagonal:.0f} px",
            fix="set a shorter exposure.shutter_max_s or a lower speed_kmh",
        )
