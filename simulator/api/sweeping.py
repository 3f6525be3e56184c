"""A sweep over keys of scene and camera, as a function."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from numpy.typing import NDArray

from simulator.api.shown import Labelled, Report
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.plain import plain
from simulator.scene.load import Scene
from simulator.studies import sweep as study
from simulator.studies.axes import Axis, parse_axis
from simulator.studies.quick import TRIALS
from simulator.studies.sweep import Plan, Progress

if TYPE_CHECKING:
    from xarray import Dataset


class Sweep(Labelled, study.Swept):
    """A task judged at every combination of values.

    Attributes
    ----------
    rows
        Figures of every point by its index along the axes.
    pictures
        The target (rows, columns, 3) at some points along the first axis.
    """

    def table(self) -> list[dict[str, Any]]:
        """One row for every point, the last axis fastest; keys without dots.

        Returns
        -------
        Rows that pandas takes.
        """
        from simulator.studies.tables import sweep_table

        return sweep_table(self)

    def _report(self) -> Report:
        from simulator.report.sweep import save_sweep, table

        return Report(table, save_sweep)

    def _dataset(self) -> Dataset:
        from simulator.studies.tables import sweep_dataset

        return sweep_dataset(self)

    def _pictures(self) -> Mapping[str, NDArray[Any]]:
        keys = [axis.key for axis in self.plan.axes]
        return {
            ", ".join(
                f"{k} = {a.values[i]}" for k, a, i in zip(keys, self.plan.axes, index, strict=True)
            ): picture
            for index, picture in sorted(self.pictures.items())
        }


def sweep(
    scene: Scene | str | Path,
    camera: Camera | str | Path,
    over: Mapping[str, Sequence[Any] | str] | Sequence[Axis],
    *,
    changes: Sequence[str] = (),
    trials: int = TRIALS,
    workers: int | None = None,
    seed: int = 0,
    keep: str | Path | None = None,
    resume: bool = False,
    progress: Progress | None = None,
) -> Sweep:
    """Judge a task at every combination of values.

    Parameters
    ----------
    scene, camera
        Objects, or files or bundled names to load them from.
    over
        By dotted key the values it takes: numbers, words, or a range as on the command line, such
        as "0.01:100:log25" for 25 values evenly spaced by ratio; or axes made before.
    changes
        What is set at every point, as texts "KEY=VALUE".
    trials
        Repetitions of the camera at each point for a text that is read.
    workers
        Processes; one for each processor if not given.
    seed
        Steers every random draw; it is the same at every point.
    keep
        File that keeps the points that are done, so that an interrupted sweep can go on.
    resume
        Whether it goes on with the points of `keep`.
    progress
        Called with what is being done and the share done so far, 0 to 1.

    Returns
    -------
    Sweep
        `to_xarray()` has a dimension for every key; `save(folder)` writes what the command writes.

    Raises
    ------
    InputError
        For a key or value that is at fault at any point, before the work begins.

    References
    ----------
    Every point is judged as `quick` judges it.

    Examples
    --------
    >>> from simulator import sweep
    >>> found = sweep(
    ...     "depot-gate-infrared", "plate-2mp-infrared",
    ...     {"exposure.shutter_s": [0.0005, 0.005]}, trials=24, workers=1,
    ... )
    >>> found.to_xarray()["probability"].sizes
    Frozen({'exposure_shutter_s': 2})
    """
    if not over:
        raise InputError(
            "A sweep needs a key and its values.", argument="over", given=over,
            fix='for example {"natural_light.illuminance_lux": [1, 10, 100]}',
        )  # fmt: skip
    axes: Sequence[Axis]
    if isinstance(over, Mapping):
        axes = [_axis(key, values) for key, values in over.items()]
    else:
        axes = over
    plan = Plan(scene, camera, tuple(changes), tuple(axes), seed, trials)
    swept = study.sweep(
        plan,
        keep=None if keep is None else Path(keep),
        resume=resume,
        workers=workers,
        progress=progress,
    )
    return Sweep.of(swept)


def _axis(key: str, values: Sequence[Any] | str) -> Axis:
    if isinstance(values, str):
        return parse_axis(f"{key}={values}")
    return Axis(key, tuple(plain(value) for value in values))
