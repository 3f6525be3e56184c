"""Tables that people write as CSV: lines with a cell for each column of the first line."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterator
from pathlib import Path

from simulator.errors import FileFormatError
from simulator.reading import text_of


def csv_rows(path: Path, columns: Collection[str]) -> Iterator[tuple[int, dict[str, str]]]:
    """The lines of a CSV file, each as its cells by column.

    Parameters
    ----------
    path
        A file in UTF-8.
    columns
        Columns that it may have.

    Yields
    ------
    Number of the line and its cells, without spaces around them.

    Raises
    ------
    FileFormatError
        If it is no CSV, has a column twice or an unknown one, or a line has another number of
        cells.
    """
    rows = csv.reader(io.StringIO(text_of(path, "CSV file")), strict=True)
    try:
        head = [name.strip() for name in next(rows, [])]
        refuse_doubled(head, path)
        for column in head:
            if column not in columns:
                raise FileFormatError(
                    f"Unknown column {column!r}.", file=path, key="first line", given=column,
                    allowed="the columns " + ", ".join(columns), fix="rename or remove it",
                )  # fmt: skip
        for row in rows:
            if row and len(row) != len(head):
                raise FileFormatError(
                    "This line has another number of cells than the first one.",
                    file=path,
                    key=f"line {rows.line_num}",
                    fix="give every line one cell for each column; quote cells that hold a comma",
                )
            if row:
                cells = (cell.strip() for cell in row)
                yield rows.line_num, dict(zip(head, cells, strict=True))
    except csv.Error as error:
        raise FileFormatError(
            f"This file is not valid CSV: {error}.", file=path, key=f"line {rows.line_num or 1}",
            allowed="cells with commas between; put one that holds a comma in quotation marks",
            fix="close the quotation marks",
        ) from None  # fmt: skip


def refuse_doubled(columns: list[str], file: object) -> None:
    """Refuse a table in which a column stands twice.

    Raises
    ------
    FileFormatError
        With the name of the column.
    """
    twice = next((name for n, name in enumerate(columns) if name in columns[:n]), None)
    if twice is not None:
        raise FileFormatError(
            f"The column {twice!r} is there twice.",
            file=file,
            key="first line",
            given=", ".join(columns),
            allowed="each column once",
            fix="take one of them out",
        )
