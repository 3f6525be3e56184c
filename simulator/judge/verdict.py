"""The verdict in one word, and what goes with it for the person who acts on it."""

from __future__ import annotations

import math

from simulator.judge.result import Verdict, Word
from simulator.scene.model import SceneModel
from simulator.scene.model_targets import Face, Person
from simulator.scene.model_things import Plate, VehicleFront, VehicleRear, VehicleSide
from simulator.scene.world import World

MARGINAL_FROM = 0.5
CORNEA_LIMIT_W_M2 = 100.0
"""Infrared irradiance of the eye for more than 1000 s, IEC 62471:2006 (value from memory)."""
HEIGHT_CAUTION_M = 2.0
DONE = {"read": "legible", "detect": "detectable", "recognise": "recognisable",
        "identify": "identifiable", "colour": "nameable by colour"}  # fmt: skip


def shown_word(word: str, task: str) -> str:
    """The verdict as people say it of a task: a person is recognisable, not legible."""
    return word.replace("legible", DONE[task])


def verdict_word(probability: float, low: float, high: float, wanted: float) -> Word:
    """ "legible" if even the low end reaches what is wanted; "marginal" if the interval
    straddles it or the reading succeeds at least half of the time; otherwise "not legible".
    """
    if low >= wanted:
        return "legible"
    if high >= wanted or probability >= MARGINAL_FROM:
        return "marginal"
    return "not legible"


def why_marginal(verdict: Verdict) -> str | None:
    """Why a verdict is marginal, with wanted probability and interval; None if it is not."""
    if verdict.verdict != "marginal":
        return None
    wanted = verdict.task.wanted_probability
    low, high = verdict.probability_low, verdict.probability_high
    interval = f"the interval {low:.2f} to {high:.2f}"
    if high >= wanted:
        return f"Marginal: {interval} straddles the wanted {wanted:.2f}."
    return (
        f"Marginal: {interval} stays below the wanted {wanted:.2f}, yet it succeeds in half of the"
        " pictures or more."
    )


def cautions(scene: SceneModel, world: World) -> list[str]:
    """Safety and privacy, for every result that shows a plate or needs an installation."""
    out = []
    for light in world.lights:
        if light.radiant_intensity_w_per_sr:
            near = math.sqrt(light.radiant_intensity_w_per_sr / CORNEA_LIMIT_W_M2)
            out.append(
                f"Infrared of '{light.name}': irradiance exceeds {CORNEA_LIMIT_W_M2:g} W/m², the"
                f" IEC 62471 limit for long exposure of the eye, within about {near:.2f} m on its"
                " axis. Invisible does not mean harmless: go by the maker's classification and a"
                " competent person."
            )
    if scene.station.height_m > HEIGHT_CAUTION_M:
        out.append(
            f"The camera stands {scene.station.height_m:g} m high: work at height, and mains"
            " wiring where there is any, are for trained or licensed people under local codes."
        )
    people = any(isinstance(t, Face | Person) for t in scene.target)
    plates = any(
        isinstance(t, Plate | VehicleFront | VehicleRear | VehicleSide) for t in scene.target
    )
    named = {
        (True, True): "People and number plates are",
        (True, False): "Pictures of people are",
        (False, True): "Number plates are",
        (False, False): "What a camera records of passers-by is",
    }
    out.append(
        f"{named[people, plates]} personal data in many places: record, keep and show"
        f" {'it' if not people and not plates else 'them'} only as local law allows."
    )
    return out
