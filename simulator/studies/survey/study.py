"""A site with many cameras: every task at its worst and its typical hour, sorted by risk.

Points that are done are kept in a file beside the result, line by line, so that a survey that was
interrupted goes on where it stopped. The work runs in processes here, or on a cluster.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera
from simulator.errors import GeometryError, InputError
from simulator.judge.result import Limit, RemedyRow, Word
from simulator.scene.load import Scene
from simulator.studies.kept import kept_rows
from simulator.studies.outside import indoors, under_sky
from simulator.studies.overrides import load_pair, load_scene
from simulator.studies.placing import placed
from simulator.studies.predict import predict
from simulator.studies.provenance import input_hash, versions
from simulator.studies.quick import TRIALS, Job, judge_job
from simulator.studies.runner import open_pool
from simulator.studies.survey.site_file import Position, SiteFile, SiteModel
from simulator.units import FloatArray

Progress = Callable[[str, float], None]
Hour = Literal["worst", "typical"]
HOURS: tuple[Hour, Hour] = ("worst", "typical")
REACH = (0.6, 0.8, 1.25, 1.6)
"""Distances at which the target is judged besides its own, over it, at the worst hour."""


@dataclass(frozen=True)
class Point:
    """One judgement of a survey: a position, an hour, how far the target stands over where the
    scene puts it; with `why` what stands in the way is asked, too."""

    position: str
    hour: Hour
    reach: float
    job: Job
    why: bool = False
    remedies: bool = False
    """Whether `why` also seeks what would fix it."""

    @property
    def own(self) -> bool:
        """Whether the target stands where the scene puts it."""
        return self.reach == 1.0

    @property
    def key(self) -> str:
        """Its name in the file of kept points."""
        asked = ("|why" if self.why else "") + ("|remedies" if self.remedies else "")
        return f"{self.position}|{self.hour}|{self.reach:g}{asked}"


@dataclass(frozen=True)
class Surveyed:
    """One position with everything that was found; `scene` is that of the worst hour.

    `reach` holds distance from the lens [m] and probability at the worst hour, rising; NaN where
    the picture does not show the target.
    """

    position: Position
    scene: Scene
    typical_scene: Scene
    camera: Camera
    in_scene: CameraInScene
    target_m: FloatArray
    wanted: float
    worst: dict[str, Any]
    typical: dict[str, Any]
    reach: tuple[tuple[float, float], ...]
    limits: tuple[Limit, ...]
    remedies: tuple[RemedyRow, ...]
    picture: NDArray[np.uint8] | None = None
    """The target with some room at the worst hour (rows, columns, 3)."""

    @property
    def margin(self) -> float:
        """Probability at the worst hour less the target; the smaller, the greater the risk."""
        return float(self.worst["probability"] - self.wanted)

    @property
    def verdict(self) -> Word:
        """The word of the worst hour."""
        word: Word = self.worst["verdict"]
        return word


@dataclass(frozen=True)
class Survey:
    """A whole site, the position of the greatest risk first."""

    site: SiteModel
    name: str
    rows: list[Surveyed]
    seed: int
    trials: int
    sought: bool = False
    """Whether remedies were sought."""


def moved(scene: Scene, station: Sequence[float], factor: float) -> Scene:
    """The scene with the task's target nearer to or farther from the lens, along the ground.

    What a vehicle carries moves with its plate, lamps and their aims stay.
    """
    name = scene.model.task.target
    place = next(t.position_m for t in scene.model.target if t.name == name)
    if place is None:
        return scene
    flat = [s + factor * (p - s) for p, s in zip(place[:2], station[:2], strict=True)]
    return scene.set({f"target.{name}.position_m": [*flat, place[2]]})


def judge_point(point: Point) -> dict[str, Any]:
    """Judge one point; stands alone so that another process or machine can call it.

    A target that leaves the picture when it is moved gives no probability.

    Raises
    ------
    InputError
        For a point at the target's own place that cannot be judged.
    """
    if point.why:
        scene, camera = point.job.scene, point.job.camera
        verdict = predict(
            scene, camera, point.job.seed, trials=point.job.trials, remedies=point.remedies,
            tolerances=False,
        ).verdict  # fmt: skip
        table = verdict.to_dict()
        return {"limits": table["limits"], "remedies": table["remedies"]}
    try:
        return judge_job(point.job).row()
    except GeometryError:
        if point.reach == 1.0:
            raise
        return {"probability": None}


NATURAL = "natural_light."


def _at_hour(site: SiteModel, hour: Hour, position: Position) -> tuple[Scene, Camera]:
    """Scene and camera of a position; the sky of the site's hour stays outside of an interior."""
    own = load_pair(position.scene, position.camera, position.set)[0]
    changes = site.sets(position, hour)
    if getattr(position, hour) is not None or not indoors(own.model):
        return load_pair(position.scene, position.camera, changes)
    of_site = set(getattr(site.hours, hour))
    sky = [text for text in changes if text in of_site and text.startswith(NATURAL)]
    left = [text for text in changes if text not in sky]
    scene, camera = load_pair(position.scene, position.camera, left)
    if not sky:
        return scene, camera
    outside = load_scene(OPEN_GROUND, sky).table()["natural_light"]
    return under_sky(scene, outside), camera


OPEN_GROUND = "yard-noon"
"""A scene in the open, under whose sky the site's hour is read."""


def _loaded(site: SiteFile, hour: Hour, position: Position) -> tuple[Scene, Camera]:
    try:
        return _at_hour(site.model, hour, position)
    except InputError as error:
        key = f"position.{position.name} ({hour} hour): {error.key or error.file or ''}".strip()
        raise error.but(argument=None, file=site.file, key=key) from None


def points_of(
    site: SiteFile, *, seed: int, trials: int, reach: Sequence[float] = REACH
) -> list[Point]:
    """Every judgement of a survey but what stands in the way; all files are checked here.

    Raises
    ------
    InputError
        For a position whose scene, camera or values are at fault.
    """
    out = []
    for position in site.model.position:
        for hour in HOURS:
            scene, camera = _loaded(site, hour, position)
            placed(scene.model, camera.model)
            out.append(Point(position.name, hour, 1.0, Job(scene, camera, seed, trials)))
            if hour == "typical":
                continue
            for factor in reach:
                there = moved(scene, scene.model.station.position_m, factor)
                job = Job(there, camera, seed, trials)
                out.append(Point(position.name, hour, factor, job))
    return out


def survey_key(site: SiteModel, points: Sequence[Point]) -> str:
    """What tells this survey from others: its inputs, seed and versions."""
    hashes = [
        [p.key, input_hash(p.job.scene, p.job.camera),
         p.job.seed, p.job.trials]
        for p in points
    ]  # fmt: skip
    text = json.dumps([hashes, site.title, versions()], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _known(points: Sequence[Point]) -> set[str]:
    """Names of all points that there may be."""
    own = [p for p in points if p.own and p.hour == "worst"]
    asked = [replace(p, why=True, remedies=sought) for p in own for sought in (False, True)]
    return {p.key for p in [*points, *asked]}


def survey(
    site: SiteFile,
    *,
    seed: int = 0,
    trials: int = TRIALS,
    keep: Path | None = None,
    resume: bool = False,
    workers: int | None = None,
    cluster: str | None = None,
    reach: Sequence[float] = REACH,
    why: bool = True,
    remedies: bool = False,
    progress: Progress | None = None,
) -> Survey:
    """Judge every position of a site.

    Parameters
    ----------
    site
        The site's file; `SiteFile.load` reads one.
    keep
        File that keeps the points that are done; without it nothing is kept.
    resume
        Go on with the points of `keep`.
    workers
        Processes here, by default one for each processor.
    cluster
        Address of a dask scheduler whose workers do the work instead. They need this package, and
        one thread each.
    reach
        Distances over the target's own at which it is judged, too, at the worst hour.
    why
        Ask what stands in the way where the worst hour does not serve.
    remedies
        Also seek what would fix it there, which takes some minutes for each position.

    Raises
    ------
    InputError
        For anything at fault in the site, its scenes and cameras, or the cluster.
    """
    say = progress or (lambda text, share: None)
    say("reading scenes and cameras", 0.0)
    points = points_of(site, seed=seed, trials=trials, reach=reach)
    key = survey_key(site.model, points)
    with (
        kept_rows(keep, study="survey", run=key, known=_known(points), resume=resume) as kept,
        open_pool(len(points), workers=workers, cluster=cluster) as pool,
    ):

        def do(wanted: Sequence[Point], total: int) -> None:
            left = [p for p in wanted if p.key not in kept.rows]
            for point, row in pool.each(judge_point, left):
                kept.add(point.key, row)
                say(f"{len(kept.rows)} of {total} points", min(1.0, len(kept.rows) / total))

        do(points, len(points))
        rows = kept.rows
        failing = [
            replace(p, why=True, remedies=remedies)
            for p in points
            if p.own and why and p.hour == "worst" and rows[p.key]["verdict"] != "legible"
        ]
        do(failing, len(points) + len(failing))
        say("pictures of the targets", 1.0)
        shown = [p for p in points if p.own and p.hour == "worst"]
        looks = pool.map(judge_job, [p.job._replace(trials=8, picture=True) for p in shown])
    asked = {p.position: rows[p.key] for p in failing}
    pictures = {p.position: look.picture for p, look in zip(shown, looks, strict=True)}
    surveyed = [
        _surveyed(
            site.model,
            position,
            points,
            rows,
            asked.get(position.name, {}),
            pictures[position.name],
        )
        for position in site.model.position
    ]
    surveyed.sort(key=lambda s: (s.margin, s.typical["probability"], s.position.name))
    return Survey(site.model, site.name, surveyed, seed, trials, remedies)


def _surveyed(
    site: SiteModel, position: Position, points: Sequence[Point], rows: Mapping[str, Any],
    asked: Mapping[str, Any], picture: NDArray[np.uint8] | None,
) -> Surveyed:  # fmt: skip
    own = [p for p in points if p.position == position.name]
    worst = next(p for p in own if p.hour == "worst" and p.reach == 1.0)
    typical = next(p for p in own if p.hour == "typical")
    scene, camera = worst.job.scene, worst.job.camera
    in_scene = placed(scene.model, camera.model)
    target = in_scene.world.cards[in_scene.world.targets[scene.model.task.target][0]].centre_m
    flat = float(np.linalg.norm((target - in_scene.view.position_m)[:2]))
    reach = [
        (flat * p.reach, np.nan if (v := rows[p.key]["probability"]) is None else float(v))
        for p in own
        if p.hour == "worst"
    ]
    return Surveyed(
        position, scene, typical.job.scene, camera, in_scene, target,
        scene.model.task.wanted_probability, rows[worst.key], rows[typical.key],
        tuple(sorted(reach)), tuple(Limit.model_validate(one) for one in asked.get("limits", ())),
        tuple(RemedyRow.model_validate(one) for one in asked.get("remedies", ())),
        picture,
    )  # fmt: skip
