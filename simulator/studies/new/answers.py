"""The questions of a new scene, each checked as soon as it is answered."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from simulator.errors import InputError
from simulator.files import bundled_names, find
from simulator.scene.targets.plate import plate_design
from simulator.studies.new.given_light import light_of
from simulator.studies.new.kinds import DESIGN, KINDS
from simulator.studies.new.lights import LIGHTS
from simulator.validation import nearest_choice

LED_LM_PER_W = 110.0
"""Light of an LED lamp for its electric power, driver and lens included [lm/W] (assumed, as in the
bundled archetypes)."""
MOST_LM = 1e6
VEHICLES = ("car", "van", "truck")
NONE = "none"


@dataclass(frozen=True)
class Question:
    """One question: its words at the terminal, its usual answer, and its check.

    `check` returns the value that `Answers` holds, and raises an InputError without a key.
    """

    words: str
    usual: str
    check: Callable[[str], Any]


def _number(low: float, high: float, unit: str) -> Callable[[str], float]:
    def check(text: str) -> float:
        try:
            value = float(text.strip().removesuffix(unit).strip())
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            raise InputError(
                "This answer is not possible.",
                given=text,
                allowed=f"a number from {low:g} to {high:g} [{unit}]",
                fix="give the number alone, such as 12 or 0.5",
            )
        return value

    return check


def _choice(*words: str) -> Callable[[str], str]:
    def check(text: str) -> str:
        if text.strip() not in words:
            near = nearest_choice(text, words)
            raise InputError(
                "There is no such choice.", given=text, allowed=f"one of {', '.join(words)}",
                fix=f"did you mean {near[0]}?" if near else None,
            )  # fmt: skip
        return text.strip()

    return check


def _light(text: str) -> str:
    try:
        light_of(text)
    except InputError as error:
        raise InputError(
            error.problem, given=error.given, allowed=error.allowed, fix=error.fix
        ) from None
    return text.strip()


def _words(most: int) -> Callable[[str], str]:
    def check(text: str) -> str:
        if not 1 <= len(text.strip()) <= most:
            raise InputError(
                "This text is empty or too long.", given=text, allowed=f"1 to {most} characters"
            )
        return text.strip()

    return check


def _plate_text(text: str) -> str:
    alphabet = plate_design(DESIGN).alphabet
    shown = _words(12)(text).upper()
    if strange := sorted(set(shown) - set(alphabet) - {" "}):
        raise InputError(
            f"A plate cannot bear {' '.join(strange)}.", given=text,
            allowed=f"the characters {alphabet} and the space",
        )  # fmt: skip
    return shown


def _light_profile(text: str) -> str | None:
    name = text.strip()
    if name in (NONE, ""):
        return None
    try:
        find("lights", name)
    except InputError:
        raise InputError(
            "There is no such light profile.",
            given=text,
            allowed=f"none, or one of {', '.join(bundled_names('lights'))}, or a file",
        ) from None
    return name


def lamp_lm(text: str) -> float:
    """Luminous flux [lm] of a lamp told in lumens ("4000 lm") or in watts of an LED ("40 W").

    A bare 0 is no lamp; any other bare number is refused, for it may mean either.
    """
    match = re.fullmatch(r"\s*([0-9.eE+-]+)\s*(lm|W|w)?\s*", text)
    try:
        value = float(match[1]) if match else math.nan
    except ValueError:
        value = math.nan
    unit = match[2] if match else None
    flux = value * LED_LM_PER_W if unit in ("W", "w") else value
    if value == 0.0:
        return 0.0
    if unit is None or not 0.0 < flux <= MOST_LM:
        raise InputError(
            "This is not the strength of a lamp.",
            given=text,
            allowed=f"0 for no lamp, lumens up to {MOST_LM:.0f} lm, or watts of an LED lamp up to"
            f" {MOST_LM / LED_LM_PER_W:.0f} W",
            fix="write it with its unit, such as 4000 lm or 40 W",
        )
    return flux


QUESTIONS = {
    "title": Question("Title", "A gate of my own", _words(120)),
    "light": Question(
        f"Light ({', '.join(LIGHTS)}, or lux, such as 3 lx)", "town-night", _light
    ),
    "distance_m": Question("Distance of the target [m]", "15", _number(1.0, 1000.0, "m")),
    "height_m": Question("Height of the camera [m]", "3", _number(0.1, 200.0, "m")),
    "sideways_m": Question(
        "Target to the right of the camera's axis, left below 0 [m]", "0.5",
        _number(-500.0, 500.0, "m"),
    ),
    "text": Question("Text of the plate", "A1B2 C3D", _plate_text),
    "vehicle": Question(f"Vehicle ({', '.join(VEHICLES)})", "car", _choice(*VEHICLES)),
    "speed_kmh": Question("Speed of the target [km/h]", "10", _number(0.0, 300.0, "km/h")),
    "infrared": Question(
        "Infrared lamp beside the camera (a light profile, or none)", "infrared-850-medium",
        _light_profile,
    ),
    "lamp": Question(
        "Lamp: visible light in lumens or in watts of an LED (4000 lm, 40 W; 0 for none)",
        "0", lamp_lm,
    ),
}  # fmt: skip
"""By name of the option."""
FIELDS = {"lamp": "lamp_lm"}
"""Field of `Answers` where it is not the name of the option."""
ALWAYS = ("title", "light", "distance_m", "height_m")
"""What is asked of every kind of scene."""


def asked_of(kind: str) -> tuple[str, ...]:
    """Options that a kind of scene takes, in the order they are asked."""
    return tuple(name for name in QUESTIONS if name in (*ALWAYS, *KINDS[kind].asks))


def usual_of(kind: str, name: str) -> str:
    """The usual answer of a kind of scene, as it is typed."""
    value = KINDS[kind].usual.get(FIELDS.get(name, name), QUESTIONS[name].usual)
    if value is None:
        return NONE
    if name == "lamp" and value != QUESTIONS[name].usual:
        return f"{value:g} lm"
    return value if isinstance(value, str) else f"{value:g}"


def check_options(kind: str, given: Iterable[str]) -> None:
    """Refuse options that a kind of scene does not take.

    Raises
    ------
    InputError
        For the first of them, or a kind that is not there.
    """
    if kind not in KINDS:
        raise InputError(
            "There is no kind of scene of that name.", argument="kind", given=kind,
            allowed=", ".join(KINDS),
        )  # fmt: skip
    for name in given:
        if name not in asked_of(kind):
            raise InputError(
                f"A scene of the kind {kind} does not ask for this.", argument=name,
                allowed=", ".join(f"--{one.replace('_', '-')}" for one in asked_of(kind)),
                fix="leave it out, or choose another kind",
            )  # fmt: skip


def checked(name: str, text: str) -> Any:
    """The value of an answer.

    Raises
    ------
    InputError
        If it is not possible; it names the option.
    """
    try:
        return QUESTIONS[name].check(text)
    except InputError as error:
        raise InputError(
            error.problem,
            argument=name,
            given=error.given,
            allowed=error.allowed,
            fix=error.fix,
        ) from None
