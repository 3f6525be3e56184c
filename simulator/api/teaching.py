"""Lessons, as a function."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from simulator.api.shown import Report, Reported
from simulator.dotted import Changes
from simulator.studies.lessons import lesson as study
from simulator.studies.lessons.catalogue import LESSONS, find_lesson
from simulator.studies.lessons.lesson import TRIALS, Progress


class Lesson(Reported, study.Taught):
    """A lesson with its steps taken: pictures, figures, what they show.

    Attributes
    ----------
    steps
        Every step with its picture and figures by name.
    """

    def table(self) -> list[dict[str, Any]]:
        """One row for every step, with all its figures.

        Returns
        -------
        Rows that pandas takes.
        """
        return [{"step": taken.step.value, **taken.figures} for taken in self.steps]

    def _report(self) -> Report:
        from simulator.report.lessons.page import lesson_table, save_lesson

        return Report(lesson_table, save_lesson)

    def save(self, folder: str | Path, *, pdf: bool = False) -> Path:
        """Write lesson.html, pictures, inputs and verdict.json, whole or not at all.

        Parameters
        ----------
        folder
            A new folder, an empty one, or an earlier result, whose files are replaced.
        pdf
            Whether a PDF is written, too (extra `pdf`).

        Returns
        -------
        pathlib.Path
            The folder.

        Raises
        ------
        OutputError
            If it cannot be written there.
        """
        from simulator.report.lessons.page import save_lesson

        save_lesson(Path(folder), self, pdf=pdf)
        return Path(folder)

    def _said(self) -> tuple[str, str]:
        from simulator.report.wording.lessons import lesson_words

        words = lesson_words(self)
        return words.title, words.shown[0]

    def _rows(self) -> Sequence[Mapping[str, Any]]:
        names = self.lesson.curves
        return [{name: row[name] for name in ("step", *names)} for row in self.table()]

    def _pictures(self) -> Mapping[str, NDArray[Any]]:
        ends = {taken.step.value: taken for taken in (self.steps[0], self.steps[-1])}
        return {f"Step {value}": taken.seen.frame for value, taken in ends.items()}


def lesson_names() -> list[str]:
    """Names of the lessons.

    Returns
    -------
    In the order in which they are best taken.

    Examples
    --------
    >>> from simulator import lesson_names
    >>> "motion" in lesson_names()
    True
    """
    return list(LESSONS)


def lesson(
    name: str,
    *,
    changes: Changes = (),
    trials: int = TRIALS,
    seed: int = 1,
    progress: Progress | None = None,
) -> Lesson:
    """Take every step of a lesson.

    Parameters
    ----------
    name
        One of `lesson_names()`.
    changes
        What is set in every step besides what the lesson sets: by dotted key, or texts
        "KEY=VALUE".
    trials
        Repetitions of the camera at each step for a text that is read.
    seed
        Steers every random draw.
    progress
        Called with what is being done and the share done so far, 0 to 1.

    Returns
    -------
    Lesson
        `save(folder)` writes what the command writes.

    Raises
    ------
    NameNotFoundError
        If there is no lesson of that name.
    InputError
        For a value that is at fault, or one that takes the target out of the picture.

    References
    ----------
    Every lesson names the law that it shows and its source.

    Examples
    --------
    >>> from simulator import lesson
    >>> lesson("levitation")
    Traceback (most recent call last):
    simulator.errors.NameNotFoundError: There is no such lesson.
    ...
    """
    taught = study.teach(
        find_lesson(name), seed=seed, sets=changes, trials=trials, progress=progress
    )
    return Lesson.of(taught)
