"""Pixel density on the target and its class after IEC 62676-4:2014.

The class names are those of the 2014 edition; its thresholds are densities of a picture, not a
promise that a task succeeds. The 2025 edition raises and renames them.
"""

from __future__ import annotations

from typing import NamedTuple

EDITION = "IEC 62676-4:2014"
CLASSES_PX_PER_M = (
    (1000.0, "inspect"),
    (250.0, "identify"),
    (125.0, "recognise"),
    (62.5, "observe"),
    (25.0, "detect"),
    (12.5, "monitor"),
)
"""Least pixel density of each class, densest first [px/m]."""


class Density(NamedTuple):
    """Pixel density [px/m] and its class."""

    pixels_per_m: float
    density_class: str


def density_class(pixels_per_m: float) -> Density:
    """The class a pixel density reaches, or "below monitor"."""
    for least, name in CLASSES_PX_PER_M:
        if pixels_per_m >= least:
            return Density(pixels_per_m, name)
    return Density(pixels_per_m, "below monitor")
