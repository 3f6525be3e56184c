"""Pixel density on the target and its class after both editions of IEC 62676-4.

The thresholds are densities of a picture, not a promise that a task succeeds: a picture may have
them and show nothing, which is what the effective density and the probability tell.
"""

from __future__ import annotations

from typing import NamedTuple

from simulator.domain import require

EDITION = "IEC 62676-4:2014"
CLASSES_PX_PER_M = (
    (1000.0, "inspect"),
    (250.0, "identify"),
    (125.0, "recognise"),
    (62.5, "observe"),
    (25.0, "detect"),
    (12.5, "monitor"),
)
"""Least pixel density of each class, densest first [px/m] (as a notice of DIN reports them)."""
EDITION_2025 = "IEC 62676-4:2025"
CLASSES_2025_PX_PER_M = (
    (1500.0, "scrutinise"),
    (500.0, "validate"),
    (250.0, "characterise"),
    (125.0, "perceive"),
    (80.0, "discern"),
    (40.0, "outline"),
    (20.0, "overview"),
)
"""The same of the 2025 edition. Densities as a notice of DIN on its final draft reports them; the
names are less sure: four from secondary sources, overview, outline and discern from memory, and
that notice's own order of letters swaps perceive and characterise."""


CLASS_OF_TASK = {
    "detect": "detect", "recognise": "recognise", "identify": "identify", "read": "identify",
}  # fmt: skip
"""The class of 2014 from which people expect a task to succeed; for reading a text, which no class
is about, the densest one that speaks of telling one from another (chosen by us)."""


class Density(NamedTuple):
    """Pixel density [px/m] and its class."""

    pixels_per_m: float
    density_class: str


def density_class(pixels_per_m: float) -> Density:
    """The class of the 2014 edition that a pixel density reaches.

    Parameters
    ----------
    pixels_per_m
        Pixels over one metre at the target, 0 or more [px/m].

    Returns
    -------
    Density
        The density and the highest class it reaches, or "below monitor".

    Raises
    ------
    InputError
        For a density below 0.

    References
    ----------
    IEC 62676-4:2014 (least densities as a notice of DIN reports them).

    Examples
    --------
    >>> [density_class(d).density_class for d in (20.0, 62.5, 260.0)]
    ['monitor', 'observe', 'identify']
    """
    require("pixels_per_m", pixels_per_m, least=0.0, unit="px/m")
    return Density(pixels_per_m, _reached(pixels_per_m, CLASSES_PX_PER_M))


def density_class_2025(pixels_per_m: float) -> str:
    """The class of the 2025 edition that a pixel density reaches.

    Parameters
    ----------
    pixels_per_m
        Pixels over one metre at the target, 0 or more [px/m].

    Returns
    -------
    str
        The highest class it reaches, or "below overview".

    Raises
    ------
    InputError
        For a density below 0.

    References
    ----------
    IEC 62676-4:2025 (least densities as a notice of DIN on its final draft reports them, names
    partly from memory).

    Examples
    --------
    >>> density_class_2025(260.0)
    'characterise'
    """
    require("pixels_per_m", pixels_per_m, least=0.0, unit="px/m")
    return _reached(pixels_per_m, CLASSES_2025_PX_PER_M)


def _reached(pixels_per_m: float, classes: tuple[tuple[float, str], ...]) -> str:
    for least, name in classes:
        if pixels_per_m >= least:
            return name
    return f"below {classes[-1][1]}"
