"""Whether a scene needs a lamp at all: the task without one, before anything is sized."""

from __future__ import annotations

from dataclasses import dataclass, field

from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.studies.lighting.costs import Money
from simulator.studies.lighting.lamps import with_lamp
from simulator.studies.quick import Quick, quick


@dataclass(frozen=True)
class AsItIs:
    """The task of a scene without any lamp to be sized.

    `dark` is judged with the scene's own illuminators off, `written` with those that are on in its
    file; None where there are none.
    """

    dark: Quick
    written: Quick | None
    illuminators: tuple[str, ...]
    """Illuminators of the scene that are on in its file."""

    @property
    def suffices(self) -> bool:
        """Whether no lamp is needed: the target probability is reached reliably without."""
        return self.dark.verdict == "legible"


@dataclass(frozen=True)
class NoLamp:
    """A study that ended where it began: no lamp is needed."""

    scene: Scene
    camera: Camera
    before: AsItIs
    seed: int
    trials: int
    money: Money = field(default_factory=Money)
    """What things cost; here, how long it is dark."""


def as_it_is(scene: Scene, camera: Camera, *, seed: int, trials: int) -> AsItIs:
    """Judge the task of a scene without a lamp to be sized, and as it is written.

    Raises
    ------
    InputError
        As `quick` does.
    """
    on = tuple(light.name for light in scene.model.illuminator if light.on)
    dark = quick(with_lamp(scene, None), camera, seed=seed, trials=trials, whole=True)
    written = quick(scene, camera, seed=seed, trials=trials) if on else None
    return AsItIs(dark, written, on)
