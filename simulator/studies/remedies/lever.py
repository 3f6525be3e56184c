"""What a lever is: a record of what it acts on and takes, and how far it goes at a site."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import IntEnum

from simulator.camera.auto_exposure import State
from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera
from simulator.camera.model import CameraModel
from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.target import JudgedTarget
from simulator.messages import Message
from simulator.scene.load import Scene

Sets = Callable[[float], tuple[str, ...]]


class Effort(IntEnum):
    """Classes of effort, the least first."""

    SETTING = 0
    """A setting of the camera."""
    OPTICS = 1
    """Lens or focus."""
    LAMP = 2
    """A lamp that is added, or dimmed on its mast."""
    MOUNTING = 3
    """Another place of the camera."""
    EXCHANGE = 4
    """Another camera."""


@dataclass(frozen=True)
class Site:
    """Scene and camera as they are, settled, with the target in the picture."""

    scene: Scene
    camera: Camera
    in_scene: CameraInScene
    state: State
    target: JudgedTarget


@dataclass(frozen=True)
class Step:
    """One place of a lever: what it is set to, and the `key=value` texts that set it."""

    value: float | str
    sets: tuple[str, ...]
    amount: float | None = None
    """Light of a lamp that is added, whose value is words [W/sr or cd]."""


@dataclass(frozen=True)
class Travel:
    """How far a lever goes at a site: where it stands, and its steps, the least change first.

    Between steps that are numbers the least one that works is sought by `between`, if there is one.
    """

    now: float | str
    steps: tuple[Step, ...]
    between: Sets | None = None
    of: str = ""
    """Which one it is, where a site has several: the name of the lamp."""
    side_effects: tuple[Message, ...] = ()
    """What it brings with it at this site, beside that of its kind."""


@dataclass(frozen=True)
class LeverKind:
    """One thing that can be turned, moved or added. A field without a default must be filled."""

    key: str
    name: str
    """What it is called; `{of}` stands for the one of several."""
    effort: Effort
    helps: frozenset[str]
    """Impairments that it acts on, by name."""
    travel: Callable[[Site], Iterable[Travel]]
    """How far it goes at a site: nothing where the site does not have it."""
    unit: str = ""
    """Unit of its steps; empty if they are words or shares."""
    side_effects: tuple[Message, ...] = ()
    """What it brings with it wherever it is used."""
    cautions: tuple[Message, ...] = ()
    warn: Callable[[float], tuple[Message, ...]] | None = None
    """Cautions that hang on how far it is moved, or how much light is added."""
    first: bool = False
    """Whether it comes before others of its effort."""

    def __post_init__(self) -> None:
        for name in self.helps:
            IMPAIRMENTS[name]  # refuses a name that no impairment has

    def levers(self, site: Site) -> list[Lever]:
        """Its levers at a site, without those that cannot be moved."""
        return [Lever(self, travel) for travel in self.travel(site) if travel.steps]


@dataclass(frozen=True)
class Lever:
    """A lever of a site."""

    kind: LeverKind
    travel: Travel

    @property
    def name(self) -> str:
        """What it is called."""
        return self.kind.name.format(of=self.travel.of)

    @property
    def unit(self) -> str:
        """Unit of its steps."""
        return self.kind.unit

    @property
    def effort(self) -> Effort:
        """What it takes to move it."""
        return self.kind.effort

    @property
    def helps(self) -> frozenset[str]:
        """Impairments that it acts on."""
        return self.kind.helps

    @property
    def now(self) -> float | str:
        """Where it stands."""
        return self.travel.now

    @property
    def steps(self) -> tuple[Step, ...]:
        """Where it can be put, the least change first."""
        return self.travel.steps

    @property
    def removes(self) -> frozenset[str]:
        """What it can take away altogether: only a lamp brings all the light that is needed."""
        if self.effort == Effort.LAMP:
            return self.helps
        return frozenset(name for name in self.helps if not IMPAIRMENTS[name].only_lessened)

    @property
    def side_effects(self) -> tuple[Message, ...]:
        """What it brings with it at this site."""
        return (*self.kind.side_effects, *self.travel.side_effects)

    def cautions_at(self, step: Step) -> tuple[Message, ...]:
        """Cautions that go with one step."""
        moved = step.value if step.amount is None else step.amount
        if self.kind.warn is None or isinstance(moved, str):
            return self.kind.cautions
        return (*self.kind.cautions, *self.kind.warn(moved))


def three(value: float) -> float:
    """A value at three digits, as it is written into a set."""
    return float(f"{value:.3g}")


def helping(names: str) -> frozenset[str]:
    """Names of impairments from a text with commas."""
    return frozenset(names.split(", "))


def numbers(now: float, values: Iterable[float], sets: Sets, of: str = "") -> Travel:
    """A travel whose steps are numbers, each of which can be set."""
    return Travel(three(now), tuple(Step(three(v), sets(three(v))) for v in values), sets, of)


def focus_sets(focus_m: float) -> tuple[str, ...]:
    """Texts that focus the camera where it is mounted."""
    return (f"station.focus_m={three(focus_m):g}",)


def with_lens(camera: CameraModel, **values: float) -> CameraModel:
    """The camera with some values of its lens changed."""
    return camera.model_copy(update={"lens": camera.lens.model_copy(update=values)})
