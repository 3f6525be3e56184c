"""A lesson as one self-contained page: pictures, curve, explanation, questions with answers."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image as PillowImage

from simulator.checked_file import CheckedFile
from simulator.report.document import write_pdf, write_report
from simulator.report.html import html_page
from simulator.report.lessons.charts import (
    columns_of,
    draw_curve,
    draw_strip,
    small_frame,
    target_tile,
)
from simulator.report.pictures import write_png
from simulator.report.record import write_record
from simulator.report.section import JPEG_QUALITY, Picture, Table, data_uri
from simulator.report.wording import digits, percent, shutter
from simulator.report.wording.lessons import (
    PROBABILITY,
    LessonWords,
    lesson_words,
    limits_of_lesson,
)
from simulator.report.wording.verdict import shown_word
from simulator.studies.folder import result_folder
from simulator.studies.lessons.lesson import Taken, Taught
from simulator.studies.provenance import versions

CURVE_PX = 1400


def _uri(picture: NDArray[np.uint8]) -> str:
    """A picture (rows, columns, 3) as a data URI."""
    out = io.BytesIO()
    PillowImage.fromarray(np.ascontiguousarray(picture)).save(
        out, "JPEG", quality=JPEG_QUALITY, subsampling=0
    )
    return f"data:image/jpeg;base64,{base64.b64encode(out.getvalue()).decode()}"


def _figure(taught: Taught, taken: Taken, label: str, caption: str) -> dict[str, Any]:
    task = taught.scene.model.task
    return {
        "label": label,
        "caption": caption,
        "word": shown_word(taken.view.judged.verdict, task.name) if taught.lesson.judged else "",
        "frame": Picture(_uri(small_frame(taken)), f"Whole picture, {label}", ""),
        "target": Picture(
            _uri(target_tile(taken)), f"The {task.target} enlarged, {label}: {caption}", ""
        ),
    }


def page(taught: Taught, words: LessonWords, curve: Path) -> str:
    """The lesson as one HTML text that needs nothing beside it.

    Parameters
    ----------
    curve
        The picture of its curves.
    """
    lesson = taught.lesson
    drawn = " and ".join(words.titles[name] for name in lesson.curves)
    origin = [
        f"scene {taught.scene.name}", f"camera {taught.camera.name}", f"seed {taught.seed}",
        *(f"set {text}" for text in lesson.sets), *(f"{k} {v}" for k, v in versions().items()),
    ]  # fmt: skip
    return html_page(
        "lesson.html",
        words=words,
        columns=columns_of(taught),
        steps=[
            _figure(taught, *step)
            for step in zip(taught.steps, words.labels, words.captions, strict=True)
        ],
        curve=Picture(
            data_uri(curve, CURVE_PX),
            f"{drawn} over {words.axis or 'the steps'}; figures below",
            "",
        ),
        table=figures(taught, words),
        limits=limits_of_lesson(taught),
        origin="; ".join(origin),
    )


def figures(taught: Taught, words: LessonWords) -> Table:
    """The figures of every step as a table."""
    names = [n for n in taught.lesson.curves if n != PROBABILITY]
    judged = taught.lesson.judged
    head = ["step", *(["probability"] if judged else []), *(words.titles[n] for n in names)]
    rows = []
    for label, taken in zip(words.labels, taught.steps, strict=True):
        f = taken.figures
        chance = [percent(f["probability"])] if judged else []
        rows.append(
            [label, *chance, *(_plain(f[n]) for n in names), shutter(f["shutter_s"]),
             f"{f['gain_db']:.1f} dB"]
        )  # fmt: skip
    return Table("The lesson in figures", [*head, "shutter", "gain"], rows)


def _plain(value: float) -> str:
    """Three digits; next to nothing is 0."""
    return digits(value) if abs(value) >= 0.01 else "0"


def lesson_table(taught: Taught) -> dict[str, Any]:
    """What verdict.json holds of a lesson."""
    words = lesson_words(taught)
    lesson, table = taught.lesson, figures(taught, words)
    return {
        "schema_version": 1,
        "study": "lesson",
        "lesson": lesson.name,
        "title": words.title,
        "scene": taught.scene.name,
        "camera": taught.camera.name,
        "set": list(lesson.sets),
        "seed": taught.seed,
        "question": words.question,
        "answer": " ".join(words.shown),
        "engineer": f"What changes: {words.changes}. "
        + " ".join(f"{law.formula} ({law.source})" for law in words.law),
        "steps": [
            {"label": label, "value": t.step.value, "set": list(t.step.sets), **t.figures}
            for label, t in zip(words.labels, taught.steps, strict=True)
        ],
        "tables": [vars(table)],
        "conditions": [*(f"Kept the same: {text}." for text in words.fixed),
                       limits_of_lesson(taught)],
        "cautions": words.cautions,
        "versions": versions(),
    }  # fmt: skip


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
    words = lesson_words(taught)
    names = ["lesson.html", *(["lesson.pdf"] if pdf else [])]
    with result_folder(folder) as place:
        draw_curve(place / "curve.png", taught, words)
        draw_strip(place / "strip.png", taught, words)
        text = page(taught, words, place / "curve.png")
        write_report(place / names[0], text)
        if pdf:
            write_pdf(place / names[1], text)
        _pictures(place / "pictures", taught, words)
        write_record(place, lesson_table(taught), _inputs(taught))
    return [folder / name for name in names]


def _pictures(folder: Path, taught: Taught, words: LessonWords) -> None:
    about = {"Software": f"nightproof {versions()['nightproof']}", "Title": words.title}
    folder.mkdir()
    for k, (taken, label) in enumerate(zip(taught.steps, words.labels, strict=True), 1):
        text = {**about, "Comment": f"{label}: {' '.join(taken.step.sets)}"}
        write_png(folder / f"{k:02d}.png", taken.seen.frame, text)


def _inputs(taught: Taught) -> dict[str, CheckedFile[Any]]:
    return {
        f"{k:02d}-{kind}": file
        for k, taken in enumerate(taught.steps, 1)
        for kind, file in (("scene", taken.view.scene), ("camera", taken.view.camera))
    }
