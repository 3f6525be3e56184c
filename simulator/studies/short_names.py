"""Short names in the words of the trade for keys of scene and camera: `shutter=1/500`, `lux=3`.

A short name stands for one key, or for several that belong together, of the scene at hand: `speed`
is that of the task's target, `lamp` the only lamp, `distance` moves the target and the aim.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from simulator.dotted import Change, parse_value
from simulator.errors import InputError

Table = Mapping[str, Any]
"""What a scene file says, checked or not."""


class ShortName(NamedTuple):
    """A short name: the unit of its values, what it stands for, and the changes it makes."""

    name: str
    unit: str
    meaning: str
    changes: Callable[[Table, Change], list[Change]]


def _key(key: str) -> Callable[[Table, Change], list[Change]]:
    return lambda _scene, change: [change._replace(key=key)]


def _target(key: str) -> Callable[[Table, Change], list[Change]]:
    def changes(scene: Table, change: Change) -> list[Change]:
        return [change._replace(key=f"target.{_judged(scene, change)['name']}.{key}")]

    return changes


def _judged(scene: Table, change: Change) -> Table:
    """The entry of the task's target."""
    task, targets = scene.get("task"), scene.get("target")
    wanted = task.get("target") if isinstance(task, Mapping) else None
    for entry in targets if isinstance(targets, list | tuple) else ():
        if isinstance(entry, Mapping) and entry.get("name") == wanted:
            return entry
    raise InputError(
        "The scene's task names no target.", argument=f"set {change.key}", given=change.value,
        fix="name it in task.target",
    )  # fmt: skip


def _number(change: Change) -> float:
    value = parse_value(change.value) if change.text else change.value
    if isinstance(value, bool) or not isinstance(value, int | float) or not value > 0.0:
        raise InputError(
            "This is not a distance.", argument=f"set {change.key}", given=change.value,
            allowed="metres over the ground, above 0", fix="write the number alone, in metres",
        )  # fmt: skip
    return float(value)


def _distance(scene: Table, change: Change) -> list[Change]:
    """The target and the aim, moved along their lines from the point below the lens."""
    entry, ahead = _judged(scene, change), _number(change)
    station = scene["station"]
    foot = station.get("ground_position_m", (0.0, 0.0))
    place = entry.get("position_m")
    if place is None:
        raise InputError(
            "This target has no place of its own.", argument=f"set {change.key}",
            given=change.value, fix="set the place of what carries it",
        )  # fmt: skip
    now = math.dist(place[:2], foot)
    if now == 0.0:
        raise InputError(
            "This target stands below the lens.", argument=f"set {change.key}", given=change.value,
            fix=f"set target.{entry['name']}.position_m",
        )  # fmt: skip

    def moved(point: Any) -> list[float]:
        flat = [f + (float(p) - f) * ahead / now for p, f in zip(point[:2], foot, strict=True)]
        return [*(round(x, 6) for x in flat), float(point[2])]

    return [
        Change(f"target.{entry['name']}.position_m", moved(place)),
        Change("station.aim_m", moved(station["aim_m"])),
    ]


_SKY = ("date", "time", "latitude_deg", "longitude_deg", "utc_offset_h", "camera_bearing_deg",
        "sun_altitude_deg", "moon_altitude_deg", "moon_azimuth_deg", "moon_phase_deg",
        "cloud_cover", "skyglow_lux", "skyglow_spectrum")  # fmt: skip
"""Keys of natural light that an amount of it takes the place of."""


def _lux(scene: Table, change: Change) -> list[Change]:
    """Natural light by amount; a sky by date or altitude goes."""
    natural = scene.get("natural_light")
    now = natural if isinstance(natural, Mapping) else {}
    gone = [] if "illuminance_lux" in now else [key for key in _SKY if key in now]
    return [
        *(Change(f"natural_light.{key}", None) for key in gone),
        change._replace(key="natural_light.illuminance_lux"),
    ]


_AMOUNTS = ("intensity_cd", "luminous_flux_lm", "radiant_intensity_w_per_sr", "dimming")


def _lamp(scene: Table, change: Change) -> list[Change]:
    """Every lamp switched on or off, or how strong the only one is."""
    lamps = [
        (f"{kind}.{entry['name']}", entry)
        for kind in ("lamp", "illuminator")
        for entry in scene.get(kind, ())
    ]
    value = str(change.value).strip().lower()
    if value in ("on", "off", "true", "false"):
        return [Change(f"{place}.on", value in ("on", "true")) for place, _ in lamps]
    if len(lamps) != 1:
        raise InputError(
            "The scene has no lamp." if not lamps else "The scene has several lamps.",
            argument=f"set {change.key}",
            given=change.value,
            allowed="on or off; a number where there is one lamp",
            fix=f"set one of {', '.join(f'{place}.KEY' for place, _ in lamps)}" if lamps else "",
        )
    place, entry = lamps[0]
    amount = next((key for key in _AMOUNTS if key in entry), "radiant_intensity_w_per_sr")
    return [change._replace(key=f"{place}.{amount}")]


SHORT_NAMES = {
    one.name: one
    for one in (
        ShortName("shutter", "s", "shutter held: `exposure.shutter_s`, such as 1/500",
                  _key("exposure.shutter_s")),
        ShortName("gain", "dB", "gain cap: `exposure.gain_max_db`", _key("exposure.gain_max_db")),
        ShortName("lens", "mm", "focal length: `lens.focal_length_mm`",
                  _key("lens.focal_length_mm")),
        ShortName("iris", "", "f-number: `lens.f_number`", _key("lens.f_number")),
        ShortName("focus", "m", "distance in focus: `station.focus_m`", _key("station.focus_m")),
        ShortName("height", "m", "height of the camera: `station.height_m`",
                  _key("station.height_m")),
        ShortName("lux", "lx", "natural light on level ground: `natural_light.illuminance_lux`; a"
                  " sky by date or altitude goes", _lux),
        ShortName("speed", "km/h", "speed of the task's target: `target.NAME.speed_kmh`",
                  _target("speed_kmh")),
        ShortName("distance", "m", "the task's target so far over the ground from the camera, on"
                  " the line it stands on; the aim moves with it", _distance),
        ShortName("text", "", "text of the task's target: `target.NAME.text`", _target("text")),
        ShortName("lamp", "", "every lamp and illuminator `on` or `off`; a number is how strong"
                  " the only one is, in the unit of its file", _lamp),
        ShortName("mode", "", "auto, day or night: `day_night.mode`", _key("day_night.mode")),
        ShortName("probability", "", "target probability: `task.wanted_probability`",
                  _key("task.wanted_probability")),
    )
}  # fmt: skip
"""By name, in the order of the table in docs/short-names.md."""


def unit_of_short(name: str) -> str | None:
    """Unit of the values of a short name; None for a key."""
    return SHORT_NAMES[name].unit if name in SHORT_NAMES else None


def with_full_keys(scene: Table, change: Change) -> list[Change]:
    """The change with full keys; the same where its key is no short name.

    Parameters
    ----------
    scene
        What the scene file says now.

    Raises
    ------
    InputError
        For a value that a short name does not take, or a scene where it stands for nothing.
    """
    short = SHORT_NAMES.get(change.key)
    return [change] if short is None else short.changes(scene, change)
