"""Figures of a camera's datasheet with the conditions that make them mean something.

A figure without its conditions is refused: the same camera may be written down as 0.001 lx or as
1 lx, depending on shutter, gain, signal level, reflectance, f-number and filter.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from simulator import data
from simulator.errors import InputError
from simulator.light.spectra import spectrum_names

MM_PER_INCH_LARGE, MM_PER_INCH_SMALL = 16.0, 18.0
"""Diagonal of a sensor per inch of its type, from type 1/2 up and below it: names of camera tubes
live on in them, a 1 inch tube had a picture of 16 mm (common practice, as glossaries of machine
vision optics give it; makers round, so that true diagonals differ by some 3 %)."""
LARGE_TYPE_IN = 0.5

LARGEST_GAIN = ("max", "maximum", "agc", "largest")
"""Words for "at the largest gain, whatever it is"."""
MEASURED_ON = ("raw", "picture", "picture-reduced")
RANGE_KINDS = ("linear", "wide")
PICTURES = ("colour", "monochrome")
RANGES = {
    "pixel_pitch_um": (0.5, 50.0),
    "minimum_lux": (1e-06, 1000.0),
    "minimum_f_number": (0.7, 64.0),
    "minimum_shutter_s": (1e-06, 10.0),
    "minimum_gain_db": (0.0, 90.0),
    "minimum_level_percent": (1.0, 99.0),
    "minimum_reflectance": (0.02, 1.0),
    "width_px": (64.0, 16384.0),
    "height_px": (64.0, 16384.0),
    "snr_db": (1.0, 100.0),
    "snr_level_percent": (1.0, 100.0),
    "snr_gain_db": (0.0, 90.0),
    "dynamic_range_db": (20.0, 200.0),
    "frame_rate_hz": (1.0, 240.0),
    "bit_depth": (8.0, 16.0),
    "focal_length_mm": (0.5, 2000.0),
    "f_number": (0.7, 64.0),
    "full_well_e": (100.0, 1000000.0),
    "read_noise_e": (0.1, 500.0),
    "gain_max_db": (0.0, 90.0),
}
"""Values that a figure may have, in its unit."""
WHOLE = ("width_px", "height_px", "bit_depth")
CHOICES = {
    "technology": ("cmos", "ccd"), "snr_measured_on": MEASURED_ON,
    "dynamic_range_kind": RANGE_KINDS, "minimum_picture": PICTURES,
}  # fmt: skip
USUAL_CONDITIONS = {
    "minimum_shutter_s": "1/25", "minimum_gain_db": "max", "minimum_level_percent": "50",
    "minimum_reflectance": "0.85", "minimum_picture": "colour",
}  # fmt: skip
"""Conditions that are assumed of a minimum illumination where asked for, beside the f-number of the
lens (common practice, no source: the longest shutter without slow shutter, the largest gain, half
of white, a card as common practice has it)."""
USUAL_F_NUMBER = "1.4"
"""The f-number assumed where nobody tells that of the lens (common practice, no source)."""


@dataclass(frozen=True)
class MinimumIllumination:
    """Illuminance at which the picture of a grey card reaches a level."""

    lux: float
    f_number: float
    shutter_s: float
    gain_db: float | None
    """None stands for the largest gain of the camera, whatever it is."""
    level: float
    """Level of the picture as a share of white, after the tone curve."""
    reflectance: float
    picture: str
    """"colour" (infrared-cut filter in) or "monochrome" (filter out)."""
    light: str
    """Name of a spectrum."""
    assumed: tuple[str, ...] = ()
    """Keys of the conditions that nobody gave and that were assumed as usual."""


@dataclass(frozen=True)
class SignalToNoise:
    """Ratio of signal to temporal noise at a level and a gain."""

    db: float
    level: float
    """Level as a share of white; of the picture after the tone curve, or of raw."""
    gain_db: float
    measured_on: str
    """"raw", "picture" (noise reduction off) or "picture-reduced" (on)."""


@dataclass(frozen=True)
class DynamicRange:
    """Saturation over the least signal [dB], 20 log10."""

    db: float
    kind: str
    """"linear" (one exposure) or "wide" (several merged)."""


@dataclass(frozen=True)
class Datasheet:
    """What is known of a camera."""

    title: str
    width_px: int
    height_px: int
    pixel_pitch_um: float
    pitch_from: str
    """"pitch" if it was given, "format" if it follows from the sensor's type."""
    technology: str
    frame_rate_hz: float
    bit_depth: int
    lens: str
    focal_length_mm: float | None = None
    f_number: float | None = None
    quantum_efficiency: str | None = None
    full_well_e: float | None = None
    read_noise_e: float | None = None
    gain_max_db: float | None = None
    minimum: MinimumIllumination | None = None
    snr: SignalToNoise | None = None
    dynamic_range: DynamicRange | None = None


_MINIMUM_WHY = {
    "minimum_f_number": "the light on the sensor goes with 1/F^2: f/1.0 gets 4 times that of f/2",
    "minimum_shutter_s": "1/2 s gathers 15 times the light of 1/30 s, and smears all that moves",
    "minimum_gain_db": "gain lifts level and noise alike: with enough of it any level is reached;"
    " say the gain in dB, or max",
    "minimum_level_percent": "30 % of white after the tone curve takes an eighth of the light of"
    " 80 % (BT.709); 50 IRE is 50 %",
    "minimum_reflectance": "a white card (0.9) sends back 5 times the light of a grey one (0.18);"
    " common practice is 0.75 to 0.89",
    "minimum_picture": "colour has the infrared-cut filter in, monochrome has it out and sees the"
    " near infrared of the lamp as well",
    "minimum_light": "with the filter out the near infrared of the lamp counts, which lux do not"
    " measure: a filament lamp gives several times the signal of a white LED",
}
_SNR_WHY = {
    "snr_level_percent": "noise grows with the square root of the light: the ratio at white is"
    " several times that in the shadows",
    "snr_gain_db": "with gain a level is reached by less light, and so with less signal to noise",
    "snr_measured_on": "the tone curve and the demosaic alone add several dB, noise reduction as"
    " many as one likes; say raw, picture (noise reduction off) or picture-reduced (on)",
}
_RANGE_WHY = {
    "dynamic_range_kind": "a linear range is full well over dark noise in one exposure, a wide one"
    " merges several exposures and tells nothing about either",
}
LEADS = {
    "minimum_lux": ("minimum illumination", _MINIMUM_WHY),
    "snr_db": ("signal-to-noise ratio", _SNR_WHY),
    "dynamic_range_db": ("dynamic range", _RANGE_WHY),
}
"""Figures that need conditions: what they are called, and the conditions with why they matter."""


def option(key: str) -> str:
    """The option of the command line that gives a value."""
    return "--" + key.replace("_", "-")


def needed(lead: str, given: Mapping[str, Any]) -> dict[str, str]:
    """Conditions that a figure needs, by key, each with why it matters."""
    why = dict(LEADS[lead][1])
    if lead == "minimum_lux" and given.get("minimum_picture") != "monochrome":
        why.pop("minimum_light")  # behind the filter the usual test lamp may be assumed
    return why


def _complete(lead: str, given: Mapping[str, Any]) -> bool:
    """Whether a figure is there.

    Raises
    ------
    InputError
        If it is there without its conditions, or conditions without their figure.
    """
    words, why = LEADS[lead]
    have = given.get(lead) is not None
    if not have:
        strays = [key for key in why if given.get(key) is not None]
        if strays:
            raise InputError(
                f"Conditions of a {words} without the figure itself.",
                argument=strays[0], given=given[strays[0]], fix=f"give {option(lead)} as well",
            )  # fmt: skip
        return False
    if lead == "minimum_lux" and str(given[lead]).strip() in ("0", "0.0"):
        raise InputError(
            "No camera sees at 0 lx: the figure means that an infrared illuminator is on, and"
            " says nothing about the camera.",
            argument=lead, given=given[lead], allowed="a figure taken without infrared light",
        )  # fmt: skip
    missing = {k: v for k, v in needed(lead, given).items() if given.get(k) is None}
    if missing:
        lines = "".join(f"\n    {option(key)}: {reason}" for key, reason in missing.items())
        raise InputError(
            f"A {words} without its conditions means nothing.",
            argument=lead, given=given[lead],
            allowed=f"with all of its conditions; missing:{lines}",
            fix="look for them in the small print, or ask the maker; without them leave this"
            " figure out" + (", or say --assume-usual" if lead == "minimum_lux" else ""),
        )  # fmt: skip
    return True


def number(given: Mapping[str, Any], key: str) -> float:
    """A number within its range (`RANGES`); shutters may be written as 1/30.

    Raises
    ------
    InputError
        If it is no number, or outside the range.
    """
    value, (low, high) = given[key], RANGES[key]
    try:
        value_of = float(Fraction(str(value).replace(" ", "")))
    except (ValueError, ZeroDivisionError, OverflowError):
        value_of = float("nan")
    if not low <= value_of <= high:
        raise InputError(
            "This figure is not possible.", argument=key, given=value,
            allowed=f"a number from {low:g} to {high:g}",
        )  # fmt: skip
    return value_of


def check_figure(key: str, text: str) -> None:
    """Refuse an answer to one question as soon as it is given.

    Raises
    ------
    InputError
        If it is no value that the figure can have; it names the key.
    """
    given = {key: text}
    if key == "minimum_gain_db" and text.strip().lower() in LARGEST_GAIN:
        return
    if key == "sensor_format":
        type_diagonal_mm(text)
    elif key == "minimum_light" and text not in spectrum_names():
        raise data.not_found("spectrum", text, spectrum_names())
    elif key in CHOICES:
        choice(given, key, CHOICES[key])
    elif key in WHOLE:
        _whole(given, key)
    elif key in RANGES:
        number(given, key)


def with_usual_conditions(given: Mapping[str, Any]) -> tuple[dict[str, Any], tuple[str, ...]]:
    """A minimum illumination with the conditions that nobody gave, as they are usual.

    Returns
    -------
    The figures, and which conditions were assumed.
    """
    usual = {"minimum_f_number": str(given.get("f_number") or USUAL_F_NUMBER), **USUAL_CONDITIONS}
    assumed = tuple(key for key in usual if given.get(key) is None)
    return {**given, **{key: usual[key] for key in assumed}}, assumed


def _optional(given: Mapping[str, Any], key: str) -> float | None:
    return None if given.get(key) is None else number(given, key)


def _whole(given: Mapping[str, Any], key: str) -> int:
    value = number(given, key)
    if value != int(value):
        raise InputError(
            "This must be a whole number.", argument=key, given=given[key],
            allowed="a whole number from {:g} to {:g}".format(*RANGES[key]),
        )  # fmt: skip
    return int(value)


def choice(given: Mapping[str, Any], key: str, words: tuple[str, ...]) -> str:
    """One of some words.

    Raises
    ------
    InputError
        If it is another one.
    """
    value = str(given[key])
    if value not in words:
        raise InputError(
            "There is no such choice.", argument=key, given=value, allowed=", ".join(words)
        )
    return value


def type_diagonal_mm(sensor_format: str) -> float:
    """Diagonal [mm] of a sensor by its type in inches, such as "1/2.8".

    16 mm per inch from type 1/2 up, 18 mm per inch below (see `MM_PER_INCH_LARGE`).

    Raises
    ------
    InputError
        If it is not written as a type.
    """
    text = re.sub(r'\s|"|″|in(ch)?$|type', "", str(sensor_format))
    match = re.fullmatch(r"(\d+(?:\.\d+)?)(?:/(\d+(?:\.\d+)?))?", text)
    parts = [float(p) for p in match.groups(default="1")] if match else [0.0, 1.0]
    size_in = parts[0] / parts[1] if parts[1] > 0.0 else 0.0
    if not 0.05 <= size_in <= 3.0:
        raise InputError(
            "There is no such sensor format.", argument="sensor_format", given=sensor_format,
            allowed="a type in inches such as 1/2.8, 1/3 or 2/3",
            fix="or give the pixel pitch with --pixel-pitch-um",
        )  # fmt: skip
    return size_in * (MM_PER_INCH_LARGE if size_in >= LARGE_TYPE_IN else MM_PER_INCH_SMALL)


def _pitch(given: Mapping[str, Any], width_px: int, height_px: int) -> tuple[float, str]:
    own = _optional(given, "pixel_pitch_um")
    if given.get("sensor_format") is None:
        if own is None:
            raise InputError(
                "The size of the sensor is missing: without it nobody knows how much light falls"
                " on a pixel.",
                argument="sensor_format",
                allowed="a type in inches such as 1/2.8, or --pixel-pitch-um",
            )
        return own, "pitch"
    by_type = type_diagonal_mm(given["sensor_format"]) * 1e3 / float(np.hypot(width_px, height_px))
    if own is None:
        if not 0.5 <= by_type <= 50.0:
            raise InputError(
                f"Sensor format and pixels do not fit: the pixels would be {by_type:.2f} um wide.",
                argument="sensor_format", given=given["sensor_format"],
                allowed="a pixel pitch from 0.5 to 50 um",
            )  # fmt: skip
        return by_type, "format"
    if abs(own / by_type - 1.0) > 0.15:
        raise InputError(
            f"The datasheet contradicts itself: type {given['sensor_format']} with {width_px} x"
            f" {height_px} pixels makes pixels of about {by_type:.2f} um.",
            argument="pixel_pitch_um", given=own,
            allowed=f"within 15 % of {by_type:.2f} um",
            fix="a sensor may be read out in part; then give the pitch and leave the format out",
        )  # fmt: skip
    return own, "pitch"


def _minimum(given: Mapping[str, Any], assumed: tuple[str, ...]) -> MinimumIllumination:
    gain = str(given["minimum_gain_db"]).strip().lower()
    light = str(given.get("minimum_light") or "cie-a")
    if light not in spectrum_names():
        raise data.not_found("spectrum", light, spectrum_names())
    return MinimumIllumination(
        number(given, "minimum_lux"),
        number(given, "minimum_f_number"),
        number(given, "minimum_shutter_s"),
        None if gain in LARGEST_GAIN else number(given, "minimum_gain_db"),
        number(given, "minimum_level_percent") / 100.0,
        number(given, "minimum_reflectance"),
        choice(given, "minimum_picture", PICTURES),
        light,
        assumed,
    )


def read_datasheet(given: Mapping[str, Any]) -> Datasheet:
    """A datasheet from what was given by key; values as numbers or text.

    Raises
    ------
    InputError
        For a figure without its conditions, a value out of range, or a contradiction.
    """
    assumed: tuple[str, ...] = ()
    if str(given.get("assume_usual")) == "True" and given.get("minimum_lux") is not None:
        given, assumed = with_usual_conditions(given)
    has = {lead: _complete(lead, given) for lead in LEADS}
    for key in ("width_px", "height_px"):
        if given.get(key) is None:
            raise InputError(
                "The number of pixels is missing.", argument=key,
                allowed="a whole number from 64 to 16384",
            )  # fmt: skip
    width, height = _whole(given, "width_px"), _whole(given, "height_px")
    pitch, pitch_from = _pitch(given, width, height)
    usual = {"technology": "cmos", "frame_rate_hz": 25.0, "bit_depth": 12, **_present(given)}
    snr = ranged = None
    if has["snr_db"]:
        snr = SignalToNoise(
            number(given, "snr_db"),
            number(given, "snr_level_percent") / 100.0,
            number(given, "snr_gain_db"),
            choice(given, "snr_measured_on", MEASURED_ON),
        )
    if has["dynamic_range_db"]:
        ranged = DynamicRange(
            number(given, "dynamic_range_db"),
            choice(given, "dynamic_range_kind", RANGE_KINDS),
        )
    return Datasheet(
        title=str(usual.get("title") or "Camera from a datasheet"),
        width_px=width,
        height_px=height,
        pixel_pitch_um=pitch,
        pitch_from=pitch_from,
        technology=choice(usual, "technology", ("cmos", "ccd")),
        frame_rate_hz=number(usual, "frame_rate_hz"),
        bit_depth=_whole(usual, "bit_depth"),
        lens=str(usual.get("lens") or "varifocal-2.8-12"),
        focal_length_mm=_optional(given, "focal_length_mm"),
        f_number=_optional(given, "f_number"),
        quantum_efficiency=given.get("quantum_efficiency"),
        full_well_e=_optional(given, "full_well_e"),
        read_noise_e=_optional(given, "read_noise_e"),
        gain_max_db=_optional(given, "gain_max_db"),
        minimum=_minimum(given, assumed) if has["minimum_lux"] else None,
        snr=snr,
        dynamic_range=ranged,
    )


def _present(given: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in given.items() if value is not None}
