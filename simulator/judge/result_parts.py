"""What was seen: the parts of a verdict that say how camera, light and target stand.

Each field that is a figure says what it is by a `Quantity`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Strict

from simulator.judge.figures import Figures
from simulator.judge.picture_figures import PictureFigures
from simulator.judge.record import BEHIND, FRONT, Probability, Quantity, Record

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
    frames_of_pass: int | None = None
    """Frames of its pass through the picture that were judged; null where nothing passes or the
    task is not to read"""
    probability_over_pass: Annotated[
        float | None,
        Quantity(
            "Read at least once in its pass", "judge/passes", "1", "P", "percent", places=FRONT,
        ),
    ] = None  # fmt: skip
    """Probability, by the quick estimate of the reader, that its text is read in at least one of
    these frames; null where `frames_of_pass` is"""
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


class Confused(Record):
    """A character that the reader took for another, or did not see."""

    character: str
    taken_for: str | None
    """None where nothing was read, or a character too many beside it."""
    share: float
    """Share of the pictures of the character."""


class Reading(Record):
    """How the text was read: the probability is that of random texts of the same lettering."""

    reader: str
    """Who read."""
    random_texts: int
    """Random texts, grouped like the target's own, that were read."""
    named_text_probability: Probability | None
    """That the target's own text is read."""
    named_text_probability_low: Probability | None
    named_text_probability_high: Probability | None
    """Ends of its sampling interval."""
    confused: tuple[Confused, ...]
    """Characters taken for others, the most often confused first."""


class Task(Record):
    """What is asked, and with which probability it must succeed."""

    name: TaskName
    wanted_probability: Probability


class Reserve(Record):
    """How much each thing can get worse, alone, before the task falls under its target.

    A figure is None where it was not sought or cannot be. `at_least` names figures at which the
    search ended while the task still succeeded.
    """

    darker_times: float | None = None
    """All light weaker by this factor."""
    faster_to_kmh: float | None = None
    """Speed of the target up to this [km/h]."""
    farther_to_m: float | None = None
    """Distance from the camera, and what is mounted beside it, up to this [m]."""
    dirt_share: float | None = None
    """Share of the window before the lens that dirt may cover."""
    at_least: tuple[str, ...] = ()
