"""A lesson in words: its template filled with the figures of its steps."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from simulator.judge.density import EDITION
from simulator.report.wording.catalogue import entry, environment, one_line
from simulator.report.wording.numbers import digits, shutter
from simulator.studies.lessons.lesson import Taught

PROBABILITY = "success_percent"


@dataclass(frozen=True)
class Law:
    """An equation, its symbols, its source, and the lesson's own numbers put in."""

    formula: str
    symbols: Mapping[str, str]
    source: str
    numbers: str


@dataclass(frozen=True)
class LessonWords:
    """Everything that a lesson says, in sentences; `titles` by figure, `labels` by step."""

    title: str
    question: str
    changes: str
    fixed: list[str]
    labels: list[str]
    captions: list[str]
    axis: str
    titles: Mapping[str, str]
    shown: list[str]
    law: list[Law]
    questions: list[tuple[str, str]]
    cautions: list[str]


def label(value: float | str, unit: str) -> str:
    """A step by its value."""
    if isinstance(value, str):
        return value
    return shutter(value) if unit == "s" else f"{digits(value)} {unit}"


def lesson_words(taught: Taught) -> LessonWords:
    """The words of a lesson whose steps have been taken.

    Raises
    ------
    jinja2.UndefinedError
        For a figure that its template asks for and that was not taken.
    """
    lesson = taught.lesson
    labels = [label(t.step.value, lesson.unit) for t in taught.steps]
    steps = [
        {**t.figures, "value": t.step.value, "label": name}
        for t, name in zip(taught.steps, labels, strict=True)
    ]
    done = entry("task", taught.scene.model.task.name)["done"]
    values = {
        "steps": steps,
        "reliable": [s for s in steps if s["reliable"]],
        "log10": math.log10,
        "edition": EDITION,
    }
    text: Any = environment().get_template(f"lessons/{lesson.name}.j2").make_module(values)
    parts = _paragraphs(text.questions)
    return LessonWords(
        text.title,
        text.question,
        text.changes,
        [
            f"the scene “{taught.scene.model.title}” and the place of the camera in it",
            f"the camera: {taught.camera.model.title}",
            *text.fixed,
            f"the seed of all noise ({taught.seed})",
        ],
        labels,
        [one_line(text.caption(s)) for s in steps],
        text.axis,
        {PROBABILITY: f"{done} [% of pictures]", **text.titles},
        _paragraphs(text.shown),
        [Law(**{**row, "numbers": one_line(row["numbers"])}) for row in text.law],
        list(zip(parts[::2], parts[1::2], strict=True)),
        list(text.cautions),
    )


def _paragraphs(text: str) -> list[str]:
    return [line for part in text.split("\n\n") if (line := one_line(part))]


def limits_of_lesson(taught: Taught) -> str:
    """How far its pictures and figures may be trusted."""
    text = (
        "All pictures are computed, none is a photograph; the camera is a generic archetype with"
        " assumed values."
    )
    if not taught.lesson.judged:
        return text
    # two standard errors of a probability of one half
    return (
        f"{text} Each step was repeated up to {taught.trials} times: steps within"
        f" {100.0 / math.sqrt(taught.trials):.0f} percentage points of each other may not differ."
    )
