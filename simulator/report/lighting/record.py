"""What the result folder of the sizing of a lamp holds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from simulator.checked_file import CheckedFile
from simulator.report.lighting.charts import draw_curve, draw_map, draw_targets
from simulator.report.lighting.sheet import draw_needless, draw_sheet
from simulator.report.lighting.tables import tables
from simulator.report.lighting.words import messages_of
from simulator.report.pictures import origin_text, write_png
from simulator.report.record import write_record
from simulator.report.wording import say, say_all, with_unit
from simulator.studies.folder import result_folder
from simulator.studies.lighting.benefit import not_given
from simulator.studies.lighting.findings import needed
from simulator.studies.lighting.need import NoLamp
from simulator.studies.lighting.study import Lighting
from simulator.studies.provenance import input_hash, versions
from simulator.studies.quick import Quick


def verdict_table(lighting: Lighting | NoLamp) -> dict[str, Any]:
    """What verdict.json holds."""
    messages, model = messages_of(lighting), lighting.scene.model
    if isinstance(lighting, Lighting):
        verdict, seed = str(lighting.search.verdict), lighting.ask.seed
        own, figures = tables(lighting), _figures(lighting)
    else:
        dark, seed, own = lighting.before.dark, lighting.seed, []
        verdict, figures = dark.verdict, _without_lamp(dark, lighting)
    return {
        "schema_version": 1,
        "study": "lighting",
        "verdict": verdict,
        "scene": lighting.scene.name,
        "camera": lighting.camera.name,
        "seed": seed,
        "input_hash": input_hash(lighting.scene, lighting.camera),
        "versions": versions(),
        "title": f"Sizing a lamp: {model.title}",
        "question": model.question,
        "answer": messages.answer_words,
        "hours": messages.hours,
        "engineer": say(messages.engineer),
        "why": say_all(messages.why),
        "changes": messages.all_changes,
        "conditions": [*messages.hours, *say_all(messages.conditions)],
        "cautions": say_all(messages.cautions),
        "messages": messages.rows,
        "tables": own,
        "pictures": _pictures(lighting),
        "lighting": figures,
    }


def _without_lamp(judged: Quick, lighting: Lighting | NoLamp) -> dict[str, Any]:
    return {
        "needed": isinstance(lighting, Lighting) and needed(lighting),
        "probability_without": judged.probability,
        "probability_without_low": judged.probability_low,
        "probability_without_high": judged.probability_high,
        "wanted_probability": lighting.scene.model.task.wanted_probability,
    }


def _bought(lighting: Lighting) -> dict[str, Any] | None:
    """The class of lamp to buy."""
    bought = lighting.bought
    if bought is None:
        return None
    lamp = bought.lamp.lamp
    return {
        "power_w": lamp.power_w, "beam_deg": lamp.beam_deg, "setting": bought.lamp.setting,
        "intensity": bought.lamp.intensity, "below_smallest": bought.below,
        "probability": bought.judged.probability, "verdict": bought.judged.verdict,
    }  # fmt: skip


def _figures(lighting: Lighting) -> dict[str, Any]:
    fresh, s, dark, eye = lighting.search.fresh, lighting.search, lighting.money.dark, lighting.eye
    return {
        **_without_lamp(lighting.before.judged, lighting),
        "kind": lighting.kind.name,
        "intensity": lighting.chosen,
        "intensity_unit": lighting.kind.intensity_unit,
        "lamp_class": _bought(lighting),
        "least": s.least,
        "upper": s.upper,
        "upper_fails": s.upper_fails,
        "beam_deg": lighting.beam_deg,
        "aim_m": list(lighting.aim_m),
        "position_m": [float(x) for x in lighting.light.lamp_m],
        "on_target": lighting.light.on_target,
        "on_target_unit": lighting.kind.light_unit,
        "flux": lighting.flux,
        "flux_unit": lighting.kind.flux_unit,
        "electrical_power_w": lighting.power_w,
        "verdict": fresh.verdict,
        "probability": fresh.probability,
        "probability_low": fresh.probability_low,
        "probability_high": fresh.probability_high,
        "dark_hours_per_year": None if dark is None else dark.yearly_h,
        "eye_group": None if eye is None else eye.group,
        "eye_distance_m": None if eye is None else eye.hazard_distance_m,
        "costs_given": not_given(lighting),
    }


def _pictures(lighting: Lighting | NoLamp) -> list[dict[str, Any]]:
    """What a document shows of the result folder."""
    rows = [("pictures/as-it-is.png", "Predicted picture without a lamp",
             "Without a lamp (predicted).", False)]  # fmt: skip
    if isinstance(lighting, Lighting):
        lamp = with_unit(lighting.chosen, lighting.kind.intensity_unit)
        rows += [
            ("pictures/sized-lamp.png", "Predicted picture with the sized lamp",
             f"With the sized lamp of {lamp} (predicted).", False),
            ("targets.png", "The target enlarged, one picture for each way that was tried",
             "The target, one picture for each way that was tried.", True),
            ("curve.png", "Chart of success by intensity", "How strong the lamp must be.", True),
            ("map.png", "Map of the lamp's light on the ground", "Where its light falls.", True),
        ]  # fmt: skip
    return [dict(zip(("file", "alt", "caption", "wide"), row, strict=True)) for row in rows]


def save_lighting(folder: Path, lighting: Lighting | NoLamp) -> Path:
    """Write sheet, charts, pictures/, inputs/ and verdict.json, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    messages, table = messages_of(lighting), verdict_table(lighting)
    about = origin_text(table)
    with result_folder(folder) as place:
        if isinstance(lighting, Lighting):
            draw_sheet(place / "sheet.png", lighting, messages, about)
            draw_map(place / "map.png", lighting, table["title"], about)
            draw_curve(place / "curve.png", lighting, about)
            draw_targets(place / "targets.png", lighting, about)
        else:
            draw_needless(place / "sheet.png", lighting, messages, about)
        (place / "pictures").mkdir()
        for name, q in _judged(lighting).items():
            if q.seen is not None:
                write_png(place / "pictures" / f"{name}.png", q.seen.frame, about)
        write_record(place, table, _inputs(lighting))
    return folder


def _judged(lighting: Lighting | NoLamp) -> dict[str, Quick]:
    if isinstance(lighting, NoLamp):
        return {"as-it-is": lighting.before.dark}
    ways = {w.name: w.judged for w in (lighting.before, lighting.sized, *lighting.ways)}
    return {**ways, "sized-lamp-twice": lighting.twice}


def _inputs(lighting: Lighting | NoLamp) -> dict[str, CheckedFile[Any]]:
    sized = {"scene-with-lamp": lighting.sized_scene} if isinstance(lighting, Lighting) else {}
    return {"scene": lighting.scene, "camera": lighting.camera, **sized}
