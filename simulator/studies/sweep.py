"""The verdict over one or more keys of scene and camera: every combination is judged.

Points that are done are kept in a file beside the result, line by line, so that a sweep that was
interrupted goes on where it stopped.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.bounded import Bounded
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.scene.load import Scene
from simulator.studies.axes import Axis, set_text
from simulator.studies.kept import kept_rows
from simulator.studies.overrides import load_pair
from simulator.studies.provenance import input_hash, versions
from simulator.studies.quick import TRIALS, Quick, quick, quick_of
from simulator.studies.runner import open_pool
from simulator.studies.session import Session, open_session

Progress = Callable[[str, float], None]
PICTURES = 8
"""Most pictures in the strip along the first axis."""


NATURAL_LIGHT = ("natural_light.illuminance_lux", "scene.natural_light.illuminance_lux")
MOST_POINTS = 20_000
"""Points of a sweep (chosen by us): at a second each, a night of work."""


@dataclass(frozen=True)
class Plan:
    """What is swept."""

    scene: Scene | str | Path
    camera: Camera | str | Path
    sets: tuple[str, ...]
    axes: tuple[Axis, ...]
    seed: int = 0
    trials: int = TRIALS

    def __post_init__(self) -> None:
        points = math.prod(self.shape)
        if points > MOST_POINTS:
            raise InputError(
                "These axes have too many points together.",
                argument="over",
                given=f"{' x '.join(map(str, self.shape))} = {points} points",
                allowed=f"at most {MOST_POINTS} points",
                fix="sweep fewer keys, or fewer values of each",
            )

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

    @property
    def lit(self) -> int | None:
        """Number of the axis that is the amount of natural light; None without one."""
        for k, axis in enumerate(self.axes):
            if axis.key in NATURAL_LIGHT and max(map(float, axis.values)) > 0.0:
                return k
        return None

    def order(self, index: Sequence[int]) -> tuple[int, ...]:
        """Points in this order differ from the one before in natural light alone, if they can."""
        lit = self.lit
        if lit is None:
            return tuple(index)
        return (*index[:lit], *index[lit + 1 :], index[lit])

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
        identity = {
            "inputs": input_hash(scene, camera),
            "axes": [[axis.key, list(axis.values)] for axis in self.axes],
            "seed": self.seed,
            "trials": self.trials,
            "versions": versions(),
        }
        return hashlib.sha256(json.dumps(identity, sort_keys=True).encode()).hexdigest()[:16]


@dataclass(frozen=True)
class Swept:
    """Every point's row, and the pictures of the strip."""

    plan: Plan
    rows: dict[tuple[int, ...], dict[str, Any]]
    pictures: dict[tuple[int, ...], NDArray[np.uint8]]
    question: str
    title: str
    wanted: float
    task: str = "read"
    """Name of the task that is judged."""

    def array(self, name: str) -> NDArray[np.float64]:
        """One number at every point, of the sweep's shape."""
        out = np.full(self.plan.shape, np.nan)
        for index, row in self.rows.items():
            out[index] = row[name]
        return out


def _name(index: Sequence[int]) -> str:
    """Name of a point in the file of kept points."""
    return ",".join(map(str, index))


_OPEN: Bounded[Session] = Bounded(1)
"""The session of the point before, under the most natural light of its sweep."""


def _judge(work: tuple[Plan, tuple[int, ...], bool]) -> Quick:
    plan, index, picture = work
    try:
        return _judged(plan, index, picture)
    except InputError as error:
        swept = zip(plan.axes, index, strict=True)
        raise error.but(
            argument="over " + ", ".join(set_text(axis.key, axis.values[i]) for axis, i in swept)
        ) from None


def _judged(plan: Plan, index: tuple[int, ...], picture: bool) -> Quick:
    lit = plan.lit
    if lit is None:
        scene, camera = load_pair(plan.scene, plan.camera, plan.sets_at(index))
        return quick(scene, camera, seed=plan.seed, trials=plan.trials, picture=picture)
    # points that differ in natural light alone share what is traced: always from the most light,
    # so that no point depends on which one came before it
    lux = plan.axes[lit].values
    brightest = list(index)
    brightest[lit] = int(np.argmax(np.asarray(lux, dtype=np.float64)))
    base = load_pair(plan.scene, plan.camera, plan.sets_at(brightest))
    key = (*base, plan.seed)
    session = _OPEN.get(key) or _OPEN.put(key, open_session(*base, seed=plan.seed))
    if index[lit] != brightest[lit]:
        session = session.relit(lux=float(lux[index[lit]]))
    return quick_of(session, trials=plan.trials, picture=picture)


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
            try:
                load_pair(plan.scene, plan.camera, [*plan.sets, set_text(axis.key, value)])
            except InputError as error:
                load_pair(plan.scene, plan.camera, list(plan.sets))  # is it what is set for all?
                if (error.argument or "").startswith("set"):
                    error = error.but(argument=f"over {axis.key}")
                raise error from None


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
    scene, _ = load_pair(plan.scene, plan.camera, list(plan.sets))
    every = {_name(index): index for index in plan.points()}
    pictured = set(plan.pictured())
    pictures: dict[tuple[int, ...], NDArray[np.uint8]] = {}
    with kept_rows(keep, study="sweep", run=plan.key(), known=every, resume=resume) as kept:
        left = [i for name, i in every.items() if name not in kept.rows or i in pictured]
        left.sort(key=plan.order)
        with open_pool(len(left), workers=workers) as pool:
            work = [(plan, index, index in pictured) for index in left]
            for (_, index, _), judged in pool.each(_judge, work):
                if judged.picture is not None:
                    pictures[index] = judged.picture
                # a point of the strip that was kept is made again for its picture alone
                if _name(index) not in kept.rows:
                    kept.add(_name(index), judged.row())
                done = len(kept.rows)
                say(f"{done} of {len(every)} points", done / len(every))
    rows = {index: kept.rows[name] for name, index in every.items()}
    model = scene.model
    return Swept(
        plan, rows, pictures, model.question, model.title, model.task.wanted_probability,
        model.task.name,
    )  # fmt: skip
