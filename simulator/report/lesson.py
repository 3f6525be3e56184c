"""A lesson as one self-contained page: pictures, curve, explanation, questions with answers."""

from __future__ import annotations

import base64
import io
import json
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image as PillowImage

from simulator.judge.verdict import shown_word
from simulator.report.document import Picture, Table, data_uri, write_pdf, write_report
from simulator.report.lesson_chart import draw_curve, draw_strip, small_frame, target_tile
from simulator.report.pictures import write_png
from simulator.studies.folder import result_folder
from simulator.studies.lessons.lesson import Taken, Taught
from simulator.studies.provenance import versions

JPEG_QUALITY = 88


def picture_uri(picture: NDArray[np.uint8]) -> str:
    """A picture (rows, columns, 3) as a data URI."""
    out = io.BytesIO()
    PillowImage.fromarray(np.ascontiguousarray(picture)).save(
        out, "JPEG", quality=JPEG_QUALITY, subsampling=0
    )
    return f"data:image/jpeg;base64,{base64.b64encode(out.getvalue()).decode()}"


def page(taught: Taught, curve: Path) -> str:
    """The lesson as one HTML text that needs nothing beside it.

    Parameters
    ----------
    curve
        The picture of its curve.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    lesson, steps = taught.lesson, taught.steps
    table = taught.figures()
    environment = Environment(
        loader=PackageLoader("simulator.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("lesson.html").render(
        lesson=lesson,
        fixed=taught.fixed(),
        steps=[
            {
                "label": t.step.label,
                "caption": lesson.caption(t),
                "frame": Picture(picture_uri(small_frame(t)), f"Whole picture, {t.step.label}", ""),
                "target": Picture(
                    picture_uri(target_tile(t)),
                    f"The {_target(t)} enlarged, {t.step.label}: {lesson.caption(t)}",
                    "",
                ),
                "word": shown_word(t.found.verdict, t.scene.model.task.name)
                if lesson.judged
                else "",
            }
            for t in steps
        ],
        curve=Picture(
            data_uri(curve, 1400),
            " and ".join(c.name for c in lesson.curves)
            + f" over {lesson.axis or 'the steps'}; the figures stand in the table",
            "",
        ),
        told=lesson.told(steps),
        equations=[
            {
                "text": e.text,
                "symbols": e.symbols,
                "source": e.source,
                "numbers": e.numbers(steps),
            }
            for e in lesson.equations
        ],
        questions=[(q.ask(steps), q.answer(steps)) for q in lesson.questions],
        table=Table(table["caption"], table["head"], table["rows"]),
        origin=_origin(taught),
        version=versions()["nightproof"],
    )


def _target(taken: Taken) -> str:
    return taken.scene.model.task.target


def _origin(taught: Taught) -> str:
    one = taught.steps[0]
    parts = [f"scene {one.scene.name}", f"camera {one.camera.name}", f"seed {taught.seed}"]
    parts += [f"set {text}" for text in taught.lesson.sets]
    return "; ".join([*parts, *(f"{k} {v}" for k, v in versions().items())])


def save_lesson(folder: Path, taught: Taught, *, pdf: bool = False) -> list[Path]:
    """Write lesson.html, curve.png, strip.png, pictures/, inputs/ and verdict.json, and a PDF if
    wanted, whole or not at all.

    Returns
    -------
    The documents written.

    Raises
    ------
    InputError
        If a PDF is wanted and WeasyPrint is not installed.
    OutputError
        If it cannot be written there.
    """
    names = ["lesson.html", *(["lesson.pdf"] if pdf else [])]
    with result_folder(folder) as place:
        draw_curve(place / "curve.png", taught)
        draw_strip(place / "strip.png", taught)
        text = page(taught, place / "curve.png")
        write_report(place / names[0], text)
        if pdf:
            write_pdf(place / names[1], text)
        _inner(place, taught)
        (place / "verdict.json").write_text(
            json.dumps(taught.table(), indent=2, ensure_ascii=False) + "\n", encoding="utf-8"
        )
    return [folder / name for name in names]


def _inner(place: Path, taught: Taught) -> None:
    about: dict[str, Any] = {
        "Software": f"nightproof {versions()['nightproof']}",
        "Title": taught.lesson.title,
    }
    (place / "pictures").mkdir()
    (place / "inputs").mkdir()
    for k, taken in enumerate(taught.steps, 1):
        text = {**about, "Comment": f"{taken.step.label}: {' '.join(taken.step.sets)}"}
        write_png(place / "pictures" / f"{k:02d}.png", taken.seen.frame, text)
        for kind, it in (("scene", taken.scene), ("camera", taken.camera)):
            path = place / "inputs" / f"{k:02d}-{kind}.toml"
            path.write_text(it.to_toml(), encoding="utf-8")
