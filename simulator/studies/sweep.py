"""The verdict over one or more keys of scene and camera: every combination is judged.

Points that are done are kept in a file beside the result, line by line, so that a sweep that was
interrupted goes on where it stopped.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.scene.load import Scene
from simulator.studies.axes import Axis, set_text
from simulator.studies.overrides import load_pair
from simulator.studies.provenance import input_hash, versions
from simulator.studies.quick import TRIALS, Quick, quick

Progress = Callable[[str, float], None]
PICTURES = 8
"""Most pictures in the strip along the first axis."""


@dataclass(frozen=True)
class Plan:
    """What is swept."""

    scene: Scene | str | Path
    camera: Camera | str | Path
    sets: tuple[str, ...]
    axes: tuple[Axis, ...]
    seed: int = 0
    trials: int = TRIALS

    @property
    def scene_name(self) -> str:
        """Name of the scene."""
        return self.scene.name if isinstance(self.scene, Scene) else Path(self.scene).stem

    @property
    def camera_name(self) -> str:
        """Name of the camera."""
        return self.camera.name if isinstance(self.camera, Camera) else Path(self.camera).stem

    @property
    def shape(self) -> tuple[int, ...]:
        """Number of values of every axis."""
        return tuple(len(axis.values) for axis in self.axes)

    def points(self) -> list[tuple[int, ...]]:
        """Index of every point, the last axis fastest."""
        return list(itertools.product(*(range(n) for n in self.shape)))

    def sets_at(self, index: Sequence[int]) -> list[str]:
        """All values to set at a point."""
        along = [
            set_text(axis.key, axis.values[i]) for axis, i in zip(self.axes, index, strict=True)
        ]
        return [*self.sets, *along]

    def pictured(self) -> list[tuple[int, ...]]:
        """Points whose picture goes into the strip: along the first axis, the rest at their
        middle value."""
        n = self.shape[0]
        first = np.unique(np.round(np.linspace(0, n - 1, min(n, PICTURES))).astype(int))
        rest = tuple(m // 2 for m in self.shape[1:])
        return [(int(i), *rest) for i in first]

    def key(self) -> str:
        """What tells this sweep from others: its inputs, axes, seed and versions."""
        scene, camera = load_pair(self.scene, self.camera, list(self.sets))
        told = {
            "inputs": input_hash(scene, camera),
            "axes": [[axis.key, list(axis.values)] for axis in self.axes],
            "seed": self.seed,
            "trials": self.trials,
            "versions": versions(),
        }
        return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:16]


@dataclass(frozen=True)
class Swept:
    """Every point's row, and the pictures of the strip."""

    plan: Plan
    rows: dict[tuple[int, ...], dict[str, Any]]
    pictures: dict[tuple[int, ...], NDArray[np.uint8]]
    question: str
    title: str
    wanted: float

    def array(self, name: str) -> NDArray[np.float64]:
        """One number at every point, of the sweep's shape."""
        out = np.full(self.plan.shape, np.nan)
        for index, row in self.rows.items():
            out[index] = row[name]
        return out


def _judge(plan: Plan, index: tuple[int, ...], picture: bool) -> Quick:
    scene, camera = load_pair(plan.scene, plan.camera, plan.sets_at(index))
    return quick(scene, camera, seed=plan.seed, trials=plan.trials, picture=picture)


def check(plan: Plan) -> None:
    """Refuse a sweep whose first or last point cannot be, before the long work.

    Raises
    ------
    InputError
        For an axis, key or value that is at fault.
    """
    keys = [axis.key for axis in plan.axes]
    if len(set(keys)) != len(keys):
        raise InputError(
            "A key is swept twice.",
            argument="over",
            given=", ".join(keys),
            fix="name each key once",
        )
    for axis in plan.axes:
        for value in axis.values:
            load_pair(plan.scene, plan.camera, [*plan.sets, set_text(axis.key, value)])


def kept_file(folder: Path) -> Path:
    """File beside a result folder that keeps the points that are done."""
    return folder.with_name(f"{folder.name}.points.jsonl")


def kept_points(file: Path, key: str) -> dict[tuple[int, ...], dict[str, Any]]:
    """Points of an interrupted sweep.

    Raises
    ------
    InputError
        If the file belongs to another sweep.
    """
    out: dict[tuple[int, ...], dict[str, Any]] = {}
    if not file.exists():
        return out
    lines = file.read_text(encoding="utf-8").splitlines()
    for n, line in enumerate(lines):
        try:
            found = json.loads(line)
        except ValueError:
            continue  # the line that was being written when the work stopped
        if n == 0:
            if found.get("sweep") != key:
                raise InputError(
                    "The points that are kept here belong to another sweep.",
                    file=file,
                    allowed="the same scene, camera, values, axes, seed and version",
                    fix="leave out --resume to begin anew, or name another folder with --out",
                )
            continue
        out[tuple(found["index"])] = found["row"]
    return out


@contextmanager
def worker_pool(count: int) -> Iterator[ProcessPoolExecutor | None]:
    """Processes for work that is cut into points, each with one thread; None if one is enough."""
    if count <= 1:
        yield None
        return
    before = os.environ.get("NUMBA_NUM_THREADS")
    os.environ["NUMBA_NUM_THREADS"] = "1"
    pool = ProcessPoolExecutor(count, mp_context=get_context("spawn"))
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
        if before is None:
            del os.environ["NUMBA_NUM_THREADS"]
        else:
            os.environ["NUMBA_NUM_THREADS"] = before


def sweep(
    plan: Plan,
    *,
    keep: Path | None = None,
    resume: bool = False,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Swept:
    """Judge every point of a sweep.

    Parameters
    ----------
    keep
        File that keeps the points that are done; without it nothing is kept.
    resume
        Go on with the points of `keep`.
    workers
        Processes, by default one for each processor but no more than points.

    Raises
    ------
    InputError
        For an axis, key or value that is at fault.
    """
    say = progress or (lambda text, share: None)
    check(plan)
    key = plan.key()
    rows = kept_points(keep, key) if keep is not None and resume else {}
    pictures: dict[tuple[int, ...], NDArray[np.uint8]] = {}
    pictured = set(plan.pictured())
    every = plan.points()
    wanted = [index for index in every if index not in rows or index in pictured]
    scene, _ = load_pair(plan.scene, plan.camera, list(plan.sets))
    if keep is not None and not rows:
        keep.parent.mkdir(parents=True, exist_ok=True)
        keep.write_text(json.dumps({"sweep": key}) + "\n", encoding="utf-8")

    def take(index: tuple[int, ...], found: Quick) -> None:
        if found.picture is not None:
            pictures[index] = found.picture
        if index in rows:
            return
        rows[index] = found.row()
        if keep is not None:
            with keep.open("a", encoding="utf-8") as file:
                file.write(json.dumps({"index": index, "row": rows[index]}) + "\n")
        say(f"{len(rows)} of {len(every)} points", len(rows) / len(every))

    count = min(workers or os.cpu_count() or 1, len(wanted))
    with worker_pool(count) as pool:
        if pool is None:
            for index in wanted:
                take(index, _judge(plan, index, index in pictured))
        else:
            waiting: dict[Future[Quick], tuple[int, ...]] = {
                pool.submit(_judge, plan, index, index in pictured): index for index in wanted
            }
            while waiting:
                ready, _ = wait(waiting, return_when=FIRST_COMPLETED)
                for future in ready:
                    take(waiting.pop(future), future.result())
    model = scene.model
    return Swept(plan, rows, pictures, model.question, model.title, model.task.wanted_probability)
