"""Lights by name for a new scene, each with where its illuminance is from."""

from __future__ import annotations

from typing import NamedTuple


class NamedLight(NamedTuple):
    """An even light: illuminance of level ground [lx], its spectrum, what it is, its source."""

    lux: float
    spectrum: str
    words: str
    source: str


_WIKIPEDIA = "Wikipedia, Orders of magnitude (illuminance)"
_CIRCULAR = "Janiczek & DeYoung, US Naval Observatory Circular 171, 1987"
_INDOORS = "EN 12464-1, maintained illuminance, from memory"

LIGHTS: dict[str, NamedLight] = {
    "overcast-noon": NamedLight(
        10_000.0, "cie-d65", "noon under an overcast sky", f"{_WIKIPEDIA}: 10 000 to 25 000 lx"
    ),
    "workplace": NamedLight(500.0, "led-4000k", "a desk where people read and write", _INDOORS),
    "sunset": NamedLight(460.0, "daylight", "sunset under a clear sky", f"{_CIRCULAR}: 464 lx"),
    "corridor": NamedLight(100.0, "led-4000k", "a corridor or a lit hall", _INDOORS),
    "civil-dusk": NamedLight(
        3.4, "twilight", "end of civil dusk, the sun 6° below the horizon", f"{_CIRCULAR}: 3.4 lx"
    ),
    "full-moon": NamedLight(0.25, "moonlight", "a full moon, high and clear", _WIKIPEDIA),
    "town-night": NamedLight(
        0.05, "night-sky", "a clear night without moon under the glow of a town",
        "assumed: between starlight and full moon",
    ),
    "starlight": NamedLight(
        0.002, "night-sky", "stars and airglow alone, far from any town", _WIKIPEDIA
    ),
}  # fmt: skip
"""Brightest first; names for `nightproof new scene --light`."""
