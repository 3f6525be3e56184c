"""The light of a new scene as it is given: a name, or an amount."""

from __future__ import annotations

import re

from simulator.errors import InputError
from simulator.studies.new.lights import LIGHTS, NamedLight
from simulator.validation import nearest_choice

DAY_LUX, TWILIGHT_LUX = 100.0, 1.0
"""Amounts from which on light is daylight, and twilight (chosen by us)."""
MOST_LUX = 150_000.0


def light_of(text: str) -> NamedLight:
    """A light by its name, or by an amount such as "3 lx".

    Raises
    ------
    InputError
        For anything else.
    """
    name = text.strip()
    if name in LIGHTS:
        return LIGHTS[name]
    amount = re.fullmatch(r"([0-9.]+(?:[eE][+-]?[0-9]+)?)\s*(?:lx|lux)", name)
    try:
        lux = float(amount[1]) if amount else -1.0
    except ValueError:
        lux = -1.0
    if not 0.0 < lux <= MOST_LUX:
        raise InputError(
            "There is no light of that name.", key="light", given=text,
            allowed=f"{', '.join(LIGHTS)}, or an amount such as 3 lx",
            fix=f"did you mean {near[0]}?" if (near := nearest_choice(name, LIGHTS)) else None,
        )  # fmt: skip
    spectrum = "daylight" if lux >= DAY_LUX else "twilight" if lux >= TWILIGHT_LUX else "night-sky"
    return NamedLight(lux, spectrum, "natural light", "as it was told")
