"""What a lever is: steps that `--set` takes, what it acts on, what it takes to move it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from simulator.camera.auto_exposure import State
from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera
from simulator.camera.model import CameraModel
from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.target import JudgedTarget
from simulator.scene.load import Scene

SETTINGS, OPTICS, LIGHTS, MOUNTING, EXCHANGE = range(5)
"""Classes of effort: a setting; lens or focus; a lamp; where the camera hangs; another camera."""


@dataclass(frozen=True)
class Step:
    """One place of a lever: what it is set to, and the texts that set it."""

    value: float | str
    sets: tuple[str, ...]


@dataclass(frozen=True)
class Lever:
    """A lever and its steps, the least change first.

    `helps` names the impairments it acts on; between steps that are numbers the least one that
    serves is sought by `between`, if there is one.
    """

    name: str
    unit: str
    now: float | str
    effort: int
    helps: frozenset[str]
    steps: tuple[Step, ...]
    between: Callable[[float], tuple[str, ...]] | None = None
    side_effects: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    warn: Callable[[float], tuple[str, ...]] | None = None

    @property
    def mends(self) -> frozenset[str]:
        """What it can take away altogether: only a lamp brings all the light that is wanted."""
        if self.effort == LIGHTS:
            return self.helps
        return frozenset(name for name in self.helps if not IMPAIRMENTS[name].only_lessened)

    def cautions_at(self, step: Step) -> tuple[str, ...]:
        """Cautions that go with one step."""
        if self.warn is None or isinstance(step.value, str):
            return self.cautions
        return (*self.cautions, *self.warn(step.value))


@dataclass(frozen=True)
class Site:
    """Scene and camera as they are, settled, with the target in the picture."""

    scene: Scene
    camera: Camera
    in_scene: CameraInScene
    state: State
    target: JudgedTarget


def three(value: float) -> float:
    """A value at three digits, as it is written into a set."""
    return float(f"{value:.3g}")


def numbers(
    name: str, unit: str, now: float, effort: int, helps: str, values: list[float],
    between: Callable[[float], tuple[str, ...]], side: tuple[str, ...],
    cautions: tuple[str, ...] = (),
) -> Lever | None:  # fmt: skip
    """A lever whose steps are numbers; None without steps."""
    steps = tuple(Step(three(v), between(three(v))) for v in values)
    if not steps:
        return None
    return Lever(
        name, unit, three(now), effort, frozenset(helps.split(", ")), steps, between, side, cautions
    )


def focus_sets(focus_m: float) -> tuple[str, ...]:
    """Texts that focus the camera where it is mounted."""
    return (f"station.focus_m={three(focus_m):g}",)


def with_lens(camera: CameraModel, **values: float) -> CameraModel:
    """The camera with some values of its lens changed."""
    return camera.model_copy(update={"lens": camera.lens.model_copy(update=values)})
