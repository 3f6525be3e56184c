"""Axes of a sweep: a dotted key and the values it takes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from simulator.dotted import parse_fraction, parse_value
from simulator.errors import InputError

FORM = "KEY=FIRST:LAST:COUNT, KEY=FIRST:LAST:logCOUNT, or KEY=VALUE,VALUE,..."
MOST = 10_000
SECONDS = {"shutter": "exposure.shutter_s"}
"""Short names of times, which may be written as a fraction."""


@dataclass(frozen=True)
class Axis:
    """One key and its values, numbers or words; `log` if evenly spaced by ratio."""

    key: str
    values: tuple[Any, ...]
    log: bool = False

    @property
    def numeric(self) -> bool:
        """Whether every value is a number."""
        return all(isinstance(v, int | float) and not isinstance(v, bool) for v in self.values)


def parse_axis(text: str) -> Axis:
    """Axis of a text.

    `natural_light.illuminance_lux=0.01:100:log25` gives 25 values evenly spaced by ratio, `:25`
    evenly spaced by difference, `a,b,c` just these.

    Raises
    ------
    InputError
        For a text of another form, or a range that cannot be made.
    """
    key, equal, rest = text.partition("=")
    key, rest = key.strip(), rest.strip()
    if not key or not equal or not rest:
        raise _refused(text, "This is not an axis.")
    parts = rest.split(":")
    if len(parts) == 1:
        as_key = SECONDS.get(key, key)
        values = tuple(
            parse_value(parse_fraction(as_key, part.strip())) for part in rest.split(",")
        )
        if any(part.strip() == "" for part in rest.split(",")):
            raise _refused(text, "A value is missing between two commas.")
        if len(set(map(str, values))) != len(values):
            raise _refused(text, "A value is there twice.")
        return Axis(key, values)
    match = re.fullmatch(r"(log)?(\d{1,9})", parts[-1].strip()) if len(parts) == 3 else None
    if match is None:
        raise _refused(text, "This is not a range.")
    try:
        first, last = float(parts[0]), float(parts[1])
    except ValueError:
        raise _refused(text, "The ends of the range must be numbers.") from None
    count = int(match[2])
    if not np.isfinite([first, last]).all() or first == last:
        raise _refused(text, "The ends of the range must be finite and differ.")
    if not 2 <= count <= MOST:
        raise _refused(text, f"A range has 2 to {MOST} values.")
    log = match[1] is not None
    if log and min(first, last) <= 0.0:
        raise _refused(text, "A range evenly spaced by ratio must lie above zero.")
    spread = np.geomspace if log else np.linspace
    return Axis(key, tuple(float(f"{v:.6g}") for v in spread(first, last, count)), log)


def _refused(text: str, problem: str) -> InputError:
    return InputError(
        problem,
        argument="over",
        given=text,
        allowed=FORM,
        fix="for example natural_light.illuminance_lux=0.01:100:log25",
    )


def set_text(key: str, value: Any) -> str:
    """`key=value` as `--set` takes it."""
    if isinstance(value, bool):
        return f"{key}={'true' if value else 'false'}"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return f"{key}={value:.1f}"
    return f"{key}={value}"
