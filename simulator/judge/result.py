"""The verdict as a record: frozen, checked, with the keys of verdict.json as its attributes.

Whoever judges builds a `Verdict`; whoever tells, draws or saves it reads attributes. What is saved
can be read back by `Verdict.read`, which refuses files of another layout.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, Strict, ValidationError

from simulator.errors import FileFormatError

__all__ = [
    "ColourSeen",
    "Exposure",
    "Figures",
    "Geometry",
    "Limit",
    "PictureFigures",
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

SCHEMA_VERSION = 1
Word = Literal["legible", "marginal", "not legible"]
TaskName = Literal["read", "detect", "recognise", "identify", "colour"]
Box = Annotated[tuple[int, int, int, int], Strict(False)]
"""Whole pixels: left, top, right, bottom."""


def _within(value: Any) -> Any:
    """A sum of shares that rounding took a hair beyond 0 or 1, brought back."""
    if isinstance(value, float) and (-_ROUNDING < value < 0.0 or 1.0 < value < 1.0 + _ROUNDING):
        return round(value)
    return value


_ROUNDING = 1e-9
Probability = Annotated[float, Field(ge=0.0, le=1.0), BeforeValidator(_within)]


class Record(BaseModel):
    """A part of a verdict: frozen, without unknown keys, without NaN or infinity."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        allow_inf_nan=False,
        validate_by_name=True,
        validate_by_alias=True,
        use_attribute_docstrings=True,
    )

    def to_dict(self) -> dict[str, Any]:
        """As verdict.json holds it: plain dictionaries, lists, numbers and texts."""
        return self.model_dump(mode="json", by_alias=True)


class Exposure(Record):
    """What the camera settled on."""

    mode: Literal["day", "night"]
    """"day": infrared-cut filter in, colour; "night": filter out, grey."""
    shutter_s: float
    """Time during which light is gathered, all added frames together [s]."""
    gain_db: float
    """Gain over the one at which the full well fills the scale [dB]."""
    f_number: float
    """Focal length over the diameter of the entrance pupil."""
    metering: str
    """Which part of the picture counts for exposure."""
    limited_by: str
    """The end of its range at which the exposure control stopped, or "nothing"."""
    accumulated_frames: int
    """Frames added up for one picture."""
    estimated_lux: float
    """Illuminance that the camera takes the scene for, by its own signal [lx]."""


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

    distance_m: float
    """From the lens to the middle of the target, in a straight line [m]."""
    pixels_per_m: float
    """Pixels over one metre square to the lens axis at the target's depth [px/m]."""
    field_width_m: float
    """Width of the picture at that depth [m]."""
    density_class: str
    """Highest class of `density_edition` that the density reaches."""
    density_edition: str
    """Edition of the standard that the class is named after."""
    density_class_2025: str
    """Highest class of `density_edition_2025` that the density reaches."""
    density_edition_2025: str
    """The newer edition of the standard."""


class Figures(Record):
    """The target as light, electrons and levels."""

    contrast_ratio: float
    """Mean signal of the picture around over mean signal of the target."""
    electrons_light: float
    """Electrons in a pixel of the light parts; without text, of the lighter of target and ring."""
    electrons_dark: float
    """Electrons in a pixel of the dark parts."""
    snr_db: float
    """Difference of light and dark, each cut at white, over the noise of a light pixel [dB]."""
    modulation: float
    """(light - dark) / (light + dark) in the light on the sensor, blur and glare included."""
    clipped_fraction: float
    """Share of the target's pixels at the top of the eight-bit scale."""
    motion_blur_px: float
    """How far the target moves on the picture while the shutter is open [px]."""
    effective_pixels_per_m: float
    """Pixel density times how much of an ideal pixel's sharpness is left [px/m]."""


class PictureFigures(Record):
    """The target as the eight-bit frame shows it."""

    mean_level: float
    """Mean luma of the target [levels of 255]."""
    contrast_to_surround: float | None
    """(target - ring) / (target + ring) of their mean levels; None without a ring."""
    crushed_fraction: float
    """Share of the target's pixels at the bottom of the eight-bit scale."""
    noise_temporal_levels: float
    """Standard deviation of a pixel from picture to picture [levels]."""
    noise_fixed_levels: float
    """Standard deviation from pixel to pixel of what stays from picture to picture [levels]."""
    visual_noise: float
    """Standard deviation of lightness L* after the eye's contrast sensitivity."""
    dynamic_range_used: float
    """Share of the scale between the darkest and the brightest per cent of the frame."""
    modulation_over_ring: float
    """(high - low) / (high + low) of the 95th and 5th percentile of light on target and ring."""
    modulation_over_ring_without_glare: float
    """The same with no stray light."""
    glare_loss: float
    """Share of that modulation that stray light takes."""
    trail_px: float
    """Longest trail that temporal noise reduction can leave behind the target [px]."""
    compression_psnr_db: float | None
    """Peak signal to noise of the target behind the codec [dB]; None without a codec."""
    compression_ssim: float | None
    """Structural similarity of the same."""


class _Lit(Record):
    illuminance_lux: float
    """Visible light that falls on the target's plane, all sources together [lx]."""
    irradiance_w_m2: float
    """Infrared that falls on the target's plane [W/m2]."""


class Signal(PictureFigures, Figures, _Lit):
    """The target as light, electrons and levels, and as the frame shows it."""


class ColourSeen(Record):
    """The colour that is shown beside that of the material by daylight."""

    right_names: tuple[str, ...]
    """Names that the material has by daylight."""
    named: Mapping[str, float]
    """What viewers call it, and how often."""
    ciede2000: float
    """Colour difference between what is shown and the material under D65."""
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
    character_height_px: float | None
    """Mean height of the characters [px]; None if the task is not to read."""
    cycles: float | None
    """Resolvable cycles across the critical dimension; None if the task is to read."""
    drawing_kept: float | None
    """Share of a face's drawing that is kept; None unless a face is to be known."""
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
    cautions: tuple[str, ...] = ()
    parts: tuple[RemedyPart, ...] = ()
    """The levers one by one, where several go together."""


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
    probability: Probability
    """Share of trials in which every character was read; for other tasks the mean over pictures."""
    probability_low: Probability
    probability_high: Probability
    """Interval with sampling and, if they were drawn, the tolerances of profile and scene."""
    probability_sampling_low: Probability
    probability_sampling_high: Probability
    """Interval of sampling alone."""
    tolerance_draws: int
    """Cameras and scenes drawn from the tolerances; 0 without them."""
    sensitivity: tuple[Sensitivity, ...]
    """Numbers whose tolerance moves the probability beyond chance, the most important first."""
    to_settle: str | None
    """What to measure to settle a marginal verdict."""
    trials: int
    """Independent repetitions of the whole camera (and the reader)."""
    limits: tuple[Limit, ...]
    """Every impairment, the largest share of the loss first; empty where nothing can be gained."""
    probability_all_fixed: Probability | None
    """Probability with every impairment removed; None where limits were not sought."""
    remedies: tuple[RemedyRow, ...]
    """What would reach the asked probability, the least effort first."""
    cautions: tuple[str, ...]
    """Safety and privacy."""
    conditions: tuple[str, ...]
    """What was assumed."""
    sentences: Sentences | None = None

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
