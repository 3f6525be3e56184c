"""What can spoil a picture of a target: one record an impairment, from which all else follows.

Rows of limits, sheet and document, advice of a survey, glossary and sentences read these records.
Their order is the one in which several are removed together (`without`): what sets the level comes
late, finer pixels last.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import get_args

from simulator.judge import removal
from simulator.judge.removal import Situation
from simulator.judge.sight import Sight
from simulator.registry import Registry
from simulator.scene.model import TaskName

Remove = Callable[[Sight, Situation], Situation | None]
TASKS: frozenset[str] = frozenset(get_args(TaskName))
OF_COLOUR: frozenset[str] = frozenset({"colour"})
OF_DETAIL = TASKS - OF_COLOUR


@dataclass(frozen=True)
class Impairment:
    """One thing that can spoil a picture. A field without a default must be filled."""

    name: str
    """As it stands in verdict.json (`factor`)."""
    noun: str
    """What it is, as a noun phrase within a sentence."""
    cause: str
    """Why it stands in the way, as a clause about the target ("it is out of focus")."""
    meaning: str
    """What it means that it is removed."""
    advice: str
    """What is commonly done about it (common practice, no source)."""
    ease: int
    """Where shares tie, the impairment comes first that takes the least to be changed."""
    tasks: frozenset[str]
    """Tasks that it can spoil."""
    remove: Remove
    """The situation without it; None if it is not there."""
    cause_if_clipped: str | None = None
    """The cause where the target is washed out, if it then is another."""
    meaning_if_worse: str | None = None
    """Added to the meaning where its removal takes from the probability."""
    only_lessened: bool = False
    """Whether shutter, lens and distance lessen it but cannot take it away: only a lamp can."""
    from_lamps: bool = False
    """Whether a lamp beside the camera can bring it about."""


IMPAIRMENTS: Registry[Impairment] = Registry(
    "impairment",
    "name",
    [
        Impairment(
            name="motion",
            noun="motion blur",
            cause="it moves too far while the shutter is open",
            meaning="the target held still",
            advice="a shorter shutter, and the light that it then needs",
            ease=10,
            tasks=TASKS,
            remove=removal.no_motion,
        ),
        Impairment(
            name="haze",
            noun="haze, fog or rain",
            cause="the air between hides it",
            meaning="clear air between camera and target",
            advice="a shorter distance",
            ease=80,
            tasks=TASKS,
            remove=removal.clear_air,
        ),
        Impairment(
            name="contrast",
            noun="low contrast of the target",
            cause="it hardly differs from what surrounds it",
            meaning="a target that differs from its ground, or its surround, as black from white"
            " does",
            advice="light or view from another angle; the target itself has little contrast",
            ease=130,
            tasks=OF_DETAIL,
            remove=removal.more_contrast,
        ),
        Impairment(
            name="defocus",
            noun="defocus",
            cause="it is out of focus",
            meaning="the target in perfect focus",
            advice="the focus set on the target in the mode of that hour, or a smaller aperture",
            ease=40,
            tasks=OF_DETAIL,
            remove=removal.in_focus,
        ),
        Impairment(
            name="glare",
            noun="stray light",
            cause="stray light veils it",
            meaning="no stray light in lens and cover",
            advice="a clean or another cover, and lamps kept out of the view of the lens",
            ease=50,
            tasks=TASKS,
            remove=removal.no_glare,
        ),
        Impairment(
            name="lens blur",
            noun="lens blur",
            cause="the lens is not sharp enough",
            meaning="a lens without aberration and diffraction",
            advice="a better lens, or a longer focal length",
            ease=110,
            tasks=OF_DETAIL,
            remove=removal.sharp_lens,
        ),
        Impairment(
            name="processing",
            noun="noise reduction and sharpening",
            cause="the camera's processing smears its detail",
            meaning="no noise reduction, sharpening or line limit",
            advice="less noise reduction and sharpening",
            ease=100,
            tasks=TASKS,
            remove=removal.plain_processing,
        ),
        Impairment(
            name="compression",
            noun="compression",
            cause="the recording loses its detail",
            meaning="no codec",
            advice="a higher bit rate",
            ease=90,
            tasks=TASKS,
            remove=removal.no_codec,
        ),
        Impairment(
            name="lamp colour",
            noun="the colour of the lamps",
            cause="the lamps lack the colours that it would show",
            meaning="every lamp with the spectrum of daylight, as many lux as before",
            advice="lamps with a full spectrum, such as white LEDs, instead of sodium lamps",
            ease=140,
            tasks=OF_COLOUR,
            remove=removal.white_light,
        ),
        Impairment(
            name="night mode",
            noun="night mode",
            cause="the camera shows no colours at night",
            meaning="the camera in colour, whatever the light",
            advice="the camera kept in day mode, and the light that it then needs",
            ease=0,
            tasks=OF_COLOUR,
            remove=removal.by_day,
        ),
        Impairment(
            name="sensor noise",
            noun="sensor noise",
            cause="the sensor's own noise covers it",
            meaning="a sensor without noise of its own; photon noise stays",
            advice="more light, a faster lens or a more sensitive camera",
            ease=120,
            tasks=TASKS,
            remove=removal.silent_sensor,
            only_lessened=True,
        ),
        Impairment(
            name="light",
            noun="too little light",
            cause="there is too little light on it",
            meaning="so much light that base gain and a short shutter suffice, at most at a middle"
            " level",
            advice="more light on the target, or a faster lens",
            ease=60,
            tasks=TASKS,
            remove=removal.ample_light,
            cause_if_clipped="the scene is so dark that the camera exposes long and with much gain",
            meaning_if_worse="here more light makes it worse: the camera meters the whole picture,"
            " and a target that throws light back, such as a plate, is washed out further",
            only_lessened=True,
        ),
        Impairment(
            name="clipping",
            noun="clipping to white",
            cause="it is washed out to white",
            meaning="a target that is too bright brought down to a middle level",
            advice="shutter and gain held short, or metering on the target, or less light on it",
            ease=20,
            tasks=TASKS,
            remove=removal.not_washed_out,
            from_lamps=True,
        ),
        Impairment(
            name="crushed shadow",
            noun="crushed shadows",
            cause="it is lost in black",
            meaning="a target too dark in the picture brought up by gain, within its limit",
            advice="metering on the target, or wide dynamic range",
            ease=30,
            tasks=TASKS,
            remove=removal.not_crushed,
        ),
        Impairment(
            name="pixels",
            noun="too few pixels",
            cause="too few pixels fall on it",
            meaning="pixels so fine that they lose nothing the task needs",
            advice="a longer focal length, a shorter distance or more pixels",
            ease=70,
            tasks=OF_DETAIL,
            remove=removal.ample_pixels,
        ),
    ],
)


def of_task(task: str) -> list[Impairment]:
    """Impairments of a task, in the order in which several are removed together."""
    return IMPAIRMENTS.where(lambda record: task in record.tasks)


def from_lamps() -> frozenset[str]:
    """Names of the impairments that a lamp beside the camera can bring about."""
    return frozenset(record.name for record in IMPAIRMENTS if record.from_lamps)


def without(sight: Sight, s: Situation, factors: Collection[str]) -> Situation | None:
    """The situation with some impairments removed; None if none of them is there."""
    touched = False
    for record in of_task(sight.task):
        if record.name not in factors:
            continue
        removed = record.remove(sight, s)
        if removed is not None:
            s, touched = removed, True
    return s if touched else None
