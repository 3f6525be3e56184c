"""What the result folder of a specification holds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from simulator.report.html import html_page
from simulator.report.pictures import origin_text, save_figure, write_png
from simulator.report.record import write_record
from simulator.report.section import data_uri
from simulator.report.specification.plan import views
from simulator.report.specification.sheet import draw_sheet
from simulator.report.specification.words import SpecificationWords, WayWords, words_of
from simulator.studies.folder import result_folder
from simulator.studies.provenance import input_hash, versions
from simulator.studies.specify.result import Specification, Way, lamp_key

SCHEMA_VERSION = 1


def specification_table(specification: Specification) -> dict[str, Any]:
    """What verdict.json holds."""
    words = words_of(specification)
    return {
        "schema_version": SCHEMA_VERSION,
        "study": "specify",
        "verdict": specification.ways[0].proof.word if specification.ways else "not legible",
        "scene": specification.scene.name,
        "camera": ", ".join(camera.name for camera in specification.cameras),
        "seed": specification.ask.seed,
        "input_hash": input_hash(specification.scene, specification.cameras[0]),
        "versions": versions(),
        "title": words.title,
        "question": words.question,
        "answer": words.answer,
        "why": [f"Which lens? {words.lens}"] * bool(words.lens)
        + [f"Is WDR needed? {words.wide_range}"] * bool(words.wide_range),
        "changes": [f"{way.title}: {way.line}" for way in words.ways],
        "conditions": [words.hour, *words.conditions, *words.failed],
        "cautions": words.cautions,
        "tables": _tables(words),
        "pictures": _pictures(specification),
        "plan": "ways/1/plan.png" if specification.ways else None,
        "reserve_wanted": specification.ask.reserve,
        "wanted_probability": specification.scene.model.task.wanted_probability,
        "ways": [
            _way_table(*both) for both in zip(specification.ways, words.ways, strict=True)
        ],
        "lens": None if specification.lens is None else {
            "chosen_mm": specification.lens.chosen_mm, "least_mm": specification.lens.least_mm,
            "most_mm": specification.lens.most_mm,
            "tried": [list(row) for row in specification.lens.tried],
        },
        "wide_range": None if specification.wide_range is None else vars(specification.wide_range),
        "without_success": [f"Not: {text}" for text in words.failed],
        "failed": [
            {"family": one.family, "camera": one.camera, "best_probability": one.best}
            for one in specification.failed
        ],
    }  # fmt: skip


def _pictures(specification: Specification) -> list[dict[str, Any]]:
    """Pictures of the first way, as a document shows them."""
    if not specification.ways:
        return []
    out: list[dict[str, Any]] = [
        {"file": "ways/1/frame.png", "alt": "The picture as specified",
         "caption": "What the camera will show (predicted)."},
        {"file": "ways/1/target.png", "alt": "The target in it",
         "caption": "The target in it, pixel by pixel."},
    ]  # fmt: skip
    second = next(
        (k for k, way in enumerate(specification.ways, 1) if way.overview is not None), None
    )
    if second is not None:
        out.append({"file": f"ways/{second}/second-camera.png", "alt": "The second camera",
                    "caption": "What the second camera will show (predicted)."})  # fmt: skip
    return out


def _tables(words: SpecificationWords) -> list[dict[str, Any]]:
    out: list[dict[str, Any]] = []
    for way in words.ways:
        columns = 4 if any(price for *_, price in way.parts) else 3
        out += [
            {"caption": f"{way.title}: parts list",
             "head": ["quantity", "part", "ask for", "price"][:columns],
             "rows": [list(row[:columns]) for row in way.parts]},
            {"caption": f"{way.title}: settings", "head": ["setting", "value"],
             "rows": [list(row) for row in way.settings]},
            {"caption": f"{way.title}: mounting", "head": ["what", "value"],
             "rows": [list(row) for row in way.mounting]},
            {"caption": f"{way.title}: acceptance test", "head": ["step", "what it must show"],
             "rows": [[f"{k}", text] for k, text in enumerate(way.test, 1)]},
        ]  # fmt: skip
    return out


def _way_table(way: Way, words: WayWords) -> dict[str, Any]:
    design, proof = way.design, way.proof
    lamp = design.lamp
    return {
        "roles": list(way.roles),
        "family": way.family,
        "title": words.title,
        "line": words.line,
        "camera": design.camera.name,
        "lens_mm": design.lens_mm,
        "shutter_s": design.shutter_s,
        "shutter_fixed": design.fixed,
        "gain_cap_db": design.gain_cap_db,
        "mode": design.mode,
        "wide_range": design.wide_range,
        "lamp": None if lamp is None else {
            "class": lamp_key(lamp.lamp), "power_w": lamp.lamp.power_w,
            "beam_deg": lamp.lamp.beam_deg, "setting": lamp.setting,
            "intensity": lamp.intensity, "unit": lamp.lamp.kind.intensity_unit,
            "beside_camera_m": list(design.lamp_beside_m),
        },
        "mount": None if design.mount is None else {
            "ground_position_m": list(design.mount.ground_position_m),
            "height_m": design.mount.height_m, "aim_m": list(design.mount.aim_m),
        },
        "distance_m": proof.distance_m,
        "height_m": proof.height_m,
        "probability": proof.probability,
        "probability_low": proof.low,
        "probability_high": proof.high,
        "verdict": proof.word,
        "draws_reaching": proof.draws_reaching,
        "reserve": None if proof.reserve is None else proof.reserve.to_dict(),
        "acceptance": vars(proof.acceptance),
        "rest_of_picture": proof.rest._asdict(),
        "second_camera": None if way.overview is None else {
            "lens_mm": way.overview.design.lens_mm,
            "shutter_longest_s": way.overview.design.shutter_s,
            "gain_cap_db": way.overview.design.gain_cap_db,
            "rest_of_picture": way.overview.rest._asdict(),
        },
        "parts": [vars(part) for part in way.parts],
        "price": way.price,
        "sheets": {
            "parts": words.parts, "settings": words.settings, "mounting": words.mounting,
            "test": words.test, "rest": words.rest, "reserve": words.reserve, "eyes": words.eyes,
        },
    }  # fmt: skip


def save_specification(folder: Path, specification: Specification) -> Path:
    """Write pages, PDF, web page, each way's files and verdict.json, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    table, words = specification_table(specification), words_of(specification)
    about = origin_text(table)
    with result_folder(folder) as place:
        draw_sheet(place, specification, words, about)
        for k, way in enumerate(specification.ways, 1):
            own = place / "ways" / str(k)
            own.mkdir(parents=True)
            scene, camera = way.design.applied(specification.scene)
            scene.save(own / "scene.toml")
            camera.save(own / "camera.toml")
            write_png(own / "frame.png", way.proof.frame, about)
            write_png(own / "target.png", way.proof.target, about)
            save_figure(views(specification, way), own / "plan.png", metadata=about)
            if way.overview is not None:
                way.overview.design.applied(specification.scene)[1].save(own / "second-camera.toml")
                write_png(own / "second-camera.png", way.overview.frame, about)
        cameras = {Path(camera.name).stem: camera for camera in specification.cameras}
        write_record(place, table, {"scene": specification.scene, **cameras})
        pictures = [
            (data_uri(place / "ways" / str(k) / "frame.png", 900),
             data_uri(place / "ways" / str(k) / "target.png", 480),
             None if way.overview is None else
             data_uri(place / "ways" / str(k) / "second-camera.png", 900))
            for k, way in enumerate(specification.ways, 1)
        ]  # fmt: skip
        page = html_page("specification.html", words=words, pictures=pictures, table=table)
        (place / "specification.html").write_text(page, encoding="utf-8")
    return folder
