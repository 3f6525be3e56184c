"""Every camera of a site, as a function."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.api.shown import Shown
from simulator.studies.quick import TRIALS
from simulator.studies.survey import study
from simulator.studies.survey.site_file import SiteFile
from simulator.studies.survey.study import REACH, Progress

if TYPE_CHECKING:
    from xarray import Dataset


class Survey(Shown, study.Survey):
    """A whole site, the position of the greatest risk first.

    Attributes
    ----------
    rows
        Every position with its scene, camera, probabilities, reach, limits and remedies.
    """

    def table(self) -> list[dict[str, Any]]:
        """One row for every position and hour, the greatest risk first.

        Returns
        -------
        Rows that pandas takes.
        """
        from simulator.studies.tables import survey_table

        return survey_table(self)

    def to_xarray(self) -> Dataset:
        """Figures by position and hour, after the CF conventions.

        Returns
        -------
        xarray.Dataset
            Units, long names and the version in attributes; names without dots.
        """
        from simulator.studies.tables import survey_dataset

        return survey_dataset(self)

    def to_dict(self) -> dict[str, Any]:
        """What verdict.json holds of it.

        Returns
        -------
        dict
            Plain dictionaries, lists, numbers and texts.
        """
        from simulator.report.survey.words import verdict_table

        return verdict_table(self)

    def save(self, folder: str | Path) -> Path:
        """Write plans, positions.nc, positions.csv, inputs and verdict.json, whole or not at all.

        Parameters
        ----------
        folder
            A new folder, an empty one, or an earlier result, whose files are replaced.

        Returns
        -------
        pathlib.Path
            The folder.

        Raises
        ------
        OutputError
            If it cannot be written there.
        """
        from simulator.report.survey.plan import save_survey

        return save_survey(Path(folder), self)

    def _said(self) -> tuple[str, str]:
        return self.site.title, self.to_dict()["answer"]

    def _rows(self) -> Sequence[Mapping[str, Any]]:
        kept = ("position", "hour", "task", "wanted_probability", "probability", "verdict")
        return [{name: row[name] for name in kept} for row in self.table()]


def survey(
    site: SiteFile | str | Path,
    *,
    trials: int = TRIALS,
    reach: Sequence[float] = REACH,
    remedies: bool = False,
    workers: int | None = None,
    cluster: str | None = None,
    seed: int = 0,
    keep: str | Path | None = None,
    resume: bool = False,
    progress: Progress | None = None,
) -> Survey:
    """Judge every camera of a site at its worst and typical hour.

    Parameters
    ----------
    site
        A site, its file (.toml, .csv) or bundled name.
    trials
        Repetitions of the camera at each point for a text that is read.
    reach
        Distances at which the target is judged besides its own, over it.
    remedies
        Whether remedies are sought for every position that fails, which takes minutes each.
    workers
        Processes; one for each processor if not given.
    cluster
        Address of a dask scheduler to run on instead.
    seed
        Steers every random draw.
    keep
        File that keeps the points that are done, so that an interrupted survey can go on.
    resume
        Whether it goes on with the points of `keep`.
    progress
        Called with what is being done and the share done so far, 0 to 1.

    Returns
    -------
    Survey
        `save(folder)` writes what the command writes.

    Raises
    ------
    InputError
        For a site, scene or camera that is at fault, before the work begins.

    References
    ----------
    Every point is judged as `quick` judges it.

    Examples
    --------
    >>> from simulator import survey
    >>> survey("fruit-depto")
    Traceback (most recent call last):
    simulator.errors.NameNotFoundError: There is no bundled site of this name.
    ...
    """
    loaded = SiteFile.of(site, "site")
    found = study.survey(
        loaded, seed=seed, trials=trials, reach=reach, remedies=remedies, workers=workers,
        cluster=cluster, keep=None if keep is None else Path(keep), resume=resume,
        progress=progress,
    )  # fmt: skip
    return Survey.of(found)
