"""Infrared and white lamps and the eyes of people near them, in words."""

from __future__ import annotations

import math

import numpy as np

from simulator.light.eye_safety import CORNEA_LONG_W_M2, EyeSafety
from simulator.report.wording import three_digits
from simulator.scene.model_targets import Face, Person
from simulator.studies.lighting.study import Lighting

EYE_HEIGHT = 0.94
"""Height of the eyes of someone who stands, over his own (from memory, anthropometry)."""

DAZZLING_LUX = 30.0
"""Light of one lamp at the eyes, out of the dark, from which on glare is told (assumed)."""
NEARER = 0.5
"""Share of the distance of the scene to which people may come nearer (assumed)."""
DAZZLES = "dazzles out of the dark"
DEFER = (
    "Eye safety is an estimate from assumed numbers. The maker's classification of the lamp and a"
    " competent person decide; until then keep people's eyes beyond the distance told here."
)


def eye_words(eye: EyeSafety) -> str:
    """One lamp and the eye in a sentence."""
    time = "without limit" if math.isinf(eye.allowed_s) else f"for {eye.allowed_s:.0f} s"
    return (
        f"Estimate by the quantities of IEC 62471: {eye.group}. At"
        f" {1000 * eye.assessed_at_m:.0f} mm on its axis {three_digits(eye.irradiance_w_m2)} W/m²"
        f" (allowed {time}); {CORNEA_LONG_W_M2:g} W/m², the limit for long exposure, is exceeded"
        f" within {max(0.01, eye.hazard_distance_m):.2f} m."
    )


def eyes_near(found: Lighting) -> list[tuple[str, float]]:
    """Faces and people of the scene and how far their eyes are from the lamp [m], nearest first."""
    out = []
    for entry in found.scene.model.target:
        if isinstance(entry, Face | Person):
            place = np.array(entry.position_m, dtype=np.float64)
            if isinstance(entry, Person):
                place[2] += EYE_HEIGHT * entry.height_m
            out.append((entry.name, float(np.linalg.norm(place - found.light.lamp_m))))
    return sorted(out, key=lambda row: row[1])


def eye_cautions(found: Lighting) -> list[str]:
    """The eye, for every result."""
    near = eyes_near(found)
    if found.eye is None:
        text = (
            "This lamp can be seen: blue light and glare are not assessed here. Take the maker's"
            " classification (IEC 62471, IEC TR 62778) and keep it out of drivers' eyes."
        )
        return [text, *_dazzled(found, near)]
    return [eye_words(found.eye), *_exposed(found, near), DEFER]


def _dazzled(found: Lighting, near: list[tuple[str, float]]) -> list[str]:
    if not near:
        return []
    name, away = near[0]
    lux = found.chosen / away**2
    text = (
        f"The eyes of the {name} are {away:.2f} m from this lamp, which gives up to"
        f" {three_digits(lux)} lx there"
    )
    text += f", which {DAZZLES}." if lux > DAZZLING_LUX else "."
    bright = [
        f"{way.name} ({three_digits(way.intensity / away**2)} lx)"
        for way in found.ways
        if way.sort == "lamp"
        and way.intensity_unit == "cd"
        and way.intensity is not None
        and way.intensity / away**2 > DAZZLING_LUX
    ]
    if bright:
        text += f" Of the lamps beside it, this {DAZZLES}: {', '.join(bright)}."
    if bright or lux > DAZZLING_LUX:
        text += " Mount such a lamp high or to the side, or light the whole place evenly."
    return [text + _too_near(found, away)]


def _exposed(found: Lighting, near: list[tuple[str, float]]) -> list[str]:
    """Infrared at the eyes of whom the scene shows, by the sized lamp and by those beside it."""
    assert found.eye is not None
    if not near:
        return []
    name, away = near[0]
    there = found.chosen / away**2
    beyond = there > CORNEA_LONG_W_M2
    text = (
        f"The eyes of the {name} are {away:.2f} m from this lamp, which gives up to"
        f" {three_digits(there)} W/m² there,"
    )
    if beyond:
        text += (
            f" more than the {CORNEA_LONG_W_M2:g} W/m² of the limit for long exposure: choose a"
            " weaker lamp or another place."
        )
    else:
        text += (
            f" against the {CORNEA_LONG_W_M2:g} W/m² of the limit for long exposure. Infrared is"
            " not seen, so nobody looks away, and people may come nearer than the scene shows."
        )
    return [text + _too_near(found, away)]


def _too_near(found: Lighting, away_m: float) -> str:
    """Infrared lamps beside it that exceed the limit at eyes not much nearer than these."""
    beyond = [
        f"{way.name} ({way.eye.hazard_distance_m:.2f} m)"
        for way in found.ways
        if way.sort == "lamp"
        and way.eye is not None
        and way.eye.hazard_distance_m > NEARER * away_m
    ]
    if not beyond:
        return ""
    return (
        f" Of the lamps beside it these exceed {CORNEA_LONG_W_M2:g} W/m² at eyes within the"
        f" distance told, too near for this place: {', '.join(beyond)}."
    )
