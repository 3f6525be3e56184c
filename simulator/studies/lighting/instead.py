"""What may do the task instead of a lamp: a faster lens, another camera."""

from __future__ import annotations

import math
from collections.abc import Sequence

from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.files import bundled_names
from simulator.messages import Message
from simulator.studies.compare import framed


def faster_lens(camera: Camera) -> Camera:
    """The camera with its lens one stop faster, all else of the lens the same."""
    lens = camera.model.lens
    stop = math.sqrt(2.0)
    keys = ("f_number", "f_number_wide", "f_number_tele")
    return camera.set({f"lens.{key}": getattr(lens, key) / stop for key in keys})


def refitted(other: Camera, camera: Camera) -> Camera:
    """Another camera with the framing of this one.

    Raises
    ------
    InputError
        If its lens does not reach it.
    """
    return other.set({"lens.focal_length_mm": framed(other, camera), "lens.f_number": None})


def _light_of(camera: Camera) -> float:
    return camera.model.light_per_pixel_um2


def other_cameras(
    camera: Camera, names: Sequence[str] | None
) -> tuple[list[Camera], list[Message]]:
    """Cameras to stand beside, framed alike, and what was left out and why."""
    out, left = [], []
    if names is not None:
        for name in names:
            other = Camera.load(name)
            try:
                out.append(refitted(other, camera))
            except InputError:  # a lens that does not reach the framing
                left.append(Message("lighting-condition.framing", {"camera": name}))
        return out, left
    for name in bundled_names("cameras"):
        other = Camera.load(name)
        if name == camera.name or other.model.sensor.width_px < camera.model.sensor.width_px:
            continue
        try:
            out.append(refitted(other, camera))
        except InputError:
            continue  # a lens that does not reach the framing
    best = max(out, key=_light_of, default=None)
    if best is None or _light_of(best) <= _light_of(camera):
        return [], [Message("lighting-condition.no-brighter-camera")]
    return [best], left
