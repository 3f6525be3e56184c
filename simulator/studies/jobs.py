"""Judgements told so that other processes and other machines can do them."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import NamedTuple

from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.studies.quick import Quick, quick


class Job(NamedTuple):
    """One judgement; it needs no file but photographs."""

    scene: Scene
    camera: Camera
    seed: int
    trials: int
    whole: bool = False
    picture: bool = False


def judge_job(job: Job) -> Quick:
    """Do one judgement; stands alone so that another process can call it.

    Raises
    ------
    InputError
        As `quick` does.
    """
    return quick(
        job.scene,
        job.camera,
        seed=job.seed,
        trials=job.trials,
        whole=job.whole,
        picture=job.picture,
    )


def judged(pool: ProcessPoolExecutor | None, jobs: Sequence[Job]) -> list[Quick]:
    """Do several judgements, in a pool if there is one; results in the order of the jobs."""
    return list(map(judge_job, jobs)) if pool is None else list(pool.map(judge_job, jobs))
