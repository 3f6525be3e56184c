"""What a year found, as messages, and its hours by month."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

import numpy as np

from simulator.messages import Message
from simulator.studies.calendar.study import Calendar


@dataclass(frozen=True)
class Month:
    """Hours of a month with the sun up and set: those that reliably reach the target, those whose
    interval leaves it open, and the lowest probability."""

    number: int
    light: int
    light_fine: int
    light_unsure: int
    dark: int
    dark_fine: int
    dark_unsure: int
    lowest: float

    @property
    def hours(self) -> int:
        """All hours of it."""
        return self.light + self.dark


def by_month(calendar: Calendar) -> list[Month]:
    """Hours of every month by the clock of the calendar."""
    month = np.array([t.month for t in calendar.sky.when])
    dark, fine, unsure = calendar.sky.dark, calendar.fine, calendar.unsure
    out = []
    for m in range(1, 13):
        parts = [(month == m) & ~dark, (month == m) & dark]
        counts = [int(np.sum(p & q)) for p in parts for q in (True, fine, unsure)]
        lowest = float(calendar.probability[month == m].min())
        out.append(Month(m, lowest=lowest, **dict(zip(COUNTS, counts, strict=True))))
    return out


COUNTS = ("light", "light_fine", "light_unsure", "dark", "dark_fine", "dark_unsure")


def _hour(calendar: Calendar, middle: dt.datetime) -> dict[str, Any]:
    """An hour by its middle, with what its clocks need."""
    return {
        "middle": middle.isoformat(),
        "zone": calendar.place.zone_name,
        "longitude_deg": calendar.place.longitude_deg,
    }


def hour(calendar: Calendar) -> Message:
    """The worst hour by the clocks."""
    return Message("calendar.hour", _hour(calendar, calendar.sky.when[calendar.worst[0]]))


def worst(calendar: Calendar) -> Message:
    """The worst hour: its light, its lamps, its probability."""
    i, judged = calendar.worst
    on = tuple(name for name, on in zip(calendar.lamp_names, calendar.lamps[i], strict=True) if on)
    return Message.of(
        "calendar.worst", **_hour(calendar, calendar.sky.when[i]), on=on,
        illuminance_lux=float(calendar.sky.level_lux[i]), probability=judged.probability
    )  # fmt: skip


def answer(calendar: Calendar) -> list[Message]:
    """The year in a few sentences."""
    rows, hours = by_month(calendar), len(calendar.probability)
    totals = {
        name: sum(getattr(row, name) for row in rows)
        for name in ("light", "light_fine", "dark", "dark_fine")
    }
    out = [Message.of(
        "calendar.answer", **totals, fine=int(calendar.fine.sum()), hours=hours,
        year=calendar.place.year, target=calendar.wanted
    )]  # fmt: skip
    unsure = int(calendar.unsure.sum())
    if unsure:
        out.append(Message.of("calendar.open", count=unsure, share=unsure / hours))
    return [*out, worst(calendar)]


def engineer(calendar: Calendar) -> Message:
    """How the hours were found."""
    judged = len(calendar.nodes) + len(calendar.checks)
    if not len(calendar.checks):
        return Message.of("calendar.unchecked", judged=judged)
    return Message.of("calendar.checked", judged=judged, **_error(calendar))


def _error(calendar: Calendar) -> dict[str, Any]:
    error = np.abs(calendar.error)
    return {
        "checks": len(error),
        "mean_error": float(error.mean()),
        "largest_error": float(error.max()),
    }


def conditions(calendar: Calendar) -> list[Message]:
    """What was assumed and left out."""
    place, weather = calendar.place, calendar.weather
    clock: dict[str, Any] = {"zone": place.zone_name, "longitude_deg": place.longitude_deg}
    out = [
        Message(f"calendar-condition.clock-{'utc' if place.zone_name == 'UTC' else 'zone'}", clock),
        Message.of("calendar-condition.sky", skyglow_lux=weather.skyglow_lux,
                   cover=weather.cloud_cover),
        Message.of("calendar-condition.bearing", bearing_deg=calendar.bearing_deg,
                   given=calendar.bearing_given),
        Message.of("calendar-condition.lamps", lamps=tuple(calendar.schedules),
                   when=tuple(s.text for s in calendar.schedules.values())),
        Message("calendar-condition.target"),
        Message("calendar-condition.from-day"),
        Message.of("calendar-condition.judged", judged=len(calendar.nodes) + len(calendar.checks),
                   trials=calendar.trials),
    ]  # fmt: skip
    if any(
        end in ("dusk", "dawn") for s in calendar.schedules.values() for end in (s.start, s.end)
    ):
        out.append(Message.of("calendar-condition.dusk", illuminance_lux=calendar.dusk_lux))
    if len(calendar.checks):
        sampling = 0.5 / float(np.sqrt(calendar.trials))
        values = {**_error(calendar), "trials": calendar.trials, "sampling": sampling}
        out.append(Message.of("calendar-condition.error", **values))
    return out
