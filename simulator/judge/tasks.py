"""Whatever is asked of a target without text: by its contrast, or by its colour."""

from __future__ import annotations

from collections.abc import Sequence

from simulator.camera.pipeline import State
from simulator.camera.rig import Rig
from simulator.judge.colour_naming import Naming, judge_colour
from simulator.judge.cycles import PATCHES, Cycles, judge_cycles
from simulator.judge.silhouette import Silhouette
from simulator.judge.target import JudgedTarget
from simulator.units import Image


def judge_task(
    rig: Rig,
    state: State,
    target: JudgedTarget,
    silhouette: Silhouette,
    rates: Sequence[Image],
    task: str,
    *,
    seed: int,
    patches: int = PATCHES,
) -> Cycles | Naming:
    """Probability of "detect", "recognise", "identify" or "colour"; see `judge_cycles`."""
    if task == "colour":
        return judge_colour(rig, state, target, silhouette, rates, seed=seed, patches=patches)
    return judge_cycles(rig, state, target, silhouette, rates, task, seed=seed, patches=patches)
