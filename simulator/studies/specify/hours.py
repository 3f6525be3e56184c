"""The worst hour of a year for a task: the hours that are hard in kind, each looked at.

Darkest, brightest, and the low sun nearest to the line of sight: what lies between them is easier
for one reason or another. Each is looked at with the camera as it is, and the one at which the task
succeeds least often is the hour to specify for.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np

from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.light.natural import natural_illuminance_lux
from simulator.light.sun_moon import sky_position
from simulator.messages import Message
from simulator.scene.load import Scene
from simulator.studies.outside import at_moment
from simulator.studies.quick_look import QuickLook
from simulator.studies.session import open_session

EVERY_DAYS = 3
"""Days between those whose hours are listed: the moon goes through its phases in ten of them."""
LOW_DEG = (3.0, 20.0)
"""Altitudes of a sun that may shine into the lens [deg] (chosen by us)."""
NEAR_DEG = 40.0
"""Bearing from the line of sight within which it counts [deg] (chosen by us)."""
HourName = Literal["darkest", "low-sun", "brightest"]


class Hour(NamedTuple):
    """An hour that is hard in kind: local date and time, and level ground's light [lx]."""

    name: HourName
    when: str
    lux: float


class Looked(NamedTuple):
    """An hour and how often the task succeeds then, with the camera as it is."""

    hour: Hour
    probability: float


def hard_hours(scene: Scene, place: tuple[float, float], year: int) -> list[Hour]:
    """The darkest and the brightest hour of a year, and the one with the sun nearest to the line of
    sight.

    Parameters
    ----------
    scene
        `natural_light.camera_bearing_deg` says where it looks; north without it.
    place
        Latitude and longitude [deg].
    year
        Of the common era.

    Raises
    ------
    InputError
        For a place that is not on earth.
    """
    natural, station = scene.model.natural_light, scene.model.station
    zone = dt.timezone(dt.timedelta(hours=round(place[1] / 15.0)))
    first = dt.datetime(year, 1, 1, tzinfo=zone)
    times = [
        first + dt.timedelta(days=day, hours=hour)
        for day in range(0, 365, EVERY_DAYS)
        for hour in range(24)
    ]
    lux = natural_illuminance_lux(
        times, *place, cloud_cover=natural.cloud_cover, skyglow_lux=natural.skyglow_lux
    )
    hours = [_hour("darkest", times, lux, int(lux.argmin()))]
    sky = sky_position(times, *place)
    ahead = math.degrees(
        math.atan2(
            station.aim_m[0] - station.position_m[0], station.aim_m[1] - station.position_m[1]
        )
    )
    sight = (natural.camera_bearing_deg or 0.0) + ahead
    off = np.abs((sky.sun_bearing_deg - sight + 180.0) % 360.0 - 180.0)
    low = (sky.sun_altitude_deg >= LOW_DEG[0]) & (sky.sun_altitude_deg <= LOW_DEG[1])
    off = np.where(low, off, 360.0)
    if off.min() <= NEAR_DEG:
        hours.append(_hour("low-sun", times, lux, int(off.argmin())))
    return [*hours, _hour("brightest", times, lux, int(lux.argmax()))]


def _hour(
    name: HourName, times: Sequence[dt.datetime], lux: np.ndarray[tuple[int], np.dtype[np.float64]],
    at: int,
) -> Hour:  # fmt: skip
    return Hour(name, f"{times[at]:%Y-%m-%d %H:%M}", float(lux[at]))


def worst_hour(
    scene: Scene, camera: Camera, place: tuple[float, float] | None, *, year: int, seed: int = 0
) -> tuple[Scene, list[Looked]]:
    """The scene at the hour of a year at which its task succeeds least often.

    Parameters
    ----------
    place
        Latitude and longitude [deg]; the scene's if not given.

    Returns
    -------
    The scene at that hour, and all that were looked at, the worst first.

    Raises
    ------
    InputError
        For a scene without a place where none is given.
    """
    natural = scene.model.natural_light
    if place is None:
        if natural.latitude_deg is None or natural.longitude_deg is None:
            raise InputError(
                "The scene does not say where on earth it is.", argument="at", given="worst",
                allowed="a scene with latitude_deg and longitude_deg, or a place",
                fix="give --place LAT,LON",
            )  # fmt: skip
        place = (natural.latitude_deg, natural.longitude_deg)
    look = QuickLook(seed)
    rows: list[tuple[Looked, Scene]] = []
    for hour in hard_hours(scene, place, year):
        there = at_moment(scene, hour.when, place=place)
        try:
            chance = look(open_session(there, camera, seed=seed))
        except InputError:  # no light at all
            chance = 0.0
        rows.append((Looked(hour, chance), there))
    rows.sort(key=lambda row: row[0].probability)
    return rows[0][1], [looked for looked, _ in rows]


def hours_message(looked: Sequence[Looked]) -> Message:
    """Which hours were looked at, the worst first."""
    worst = looked[0]
    return Message.of(
        "specify-condition.hours", name=worst.hour.name, when=worst.hour.when,
        lux=worst.hour.lux, others=tuple(one.hour.name for one in looked[1:]),
        chances=tuple(one.probability for one in looked[1:]), probability=worst.probability,
    )  # fmt: skip
