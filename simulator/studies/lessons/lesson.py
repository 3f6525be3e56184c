"""A lesson: one thing changes, everything else is fixed, and the tool's own figures are taken.

Here are numbers only; what a lesson says of them stands in its template in report/wording.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera
from simulator.dotted import Changes, changes_of
from simulator.scene.load import Scene
from simulator.studies.overrides import load_pair
from simulator.studies.placing import placed
from simulator.studies.quick import TRIALS, Quick, Seen, quick
from simulator.units import FloatArray

Progress = Callable[[str, float], None]
Figures = Mapping[str, Any]


@dataclass(frozen=True)
class Step:
    """One step: its value on the axis, or its name where values have no order, and what it sets."""

    value: float | str
    sets: tuple[str, ...]


@dataclass(frozen=True)
class View:
    """One step as the camera makes it, for figures that a lesson works out itself."""

    scene: Scene
    camera: Camera
    judged: Quick

    @property
    def seen(self) -> Seen:
        """The whole picture and its figures."""
        assert self.judged.seen is not None
        return self.judged.seen

    @cached_property
    def in_scene(self) -> CameraInScene:
        """The camera in its place."""
        model = self.scene.model
        return placed(model, self.camera.model)

    @property
    def target(self) -> Any:
        """The entry of the task's target in the scene."""
        model = self.scene.model
        return next(t for t in model.target if t.name == model.task.target)

    @property
    def centre_m(self) -> FloatArray:
        """Middle of the target (3,) [m]."""
        world = self.in_scene.world
        return world.cards[world.targets[self.scene.model.task.target][0]].centre_m

    @property
    def depth_m(self) -> float:
        """Of the target, along the optical axis."""
        return float(self.in_scene.view.project(self.centre_m)[1])

    @property
    def scale_px(self) -> float:
        """Focal length over pixel pitch."""
        camera = self.camera.model
        return camera.lens.focal_length_mm * 1e3 / camera.sensor.pixel_pitch_um


@dataclass(frozen=True)
class Lesson:
    """What a lesson changes, and which figures it shows; its words have the same name.

    Parameters
    ----------
    name
        Also the name of its template.
    key
        The dotted key that the steps set; another one may be set beside it in single steps.
    steps
        At least four, all else alike.
    unit
        Of the steps' values; "" for named steps.
    curves
        The two figures that are drawn over the steps.
    sets
        Values that hold for all steps.
    figures
        Figures of a step besides those that every lesson takes.
    judged
        Whether the probability of the task is part of it.
    """

    name: str
    scene: str
    camera: str
    key: str
    steps: tuple[Step, ...]
    unit: str
    curves: tuple[str, str]
    sets: tuple[str, ...] = ()
    figures: Callable[[View], Figures] | None = None
    judged: bool = True
    log: bool = True


def series(key: str, values: Sequence[float], *, factor: float = 1.0) -> tuple[Step, ...]:
    """Steps of one key over values; `factor` turns them into the unit of the key."""
    return tuple(Step(v, (f"{key}={factor * v:.7g}",)) for v in values)


@dataclass(frozen=True)
class Taken:
    """A step with its picture and all its figures by name."""

    step: Step
    view: View
    figures: Figures

    @property
    def seen(self) -> Seen:
        """The whole picture and what it shows of the target."""
        return self.view.seen


@dataclass(frozen=True)
class Taught:
    """A lesson with its steps taken."""

    lesson: Lesson
    steps: tuple[Taken, ...]
    seed: int
    trials: int

    @property
    def scene(self) -> Scene:
        """The scene as the first step has it."""
        return self.steps[0].view.scene

    @property
    def camera(self) -> Camera:
        """The camera as the first step has it."""
        return self.steps[0].view.camera

    @property
    def target_probability(self) -> float:
        """Target probability of the task."""
        return self.scene.model.task.wanted_probability


def _take(lesson: Lesson, step: Step, view: View) -> Taken:
    judged, seen = view.judged, view.seen
    numbers = {k: v for k, v in vars(seen).items() if isinstance(v, float | int) or v is None}
    common = {
        "success_percent": 100.0 * judged.probability,
        "exposure_s": judged.shutter_s * 10.0 ** (judged.gain_db / 20.0),
        "reliable": judged.verdict == "legible",
    }
    own = lesson.figures(view) if lesson.figures else {}
    return Taken(step, view, {**judged.row(), **numbers, **common, **own})


def teach(
    lesson: Lesson,
    *,
    seed: int = 1,
    sets: Changes = (),
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
        say(f"{lesson.name}, step {i + 1}", i / len(lesson.steps))
        scene, camera = load_pair(
            lesson.scene, lesson.camera, changes_of(lesson.sets, sets, step.sets)
        )
        judged = quick(scene, camera, seed=seed, trials=trials, whole=True)
        taken.append(_take(lesson, step, View(scene, camera, judged)))
    say("done", 1.0)
    return Taught(lesson, tuple(taken), seed, trials)
