"""The sizing of a lamp in words: what the messages of the study say, for sheet and record."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from simulator.judge.verdict import cautions
from simulator.messages import Message, unique
from simulator.report.wording import say, say_all
from simulator.report.wording.light import natural_words
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.studies.lighting import findings
from simulator.studies.lighting.benefit import benefit, cheapest, energy
from simulator.studies.lighting.eyes import eye_cautions
from simulator.studies.lighting.lamps import with_lamp
from simulator.studies.lighting.need import NoLamp
from simulator.studies.lighting.study import Lighting


@dataclass(frozen=True)
class LightingMessages:
    """What there is to say of a study, part by part."""

    answer: list[Message]
    engineer: Message
    why: list[Message]
    changes: list[Message]
    costs: list[Message]
    conditions: list[Message]
    cautions: list[Message]
    hours: list[str]

    @property
    def all_changes(self) -> list[str]:
        """What to do, and what it costs and avoids."""
        return say_all([*self.changes, *self.costs])

    @property
    def answer_words(self) -> str:
        """The answer in one to three sentences."""
        return " ".join(say_all(self.answer))

    @cached_property
    def rows(self) -> dict[str, list[dict[str, object]]]:
        """All messages as verdict.json holds them."""
        parts = ("answer", "why", "changes", "costs", "conditions", "cautions")
        return {name: [m.row() for m in unique(getattr(self, name))] for name in parts}


def messages_of(lighting: Lighting | NoLamp) -> LightingMessages:
    """What there is to say of a study."""
    if isinstance(lighting, NoLamp):
        return _not_needed(lighting)
    own = _cautions(lighting.sized_scene)
    return LightingMessages(
        findings.answer(lighting),
        findings.engineer(lighting),
        findings.reasons(lighting),
        findings.changes(lighting),
        [*cheapest(lighting), *benefit(lighting), *energy(lighting)],
        findings.conditions(lighting),
        # what infrared does to the eye is said at length
        [*eye_cautions(lighting), *(m for m in own if m.id != "caution.infrared-eye")],
        hour_lines(lighting.scene, findings.dark_hours(lighting.money.dark)),
    )


def _not_needed(no_lamp: NoLamp) -> LightingMessages:
    scene, judged = no_lamp.scene, no_lamp.before.dark
    own = (
        [] if no_lamp.before.written is None else [findings.with_own(scene, no_lamp.before.written)]
    )
    return LightingMessages(
        [findings.not_needed(scene, judged)],
        findings.engineer_without(scene, judged),
        [findings.without(scene, judged), *own],
        [Message("lighting-change.leave-out"), Message("lighting-change.not-sized")],
        [],
        [
            findings.of_camera(scene, no_lamp.camera),
            Message.of("lighting-condition.trials", trials=no_lamp.trials),
            Message("lighting-condition.this-hour"),
        ],
        _cautions(with_lamp(scene, None)),
        hour_lines(scene, findings.dark_hours(no_lamp.money.dark)),
    )


def _cautions(scene: Scene) -> list[Message]:
    return cautions(scene.model, build_world(scene.model))


def hour_lines(scene: Scene, dark: Iterable[Message]) -> list[str]:
    """Under which light the study judged, and how many hours are dark, if a place was given."""
    model = scene.model
    return [
        say(
            Message.of(
                "lighting-hour.light",
                natural=natural_words(model.natural_light),
                on=tuple(light.name for light in model.lamp if light.on),
                off=tuple(light.name for light in model.illuminator if light.on),
            )
        ),
        *say_all(dark),
    ]
