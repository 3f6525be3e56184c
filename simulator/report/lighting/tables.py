"""Tables of the sizing of a lamp, and what its verdict.json holds."""

from __future__ import annotations

import calendar as months_of
import math
from typing import Any

from simulator.judge.verdict import cautions
from simulator.report.lighting.costs import cost, missing
from simulator.report.lighting.eyes import eye_cautions
from simulator.report.lighting.words import (
    answer,
    changes,
    clipped,
    conditions,
    hour_lines,
    place_words,
    reasons,
    window_words,
)
from simulator.report.wording import say_all, shutter, three_digits, with_unit
from simulator.scene.build import build_world
from simulator.studies.lighting.lamps import edge_share, flux_of
from simulator.studies.lighting.study import Lighting
from simulator.studies.provenance import input_hash, versions


def tables(found: Lighting) -> list[dict[str, Any]]:
    """All tables, each with caption, head and rows of text."""
    kind, unit = found.kind, found.kind.intensity_unit
    sized = [
        ["Kind", kind.words],
        ["Intensity on the axis", with_unit(found.chosen, unit)],
        ["Least intensity found", "none" if found.search.least is None
         else with_unit(found.search.least, unit)],
        ["Works", window_words(found)],
        ["Beam (half intensity)",
         f"{found.beam_deg:g}°; the picture is {found.field_deg:.1f}° wide"],
        ["Place", place_words(found)],
        ["Distance to the target", f"{found.light.distance_m:.2f} m"],
        ["Light on the target", with_unit(found.light.on_target, kind.light_unit)],
        ["Light of the whole beam", with_unit(found.flux, kind.flux_unit)],
        ["Electric power", with_unit(found.power_w, 'W')],
        ["Brightest ground in the picture", f"{found.light.ground_ratio:.2f} times the target"],
    ]  # fmt: skip
    out = [{"caption": "The sized lamp", "head": ["quantity", "value"], "rows": sized}]
    out += [_ways(found), _costs(found)]
    if found.eye is not None:
        out.append(_eyes(found))
    beams = [found.beam_deg * f for f in (0.5, 1.0, 2.0) if 2.0 <= found.beam_deg * f <= 165.0]
    out.append(
        {
            "caption": "Beams of the same intensity on the axis",
            "head": ["beam", "light", "electric power", "towards the sides of the picture"],
            "rows": [
                [
                    f"{b:g}°", with_unit(flux_of(found.chosen, b), kind.flux_unit),
                    with_unit(flux_of(found.chosen, b) / kind.output_per_watt, 'W'),
                    f"{100 * edge_share(b, found.field_deg):.0f} %",
                ]
                for b in beams
            ],
        }
    )  # fmt: skip
    out.append(
        {
            "caption": "Intensities tried",
            "head": [f"intensity [{unit}]", "probability", "interval", "shutter", "gain"],
            "rows": [
                [
                    three_digits(value), f"{q.probability:.2f}",
                    f"{q.probability_low:.2f} to {q.probability_high:.2f}",
                    shutter(q.shutter_s), f"{q.gain_db:.0f} dB",
                ]
                for value, q in found.search.points
            ],
        }
    )  # fmt: skip
    dark = found.money.dark
    if dark is not None:
        out.append(
            {
                "caption": f"Hours of darkness in {dark.year}, sun below {dark.below_deg:g}°",
                "head": ["month", "hours", "energy of the sized lamp [kWh]"],
                "rows": [
                    [months_of.month_name[m + 1], f"{h:.0f}",
                     three_digits(h * found.power_w / 1000.0)]
                    for m, h in enumerate(dark.monthly_h)
                ]
                + [["whole year", f"{dark.yearly_h:.0f}",
                    three_digits(dark.yearly_h * found.power_w / 1000.0)]],
            }
        )  # fmt: skip
    return out


def _pictures(found: Lighting) -> list[dict[str, Any]]:
    """What a document shows of the result folder."""
    unit = found.kind.intensity_unit
    rows = (
        ("pictures/as-it-is.png", "Predicted picture without the lamp",
         "Without the lamp (predicted).", False),
        ("pictures/sized-lamp.png", "Predicted picture with the sized lamp",
         f"With the sized lamp of {with_unit(found.chosen, unit)} (predicted).", False),
        ("targets.png", "The target enlarged by every way that was tried",
         "The target by every way that was tried; held: shutter and gain held for it.", True),
        ("curve.png", "Chart of the probability by intensity", "How strong the lamp must be.",
         True),
        ("map.png", "Map of the lamp's light on the ground", "Where its light falls.", True),
    )  # fmt: skip
    return [dict(zip(("file", "alt", "caption", "wide"), row, strict=True)) for row in rows]


def _amount(value: float | None) -> str:
    return "not told" if value is None else three_digits(value)


def _ways(found: Lighting) -> dict[str, Any]:
    rows = []
    for way in (found.before, found.sized, *found.ways):
        q = way.judged
        rows.append(
            [
                way.name,
                f"{q.probability:.2f} ({q.probability_low:.2f} to {q.probability_high:.2f})",
                q.verdict,
                f"{100 * clipped(way):.0f} %", f"{shutter(q.shutter_s)}, {q.gain_db:.0f} dB",
                "" if not way.power_w else three_digits(way.power_w),
                "" if way.eye is None else way.eye.group,
            ]
        )  # fmt: skip
    return {
        "caption": "Ways to do the task; lens and camera without a lamp; held: shutter and gain"
        " held for the target",
        "head": [
            "way", "probability", "verdict", "target white", "shutter, gain", "power [W]",
            "eye (estimate)",
        ],
        "rows": rows,
    }  # fmt: skip


def _costs(found: Lighting) -> dict[str, Any]:
    known = found.money.dark is not None
    rows = []
    for way in (found.sized, *(w for w in found.ways if w.sort != "held")):
        told = cost(found, way)
        rows.append(
            [
                way.name, _amount(told.price),
                three_digits(told.energy_kwh_per_year) if known else "not told",
                _amount(told.energy_per_year if known else None),
                _amount(told.whole_life if known else None),
            ]
        )  # fmt: skip
    return {
        "caption": "Costs by your prices, in your currency; without interest, mounting, cleaning"
        " or repair",
        "head": [
            "way", "price", "energy [kWh a year]", "energy cost a year",
            f"together over {found.money.years:g} years",
        ],
        "rows": rows,
    }  # fmt: skip


def _eyes(found: Lighting) -> dict[str, Any]:
    rows = []
    for way in (found.sized, *found.ways):
        eye = way.eye
        if eye is None:
            continue
        time = "no limit" if math.isinf(eye.allowed_s) else f"{eye.allowed_s:.0f} s"
        rows.append(
            [
                way.name, three_digits(eye.intensity_w_per_sr), three_digits(eye.irradiance_w_m2),
                time, f"{eye.hazard_distance_m:.2f}", three_digits(eye.weighted_radiance_w_m2_sr),
                three_digits(eye.retina_limit_w_m2_sr), eye.group,
            ]
        )  # fmt: skip
    return {
        "caption": "Infrared and the eye, estimated at 200 mm on the axis (IEC 62471 quantities);"
        " the maker's classification decides",
        "head": [
            "lamp", "W/sr", "E [W/m²]", "cornea allowed", "100 W/m² within [m]",
            "retina, weighted [W/m²/sr]", "limit [W/m²/sr]", "group",
        ],
        "rows": rows,
    }  # fmt: skip


def verdict_table(found: Lighting) -> dict[str, Any]:
    """What verdict.json holds."""
    fresh, s = found.search.fresh, found.search
    model = found.scene.model
    # what the eye meets is told at length by `eye_cautions`
    own = [m for m in cautions(found.sized_scene.model, build_world(found.sized_scene.model))
           if m.id != "caution.infrared-eye"]  # fmt: skip
    return {
        "schema_version": 1,
        "study": "lighting",
        "verdict": fresh.verdict,
        "scene": found.scene.name,
        "camera": found.camera.name,
        "seed": found.ask.seed,
        "input_hash": input_hash(found.scene, found.camera),
        "versions": versions(),
        "title": f"Sizing a lamp: {model.title}",
        "question": model.question,
        "answer": answer(found),
        "hours": hour_lines(found.scene, found.money.dark),
        "engineer": (
            f"{with_unit(found.chosen, found.kind.intensity_unit)} in {found.beam_deg:g}°,"
            f" {with_unit(found.light.on_target, found.kind.light_unit)} on the target at"
            f" {found.light.distance_m:.1f} m; P = {fresh.probability:.3f}"
            f" ({fresh.probability_low:.3f} to {fresh.probability_high:.3f}) with fresh noise"
            f" against {found.before.judged.probability:.3f} without; window:"
            f" {window_words(found)}; {with_unit(found.power_w, 'W')} electric."
        ),
        "why": reasons(found),
        "changes": changes(found),
        "conditions": conditions(found),
        "cautions": [*eye_cautions(found), *say_all(own)],
        "messages": {"cautions": [message.row() for message in own]},
        "tables": tables(found),
        "pictures": _pictures(found),
        "lighting": {
            "needed": found.before.judged.verdict != "legible",
            "kind": found.kind.name,
            "intensity": found.chosen,
            "intensity_unit": found.kind.intensity_unit,
            "least": s.least,
            "upper": s.upper,
            "upper_fails": s.upper_fails,
            "beam_deg": found.beam_deg,
            "aim_m": list(found.aim_m),
            "position_m": [float(x) for x in found.light.lamp_m],
            "on_target": found.light.on_target,
            "on_target_unit": found.kind.light_unit,
            "flux": found.flux,
            "flux_unit": found.kind.flux_unit,
            "electrical_power_w": found.power_w,
            "verdict": fresh.verdict,
            "probability": fresh.probability,
            "probability_low": fresh.probability_low,
            "probability_high": fresh.probability_high,
            "probability_without": found.before.judged.probability,
            "wanted_probability": model.task.wanted_probability,
            "dark_hours_per_year": None if found.money.dark is None else found.money.dark.yearly_h,
            "eye_group": None if found.eye is None else found.eye.group,
            "eye_distance_m": None if found.eye is None else found.eye.hazard_distance_m,
            "missing": missing(found),
        },
    }
