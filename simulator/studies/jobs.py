"""Judgements told so that other processes and other machines can do them."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any, NamedTuple

from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.studies.quick import Quick, quick

Table = tuple[dict[str, Any], str, Path]
"""Table, name and file of a scene or a camera."""


class Job(NamedTuple):
    """One judgement; it needs no file but photographs."""

    scene: Table
    camera: Table
    seed: int
    trials: int
    whole: bool = False
    picture: bool = False


def told(entry: Scene | Camera) -> Table:
    """A scene or a camera as a job holds it."""
    return entry.raw, entry.name, entry.file


def judge_job(job: Job) -> Quick:
    """Do one judgement; stands alone so that another process can call it.

    Raises
    ------
    InputError
        As `quick` does.
    """
    scene = Scene.from_raw(*job.scene)
    camera = Camera.from_raw(*job.camera)
    return quick(
        scene, camera, seed=job.seed, trials=job.trials, whole=job.whole, picture=job.picture
    )


def judged(pool: ProcessPoolExecutor | None, jobs: Sequence[Job]) -> list[Quick]:
    """Do several judgements, in a pool if there is one; results in the order of the jobs."""
    return list(map(judge_job, jobs)) if pool is None else list(pool.map(judge_job, jobs))
