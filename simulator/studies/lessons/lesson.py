"""A lesson: one thing changes, everything else is fixed, and the tool's own results are shown.

`lessons_*` hold what each lesson changes, says and asks; here the steps are taken. Answers are
functions of the steps taken, so that they say what the pictures beside them show.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.studies.overrides import load_pair
from simulator.studies.provenance import versions
from simulator.studies.quick import TRIALS, Quick, Seen, quick

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Step:
    """One step: its name, its place on the axis, the values set."""

    label: str
    value: float
    sets: tuple[str, ...]


@dataclass(frozen=True)
class Taken:
    """A step with what the camera made of it; `extra` holds the lesson's own measurements."""

    step: Step
    found: Quick
    scene: Scene
    camera: Camera
    extra: dict[str, float] = field(default_factory=dict)

    @property
    def seen(self) -> Seen:
        """The whole picture and its figures."""
        assert self.found.seen is not None
        return self.found.seen


PROBABILITY = "probability of the task"
Steps = Sequence[Taken]
Said = Callable[[Steps], str]


@dataclass(frozen=True)
class Curve:
    """One line of the lesson's curve: its name with unit, and its value at a step."""

    name: str
    value: Callable[[Taken], float]
    log: bool = False
    top: float | None = None
    """Upper end of its scale, lower end 0; free if not given."""


@dataclass(frozen=True)
class Equation:
    """An equation, its symbols, its source, and the lesson's own numbers put in."""

    text: str
    symbols: tuple[tuple[str, str], ...]
    source: str
    numbers: Said


@dataclass(frozen=True)
class Question:
    """A question to the reader and the answer as the results give it."""

    ask: Said
    answer: Said


@dataclass(frozen=True)
class Lesson:
    """What a lesson changes, shows and says.

    `keys` are the dotted keys that the steps set, the one thing that changes; `sets` hold for all
    steps; `fixed` says in words what stays.
    """

    name: str
    title: str
    question: str
    scene: str
    camera: str
    keys: tuple[str, ...]
    changes: str
    fixed: tuple[str, ...]
    sets: tuple[str, ...]
    steps: tuple[Step, ...]
    axis: str
    log: bool
    curves: tuple[Curve, ...]
    caption: Callable[[Taken], str]
    told: Callable[[Steps], list[str]]
    equations: tuple[Equation, ...]
    questions: tuple[Question, ...]
    cautions: tuple[str, ...] = ()
    measure: Callable[[Scene, Camera, Quick], dict[str, float]] | None = None
    judged: bool = True
    """Whether the probability of the task is part of the lesson."""


@dataclass(frozen=True)
class Taught:
    """A lesson with its steps taken."""

    lesson: Lesson
    steps: tuple[Taken, ...]
    seed: int

    @property
    def wanted(self) -> float:
        """Wanted probability of the task."""
        return self.steps[0].scene.model.task.wanted_probability

    def fixed(self) -> list[str]:
        """What stays the same, in words."""
        one = self.steps[0]
        return [
            f"the scene “{one.scene.model.title}” and where the camera stands in it",
            f"the camera: {one.camera.model.title}",
            *self.lesson.fixed,
            f"the seed of all noise ({self.seed})",
        ]

    def table(self) -> dict[str, Any]:
        """What verdict.json holds of a lesson."""
        lesson, one = self.lesson, self.steps[0]
        return {
            "schema_version": 1,
            "study": "lesson",
            "lesson": lesson.name,
            "title": lesson.title,
            "scene": one.scene.name,
            "camera": one.camera.name,
            "set": list(lesson.sets),
            "seed": self.seed,
            "question": lesson.question,
            "answer": " ".join(lesson.told(self.steps)),
            "engineer": f"What changes: {lesson.changes}. "
            + " ".join(f"{e.text} ({e.source})" for e in lesson.equations),
            "steps": [
                {
                    "label": t.step.label,
                    "set": list(t.step.sets),
                    **t.found.row(),
                    **{
                        k: v
                        for k, v in vars(t.seen).items()
                        if isinstance(v, float | int) or v is None
                    },
                    **t.extra,
                }
                for t in self.steps
            ],
            "tables": [self.figures()],
            "conditions": [f"Held fixed: {text}." for text in self.fixed()]
            + [
                "Every picture is computed, none is a photograph; the camera is a generic"
                " archetype with assumed numbers.",
                f"Probabilities come from {TRIALS} repetitions at most, so that steps within some"
                " 0.1 of each other may not differ.",
            ],
            "cautions": list(lesson.cautions),
            "versions": versions(),
        }

    def figures(self) -> dict[str, Any]:
        """The figures of every step as a table."""
        curves = [c for c in self.lesson.curves if c.name != PROBABILITY]
        head = ["step", *(c.name for c in curves), "shutter", "gain"]
        rows = [
            [
                t.step.label,
                *(_number(c.value(t)) for c in curves),
                shutter_words(t.found.shutter_s),
                f"{t.found.gain_db:.1f} dB",
            ]
            for t in self.steps
        ]
        if self.lesson.judged:
            head.insert(1, "probability")
            for row, t in zip(rows, self.steps, strict=True):
                row.insert(1, f"{t.found.probability:.2f}")
        return {"caption": "The lesson in figures", "head": head, "rows": rows}


def shutter_words(shutter_s: float) -> str:
    """A shutter as people say it."""
    return f"1/{1.0 / shutter_s:.0f} s" if shutter_s < 0.3 else f"{shutter_s:.2g} s"


def _number(value: float) -> str:
    return f"{value:.3g}" if abs(value) < 1000.0 else f"{value:.0f}"


def teach(
    lesson: Lesson,
    *,
    seed: int = 1,
    sets: Sequence[str] = (),
    trials: int = TRIALS,
    progress: Progress | None = None,
) -> Taught:
    """Take every step of a lesson.

    Parameters
    ----------
    sets
        Values set in every step besides those of the lesson.

    Raises
    ------
    InputError
        For a value that is at fault, or one that takes the target out of the picture.
    """
    say = progress or (lambda text, share: None)
    taken = []
    for i, step in enumerate(lesson.steps):
        say(f"{lesson.name}: {step.label}", i / len(lesson.steps))
        scene, camera = load_pair(lesson.scene, lesson.camera, [*lesson.sets, *sets, *step.sets])
        found = quick(scene, camera, seed=seed, trials=trials, whole=True)
        extra = lesson.measure(scene, camera, found) if lesson.measure else {}
        taken.append(Taken(step, found, scene, camera, extra))
    say("done", 1.0)
    return Taught(lesson, tuple(taken), seed)
