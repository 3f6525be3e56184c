"""Whatever is asked of a target without text: whether it is seen or known, or its colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import State
from simulator.judge.colour_naming import Naming, judge_colour
from simulator.judge.cycles import PATCHES, Cycles, judge_cycles
from simulator.judge.people import FULL, QUICK, observed
from simulator.judge.retakes import retakes_of
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
) -> Cycles | Naming:
    """Probability of "detect", "recognise", "identify" or "colour".

    An observer of delivered pictures has the word (`people`, `colour_naming`); the metric of cycles
    (`cycles`) stands beside it as a second opinion, and has the word where a thing other than a
    person is to be recognised or identified, for want of others of its kind to tell it from.

    Parameters
    ----------
    rates, regions
        See `judge_cycles`.
    stray_light
        Of the whole picture, if it is known already.
    """
    place = retakes_of(in_scene, state, target, silhouette, seed=seed, stray_light=stray_light)
    if task == "colour":
        return judge_colour(place, target, silhouette, rates, regions=regions)
    counted = judge_cycles(
        in_scene, state, target, silhouette, rates, task, seed=seed, regions=regions
    )
    seen = observed(place, target, silhouette, task, FULL if regions >= PATCHES else QUICK)
    if seen is None:
        return counted
    return replace(
        counted, value=seen.value, low=seen.low, high=seen.high, trials=seen.pictures,
        by_cycles=counted.value,
    )  # fmt: skip
