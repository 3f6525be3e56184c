"""What can be moved: the sliders of a scene and camera, in four groups.

A control names what it sets by a key of the files or a short name, in the words of the trade; its
range is what is sensible at a table, not all that a file allows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from typing import Any

from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.scene.model import SceneModel
from simulator.scene.model_light import Illuminator, Lamp
from simulator.scene.model_things import Opening
from simulator.studies.placing import judged_entry

GROUPS = {
    "light": "Light",
    "place": "Place",
    "target": "Target",
    "camera": "Camera",
}
"""Groups in their order, and what they are called."""


@dataclass(frozen=True)
class Control:
    """Something that can be moved or chosen.

    Attributes
    ----------
    key
        Key or short name that is set.
    group
        One of `GROUPS`.
    label, unit
        What it is called.
    value
        What it is now; None where the camera finds it by itself.
    low, high
        Ends of its slider.
    scale
        "even", or "ratio" for a slider whose equal steps are equal ratios.
    choices
        What may be chosen instead of a slider.
    free
        What is said where the camera finds the value by itself; "" if it cannot.
    """

    key: str
    group: str
    label: str
    unit: str
    value: float | str | bool | None
    low: float = 0.0
    high: float = 1.0
    scale: str = "even"
    choices: tuple[str, ...] = ()
    free: str = ""


def controls(
    scene: Scene, camera: Camera, written: tuple[Scene, Camera] | None = None
) -> list[Control]:
    """The controls of a scene and camera, group by group.

    Parameters
    ----------
    scene, camera
        With the changes made.
    written
        Without them: its sliders' ends stay while values move, farther only where a value lies
        beyond.
    """
    found = [*_light(scene.model), *_place(scene.model), *_target(scene.model), *_camera(camera)]
    if written is None:
        return found
    ends = {one.key: one for one in controls(*written)}
    return [_held(one, ends[one.key]) if one.key in ends else one for one in found]


def _held(one: Control, before: Control) -> Control:
    """A control with the ends that it had before, so far as its value lies between them."""
    low, high = before.low, before.high
    if isinstance(one.value, float | int) and (one.value > 0.0 or one.scale == "even"):
        low, high = min(low, one.value), max(high, one.value)
    return replace(one, low=low, high=high) if one.scale == before.scale else one


def table(shown: list[Control]) -> list[dict[str, Any]]:
    """Controls as plain rows."""
    return [asdict(one) for one in shown]


def amounts(scene: SceneModel) -> dict[str, str]:
    """Keys that only dim a light, and the owner of that light (`scene.relit`)."""
    return {
        f"{table}.{entry.name}.{strength[0]}": entry.name
        for table, entry in _lights(scene)
        if entry.on and (strength := _strength(entry)) is not None
    }


def _lights(scene: SceneModel) -> list[tuple[str, Lamp | Illuminator]]:
    """Lamps and illuminators with the table of the file that they stand in."""
    return [
        *(("lamp", one) for one in scene.lamp),
        *(("illuminator", one) for one in scene.illuminator),
    ]


def _light(scene: SceneModel) -> Iterator[Control]:
    natural = scene.natural_light
    lux = natural.illuminance_lux if natural is not None else None
    yield Control(
        "lux", "light", "Natural light on level ground", "lx", lux, 0.001, 100_000.0,
        "ratio", free="from date, time and weather",
    )  # fmt: skip
    for table, entry in _lights(scene):
        own, name = f"{table}.{entry.name}", _named(entry.name)
        yield Control(f"{own}.on", "light", f"{name} on", "", entry.on)
        if (strength := _strength(entry)) is not None:
            key, value, unit = strength
            yield Control(
                f"{own}.{key}", "light", name, unit, value, *_around(value), scale="ratio"
            )
    for opening in scene.surface:
        if isinstance(opening, Opening) and opening.luminance_ratio is not None:
            yield Control(
                f"surface.{opening.name}.luminance_ratio", "light",
                f"{_named(opening.name)}, brighter than the target by", "times",
                opening.luminance_ratio, 1.0, 1000.0, "ratio",
            )  # fmt: skip


def _named(name: str) -> str:
    return name[:1].upper() + name[1:]


def _around(value: float) -> tuple[float, float]:
    """Two decades about a value."""
    return _two(value / 30.0), _two(value * 30.0)


def _two(value: float) -> float:
    """A value to two digits."""
    if value <= 0.0:
        return 0.0
    return float(f"{value:.1e}")


def _strength(entry: Lamp | Illuminator) -> tuple[str, float, str] | None:
    """The key, value and unit that say how strong a light is; None where no one number does."""
    for key, unit in (
        ("radiant_intensity_w_per_sr", "W/sr"), ("intensity_cd", "cd"), ("luminous_flux_lm", "lm"),
    ):  # fmt: skip
        value = getattr(entry, key, None)
        if value:
            return key, float(value), unit
    return None


def _place(scene: SceneModel) -> Iterator[Control]:
    station = scene.station
    entry = judged_entry(scene)
    place = getattr(entry, "position_m", None)
    if place is not None:
        foot = station.position_m[:2]
        distance = math.dist(place[:2], foot)
        yield Control("distance", "place", "Distance to the target", "m", round(distance, 2),
                      _two(max(0.3, distance / 5.0)), _two(distance * 4.0), "ratio")  # fmt: skip
    height = station.position_m[2]
    yield Control("height", "place", "Height of the camera", "m", height, 0.2, max(12.0, height))
    yield Control("focus", "place", "Focused at", "m", station.focus_m, 0.3, 200.0, "ratio",
                  free="on the target")  # fmt: skip


def _target(scene: SceneModel) -> Iterator[Control]:
    entry = judged_entry(scene)
    name = entry.name
    if getattr(entry, "text", None) is not None:
        yield Control("text", "target", "Text", "", entry.text)  # type: ignore[union-attr]
    if getattr(entry, "carries", None) is None and hasattr(entry, "speed_kmh"):
        yield Control("speed", "target", "Speed", "km/h", entry.speed_kmh, 0.0, 130.0)
    if hasattr(entry, "facing_deg"):
        yield Control(f"target.{name}.facing_deg", "target", "Turned from the camera", "°",
                      entry.facing_deg, -80.0, 80.0)  # fmt: skip
    yield Control("probability", "target", "Target probability", "",
                  scene.task.wanted_probability, 0.5, 0.99)  # fmt: skip


def _camera(camera: Camera) -> Iterator[Control]:
    model = camera.model
    lens, exposure = model.lens, model.exposure
    focal = lens.focal_length_mm
    yield Control("lens", "camera", "Focal length", "mm", focal, _two(focal / 4.0),
                  _two(focal * 6.0), "ratio")  # fmt: skip
    yield Control("iris", "camera", "Aperture, f-number", "", lens.f_number, 1.0, 16.0, "ratio")
    yield Control("shutter", "camera", "Shutter", "s", exposure.shutter_s,
                  exposure.shutter_min_s, exposure.shutter_max_s, "ratio",
                  free="chosen by the camera")  # fmt: skip
    yield Control("gain", "camera", "Maximum gain", "dB", exposure.gain_max_db, 0.0, 60.0)
    yield Control("exposure.metering", "camera", "Metering", "", exposure.metering,
                  choices=("average", "centre", "spot", "backlight", "highlight"))  # fmt: skip
    yield Control("mode", "camera", "Day or night", "", model.day_night.mode,
                  choices=("auto", "day", "night"))  # fmt: skip
    yield Control("processing.noise_reduction", "camera", "Noise reduction", "",
                  model.processing.noise_reduction)  # fmt: skip
    yield Control("processing.temporal_noise_reduction", "camera", "Temporal noise reduction",
                  "", model.processing.temporal_noise_reduction, 0.0, 0.9)  # fmt: skip
    yield Control("processing.sharpening", "camera", "Sharpening", "", model.processing.sharpening)
