"""The sheet of a viewing test: what a viewer read on each picture, kept in CSV between sittings."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Mapping
from pathlib import Path

from simulator.csv_table import csv_rows
from simulator.errors import FileFormatError
from simulator.studies.tables import harmless

COLUMNS = ("picture", "answer")


def read_answers(path: Path, pictures: Collection[str]) -> dict[str, str]:
    """What was read, by picture; pictures without an answer are left out.

    Parameters
    ----------
    path
        The sheet, perhaps saved by a spreadsheet.
    pictures
        Names of the pictures of the test.

    Raises
    ------
    FileFormatError
        If the sheet lacks a column, or names a picture that is none of the test or is there twice.
    """
    answers: dict[str, str] = {}
    for line, row in csv_rows(path, COLUMNS):
        if row.keys() != set(COLUMNS):
            raise FileFormatError(
                "This sheet lacks a column.", file=path, key="first line", given=", ".join(row),
                allowed="the columns " + ", ".join(COLUMNS), fix="give it both columns",
            )  # fmt: skip
        name = row["picture"]
        if name not in pictures or name in answers:
            twice = name in answers
            raise FileFormatError(
                "This picture is there twice." if twice else "This is no picture of the test.",
                file=path,
                key=f"line {line}",
                given=name,
                allowed="each picture of the test once",
                fix="remove the line; the same number of plates and seed give the same pictures",
            )  # fmt: skip
        answers[name] = row["answer"].removeprefix("'")
    return {name: answer for name, answer in answers.items() if answer}


def sheet_of_answers(pictures: Collection[str], answers: Mapping[str, str]) -> str:
    """The text of the sheet, a line for each picture."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(COLUMNS)
    rows.writerows([name, harmless(answers.get(name, ""))] for name in pictures)
    return out.getvalue()
