"""A task as the light falls, as a function."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from numpy.typing import NDArray

from simulator.api.shown import Labelled, Report
from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.studies.compare import load_cameras
from simulator.studies.light_levels import views as study
from simulator.studies.light_levels.study import LEVELS_LUX
from simulator.studies.light_levels.views import TRIALS, Progress

if TYPE_CHECKING:
    from xarray import Dataset


class LightLevels(Labelled, study.LightLevelViews):
    """Every camera under every level of light, the brightest first.

    Attributes
    ----------
    views
        What each camera shows and how likely the task succeeds, by camera and level [lx].
    """

    _COLUMNS = ("camera", "illuminance_lux", "probability", "verdict", "mode", "gain_db")

    def table(self) -> list[dict[str, Any]]:
        """One row for every camera and level.

        Returns
        -------
        Rows that pandas takes.
        """
        return [view.row() for view in self.views.values()]

    def _report(self) -> Report:
        from simulator.report.light_levels.sheet import save_light_levels
        from simulator.report.light_levels.words import table

        return Report(table, save_light_levels)

    def _dataset(self) -> Dataset:
        from simulator.studies.tables import light_levels_dataset

        return light_levels_dataset(self)

    def _pictures(self) -> Mapping[str, NDArray[Any]]:
        return {"The whole picture in the brightest light": self.overview.frame}


def light_levels(
    scene: Scene | str | Path,
    cameras: Sequence[Camera | str | Path],
    *,
    lux: Sequence[float] = LEVELS_LUX,
    lens: str | None = None,
    same_framing: bool = False,
    trials: int = TRIALS,
    seed: int = 0,
    progress: Progress | None = None,
) -> LightLevels:
    """Dim all lights of a scene and judge its task through every camera, level by level.

    Parameters
    ----------
    scene
        An object, or a file or bundled name to load it from.
    cameras
        Objects, files or bundled names, in any order.
    lux
        Illuminances on the target [lx], in any order.
    lens
        Lens file or bundled name that every camera gets.
    same_framing
        Whether every camera frames as wide as the first one, as far as its lens reaches.
    trials
        Repetitions of the camera at each level for a text that is read.
    seed
        Steers every random draw.
    progress
        Called with what is being done and the share done so far, 0 to 1.

    Returns
    -------
    LightLevels
        `save(folder)` writes what the command writes.

    Raises
    ------
    InputError
        For a scene without visible light on its target, a camera or lens that is at fault, or a
        level that is not possible.

    References
    ----------
    Every level is judged as `quick` judges it, the camera settled coming from the brighter one.

    Examples
    --------
    >>> from simulator import light_levels
    >>> light_levels("conveyor-belt-parcel", ["fixed-2mp-lowlight"], lux=[-1.0])
    Traceback (most recent call last):
    simulator.errors.InputError: ...
    """
    loaded = scene if isinstance(scene, Scene) else Scene.load(scene)
    bodies = load_cameras(cameras, lens=lens, same_framing=same_framing)
    views = study.light_levels(loaded, bodies, lux, seed=seed, trials=trials, progress=progress)
    return LightLevels.of(views)
