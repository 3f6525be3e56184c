"""What a year says in words and tables."""

from __future__ import annotations

import calendar as months_of
import datetime as dt
from dataclasses import dataclass
from typing import Any

import numpy as np

from simulator.light.darkness import SUNSET_DEG
from simulator.report.wording import lux
from simulator.report.wording.light import natural_words
from simulator.studies.calendar.sky import MIDDLE
from simulator.studies.calendar.study import Calendar, Place
from simulator.studies.provenance import input_hash, versions

LAMPS_AS_IN_SCENE = "none in the scene"


@dataclass(frozen=True)
class Month:
    """Hours of a month with the sun up and set: those that surely reach what is wanted, those whose
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


def by_month(found: Calendar) -> list[Month]:
    """Hours of every month by the clock of the calendar."""
    month = np.array([t.month for t in found.sky.when])
    dark, fine, unsure = found.sky.dark, found.fine, found.unsure
    out = []
    for m in range(1, 13):
        light, night = (month == m) & ~dark, (month == m) & dark
        out.append(
            Month(
                m,
                int(np.sum(light)), int(np.sum(light & fine)), int(np.sum(light & unsure)),
                int(np.sum(night)), int(np.sum(night & fine)), int(np.sum(night & unsure)),
                float(found.probability[month == m].min()),
            )
        )  # fmt: skip
    return out


def solar_offset(longitude_deg: float) -> dt.timedelta:
    """Local mean solar time minus universal time: 4 minutes for each degree east."""
    return dt.timedelta(minutes=round(4.0 * longitude_deg))


def longitude_words(longitude_deg: float) -> str:
    """A longitude as people write it."""
    return f"{abs(longitude_deg):.2f}° {'E' if longitude_deg >= 0.0 else 'W'}"


def clock_gap(place: Place) -> str:
    """How far local mean solar time is from universal time, in words."""
    minutes = round(solar_offset(place.longitude_deg) / dt.timedelta(minutes=1))
    hours, rest = divmod(abs(minutes), 60)
    return f"{hours} h {rest:02d} min {'ahead of' if minutes >= 0 else 'behind'} it"


def _span(start: dt.datetime, day: dt.date | None = None) -> str:
    """An hour that begins at a time; its day only where it is not `day`."""
    end = start + dt.timedelta(hours=1)
    text = f"{start:%H:%M} to {end:%H:%M}"
    if start.date() == day:
        return text
    return f"{start.day} {months_of.month_name[start.month]}, {text}"


def hour_words(when: dt.datetime, place: Place) -> str:
    """The hour around its middle by the clock of the place, and by universal and sun's time.

    Without a time zone the clock is universal time, and local mean solar time stands beside it.
    """
    start = when - MIDDLE
    utc = start.astimezone(dt.UTC)
    if place.zone_name == "UTC":
        solar = utc + solar_offset(place.longitude_deg)
        return (
            f"{_span(utc)} UTC (local mean solar time at {longitude_words(place.longitude_deg)}:"
            f" {_span(solar, utc.date())}; no time zone was told)"
        )
    name = start.tzname() or ""
    offset = start.utcoffset()
    assert offset is not None
    hours = f"UTC{offset / dt.timedelta(hours=1):+g}"
    short = f"{name}, {hours}" if name.isalpha() else hours
    return f"{_span(start)} {place.zone_name} ({short}: {_span(utc, start.date())} UTC)"


def worst_words(found: Calendar) -> str:
    """The worst hour in a sentence."""
    i, judged = found.worst
    lit = [name for name, on in zip(found.lamp_names, found.lamps[i], strict=True) if on]
    return (
        f"The worst hour is that of {hour_words(found.sky.when[i], found.place)}: natural light"
        f" {lux(found.sky.level_lux[i])},"
        f" {'on: ' + ', '.join(lit) if lit else 'no lamp on'};"
        f" judged itself it has a probability of {judged.probability:.2f}."
    )


def answer(found: Calendar) -> str:
    """The year in a few sentences."""
    rows = by_month(found)
    light, dark = sum(r.light for r in rows), sum(r.dark for r in rows)
    light_fine, dark_fine = sum(r.light_fine for r in rows), sum(r.dark_fine for r in rows)
    every = len(found.probability)
    unsure = sum(r.light_unsure + r.dark_unsure for r in rows)
    left = ""
    if unsure:
        left = (
            f" In {unsure} more ({unsure / every:.0%}) it lies within the interval of the"
            " repetitions and is left open."
        )
    return (
        f"The wanted probability of {found.wanted:.2f} is surely reached in"
        f" {light_fine + dark_fine} of {every} hours of {found.place.year}"
        f" ({(light_fine + dark_fine) / every:.0%}): {light_fine} of {light} with the sun up,"
        f" {dark_fine} of {dark} with the sun set.{left} {worst_words(found)}"
    )


def replaced(found: Calendar) -> str:
    """What of the scene's own natural light counts for nothing."""
    return (
        f"The scene's own natural light ({natural_words(found.scene.model.natural_light)}) is not"
        " used: that of place and hour stands in for it"
    )


def conditions(found: Calendar) -> list[str]:
    """What was assumed and left out."""
    place, weather = found.place, found.weather
    out = [
        f"Hours go by the clock of {place.zone_name}"
        + (
            f", without daylight saving; local mean solar time at"
            f" {longitude_words(place.longitude_deg)} is {clock_gap(place)}, and --timezone NAME"
            " gives the clock of a zone"
            if place.zone_name == "UTC"
            else ", daylight saving included"
        )
        + "; each is judged at its middle.",
        f"{replaced(found)}: sun, moon and twilight after US Naval Observatory Circular 171,"
        " night sky"
        + (f", and {weather.skyglow_lux:g} lx of a town's glow" if weather.skyglow_lux else "")
        + f"; cloud over {weather.cloud_cover:.0%} of the sky, the same all the year. Real weather"
        " is left out, and so are wet ground, snow, fog, dirt and leaves.",
        f"The camera looks {found.bearing_deg:.0f} degrees clockwise from north"
        + ("." if found.bearing_given else "; this was assumed, --bearing changes it."),
        "Lamps: "
        + (
            "; ".join(f"{name}: {s.text}" for name, s in found.schedules.items())
            or LAMPS_AS_IN_SCENE
        )
        + ".",
        "The target stands and moves as the scene file says, in every hour, with its own lights as"
        " there, and all else that moves is held still; only lamps and illuminators are switched.",
        "Between its two thresholds the camera is taken to come from day mode.",
        f"{len(found.nodes) + len(found.checks)} hours were judged with {found.trials} repetitions;"
        " the others are interpolated on the logit of the probability, over the logarithm of the"
        " natural light and the directions of sun and moon, for each setting of the lamps. Sharp"
        " shadows that sweep over the target between judged hours are smoothed.",
    ]
    if any("dusk" in s.text or "dawn" in s.text for s in found.schedules.values()):
        out.append(
            "Lamps that go by dusk and dawn are on while the natural light on level ground is below"
            f" {found.dusk_lux:g} lx (common practice, no source)."
        )
    if len(found.checks):
        error = np.abs(found.error)
        out.append(
            f"At {len(error)} hours drawn at random and judged for the check, the interpolation was"
            f" off by {error.mean():.3f} on the average, by {error.max():.2f} at most. The sampling"
            f" of {found.trials} repetitions alone makes up to"
            f" {0.5 / np.sqrt(found.trials):.2f} where the probability is one half."
        )
    return out


def table(found: Calendar) -> dict[str, Any]:
    """What verdict.json holds of a calendar."""
    rows = by_month(found)
    i, judged = found.worst
    nodes = found.nodes | found.checks
    return {
        "schema_version": 1,
        "study": "calendar",
        "scene": found.scene.name,
        "camera": found.camera.name,
        "title": f"{found.scene.model.title}: the year {found.place.year}",
        "question": found.scene.model.question,
        "answer": answer(found),
        "engineer": f"Judged hours: {len(nodes)}. Mean error of the interpolation at"
        f" {len(found.checks)} random hours: {np.abs(found.error).mean():.3f}."
        if len(found.checks)
        else f"Judged hours: {len(nodes)}; the interpolation was not checked.",
        "seed": found.seed,
        "input_hash": input_hash(found.scene, found.camera),
        "wanted_probability": found.wanted,
        "place": {
            "latitude_deg": found.place.latitude_deg,
            "longitude_deg": found.place.longitude_deg,
            "year": found.place.year,
            "timezone": found.place.zone_name,
            "bearing_deg": found.bearing_deg,
        },
        "cloud_cover": found.weather.cloud_cover,
        "skyglow_lux": found.weather.skyglow_lux,
        "lamps": {name: s.text for name, s in found.schedules.items()},
        "months": [vars(r) for r in rows],
        "worst": {
            "middle_of_hour": found.sky.when[i].isoformat(),
            "hour": hour_words(found.sky.when[i], found.place),
            "natural_light_lux": float(found.sky.level_lux[i]),
            **judged.row(),
        },
        "judged": [
            {
                "middle_of_hour": found.sky.when[k].isoformat(),
                "check": k in found.checks,
                "natural_light_lux": float(found.sky.level_lux[k]),
                "sun_altitude_deg": float(found.sky.at.sun_altitude_deg[k]),
                **q.row(),
            }
            for k, q in sorted(nodes.items())
        ],
        "tables": [
            {
                "caption": f"Hours of {found.place.year} that surely reach {found.wanted:.2f}"
                " (even the low end of the interval), and those that the interval leaves open;"
                f" sun up or set at the middle of the hour (centre above {SUNSET_DEG:g} degrees)",
                "head": [
                    "month", "hours", "reach it", "share", "left open", "sun up, reach it",
                    "sun set, reach it", "lowest probability",
                ],
                "rows": [
                    [
                        months_of.month_name[r.number], str(r.hours),
                        str(r.light_fine + r.dark_fine),
                        f"{(r.light_fine + r.dark_fine) / r.hours:.0%}",
                        str(r.light_unsure + r.dark_unsure),
                        f"{r.light_fine} of {r.light}", f"{r.dark_fine} of {r.dark}",
                        f"{r.lowest:.2f}",
                    ]
                    for r in rows
                ],
            }
        ],
        "pictures": [
            {
                "file": "chart.png", "alt": "Map of the probability by hour and day, and bars of"
                " hours by month", "caption": "Every hour of the year, and hours of each month.",
                "wide": True,
            },
            {
                "file": "worst.png", "alt": "Predicted picture at the worst hour",
                "caption": "The picture at the worst hour (predicted):"
                f" {hour_words(found.sky.when[i], found.place)}.", "wide": False,
            },
        ],
        "conditions": conditions(found),
        "cautions": [
            "A year of clear or evenly clouded skies is a frame, not a forecast: single hours of"
            " rain, fog, low cloud or moonlight through gaps differ."
        ],
        "versions": versions(),
    }  # fmt: skip
