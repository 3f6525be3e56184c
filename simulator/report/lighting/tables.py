"""Tables of the sizing of a lamp."""

from __future__ import annotations

import calendar as months_of
import math
from typing import Any

from simulator.report.wording import (
    decibels,
    entry,
    percent,
    percent_range,
    say,
    shutter,
    three_digits,
    with_unit,
)
from simulator.studies.lighting.benefit import cost
from simulator.studies.lighting.costs import energy_kwh
from simulator.studies.lighting.findings import clipped, place, window
from simulator.studies.lighting.lamps import edge_share, flux_of
from simulator.studies.lighting.study import Lighting
from simulator.studies.quick import Quick

Rows = list[list[str]]
NOT_GIVEN = "not given"


def _table(caption: str, head: str, rows: Rows) -> dict[str, Any]:
    """A table as verdict.json holds it; `head` with bars between its columns."""
    return {"caption": caption, "head": head.split("|"), "rows": rows}


def tables(lighting: Lighting) -> list[dict[str, Any]]:
    """All tables, each with caption, head and rows of text."""
    out = [
        _sized(lighting),
        _ways(lighting),
        _costs(lighting),
        _eyes(lighting),
        _beams(lighting),
        _tried(lighting),
    ]
    return [table for table in [*out, _darkness(lighting)] if table["rows"]]


def _sized(lighting: Lighting) -> dict[str, Any]:
    kind, unit, least = lighting.kind, lighting.kind.intensity_unit, lighting.search.least
    rows = [
        ["Kind", entry("lamp", kind.name)],
        ["Intensity on the axis", with_unit(lighting.chosen, unit)],
        ["Least intensity found", "none" if least is None else with_unit(least, unit)],
        ["Works", say(window(lighting))],
        ["Beam (half intensity)",
         f"{lighting.beam_deg:g}°; the picture is {lighting.field_deg:.1f}° wide"],
        ["Place", say(place(lighting))],
        ["Distance to the target", f"{lighting.light.distance_m:.2f} m"],
        ["Light on the target", with_unit(lighting.light.on_target, kind.light_unit)],
        ["Light of the whole beam", with_unit(lighting.flux, kind.flux_unit)],
        ["Electric power", with_unit(lighting.power_w, "W")],
        ["Brightest ground in the picture", f"{lighting.light.ground_ratio:.2f} times the target"],
    ]  # fmt: skip
    return _table("The sized lamp", "quantity|value", rows)


def _chance(q: Quick) -> str:
    return f"{percent(q.probability)} ({percent_range(q.probability_low, q.probability_high)})"


def _ways(lighting: Lighting) -> dict[str, Any]:
    rows = [
        [
            way.name, _chance(way.judged), way.judged.verdict, percent(clipped(way)),
            f"{shutter(way.judged.shutter_s)}, {decibels(way.judged.gain_db)}",
            three_digits(way.power_w) if way.power_w else "", way.eye.group if way.eye else "",
        ]
        for way in (lighting.before, lighting.sized, *lighting.ways)
    ]  # fmt: skip
    return _table(
        "Ways to do the task; lens and camera without a lamp; held: shutter and gain held for the"
        " target",
        "way|success (interval)|verdict|target white|shutter, gain|power [W]|eye (estimate)", rows,
    )  # fmt: skip


def _costs(lighting: Lighting) -> dict[str, Any]:
    known = lighting.money.dark is not None

    def amount(value: float | None, counts: bool = True) -> str:
        return three_digits(value) if counts and value is not None else NOT_GIVEN

    rows = []
    for way in (lighting.sized, *(w for w in lighting.ways if w.sort != "held")):
        c = cost(lighting, way)
        rows.append(
            [
                way.name, amount(c.price), amount(c.energy_kwh_per_year, known),
                amount(c.energy_per_year, known), amount(c.whole_life, known),
            ]
        )  # fmt: skip
    return _table(
        "Costs at your prices, in your currency; without interest, mounting, cleaning or repair",
        "way|price|energy [kWh a year]|energy cost a year"
        f"|together over {lighting.money.years:g} years", rows,
    )  # fmt: skip


def _eyes(lighting: Lighting) -> dict[str, Any]:
    eyes = [(w.name, w.eye) for w in (lighting.sized, *lighting.ways) if w.eye is not None]
    rows = [
        [
            name, three_digits(eye.intensity_w_per_sr), three_digits(eye.irradiance_w_m2),
            "no limit" if math.isinf(eye.allowed_s) else f"{eye.allowed_s:.0f} s",
            f"{eye.hazard_distance_m:.2f}", three_digits(eye.weighted_radiance_w_m2_sr),
            three_digits(eye.retina_limit_w_m2_sr), eye.group,
        ]
        for name, eye in eyes
    ]  # fmt: skip
    return _table(
        "Infrared and the eye, estimated at 200 mm on the axis (IEC 62471 quantities); the maker's"
        " classification decides",
        "lamp|W/sr|E [W/m²]|cornea allowed|100 W/m² within [m]|retina, weighted [W/m²/sr]"
        "|limit [W/m²/sr]|group", rows if lighting.eye is not None else [],
    )  # fmt: skip


def _beams(lighting: Lighting) -> dict[str, Any]:
    kind = lighting.kind
    beams = [
        lighting.beam_deg * f for f in (0.5, 1.0, 2.0) if 2.0 <= lighting.beam_deg * f <= 165.0
    ]
    rows = []
    for beam in beams:
        flux = flux_of(lighting.chosen, beam)
        rows.append(
            [
                f"{beam:g}°", with_unit(flux, kind.flux_unit),
                with_unit(flux / kind.output_per_watt, "W"),
                percent(edge_share(beam, lighting.field_deg)),
            ]
        )  # fmt: skip
    return _table(
        "Beams of the same intensity on the axis",
        "beam|light|electric power|left towards the sides of the picture", rows,
    )  # fmt: skip


def _tried(lighting: Lighting) -> dict[str, Any]:
    rows = [
        [three_digits(x), _chance(q), shutter(q.shutter_s), decibels(q.gain_db)]
        for x, q in lighting.search.points
    ]
    head = f"intensity [{lighting.kind.intensity_unit}]|success (interval)|shutter|gain"
    return _table("Intensities tried", head, rows)


def _darkness(lighting: Lighting) -> dict[str, Any]:
    dark = lighting.money.dark
    if dark is None:
        return _table("", "", [])
    hours = {months_of.month_name[m + 1]: h for m, h in enumerate(dark.monthly_h)}
    hours["whole year"] = dark.yearly_h
    rows = [
        [m, f"{h:.0f}", three_digits(energy_kwh(lighting.power_w, h))] for m, h in hours.items()
    ]
    return _table(
        f"Hours of darkness in {dark.year}, sun below {dark.below_deg:g}°",
        "month|hours|energy of the sized lamp [kWh]", rows,
    )  # fmt: skip
