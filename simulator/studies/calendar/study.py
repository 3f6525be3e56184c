"""Probability of the task for every hour of a year, from a few dozen hours that are judged.

Scene and camera stay; only natural light and the switched lamps change from hour to hour. That is a
state of few dimensions, so that not every hour needs a picture: hours are chosen, judged as they
are, and the others interpolated (`calendar_nodes`). Some more hours, drawn at random, are judged
only to tell how good the interpolation is.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.camera.load import Camera
from simulator.errors import NameNotFoundError
from simulator.judge.lighting import contributions
from simulator.judge.target import find_target, main_material
from simulator.scene.load import Scene
from simulator.scene.model import Illuminator, Lamp
from simulator.studies.calendar.nodes import features, first_nodes, interpolated, next_nodes
from simulator.studies.calendar.sky import DUSK_LUX, Schedule, Sky, hours_of_year, sky_of
from simulator.studies.outside import under_sky
from simulator.studies.placing import placed
from simulator.studies.quick import Quick, quick
from simulator.studies.runner import open_pool
from simulator.units import FloatArray

Progress = Callable[[str, float], None]
NODES = 28
"""Hours that are judged for the interpolation."""
CHECKS = 8
"""Hours that are judged only to check it."""
TRIALS = 90
ROUND = 6
"""Hours of one round; after it the next ones are chosen."""


@dataclass(frozen=True)
class Place:
    """Where and when: latitude and longitude [deg], the year by the clock of `zone`."""

    latitude_deg: float
    longitude_deg: float
    year: int
    zone: dt.tzinfo = dt.UTC
    zone_name: str = "UTC"


@dataclass(frozen=True)
class Weather:
    """The same all the year: covered share of the sky, and glow of a town [lx]."""

    cloud_cover: float = 0.0
    skyglow_lux: float = 0.0


@dataclass(frozen=True)
class Calendar:
    """The probability (n,) at the middle of every hour, and how it was found.

    `probability_low` and `probability_high` (n,) bound it by the sampling of the judged hours,
    interpolated as it is.
    `lamps` (n, lamps) says which lamp is on; `nodes` and `checks` are indices of hours that were
    judged, `checked` the probabilities of the latter and `guessed` what was interpolated there.
    """

    scene: Scene
    camera: Camera
    place: Place
    weather: Weather
    bearing_deg: float
    bearing_given: bool
    schedules: dict[str, Schedule]
    dusk_lux: float
    sky: Sky
    lamp_names: tuple[str, ...]
    lamps: NDArray[np.bool_]
    probability: FloatArray
    probability_low: FloatArray
    probability_high: FloatArray
    nodes: dict[int, Quick]
    checks: dict[int, Quick]
    guessed: dict[int, float]
    worst: tuple[int, Quick]
    seed: int
    trials: int

    @property
    def wanted(self) -> float:
        """Wanted probability of the task."""
        return self.scene.model.task.wanted_probability

    @property
    def error(self) -> FloatArray:
        """Interpolated minus judged probability at the hours of the check (m,)."""
        return np.array([self.guessed[i] - q.probability for i, q in self.checks.items()])

    @property
    def fine(self) -> NDArray[np.bool_]:
        """Whether even the low end of the probability reaches the target probability (n,)."""
        return np.asarray(self.probability_low >= self.wanted)

    @property
    def unsure(self) -> NDArray[np.bool_]:
        """Whether the target probability lies within the interval (n,)."""
        return np.asarray(
            (self.probability_low < self.wanted) & (self.probability_high >= self.wanted)
        )


def scene_at(
    scene: Scene, when: dt.datetime, place: Place, weather: Weather, bearing_deg: float,
    lamps: Mapping[str, bool],
) -> Scene:  # fmt: skip
    """The scene under the sky of one moment, with lamps switched."""
    offset = when.utcoffset()
    assert offset is not None
    natural: dict[str, Any] = {
        "date": when.date().isoformat(),
        "time": when.strftime("%H:%M:%S"),
        "latitude_deg": place.latitude_deg,
        "longitude_deg": place.longitude_deg,
        "utc_offset_h": offset / dt.timedelta(hours=1),
        "camera_bearing_deg": bearing_deg,
        "cloud_cover": weather.cloud_cover,
        "skyglow_lux": weather.skyglow_lux,
        "skyglow_spectrum": scene.model.natural_light.skyglow_spectrum,
    }
    return under_sky(scene, natural).set(_switches(scene, lamps))


def _switches(scene: Scene, lamps: Mapping[str, bool]) -> dict[str, bool]:
    """What is to be set so that lamps are on or off; those that are not named stay as they are."""
    kinds: dict[str, Sequence[Lamp | Illuminator]] = {
        "lamp": scene.model.lamp,
        "illuminator": scene.model.illuminator,
    }
    return {
        f"{kind}.{light.name}.on": lamps[light.name]
        for kind, lights in kinds.items()
        for light in lights
        if light.name in lamps
    }


def switched(scene: Scene, schedules: Mapping[str, Schedule]) -> dict[str, Schedule]:
    """A schedule for every lamp and illuminator: the given ones, the others as in the scene.

    Raises
    ------
    NameNotFoundError
        For a lamp that the scene does not have.
    """
    every: list[Lamp | Illuminator] = [*scene.model.lamp, *scene.model.illuminator]
    names = [light.name for light in every]
    for name in schedules:
        if name not in names:
            raise NameNotFoundError(
                "There is no such lamp or illuminator.",
                file=scene.file,
                argument="lamp",
                given=name,
                allowed=", ".join(names) or "this scene has none",
            )
    return {
        light.name: schedules.get(light.name, Schedule("on" if light.on else "off"))
        for light in every
    }


def calendar(
    scene: Scene,
    camera: Camera,
    place: Place,
    *,
    weather: Weather | None = None,
    bearing_deg: float | None = None,
    schedules: Mapping[str, Schedule] | None = None,
    dusk_lux: float = DUSK_LUX,
    nodes: int = NODES,
    checks: int = CHECKS,
    trials: int = TRIALS,
    workers: int | None = None,
    seed: int = 0,
    progress: Progress | None = None,
) -> Calendar:
    """Judge a year.

    Parameters
    ----------
    bearing_deg
        Compass bearing of the camera's view [deg]; that of the scene, or north, if not given.
    schedules
        By name of lamp or illuminator.
    dusk_lux
        A lamp that goes by dusk is on below this natural illuminance of level ground [lx].
    nodes, checks
        Hours judged for the interpolation, and to check it.
    workers
        Processes, by default one for each processor.

    Raises
    ------
    InputError
        For a place, lamp or scene that is at fault.
    """
    say = progress or (lambda text, share: None)
    weather = weather or Weather(skyglow_lux=scene.model.natural_light.skyglow_lux)
    given = bearing_deg if bearing_deg is not None else scene.model.natural_light.camera_bearing_deg
    bearing = 0.0 if given is None else given
    plan = switched(scene, schedules or {})
    when = hours_of_year(place.year, place.zone)
    judged_scene = with_others_still(scene)
    with open_pool(nodes, workers=workers) as pool:
        say("sun and moon of every hour", 0.02)
        pool.warm_up()
        sky = sky_of(
            when, place.latitude_deg, place.longitude_deg,
            cloud_cover=weather.cloud_cover, skyglow_lux=weather.skyglow_lux,
        )  # fmt: skip
        names = tuple(plan)
        lamps = np.zeros((len(when), len(names)), dtype=bool)
        for k, name in enumerate(names):
            lamps[:, k] = plan[name].on(sky.clock_h, sky.level_lux, dusk_lux)
        job = _Job(judged_scene, camera, place, weather, bearing, names, seed, trials)

        def judge(hours: Sequence[int], *, picture: bool = False) -> dict[int, Quick]:
            work = [(job, when[i], tuple(bool(x) for x in lamps[i]), picture) for i in hours]
            return dict(zip(hours, pool.map(_judge, work), strict=True))

        space = features(
            sky.at, sky.level_lux, lamps, bearing, weather.cloud_cover,
            lamp_light(scene, camera, names),
        )  # fmt: skip
        judged: dict[int, Quick] = {}
        wanted_nodes = max(nodes, 3 * len(np.unique(lamps, axis=0)))
        todo = first_nodes(space, ROUND * 2)
        while todo:
            say(f"hour {len(judged)} of {wanted_nodes + checks}",
                0.1 + 0.8 * len(judged) / (wanted_nodes + checks))  # fmt: skip
            judged |= judge(todo)
            value = {i: q.probability for i, q in judged.items()}
            todo = next_nodes(space, value, min(ROUND, wanted_nodes - len(judged)))
        probability = interpolated(space, value, trials)
        left = np.setdiff1d(np.arange(len(when)), list(judged))
        drawn = np.random.default_rng(seed).choice(left, size=min(checks, len(left)), replace=False)
        say("hours drawn at random, to check", 0.86)
        checked = judge([int(i) for i in drawn])
        guessed = {i: float(probability[i]) for i in checked}
        every = judged | checked
        probability, low, high = (
            interpolated(space, {i: float(getattr(q, end)) for i, q in every.items()}, trials)
            for end in ("probability", "probability_low", "probability_high")
        )
        low, high = np.minimum(low, probability), np.maximum(high, probability)
        at = np.flatnonzero(probability <= float(probability.min()) + 0.005)
        worst = int(at[np.argmin(sky.level_lux[at])])
        say("picture of the worst hour", 0.93)
        shown = judge([worst], picture=True)[worst]
    say("done", 1.0)
    return Calendar(
        scene, camera, place, weather, bearing, given is not None, plan, dusk_lux, sky, names,
        lamps, probability, low, high, judged, checked, guessed, (worst, shown), seed, trials,
    )  # fmt: skip


def with_others_still(scene: Scene) -> Scene:
    """The scene with everything still but the task's target and what carries it.

    What else moves makes every remembered frame another picture, and has no part in the task.
    """
    task = scene.model.task.target
    moving = {task} | {t.name for t in scene.model.target if getattr(t, "carries", None) == task}
    return scene.set(
        {
            f"target.{entry.name}.speed_kmh": 0.0
            for entry in scene.model.target
            if getattr(entry, "speed_kmh", 0.0) > 0.0 and entry.name not in moving
        }
    )


def lamp_light(scene: Scene, camera: Camera, names: Sequence[str]) -> list[float]:
    """Illuminance of the target by each lamp alone, all of them switched on [lx]."""
    model = scene.set(_switches(scene, dict.fromkeys(names, True))).model
    in_scene = placed(model, camera.model)
    entry = next(t for t in model.target if t.name == model.task.target)
    target = find_target(in_scene, entry)
    card = target.card
    rows = contributions(
        in_scene, "day", card.centre_m, card.normal, main_material(card), target.card_index
    )
    return [sum(r.illuminance_lux or 0.0 for r in rows if r.name == n) for n in names]


@dataclass(frozen=True)
class _Job:
    scene: Scene
    camera: Camera
    place: Place
    weather: Weather
    bearing_deg: float
    names: tuple[str, ...]
    seed: int
    trials: int


def _judge(work: tuple[_Job, dt.datetime, tuple[bool, ...], bool]) -> Quick:
    job, when, on, picture = work
    lamps = dict(zip(job.names, on, strict=True))
    scene = scene_at(job.scene, when, job.place, job.weather, job.bearing_deg, lamps)
    return quick(scene, job.camera, seed=job.seed, trials=job.trials, whole=picture)
