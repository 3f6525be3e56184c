"""The sky of a moment or an hour put outside: over the open, or behind the openings of an interior.

Natural light of a scene is the sky over it, but for interiors: there it is what lamps give (a
lamp's spectrum), or the little that a closed room keeps. A sky never takes the place of that; it
stands behind doors and windows instead, whose luminance is that of an even sky, E / pi.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from typing import Any

import numpy as np

from simulator.dotted import Change
from simulator.errors import InputError
from simulator.light.spectrum_kinds import sky_name
from simulator.scene.build_lights import natural_state
from simulator.scene.load import Scene
from simulator.scene.model import SceneModel
from simulator.scene.model_bodies import Room
from simulator.scene.model_light import NaturalLight
from simulator.scene.model_things import Opening

LEAST_LUX = 1e-5
"""Darkest sky behind an opening [lx]."""
DAY_LUX, TWILIGHT_LUX = 100.0, 1.0
"""Sky from which on it is daylight, and twilight (chosen by us)."""


def indoors(model: SceneModel) -> bool:
    """Whether the natural light of a scene is that of a room: lamps, or a room about the lens."""
    natural = model.natural_light
    by_lamps = natural.illuminance_lux is not None and sky_name(natural.spectrum) is None
    return by_lamps or any(_holds(room, model.station.position_m) for room in model.room)


def _holds(room: Room, point_m: tuple[float, float, float]) -> bool:
    """Whether a point lies inside a room."""
    x, y = point_m[0] - room.position_m[0], point_m[1] - room.position_m[1]
    turn = math.radians(room.facing_deg)
    across, deep = x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)
    up = point_m[2] - room.position_m[2]
    inside = abs(across) <= room.width_m / 2.0 and abs(deep) <= room.depth_m / 2.0
    return inside and 0.0 <= up <= room.height_m


def under_sky(scene: Scene, natural: Mapping[str, Any]) -> Scene:
    """The scene with another sky outside.

    Parameters
    ----------
    natural
        The table `natural_light` of that sky, as a scene file has it.

    Returns
    -------
    In the open with this natural light; an interior with its own light and this sky behind its
    openings.

    Raises
    ------
    InputError
        For values that are at fault.
    """
    if not indoors(scene.model):
        return scene.set({"natural_light": dict(natural)})
    sky = scene.set({"natural_light": dict(natural)}).model.natural_light
    return scene.set(_behind_openings(scene.model, sky))


def _behind_openings(model: SceneModel, sky: NaturalLight) -> list[Change]:
    lux = sky.illuminance_lux
    if lux is None:
        lux = float(natural_state(sky).illuminance_lux)
        spectrum = (
            "daylight" if lux >= DAY_LUX else "twilight" if lux >= TWILIGHT_LUX else "night-sky"
        )
    else:
        spectrum = sky.spectrum
    changes = []
    for surface in model.surface:
        if isinstance(surface, Opening):
            place = f"surface.{surface.name}"
            for key in ("luminance_cd_m2", "luminance_ratio"):
                if getattr(surface, key) is not None:
                    changes.append(Change(f"{place}.{key}", None))
            changes.append(Change(f"{place}.illuminance_lux", max(LEAST_LUX, lux)))
            changes.append(Change(f"{place}.spectrum", spectrum))
    return changes


def at_moment(
    scene: Scene,
    when: str,
    *,
    place: tuple[float, float] | None = None,
    zone: dt.tzinfo | None = None,
) -> Scene:
    """The scene under the sky of a date and time.

    Parameters
    ----------
    when
        Local date and time, such as "2026-11-15 18:00".
    place
        Latitude and longitude [deg]; the scene's if not given.
    zone
        Whose clock; the scene's offset, or solar time to the whole hour, if not given.

    Returns
    -------
    As `under_sky`; cloud, skyglow and bearing of the scene stay.

    Raises
    ------
    InputError
        For a text of another form, or a scene without a place where none is given.
    """
    match = re.fullmatch(r"\s*(\d{4}-\d{2}-\d{2})[ T](\d{1,2}:\d{2}(?::\d{2})?)\s*", when)
    if match is None:
        raise InputError(
            "This is not a date and time.", argument="at", given=when,
            allowed="YYYY-MM-DD HH:MM", fix='write it as "2026-11-15 18:00"',
        )  # fmt: skip
    now = scene.model.natural_light
    if place is None and (now.latitude_deg is None or now.longitude_deg is None):
        raise InputError(
            "The scene does not say where on earth it is.", argument="at", given=when,
            allowed="a scene with latitude_deg and longitude_deg, or a place",
            fix="give --place LAT,LON",
        )  # fmt: skip
    latitude, longitude = place or (now.latitude_deg, now.longitude_deg)
    natural: dict[str, Any] = {
        "date": match[1], "time": match[2], "latitude_deg": latitude, "longitude_deg": longitude,
        "cloud_cover": now.cloud_cover, "skyglow_lux": now.skyglow_lux,
        "skyglow_spectrum": now.skyglow_spectrum,
    }  # fmt: skip
    if now.camera_bearing_deg is not None:
        natural["camera_bearing_deg"] = now.camera_bearing_deg
    if zone is not None:
        natural["utc_offset_h"] = _offset_h(match[1], match[2], zone)
    elif place is None and now.utc_offset_h is not None:
        natural["utc_offset_h"] = now.utc_offset_h
    return under_sky(scene, natural)


def _offset_h(day: str, clock: str, zone: dt.tzinfo) -> float:
    try:
        padded = clock if clock[1] != ":" else f"0{clock}"
        moment = dt.datetime.combine(
            dt.date.fromisoformat(day), dt.time.fromisoformat(padded), zone
        )
    except ValueError:
        raise InputError(
            "There is no such date or time.", argument="at", given=f"{day} {clock}",
            allowed="a day of the calendar and a time of the day",
        ) from None  # fmt: skip
    offset = moment.utcoffset()
    return float(np.round((offset or dt.timedelta()) / dt.timedelta(hours=1), 4))
