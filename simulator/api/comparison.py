"""Several cameras before the same scenes, as a function."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from numpy.typing import NDArray

from simulator.api.shown import Labelled, Report
from simulator.camera.load import Camera
from simulator.dotted import Changes
from simulator.scene.load import Scene
from simulator.studies import compare as study
from simulator.studies.compare import Progress, load_cameras, variant_of

if TYPE_CHECKING:
    from xarray import Dataset


class Comparison(Labelled, study.Comparison):
    """Cameras side by side: a prediction each, and who stands where.

    Attributes
    ----------
    results
        The prediction of every scene and camera, by their names.
    standings
        By scene, the cameras with the likeliest first.
    """

    def table(self) -> list[dict[str, Any]]:
        """One row for every scene and camera, the likeliest first.

        Returns
        -------
        Rows that pandas takes.
        """
        return [
            {"scene": scene.name, **vars(row)}
            for scene in self.scenes
            for row in self.standings[scene.name]
        ]

    def _report(self) -> Report:
        from simulator.report.compare_sheet import save_comparison
        from simulator.report.wording.comparison import comparison_table

        return Report(comparison_table, save_comparison)

    def _dataset(self) -> Dataset:
        from simulator.studies.tables import comparison_dataset

        return comparison_dataset(self)

    def _pictures(self) -> Mapping[str, NDArray[Any]]:
        from simulator.report.pictures import enlarged

        return {
            f"The target, {camera} in {scene}": enlarged(prediction.frame, prediction.target.box_px)
            for (scene, camera), prediction in self.results.items()
        }


def compare(
    scenes: Sequence[Scene | str | Path] | Scene | str | Path,
    cameras: Sequence[Camera | str | Path],
    *,
    lens: str | None = None,
    same_framing: bool = False,
    variants: Mapping[str, Changes] | None = None,
    seed: int = 0,
    progress: Progress | None = None,
) -> Comparison:
    """Predict every scene with every camera, alike in all else, and rank the cameras.

    Parameters
    ----------
    scenes
        One scene or several: objects, files or bundled names.
    cameras
        Objects, files or bundled names, in any order.
    lens
        Lens file or bundled name that every camera gets.
    same_framing
        Whether every camera frames as wide as the first one, as far as its lens reaches.
    variants
        The first camera in other settings: by a name for each, what is set.
    seed
        Steers every random draw.
    progress
        Called with what is being done and the share done so far, 0 to 1.

    Returns
    -------
    Comparison
        `save(folder)` writes what the command writes.

    Raises
    ------
    InputError
        For a scene or camera that is at fault, two cameras of one name, or a lens that does not
        reach.

    References
    ----------
    Cameras count as equal where the half intervals that face each other, added in quadrature, reach
    over the difference of their probabilities (common practice, no source); they then stand in the
    order of their reserve in light, then in distance, and share a rank where both are the same.

    Examples
    --------
    >>> from simulator import Camera, compare
    >>> body = Camera.load("fixed-2mp-lowlight")
    >>> compare("parcel-shelf", [body, body.set({"lens.focal_length_mm": 6})])
    Traceback (most recent call last):
    simulator.errors.InputError: Two cameras have the same name.
    ...
    """
    several = list(scenes) if isinstance(scenes, list | tuple) else [scenes]
    loaded = [Scene.of(one, "scenes") for one in several]
    bodies = load_cameras(cameras, lens=lens, same_framing=same_framing)
    bodies += [variant_of(bodies[0], name, changes) for name, changes in (variants or {}).items()]
    compared = study.compare(
        loaded, bodies, seed=seed, lens=lens, same_framing=same_framing, progress=progress
    )
    return Comparison.of(compared)
