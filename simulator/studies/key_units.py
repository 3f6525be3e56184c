"""Units that the names of keys end with."""

from __future__ import annotations

from simulator.studies.short_names import unit_of_short

UNITS = {
    "lux": "lx", "kmh": "km/h", "mm": "mm", "deg": "°", "s": "s", "us": "µs", "db": "dB",
    "px": "px", "um": "µm", "e": "e⁻", "nm": "nm", "cd": "cd", "lm": "lm", "w": "W", "c": "°C",
    "m": "m", "hz": "Hz", "k": "K",
}  # fmt: skip
COMPOUND = {
    "w_per_sr": "W/sr", "e_per_s": "e⁻/s", "kbit_s": "kbit/s", "mm_per_h": "mm/h",
    "cd_m2": "cd/m²", "per_million": "in a million",
}  # fmt: skip
"""Units of several words."""


def split_unit(key: str) -> tuple[str, str]:
    """Name of the last part of a dotted key without its unit, and the unit, empty if none."""
    last = key.rsplit(".", 1)[-1]
    for ending, unit in (*COMPOUND.items(), *UNITS.items()):
        name = last.removesuffix(f"_{ending}")
        if name != last:
            return name, unit
    return last, ""


def unit_of(key: str) -> str:
    """Unit that the name of a key ends with, or that of a short name; empty if it has none."""
    short = unit_of_short(key)
    return split_unit(key)[1] if short is None else short
