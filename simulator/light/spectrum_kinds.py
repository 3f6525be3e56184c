"""Kinds of spectra that a lamp, an illuminator or an opening can name, one record a kind.

The records say how a name is recognised, how the spectrum is made, how much such a lamp flickers on
the mains and how the name is written. Lookup, errors, `nightproof list`, `nightproof schema` and
the words for a sky follow from them.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from simulator import data
from simulator.light.lamp_spectra import LED_RANGE_K, spectrum_of_text, white_led
from simulator.light.spectra import Spectrum, spectrum, spectrum_names
from simulator.reading import text_of
from simulator.registry import Registry


@dataclass(frozen=True)
class SpectrumKind:
    """One way to name a spectrum. A field without a default must be filled."""

    name: str
    form: str
    """How it is written in a file, such as `led-<K>k`."""
    help: str
    """What that is, as a noun phrase."""
    match: Callable[[str], bool]
    """Whether a text names a spectrum of this kind; the first kind that matches is taken."""
    make: Callable[[str], Spectrum]
    """The spectrum of such a text."""
    flicker_depth: float
    """Usual modulation (max - min)/(max + min) of such lamps at twice the mains frequency."""
    sky: str | None = None
    """What it is called as the light of the open sky; None for the light of lamps."""


def _named(*patterns: str) -> Callable[[str], bool]:
    """Whether a whole text is one of some regular expressions."""
    pattern = re.compile("|".join(patterns))
    return lambda text: pattern.fullmatch(text) is not None


def _of_file(name: str) -> Spectrum:
    path = Path(name)
    return spectrum_of_text(text_of(path, "spectrum"), path, path.stem)


_LED = re.compile(r"led-(\d+(?:\.\d+)?)k")


def _led(name: str) -> Spectrum:
    """The CIE's table of that name, else a blend of two."""
    temperature = _LED.fullmatch(name)
    assert temperature is not None
    return spectrum(name) if name in spectrum_names() else white_led(float(temperature[1]))


# Flicker depths are all assumed, from memory of percent-flicker tables in lighting handbooks:
# filament 5-15, fluorescent on a magnetic ballast 25-45 and on an electronic one about 3,
# high-pressure sodium on a magnetic ballast up to 95, low-pressure sodium and mercury 70-90, metal
# halide 35-60 percent; LED a few percent on a driver with enough storage, none on direct current,
# 30-100 percent on a plain rectifier (common practice, no source).
SPECTRUM_KINDS: Registry[SpectrumKind] = Registry(
    "kind of spectrum",
    "name",
    [
        SpectrumKind(
            name="text of a CSV file",
            form="wavelength_nm,power ...",
            help="the text of such a file, as saved inputs hold it",
            match=lambda text: "\n" in text,
            make=spectrum_of_text,
            flicker_depth=0.0,
        ),
        SpectrumKind(
            name="CSV file",
            form="<file>.csv",
            help="a file beside the scene file with the columns wavelength_nm and power",
            match=lambda text: text.endswith(".csv"),
            make=_of_file,
            flicker_depth=0.0,
        ),
        SpectrumKind(
            name="white LED",
            form="led-<K>k",
            help=f"a white LED of {LED_RANGE_K[0]:g} to {LED_RANGE_K[1]:g} K",
            match=_named(_LED.pattern),
            make=_led,
            flicker_depth=0.05,
        ),
        SpectrumKind(
            name="filament",
            form="filament-2700k, cie-a",
            help="a lamp with a glowing filament",
            match=_named("cie-a", r"filament-\d+k"),
            make=spectrum,
            flicker_depth=0.10,
        ),
        SpectrumKind(
            name="fluorescent tube",
            form="fluorescent-4000k",
            help="a fluorescent tube on a magnetic ballast",
            match=_named(r"fluorescent-\d+k"),
            make=spectrum,
            flicker_depth=0.35,
        ),
        SpectrumKind(
            name="high-pressure sodium",
            form="high-pressure-sodium",
            help="a high-pressure sodium lamp",
            match=_named("high-pressure-sodium"),
            make=spectrum,
            flicker_depth=0.90,
        ),
        SpectrumKind(
            name="low-pressure sodium",
            form="low-pressure-sodium",
            help="a low-pressure sodium lamp",
            match=_named("low-pressure-sodium"),
            make=spectrum,
            flicker_depth=0.80,
        ),
        SpectrumKind(
            name="mercury",
            form="mercury",
            help="a high-pressure mercury lamp",
            match=_named("mercury"),
            make=spectrum,
            flicker_depth=0.80,
        ),
        SpectrumKind(
            name="metal halide",
            form="metal-halide",
            help="a metal halide lamp",
            match=_named("metal-halide"),
            make=spectrum,
            flicker_depth=0.50,
        ),
        SpectrumKind(
            name="daylight",
            form="daylight, cie-d65, g173-global",
            help="sun and sky by day",
            match=_named("daylight", "cie-d65", "g173-global"),
            make=spectrum,
            flicker_depth=0.0,
            sky="daylight",
        ),
        SpectrumKind(
            name="sunlight",
            form="g173-direct, g173-extraterrestrial",
            help="the sun alone, on the ground and above the air",
            match=_named("g173-direct", "g173-extraterrestrial"),
            make=spectrum,
            flicker_depth=0.0,
        ),
        SpectrumKind(
            name="twilight",
            form="twilight",
            help="the sky after sunset",
            match=_named("twilight"),
            make=spectrum,
            flicker_depth=0.0,
            sky="twilight",
        ),
        SpectrumKind(
            name="moonlight",
            form="moonlight",
            help="moon and moonlit sky",
            match=_named("moonlight"),
            make=spectrum,
            flicker_depth=0.0,
            sky="moonlight",
        ),
        SpectrumKind(
            name="night sky",
            form="night-sky",
            help="airglow and stars of a moonless night",
            match=_named("night-sky"),
            make=spectrum,
            flicker_depth=0.0,
            sky="night sky",
        ),
    ],
)


def kind_of(name_or_text: str) -> SpectrumKind:
    """The kind that a text names a spectrum of.

    Raises
    ------
    NameNotFoundError
        If it is of no kind; the nearest names and all forms are told.
    """
    for kind in SPECTRUM_KINDS:
        if kind.match(name_or_text):
            return kind
    raise data.not_found("spectrum", name_or_text, [*spectrum_names(), *forms()])


def lamp_spectrum(name_or_text: str) -> Spectrum:
    """Spectrum of a lamp, an illuminator or an opening.

    Parameters
    ----------
    name_or_text
        A text of one of `SPECTRUM_KINDS`: a name of `spectrum_names`, `led-<K>k`, the path of a CSV
        file or its text.

    Returns
    -------
    Spectrum
        On the basis of 1 lx.

    Raises
    ------
    NameNotFoundError
        For a name that does not exist.
    FileFormatError
        For a CSV that does not hold a spectrum, or a white LED out of range.

    References
    ----------
    Origin and status of each bundled table stand in its head, see `simulator/data/README.md`; white
    LEDs in between by `white_led`.

    Examples
    --------
    >>> lamp_spectrum("led-3500k").name
    'led-3500k'
    """
    return kind_of(name_or_text).make(name_or_text)


def usual_depth(name_or_text: str) -> float:
    """Modulation that is usual for a lamp of this spectrum.

    Examples
    --------
    >>> usual_depth("high-pressure-sodium")
    0.9
    """
    return kind_of(name_or_text).flicker_depth


def sky_name(name: str) -> str | None:
    """What a spectrum is called as the light of the open sky; None if it is that of a lamp."""
    return kind_of(name).sky


def forms() -> dict[str, str]:
    """How spectra that are made on demand are written, and what each is."""
    made = SPECTRUM_KINDS.where(lambda kind: "<" in kind.form)
    return {kind.form: kind.help for kind in sorted(made, key=lambda kind: kind.form)}


def spectrum_help(schema: dict[str, Any]) -> None:
    """Add to the JSON Schema of a key what may be written there."""
    known = "; ".join(f"{form} for {what}" for form, what in forms().items())
    about = schema.get("description", "Name of a spectrum.")
    schema["description"] = f"{about} It is one of the names in `examples`; {known}."
    schema["examples"] = spectrum_names()
