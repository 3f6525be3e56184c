"""The least lamp that lets a task succeed, as a function."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from simulator.api.shown import Report, Reported
from simulator.camera.load import Camera
from simulator.light.darkness import hours_dark
from simulator.scene.load import Scene
from simulator.studies.lighting import need, study
from simulator.studies.lighting.costs import Money
from simulator.studies.lighting.study import EMITTER_WIDTH_M, TRIALS, Ask, Progress
from simulator.studies.overrides import load_pair

Point = tuple[float, float, float]


class _Sizing(Reported):
    """What both answers of the study have in common."""

    def _report(self) -> Report:
        from simulator.report.lighting.record import save_lighting, verdict_table

        return Report(verdict_table, save_lighting)


class Lighting(_Sizing, study.Lighting):
    """A sized lamp, what else would do, and what each costs.

    Attributes
    ----------
    chosen
        Intensity on the axis [W/sr], or [cd] for white light.
    ways
        Every way that was judged: other lamps, held exposures, a faster lens, other cameras.
    """

    needed = True
    """That a lamp was sized."""
    _COLUMNS = ("way", "probability", "verdict", "shutter_s", "gain_db", "power_w")

    def table(self) -> list[dict[str, Any]]:
        """One row for every way to do the task, the scene as it is and the sized lamp first.

        Returns
        -------
        Rows that pandas takes.
        """
        return [
            {
                "way": way.name,
                "kind": way.sort,
                **way.judged.row(),
                "power_w": way.power_w,
                "intensity": way.intensity,
                "intensity_unit": way.intensity_unit,
            }
            for way in (self.before, self.sized, *self.ways)
        ]

    def _pictures(self) -> Mapping[str, NDArray[Any]]:
        seen = self.sized.judged.seen
        return {} if seen is None else {"The picture with the sized lamp": seen.frame}


@dataclass(frozen=True, kw_only=True)
class NoLampNeeded(_Sizing, need.NoLamp):
    """A study that ended where it began: the task succeeds without a lamp."""

    needed = False
    """That a lamp was sized."""

    def table(self) -> list[dict[str, Any]]:
        """The scene as it is, as a single row.

        Returns
        -------
        Rows that pandas takes.
        """
        return [{"way": "as it is", "kind": "as it is", **self.before.dark.row()}]


def lighting(
    scene: Scene | str | Path,
    camera: Camera | str | Path,
    *,
    kind: str = "infrared-850",
    beam_deg: float | None = None,
    at_m: Point | None = None,
    aim_m: Point | None = None,
    emitter_width_m: float = EMITTER_WIDTH_M,
    lights: Sequence[str] | None = None,
    other_cameras: Sequence[str] | None = None,
    place: tuple[float, float] | None = None,
    year: int = 2026,
    dark_below_deg: float = -6.0,
    prices: Mapping[str, float] | None = None,
    price_per_kwh: float | None = None,
    years: float = 10.0,
    passes_per_year: float | None = None,
    trials: int = TRIALS,
    anyway: bool = False,
    workers: int | None = None,
    seed: int = 0,
    progress: Progress | None = None,
) -> Lighting | NoLampNeeded:
    """Find the least lamp that lets a scene's task succeed, and what else would do.

    Parameters
    ----------
    scene, camera
        Objects, or files or bundled names to load them from.
    kind
        "infrared-850", "infrared-940" (sized in W/sr) or "white" (in cd and lumens).
    beam_deg
        Full angle between the directions of half the intensity [deg]; the camera's field if not
        given.
    at_m, aim_m
        World points (3,) [m] where the lamp stands and where it points; beside the lens and at the
        target if not given.
    emitter_width_m
        Width of its shining face [m], for the safety of eyes.
    lights, other_cameras
        Light and camera files or bundled names that are tried besides; all bundled ones if not
        given.
    place
        Latitude and longitude [deg] for the hours of darkness.
    year
        Year of the hours of darkness.
    dark_below_deg
        Altitude of the sun below which it is dark [deg].
    prices
        Prices by name of lamp, camera, "sized-lamp", "faster-lens" or "missed", in your currency.
    price_per_kwh
        Price of a kilowatt-hour.
    years
        Years that it serves.
    passes_per_year
        How often the task comes up in the dark.
    trials
        Repetitions of the camera at each point for a text that is read.
    anyway
        Whether a lamp is sized even where none is needed.
    workers
        Processes; one for each processor if not given.
    seed
        Steers every random draw.
    progress
        Called with what is being done and the share done so far, 0 to 1.

    Returns
    -------
    Lighting or NoLampNeeded
        `needed` says which; `save(folder)` writes what the command writes.

    Raises
    ------
    InputError
        For a kind, place, beam, lamp, camera or price that is at fault.

    References
    ----------
    Intensity by bisection over judged pictures; eyes after IEC 62471:2006 (values from memory).

    Examples
    --------
    >>> from simulator import lighting
    >>> lighting("depot-gate-dark", "plate-2mp-infrared", kind="candle")
    Traceback (most recent call last):
    simulator.errors.InputError: Unknown kind of lamp.
    ...
    """
    loaded, body = load_pair(scene, camera)
    dark = None if place is None else hours_dark(*place, year, dark_below_deg)
    money = Money(dark, years, dict(prices or {}), price_per_kwh, passes_per_year)
    ask = Ask(
        kind, beam_deg, at_m, aim_m, emitter_width_m, _names(lights), _names(other_cameras), seed,
        trials, workers,
    )  # fmt: skip
    study.check(ask, money)
    if progress is not None:
        progress("is a lamp needed at all?", 0.0)
    before = need.as_it_is(loaded, body, seed=seed, trials=trials)
    if before.suffices and not anyway:
        return NoLampNeeded(
            scene=loaded, camera=body, before=before, seed=seed, trials=trials, money=money
        )
    result = study.lighting(loaded, body, ask, money=money, before=before, progress=progress)
    return Lighting.of(result)


def _names(names: Sequence[str] | None) -> tuple[str, ...] | None:
    return None if names is None else tuple(names)
