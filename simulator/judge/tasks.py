"""Whatever is asked of a target without text: whether it is seen or known, or its colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import State
from simulator.judge.colour_naming import Naming, judge_colour
from simulator.judge.cycles import PATCHES, Cycles, judge_cycles
from simulator.judge.people import FULL, QUICK, Observed, notice, observed
from simulator.judge.retakes import Retakes, retakes_of
from simulator.judge.silhouette import Silhouette
from simulator.judge.target import JudgedTarget
from simulator.units import Image


def judge_task(
    in_scene: CameraInScene,
    state: State,
    target: JudgedTarget,
    silhouette: Silhouette,
    rates: Sequence[Image],
    task: str,
    *,
    seed: int,
    regions: int = PATCHES,
    stray_light: Image | None = None,
    place: Retakes | None = None,
    seen: Observed | None = None,
) -> Cycles | Naming:
    """Probability of "detect", "recognise", "identify" or "colour".

    An observer of delivered pictures has the word (`people`, `colour_naming`); the metric of cycles
    (`cycles`) stands beside it as a second opinion. Where a thing other than a person is to be
    recognised or identified there are no others of its kind to tell it from: cycles have the word
    there, as far as the observer detects the thing at all.

    Parameters
    ----------
    rates, regions
        See `judge_cycles`.
    stray_light
        Of the whole picture, if it is known already.
    place
        The target's part of the picture, if it is laid out already.
    seen
        What the observer says, if he was asked already.
    """
    if place is None:
        place = retakes_of(in_scene, state, target, silhouette, seed=seed, stray_light=stray_light)
    if task == "colour":
        return judge_colour(place, target, silhouette, rates, regions=regions)
    counted = judge_cycles(
        in_scene, state, target, silhouette, rates, task, seed=seed, regions=regions
    )
    effort = FULL if regions >= PATCHES else QUICK
    if seen is None:
        seen = observed(place, target, silhouette, task, effort)
    if seen is None:
        there = notice(place, target, silhouette, effort=effort)
        return replace(
            counted, value=min(counted.value, there.value), low=min(counted.low, there.low),
            high=min(counted.high, there.high), by_cycles=counted.value,
        )  # fmt: skip
    return replace(
        counted, value=seen.value, low=seen.low, high=seen.high, trials=seen.pictures,
        by_cycles=counted.value,
    )  # fmt: skip
