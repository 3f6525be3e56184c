"""Every camera of a site, as a function."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.api.shown import Labelled, Report
from simulator.studies.quick import TRIALS
from simulator.studies.survey import study
from simulator.studies.survey.site_file import SiteFile
from simulator.studies.survey.study import REACH, Progress

if TYPE_CHECKING:
    from xarray import Dataset


class Survey(Labelled, study.Survey):
    """A whole site, the position of the greatest risk first.

    Attributes
    ----------
    rows
        Every position with its scene, camera, probabilities, reach, limits and remedies.
    """

    _COLUMNS = ("position", "hour", "task", "wanted_probability", "probability", "verdict")

    def table(self) -> list[dict[str, Any]]:
        """One row for every position and hour, the greatest risk first.

        Returns
        -------
        Rows that pandas takes.
        """
        from simulator.studies.tables import survey_table

        return survey_table(self)

    def _report(self) -> Report:
        from simulator.report.survey.sheet import save_survey
        from simulator.report.survey.words import verdict_table

        return Report(verdict_table, save_survey)

    def _dataset(self) -> Dataset:
        from simulator.studies.tables import survey_dataset

        return survey_dataset(self)


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
    result = study.survey(
        loaded, seed=seed, trials=trials, reach=reach, remedies=remedies, workers=workers,
        cluster=cluster, keep=None if keep is None else Path(keep), resume=resume,
        progress=progress,
    )  # fmt: skip
    return Survey.of(result)
