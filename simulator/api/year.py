"""A year at a place, as a function."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from numpy.typing import NDArray

from simulator.api.shown import Labelled, Report
from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.studies.calendar import study
from simulator.studies.calendar.sky import DUSK_LUX, parse_schedule, time_zone
from simulator.studies.calendar.study import CHECKS, NODES, TRIALS, Place, Progress, Weather
from simulator.studies.overrides import load_pair

if TYPE_CHECKING:
    from xarray import Dataset


class Calendar(Labelled, study.Calendar):
    """The probability of a task at the middle of every hour of a year (n,).

    Attributes
    ----------
    probability, probability_low, probability_high
        By hour (n,); low and high bound it by the sampling of the judged hours.
    sky
        Moment, sun, moon and natural light of every hour.
    """

    def table(self) -> list[dict[str, Any]]:
        """One row for every hour, by the clock of the place.

        Returns
        -------
        Rows that pandas takes; `middle_of_hour` is an aware datetime.
        """
        from simulator.studies.tables import calendar_table

        return calendar_table(self)

    def _report(self) -> Report:
        from simulator.report.calendar.record import save_calendar, table

        return Report(table, save_calendar)

    def _dataset(self) -> Dataset:
        from simulator.studies.tables import calendar_dataset

        return calendar_dataset(self)

    def _rows(self) -> list[dict[str, Any]]:
        return []  # 8760 hours

    def _pictures(self) -> Mapping[str, NDArray[Any]]:
        seen = self.worst[1].seen
        return {} if seen is None else {"The whole picture at the worst hour": seen.frame}


def calendar(
    scene: Scene | str | Path,
    camera: Camera | str | Path,
    place: tuple[float, float],
    year: int,
    *,
    timezone: str = "UTC",
    bearing_deg: float | None = None,
    cloud_cover: float = 0.0,
    skyglow_lux: float | None = None,
    lamps: Mapping[str, str] | Sequence[str] | None = None,
    dusk_lux: float = DUSK_LUX,
    nodes: int = NODES,
    checks: int = CHECKS,
    trials: int = TRIALS,
    workers: int | None = None,
    seed: int = 0,
    progress: Progress | None = None,
) -> Calendar:
    """Judge a scene through a year: sun, moon, twilight, lamps by the clock or by dusk.

    Parameters
    ----------
    scene, camera
        Objects, or files or bundled names to load them from.
    place
        Latitude and longitude [deg], north and east positive.
    year
        The year, 1900 to 2099.
    timezone
        Whose clock, by its name in the tz database.
    bearing_deg
        Where the camera looks, clockwise from north [deg]; the scene's, or north, if not given.
    cloud_cover
        Covered share of the sky all the year, 0 to 1.
    skyglow_lux
        Glow of a town on level ground [lx]; the scene's if not given.
    lamps
        When lamps and illuminators are on, by name: "on", "off", "dusk-dawn", "18-23", "dusk-23"
        or "5-dawn", or texts "NAME=WHEN"; those not named stay as in the scene.
    dusk_lux
        Natural light on level ground below which lamps that go by dusk are on [lx].
    nodes, checks
        Hours that are judged, and hours that are judged to check the interpolation between them.
    trials
        Repetitions of the camera at each judged hour for a text that is read.
    workers
        Processes; one for each processor if not given.
    seed
        Steers every random draw.
    progress
        Called with what is being done and the share done so far, 0 to 1.

    Returns
    -------
    Calendar
        `to_xarray()` runs over universal time; `save(folder)` writes what the command writes.

    Raises
    ------
    InputError
        For a place, year, time zone, lamp or scene that is at fault.

    References
    ----------
    Sun and moon by the library astral; their light after US Naval Observatory Circular 171, cloud
    after Kasten and Czeplak 1980.

    Examples
    --------
    >>> from simulator import calendar
    >>> calendar("yard-noon", "fixed-2mp-lowlight", (48.2, 16.4), 2026, timezone="Atlantis")
    Traceback (most recent call last):
    simulator.errors.InputError: There is no such time zone.
    ...
    """
    texts = [f"{k}={v}" for k, v in lamps.items()] if isinstance(lamps, Mapping) else lamps or []
    schedules = dict(parse_schedule(text) for text in texts)
    where = Place(*place, year, time_zone(timezone), timezone)
    loaded, body = load_pair(scene, camera)
    glow = loaded.model.natural_light.skyglow_lux if skyglow_lux is None else skyglow_lux
    result = study.calendar(
        loaded, body, where, weather=Weather(cloud_cover, glow), bearing_deg=bearing_deg,
        schedules=schedules, dusk_lux=dusk_lux, nodes=nodes, checks=checks, trials=trials,
        workers=workers, seed=seed, progress=progress,
    )  # fmt: skip
    return Calendar.of(result)
