"""What to buy, set and mount for a scene's task, as a function."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.api.shown import Report, Reported
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.scene.load import Scene
from simulator.studies import trade
from simulator.studies.specify import result, study
from simulator.studies.specify.hours import worst_hour
from simulator.studies.specify.result import Ask, lamp_key

WORST = "worst"
YEAR = 2026
"""Year whose hours are looked at: one is as good as another."""


class Specification(Reported, result.Specification):
    """Ways to do a task that can be bought, set and mounted.

    Attributes
    ----------
    ways
        Up to three ways, the cheapest first: design, parts, and what its proof gave.
    lens, wide_range
        Which focal lengths work, and whether a wide dynamic range is needed.
    failed
        Kinds of way that do not reach the target probability, and why.
    """

    def table(self) -> list[dict[str, Any]]:
        """One row for every way.

        Returns
        -------
        Rows that pandas takes.
        """
        return [
            {
                "way": ", ".join(way.roles),
                "kind": way.family,
                "camera": way.design.camera.name,
                "lens_mm": way.design.lens_mm,
                "shutter_s": way.design.shutter_s,
                "gain_cap_db": way.design.gain_cap_db,
                "wide_range": way.design.wide_range,
                "lamp": None if way.design.lamp is None else lamp_key(way.design.lamp.lamp),
                "distance_m": way.proof.distance_m,
                "probability": way.proof.probability,
                "verdict": way.proof.word,
                "price": way.price,
            }
            for way in self.ways
        ]

    def applied(self, way: int = 0) -> tuple[Scene, Camera]:
        """Scene and camera with a way applied as it is given.

        Parameters
        ----------
        way
            Number of the way, from 0.

        Returns
        -------
        Scene and camera, as `predict` takes them.
        """
        return self.ways[way].design.applied(self.scene)

    def _report(self) -> Report:
        from simulator.report.specification.record import save_specification, specification_table

        return Report(specification_table, save_specification)

    def _pictures(self) -> Mapping[str, NDArray[np.uint8]]:
        return {"As specified": self.ways[0].proof.frame} if self.ways else {}


def specify(
    scene: Scene | str | Path,
    cameras: Sequence[Camera | str | Path] | Camera | str | Path = (),
    *,
    reserve: float = trade.RESERVE,
    gain_cap_db: float | None = None,
    budget: float | None = None,
    prices: Mapping[str, float] | None = None,
    at: str | None = None,
    place: tuple[float, float] | None = None,
    year: int = YEAR,
    workers: int | None = None,
    seed: int = 0,
    thorough: bool = True,
    progress: study.Progress | None = None,
    answered: study.Answered | None = None,
) -> Specification:
    """Say what to buy, set and mount so that a scene's task succeeds with reserve.

    Parameters
    ----------
    scene
        Object, file or bundled name.
    cameras
        Cameras that may be bought; without any the two bundled ones that suit best.
    reserve
        Reserve in light that is asked for, as a factor, 1 or more.
    gain_cap_db
        Most gain that is specified [dB]; 12 to read text and 24 for all else if not given.
    budget
        Most that the parts with a price may cost together, in your currency.
    prices
        Prices of cameras, lenses, "mount" and lamps (by kind or class), in your currency.
    at
        "worst" for the worst hour of a year: darkest, brightest and the low sun nearest to the line
        of sight are looked at with the first camera as it is. The scene's own hour if not given.
    place, year
        Latitude and longitude [deg], the scene's if not given, and the year, for `at`.
    workers
        Processes; one for each processor if not given.
    seed
        Steers every random draw.
    thorough
        Whether tolerances are drawn and the reserves in speed, distance, dirt and backlight sought;
        without, only the reserve in light is, in about half the time.
    progress
        Called with what is being done and the share done so far, 0 to 1.
    answered
        Called with the scene and the first way as soon as it holds on fresh noise; tolerances and
        reserve take as long again.

    Returns
    -------
    Specification
        Ways with parts, settings, place and proof; `save(folder)` writes what the command writes.

    Raises
    ------
    InputError
        For a scene, camera, reserve or price that is at fault.

    References
    ----------
    Lamp classes, shutters, gain limits, focal lengths: common practice, no source. Pixel densities:
    IEC 62676-4:2014. Eyes after IEC 62471:2006 (values from memory).

    Examples
    --------
    >>> from simulator import specify
    >>> specify("depot-gate-dark", "plate-2mp-infrared", reserve=0.5)
    Traceback (most recent call last):
    simulator.errors.InputError: A reserve below 1 is none.
    ...
    """
    given = [cameras] if isinstance(cameras, Camera | str | Path) else list(cameras)
    of, bodies = Scene.of(scene, "scene"), [Camera.of(one, "cameras") for one in given]
    ask = Ask(reserve, gain_cap_db, budget, prices or None, seed, workers, thorough)
    study.check(ask, bodies)
    if at is not None:
        if at != WORST:
            raise InputError(
                "There is no such hour.", argument="at", given=at, allowed=WORST,
                fix="leave it out for the hour of the scene itself",
            )  # fmt: skip
        bodies = bodies or list(study.suggested(of))
        of, looked = worst_hour(of, bodies[0], place, year=year, seed=seed)
        ask = replace(ask, hours=tuple(looked))
    specified = study.specify(
        of, bodies, ask,
        progress=progress, answered=answered,
    )  # fmt: skip
    return Specification.of(specified)
