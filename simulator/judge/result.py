"""The verdict as a record: frozen, checked, with the keys of verdict.json as its attributes.

Whoever judges builds a `Verdict`; whoever tells, draws or saves it reads attributes. What is saved
can be read back by `Verdict.read`, which refuses files of another layout.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import Field, Strict, ValidationError

from simulator.errors import FileFormatError
from simulator.judge.figures import Figures
from simulator.judge.picture_figures import PictureFigures
from simulator.judge.record import BEHIND, FRONT, Probability, Quantity, Record
from simulator.messages import Message

__all__ = [
    "ColourSeen",
    "Exposure",
    "Figures",
    "Geometry",
    "Limit",
    "Messages",
    "PictureFigures",
    "RemedyMessages",
    "RemedyPart",
    "RemedyRow",
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
Word = Literal["legible", "marginal", "not legible"]
TaskName = Literal["read", "detect", "recognise", "identify", "colour"]
Box = Annotated[tuple[int, int, int, int], Strict(False)]
"""Whole pixels: left, top, right, bottom."""


class Exposure(Record):
    """What the camera settled on."""

    mode: Annotated[
        Literal["day", "night"],
        Quantity(
            "Camera", "camera/day_night", form="word", places=FRONT,
            beside=("exposure.shutter_s", "exposure.gain_db", "exposure.f_number"),
        ),
    ]  # fmt: skip
    """`day` (infrared-cut filter in, colour) or `night` (filter out, grey)"""
    shutter_s: Annotated[
        float, Quantity("Shutter", "camera/exposure", "s", "t", form="shutter"),
    ]  # fmt: skip
    """Exposure time, all added frames together"""
    gain_db: Annotated[
        float, Quantity("Gain", "camera/exposure", "dB", form="decibels"),
    ]  # fmt: skip
    """Gain over the one at which the full well fills the scale"""
    f_number: Annotated[
        float, Quantity("F-number", "camera/exposure", "1", "F", "f_number"),
    ]  # fmt: skip
    """Focal length over the diameter of the entrance pupil"""
    metering: Annotated[
        str,
        Quantity(
            "Metering", "camera/exposure", form="word", places=BEHIND,
            beside=("exposure.limited_by",),
        ),
    ]  # fmt: skip
    """Which part of the picture counts for exposure"""
    limited_by: Annotated[
        str,
        Quantity(
            "Limited by", "camera/exposure", form="word", aside="limited by {}", idle="nothing"
        ),
    ]
    """The end of its range at which the exposure control stopped, or `nothing`"""
    accumulated_frames: Annotated[int, Quantity("Frames added up", "camera/exposure", "1", "n")]
    """Frames added up for one picture; `shutter_s` is their time together"""
    estimated_lux: Annotated[
        float,
        Quantity(
            "Light by the camera's signal", "camera/day_night", "lx", digits=2,
            places=("back",),
        ),
    ]  # fmt: skip
    """Illuminance that the camera takes the scene for, by its own signal"""


class Stream(Record):
    """The recording that the picture is judged behind."""

    codec: str
    """Name of the codec, or "none"."""
    bitrate_kbit_s: float | None
    """Rate that the stream keeps to [kbit/s]; None without a codec."""
    quantiser: int | None
    """Steady quantiser that keeps the rate on this scene; None without a codec."""


class Geometry(Record):
    """Sizes at the target."""

    distance_m: Annotated[
        float, Quantity("Distance", "judge/target", "m", places=("sheet", "back", "document")),
    ]  # fmt: skip
    """From the lens to the middle of the target, in a straight line"""
    pixels_per_m: Annotated[
        float,
        Quantity(
            "Pixel density", "scene/geometry", "px/m", places=FRONT,
            beside=("geometry.density_class",),
        ),
    ]  # fmt: skip
    """Pixels over one metre that stands square to the lens axis at the target's depth"""
    field_width_m: Annotated[
        float, Quantity("Width of the picture there", "studies/predict", "m", places=BEHIND),
    ]  # fmt: skip
    """Width of the picture at that depth"""
    density_class: Annotated[str, Quantity("Class of density", "judge/density", form="word")]
    """Highest class of IEC 62676-4 that this density reaches"""
    density_edition: str
    """Edition of the standard that the class is named after."""
    density_class_2025: str
    """Highest class of `density_edition_2025` that the density reaches."""
    density_edition_2025: str
    """The newer edition of the standard."""


class _Lit(Record):
    illuminance_lux: Annotated[
        float,
        Quantity(
            "Light on the target", "judge/lighting", "lx", "E", digits=2, places=FRONT,
            beside=("signal.irradiance_w_m2",),
        ),
    ]  # fmt: skip
    """Visible light falling on the target's plane, all sources together, shadows and the air on the
    way counted"""
    irradiance_w_m2: Annotated[
        float,
        Quantity(
            "Infrared", "judge/lighting", "W/m²", "E_e", digits=2, aside="{} infrared", idle=0.0
        ),
    ]
    """Infrared of illuminators falling on the target's plane"""


class Signal(PictureFigures, Figures, _Lit):
    """The target as light, electrons and levels, and as the frame shows it."""


class ColourSeen(Record):
    """The colour that is shown beside that of the material by daylight."""

    right_names: tuple[str, ...]
    """Names that the material has by daylight."""
    named: Mapping[str, float]
    """What viewers call it, and how often."""
    ciede2000: Annotated[
        float,
        Quantity(
            "Colour shift from daylight", "judge/colour_difference", "ΔE₀₀", digits=2, places=FRONT
        ),
    ]  # fmt: skip
    """Colour difference CIEDE2000 between what is shown and the material under D65"""
    lab: tuple[float, float, float]
    """CIELAB of what is shown."""
    reference_lab: tuple[float, float, float]
    """CIELAB of the material under D65."""
    monochrome: bool
    """Whether the picture has no colours."""


class TargetSeen(Record):
    """What is judged, as it lies in the picture."""

    name: str
    kind: str
    text: str | None
    """Its characters; None if it bears none."""
    box_px: Box
    """Whole pixels that hold it [px]."""
    character_height_px: Annotated[
        float | None, Quantity("Height of the characters", "judge/target", "px", places=FRONT),
    ]  # fmt: skip
    """Mean height of the characters on the picture; null if the task is not to read"""
    cycles: Annotated[
        float | None, Quantity("Resolved cycles", "judge/cycles", "1", "N", places=FRONT),
    ]  # fmt: skip
    """Resolvable cycles across the critical dimension (see below); null if the task is to read"""
    drawing_kept: Annotated[
        float | None,
        Quantity(
            "Detail of the face kept", "judge/face_detail", "1", "k", "percent", places=FRONT,
        ),
    ]  # fmt: skip
    """Share of a face's drawing between brows and chin that the picture keeps (see drawing kept);
    null unless a face is to be known"""
    probability_by_cycles: float | None = None
    """Second opinion on detecting, recognising or identifying, by the metric of resolved cycles;
    null where there is none"""
    colour: ColourSeen | None
    """Set for the task "colour" alone."""


class TargetBrief(Record):
    """One of all targets of the scene, looked at briefly."""

    name: str
    kind: str
    box_px: Box | None
    """Whole pixels that hold it [px]; None if it is hidden or outside the picture."""
    distance_m: float
    pixels_per_m: float | None
    """Pixel density [px/m]; None behind the camera."""
    density_class: str | None
    density_class_2025: str | None
    illuminance_lux: float
    """Visible light that falls on its first card [lx]."""
    mean_level: float | None
    """Mean luma of its pixels [levels of 255]; None if it is not seen."""
    contrast_to_surround: float | None
    clipped_fraction: float | None
    crushed_fraction: float | None
    text: str | None
    probability: Probability | None = None
    """That its text is read; None without text or if the text is cut off."""


class Task(Record):
    """What is asked, and how surely it must succeed."""

    name: TaskName
    wanted_probability: Probability


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
    """Share of trials in which every character was read; to detect, recognise or identify the share
    of pictures in which the observer succeeds (docs/people.md), for a thing to be recognised or
    identified the mean of the curve over noisy pictures (see probability by V); for a colour the
    share that is named right above guessing"""
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
    limits: tuple[Limit, ...]
    """Every impairment, the largest share of the loss first; empty where nothing can be gained."""
    probability_all_fixed: Probability | None
    """Probability with every impairment removed; None where limits were not sought."""
    remedies: tuple[RemedyRow, ...]
    """What would reach the asked probability, the least effort first."""
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
        try:
            found = json.loads(path.read_text(encoding="utf-8"))
        except OSError as error:
            raise FileFormatError(
                f"The verdict cannot be read: {error.strerror or error}.", file=path
            ) from None
        except ValueError as error:
            raise FileFormatError(f"The verdict cannot be read: {error}.", file=path) from None
        return cls.from_dict(found, path)

    @classmethod
    def from_dict(cls, found: Any, file: str | Path | None = None) -> Self:
        """A verdict from the table of verdict.json.

        Raises
        ------
        FileFormatError
            If it is the table of another study or of another layout.
        """
        if not isinstance(found, Mapping) or not {"schema_version", "signal"} <= found.keys():
            raise FileFormatError("This is not the verdict of a prediction.", file=file)
        if found["schema_version"] != SCHEMA_VERSION:
            raise FileFormatError(
                "This verdict was written by another version.",
                file=file,
                key="schema_version",
                given=found["schema_version"],
                allowed=str(SCHEMA_VERSION),
                fix="run the prediction again",
            )
        try:
            return cls.model_validate(found)
        except ValidationError as error:
            first = error.errors()[0]
            raise FileFormatError(
                f"This verdict has another layout: {first['msg']}.",
                file=file,
                key=".".join(str(part) for part in first["loc"]),
                fix="run the prediction again",
            ) from None
