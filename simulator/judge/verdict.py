"""The verdict in one word, and the cautions that go with it."""

from __future__ import annotations

import math

from simulator.judge.result import Word
from simulator.messages import Message
from simulator.scene.model import SceneModel
from simulator.scene.model_targets import Face, Person
from simulator.scene.model_things import Plate, VehicleFront, VehicleRear, VehicleSide
from simulator.scene.world import World

MARGINAL_FROM = 0.5
CORNEA_LIMIT_W_M2 = 100.0
"""Infrared irradiance of the eye for more than 1000 s, IEC 62471:2006 (value from memory)."""
HEIGHT_CAUTION_M = 2.0


def verdict_word(probability: float, low: float, high: float, wanted: float) -> Word:
    """The verdict in one word.

    "legible" if even the low end reaches the target probability; "marginal" if the interval
    straddles it or the task succeeds at least half of the time; otherwise "not legible".

    Parameters
    ----------
    probability, low, high
        Probability of the task and the ends of its interval, 0 to 1.
    wanted
        Target probability, 0 to 1.

    Returns
    -------
    str
        "legible", "marginal" or "not legible".

    References
    ----------
    Chosen by us.

    Examples
    --------
    >>> verdict_word(0.97, 0.92, 0.99, 0.9), verdict_word(0.2, 0.1, 0.3, 0.9)
    ('legible', 'not legible')
    """
    if low >= wanted:
        return "legible"
    if high >= wanted or probability >= MARGINAL_FROM:
        return "marginal"
    return "not legible"


def cautions(scene: SceneModel, world: World) -> list[Message]:
    """Safety and privacy, for every result that shows a plate or needs an installation."""
    out = []
    for light in world.lights:
        if light.radiant_intensity_w_per_sr:
            near = math.sqrt(light.radiant_intensity_w_per_sr / CORNEA_LIMIT_W_M2)
            out.append(
                Message(
                    "caution.infrared-eye",
                    {"light": light.name, "near_m": near, "limit_w_m2": CORNEA_LIMIT_W_M2},
                )
            )
    height = scene.station.height_m
    if height > HEIGHT_CAUTION_M:
        out.append(Message("caution.height", {"height_m": height}))
    people = any(isinstance(t, Face | Person) for t in scene.target)
    plates = any(
        isinstance(t, Plate | VehicleFront | VehicleRear | VehicleSide) for t in scene.target
    )
    return [*out, Message("caution.personal-data", {"people": people, "plates": plates})]
