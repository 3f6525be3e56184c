"""Lamps and the eyes of people near them, as messages."""

from __future__ import annotations

import math

import numpy as np

from simulator.light.eye_safety import CORNEA_LONG_W_M2, EyeSafety
from simulator.messages import Message
from simulator.scene.model_targets import Face, Person
from simulator.studies.lighting.study import Lighting, Way

EYE_HEIGHT = 0.94
"""Height of the eyes of someone who stands, over his own (from memory, anthropometry)."""
DAZZLING_LUX = 30.0
"""Light of one lamp at the eyes, in the dark, from which on glare is reported (assumed)."""
NEARER = 0.5
"""Share of the distance of the scene to which people may come nearer (assumed)."""
LEAST_HAZARD_M = 0.01
"""Distances below this are reported as this."""


def eyes_near(lighting: Lighting) -> list[tuple[str, float]]:
    """Faces and people of the scene and how far their eyes are from the lamp [m], nearest first."""
    out = []
    for entry in lighting.scene.model.target:
        if isinstance(entry, Face | Person):
            place = np.array(entry.position_m, dtype=np.float64)
            if isinstance(entry, Person):
                place[2] += EYE_HEIGHT * entry.height_m
            out.append((entry.name, float(np.linalg.norm(place - lighting.light.lamp_m))))
    return sorted(out, key=lambda row: row[1])


def eye_cautions(lighting: Lighting) -> list[Message]:
    """The eye, for every result."""
    near = eyes_near(lighting)[:1]
    if lighting.eye is None:
        out = [Message("lighting-eye.visible")]
        for name, away in near:
            out += [*_dazzled(lighting, name, away), *_too_near(lighting, away)]
        return out
    out = [estimate(lighting.eye)]
    for name, away in near:
        there = lighting.chosen / away**2
        out += [
            Message.of(
                "lighting-eye.near",
                name=name,
                away_m=away,
                irradiance_w_m2=there,
                limit_w_m2=CORNEA_LONG_W_M2,
                beyond=there > CORNEA_LONG_W_M2,
            ),
            *_too_near(lighting, away),
        ]
    return [*out, Message("lighting-eye.defer")]


def estimate(eye: EyeSafety) -> Message:
    """Risk group and distances of an infrared lamp."""
    return Message.of(
        "lighting-eye.estimate", group=eye.group, at_mm=1e3 * eye.assessed_at_m,
        irradiance_w_m2=eye.irradiance_w_m2,
        allowed_s=None if math.isinf(eye.allowed_s) else eye.allowed_s,
        limit_w_m2=CORNEA_LONG_W_M2, hazard_m=max(LEAST_HAZARD_M, eye.hazard_distance_m)
    )  # fmt: skip


def _lamps(lighting: Lighting) -> list[Way]:
    return [way for way in lighting.ways if way.sort == "lamp"]


def _dazzled(lighting: Lighting, name: str, away_m: float) -> list[Message]:
    lux = lighting.chosen / away_m**2
    out = [Message.of(
        "lighting-eye.near-visible", name=name, away_m=away_m, illuminance_lux=lux,
        dazzles=lux > DAZZLING_LUX
    )]  # fmt: skip
    there = {w.name: (w.intensity or 0.0) / away_m**2 for w in _lamps(lighting)
             if w.intensity_unit == "cd"}  # fmt: skip
    bright = {name: x for name, x in there.items() if x > DAZZLING_LUX}
    if bright:
        out.append(Message.of(
            "lighting-eye.dazzling", names=tuple(bright), illuminances_lux=tuple(bright.values())
        ))  # fmt: skip
    if bright or lux > DAZZLING_LUX:
        out.append(Message("lighting-eye.mount-high"))
    return out


def _too_near(lighting: Lighting, away_m: float) -> list[Message]:
    """Infrared lamps beside it that exceed the limit at eyes not much nearer than these."""
    hazards = {w.name: w.eye.hazard_distance_m for w in _lamps(lighting) if w.eye is not None}
    beyond = {name: m for name, m in hazards.items() if m > NEARER * away_m}
    if not beyond:
        return []
    return [Message.of(
        "lighting-eye.too-near", names=tuple(beyond), hazards_m=tuple(beyond.values()),
        limit_w_m2=CORNEA_LONG_W_M2
    )]  # fmt: skip
