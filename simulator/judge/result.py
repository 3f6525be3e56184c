"""The verdict as a record: frozen, checked, with the keys of verdict.json as its attributes.

Whoever judges builds a `Verdict`; whoever tells, draws or saves it reads attributes. What is saved
can be read back by `Verdict.read`, which refuses files of another layout.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ValidationError

from simulator.errors import FileFormatError
from simulator.judge.figures import Figures
from simulator.judge.picture_figures import PictureFigures
from simulator.judge.record import Probability, Quantity, Record
from simulator.judge.result_parts import (
    ColourSeen,
    Confused,
    Exposure,
    Geometry,
    Reading,
    Reserve,
    Signal,
    Stream,
    TargetBrief,
    TargetSeen,
    Task,
)
from simulator.messages import Message
from simulator.reading import check_layout, json_of

__all__ = [
    "ColourSeen",
    "Confused",
    "Exposure",
    "Figures",
    "Geometry",
    "Limit",
    "Messages",
    "PictureFigures",
    "Reading",
    "RemedyMessages",
    "RemedyPart",
    "RemedyRow",
    "Reserve",
    "Sensitivity",
    "Sentences",
    "Signal",
    "Stream",
    "TargetBrief",
    "TargetSeen",
    "Task",
    "Verdict",
    "Word",
]

SCHEMA_VERSION = 2
"""Grows when a key changes its name or meaning; 1 had `probability_all_mended`."""
PREDICT_AGAIN = (
    "run `nightproof predict inputs/scene.toml --camera inputs/camera.toml` in its folder"
)
"""How a verdict of another layout is made again."""
Word = Literal["legible", "marginal", "not legible"]


class Sensitivity(Record):
    """A number of profile or scene whose tolerance moves the probability."""

    key: str
    """Full dotted key."""
    share: float
    """Share of the variance of the probability."""
    value: float
    tolerance: float


class Limit(Record):
    """One impairment: what its removal brings, and its share of the loss."""

    factor: str
    """Name of the impairment."""
    probability_without: Probability
    """Probability with this impairment alone removed."""
    probability_only: Probability
    """Probability with this impairment alone left, all others removed."""
    share: float
    """Share of the lost probability laid to it (Shapley value)."""
    meaning: str = ""
    """What "removed" means here."""
    together_with: tuple[str, ...] = ()
    """The fewest others with which its removal counts, where it alone does not help."""
    probability_together: Probability | None = None
    """Probability with it and those others removed."""


class RemedyPart(Record):
    """One lever of a remedy of several."""

    lever: str
    before: float | str = Field(validation_alias="from", serialization_alias="from")
    """The setting as it is."""
    to: float | str
    """The setting as it would be."""
    unit: str


class RemedyMessages(Record):
    """What there is to say of a change."""

    side_effects: tuple[Message, ...] = ()
    cautions: tuple[Message, ...] = ()


class RemedyRow(RemedyPart):
    """A change and the probability it brings."""

    probability: Probability
    reaches: bool
    """Whether the probability is the wanted one or more by a standard error."""
    sets: tuple[str, ...] = ()
    """Texts for `--set` that make the change."""
    camera: str | None = None
    """Name of another profile, if that is the change."""
    side_effects: tuple[str, ...] = ()
    """What else the change does, in words."""
    cautions: tuple[str, ...] = ()
    """Safety of the change, in words."""
    messages: RemedyMessages = RemedyMessages()
    """What the words are made from."""
    parts: tuple[RemedyPart, ...] = ()
    """The levers one by one, where several go together."""


class Messages(Record):
    """What there is to say beside the figures; words are made from it when a result is told."""

    cautions: tuple[Message, ...] = ()
    conditions: tuple[Message, ...] = ()
    to_settle: Message | None = None


class Sentences(Record):
    """The result in words."""

    customer: str
    engineer: str


class Verdict(Record):
    """The answer to a scene's question with the figures that carry it, as verdict.json holds it.

    Attributes bear the names of the keys; `from` of a remedy is `before`. Records are immutable;
    `model_copy(update={...})` gives a changed one.
    """

    schema_version: int = SCHEMA_VERSION
    """Number of the layout; it grows when a key changes its name or meaning."""
    scene: str
    camera: str
    title: str
    question: str
    seed: int
    """Number that steers every random draw."""
    input_hash: str
    """First 16 digits of SHA-256 over both inputs after everything was filled in."""
    versions: Mapping[str, str]
    """Versions of the package and of the libraries that shape the numbers."""
    exposure: Exposure
    stream: Stream
    geometry: Geometry
    signal: Signal
    target: TargetSeen
    targets: tuple[TargetBrief, ...]
    """Every target of the scene, in the order of its file."""
    task: Task
    verdict: Word
    probability: Annotated[
        Probability,
        Quantity(
            "Probability", "judge/trials, judge/people, judge/colour_naming", "1", "P", "percent",
            places=("document",),
        ),
    ]  # fmt: skip
    """Share of trials in which every character was read, over random texts; to detect, recognise or
    identify the share of pictures in which the observer succeeds (docs/people.md), for a thing to
    be recognised or identified the mean of the curve over noisy pictures (see probability by V);
    for a colour the share that is named right above guessing"""
    probability_low: Annotated[
        Probability,
        Quantity(
            "Low end of its interval", "studies/uncertainty", form="percent",
            places=("document",),
        ),
    ]  # fmt: skip
    """Low end of the interval of the probability: of sampling, and with tolerances that of profile
    and scene in quadrature"""
    probability_high: Annotated[
        Probability,
        Quantity(
            "High end of its interval", "studies/uncertainty", form="percent",
            places=("document",),
        ),
    ]  # fmt: skip
    """High end of the same interval"""
    probability_sampling_low: Probability
    probability_sampling_high: Probability
    """Interval of sampling alone."""
    tolerance_draws: int
    """Cameras and scenes drawn from the tolerances; 0 without them."""
    sensitivity: tuple[Sensitivity, ...]
    """Numbers whose tolerance moves the probability beyond chance, the most important first."""
    to_settle: str | None = None
    """What to measure to settle a marginal verdict, in words."""
    trials: int
    """Independent repetitions of the whole camera (and the reader)."""
    reading: Reading | None = None
    """How the text was read; None unless the task is to read."""
    limits: tuple[Limit, ...]
    """Every impairment, the largest share of the loss first; empty where nothing can be gained."""
    probability_all_fixed: Probability | None
    """Probability with every impairment removed; None where limits were not sought."""
    remedies: tuple[RemedyRow, ...]
    """What would reach the asked probability, the least effort first."""
    reserve: Reserve | None = None
    """How much worse each thing may get before the task fails; None where it fails or this was not
    sought."""
    cautions: tuple[str, ...] = ()
    """Safety and privacy, in words."""
    conditions: tuple[str, ...] = ()
    """What was assumed, in words."""
    sentences: Sentences | None = None
    """The answer in words."""
    messages: Messages = Messages()
    """What these words are made from: identities and figures."""

    def to_json(self) -> str:
        """The text of verdict.json, keys in their order."""
        return json.dumps(self.to_dict(), indent=2, ensure_ascii=False, allow_nan=False) + "\n"

    @classmethod
    def read(cls, file: str | Path) -> Self:
        """The verdict of a verdict.json.

        Raises
        ------
        FileFormatError
            If the file cannot be read, or is that of another study or of another layout.
        """
        path = Path(file)
        return cls.from_dict(json_of(path, "verdict"), path)

    @classmethod
    def from_dict(cls, given: Any, file: str | Path | None = None) -> Self:
        """A verdict from the table of verdict.json.

        Raises
        ------
        FileFormatError
            If it is the table of another study or of another layout.
        """
        if not isinstance(given, Mapping) or not {"schema_version", "signal"} <= given.keys():
            raise FileFormatError("This is not the verdict of a prediction.", file=file)
        check_layout(given, SCHEMA_VERSION, file, PREDICT_AGAIN)
        try:
            return cls.model_validate(given)
        except ValidationError as error:
            first = error.errors()[0]
            raise FileFormatError(
                f"This verdict has another layout: {first['msg']}.",
                file=file,
                key=".".join(str(part) for part in first["loc"]),
                fix="run the prediction again",
            ) from None
