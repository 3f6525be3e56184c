"""What the result folder of a year holds."""

from __future__ import annotations

import calendar as months_of
from pathlib import Path
from typing import Any

from simulator.light.darkness import SUNSET_DEG
from simulator.messages import Message
from simulator.report.calendar.chart import draw_chart
from simulator.report.pictures import write_png
from simulator.report.record import write_record
from simulator.report.wording import percent, say, say_all
from simulator.report.wording.light import natural_words
from simulator.studies.calendar import findings
from simulator.studies.calendar.findings import by_month
from simulator.studies.calendar.study import Calendar
from simulator.studies.folder import result_folder
from simulator.studies.provenance import input_hash, versions
from simulator.studies.tables import calendar_dataset, calendar_table, write_csv, write_netcdf

FRAME = Message("calendar.frame")


def replaced(calendar: Calendar) -> Message:
    """What of the scene's own natural light counts for nothing."""
    natural = natural_words(calendar.scene.model.natural_light)
    return Message.of("calendar-condition.natural", natural=natural)


def _months(calendar: Calendar) -> dict[str, Any]:
    caption = (
        f"Hours of {calendar.place.year} that reliably reach {percent(calendar.wanted)} (even the"
        " low end of the interval), and those left open (the interval straddles it); sun up or down"
        f" at the middle of the hour (centre above or below {SUNSET_DEG:g}°)"
    )
    rows = [
        [
            months_of.month_name[r.number], str(r.hours), str(r.light_fine + r.dark_fine),
            percent((r.light_fine + r.dark_fine) / r.hours), str(r.light_unsure + r.dark_unsure),
            f"{r.light_fine} of {r.light}", f"{r.dark_fine} of {r.dark}", percent(r.lowest),
        ]
        for r in by_month(calendar)
    ]  # fmt: skip
    head = "month|hours|reach it|share|left open|sun up, reach it|sun down, reach it|lowest success"
    return {"caption": caption, "head": head.split("|"), "rows": rows}


def _judged(calendar: Calendar) -> list[dict[str, Any]]:
    return [
        {
            "middle_of_hour": calendar.sky.when[k].isoformat(),
            "check": k in calendar.checks,
            "natural_light_lux": float(calendar.sky.level_lux[k]),
            "sun_altitude_deg": float(calendar.sky.at.sun_altitude_deg[k]),
            **q.row(),
        }
        for k, q in sorted((calendar.nodes | calendar.checks).items())
    ]


def table(calendar: Calendar) -> dict[str, Any]:
    """What verdict.json holds of a calendar."""
    i, judged = calendar.worst
    place, hour = calendar.place, say(findings.hour(calendar))
    answer, first, *others = findings.answer(calendar), *findings.conditions(calendar)
    conditions = [first, replaced(calendar), *others]
    messages = {"answer": answer, "conditions": conditions, "cautions": [FRAME]}
    return {
        "schema_version": 1,
        "study": "calendar",
        "scene": calendar.scene.name,
        "camera": calendar.camera.name,
        "title": f"{calendar.scene.model.title}: the year {place.year}",
        "question": calendar.scene.model.question,
        "answer": " ".join(say_all(answer)),
        "engineer": say(findings.engineer(calendar)),
        "seed": calendar.seed,
        "input_hash": input_hash(calendar.scene, calendar.camera),
        "wanted_probability": calendar.wanted,
        "place": {
            "latitude_deg": place.latitude_deg,
            "longitude_deg": place.longitude_deg,
            "year": place.year,
            "timezone": place.zone_name,
            "bearing_deg": calendar.bearing_deg,
        },
        "cloud_cover": calendar.weather.cloud_cover,
        "skyglow_lux": calendar.weather.skyglow_lux,
        "lamps": {name: s.text for name, s in calendar.schedules.items()},
        "months": [vars(r) for r in by_month(calendar)],
        "worst": {
            "middle_of_hour": calendar.sky.when[i].isoformat(),
            "hour": hour,
            "natural_light_lux": float(calendar.sky.level_lux[i]),
            **judged.row(),
        },
        "judged": _judged(calendar),
        "tables": [_months(calendar)],
        "pictures": [
            {
                "file": "chart.png", "wide": True,
                "alt": "Map of success by hour and day, and bars of hours by month",
                "caption": "Every hour of the year, and hours of each month.",
            },
            {
                "file": "worst.png", "alt": "Predicted picture at the worst hour",
                "caption": f"The picture at the worst hour (predicted): {hour}.", "wide": False,
            },
        ],
        "conditions": say_all(conditions),
        "cautions": say_all([FRAME]),
        "messages": {name: [m.row() for m in part] for name, part in messages.items()},
        "versions": versions(),
    }  # fmt: skip


def save_calendar(folder: Path, calendar: Calendar) -> Path:
    """Write chart.png, worst.png, hours.csv, hours.nc, inputs/ and verdict.json, whole or not at
    all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    about = {
        "Software": f"nightproof {versions()['nightproof']}",
        "Title": f"{calendar.scene.model.title}, {calendar.place.year}",
    }
    seen = calendar.worst[1].seen
    assert seen is not None
    with result_folder(folder) as place:
        draw_chart(place / "chart.png", calendar, say(replaced(calendar)), about)
        comment = say(findings.worst(calendar))
        write_png(place / "worst.png", seen.frame, {**about, "Comment": comment})
        write_csv(place / "hours.csv", calendar_table(calendar))
        write_netcdf(place / "hours.nc", calendar_dataset(calendar))
        write_record(place, table(calendar), {"scene": calendar.scene, "camera": calendar.camera})
    return folder
