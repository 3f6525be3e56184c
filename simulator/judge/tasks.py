"""Whatever is asked of a target without text: by its contrast, or by its colour."""

from __future__ import annotations

from collections.abc import Sequence

from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import State
from simulator.judge.colour_naming import Naming, judge_colour
from simulator.judge.cycles import PATCHES, Cycles, judge_cycles
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
) -> Cycles | Naming:
    """Probability of "detect", "recognise", "identify" or "colour"; see `judge_cycles`."""
    if task == "colour":
        return judge_colour(in_scene, state, target, silhouette, rates, seed=seed, regions=regions)
    return judge_cycles(
        in_scene, state, target, silhouette, rates, task, seed=seed, regions=regions
    )
