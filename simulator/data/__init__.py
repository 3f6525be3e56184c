"""Sourced tables of numbers: spectra, reflectances, quantum efficiencies, filters, sheeting.

Each table is one CSV file in the folder of its kind, with a header that says what it is, where
it comes from and how sure it is; `README.md` beside this file describes the format.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np

from simulator.csv_table import refuse_doubled
from simulator.errors import FileFormatError, NameNotFoundError
from simulator.units import WAVELENGTH_NM, FloatArray

KINDS: Final[tuple[str, ...]] = (
    "spectra",
    "reflectance",
    "quantum_efficiency",
    "filters",
    "observers",
    "sheeting",
    "charts",
    "lamps",
)
"""Folders of this package that hold tables."""

HEADER_KEYS: Final[tuple[str, ...]] = ("title", "origin", "status", "units", "range")
"""Header lines that each table must have."""

STATUSES: Final[tuple[str, ...]] = ("measured", "datasheet", "computed", "assumed")
"""First word of the `status` header line."""

_FOLDER: Final[Path] = Path(__file__).parent


@dataclass(frozen=True)
class Table:
    """One table of numbers.

    Attributes
    ----------
    name
        File name without its ending.
    columns
        Column name to read-only array of shape (rows,), in the order of the file.
    header
        Header key (`title`, `origin`, `status`, `units`, `range`, ...) to its text.
    """

    name: str
    columns: dict[str, FloatArray]
    header: dict[str, str]

    def on_grid(self, column: str) -> FloatArray:
        """`column` on the common wavelength grid, shape (721,), linear between rows.

        Raises
        ------
        FileFormatError
            If the table has no `wavelength_nm` or does not cover 380 to 1100 nm.
        """
        wavelength = self.columns.get("wavelength_nm")
        if wavelength is None or wavelength[0] > WAVELENGTH_NM[0]:
            raise FileFormatError(f"table {self.name!r} has no wavelength_nm from 380 nm on")
        if wavelength[-1] < WAVELENGTH_NM[-1] or np.any(np.diff(wavelength) <= 0.0):
            raise FileFormatError(f"table {self.name!r}: wavelength_nm must rise up to 1100 nm")
        return np.interp(WAVELENGTH_NM, wavelength, self.columns[column])


def _check_kind(kind: str) -> None:
    if kind not in KINDS:
        raise NameNotFoundError(
            f"There is no kind of table called {kind!r}", given=kind, allowed=", ".join(KINDS)
        )


@lru_cache
def names(kind: str) -> list[str]:
    """Sorted names of the tables of one kind.

    Raises
    ------
    NameNotFoundError
        If there is no such kind.
    """
    _check_kind(kind)
    return sorted(path.stem for path in (_FOLDER / kind).glob("*.csv"))


def not_found(what: str, name: str, known: list[str]) -> NameNotFoundError:
    """The error for an unknown name, with the nearest names that exist."""
    near = difflib.get_close_matches(name, known, n=3, cutoff=0.4)
    fix = f"did you mean {' or '.join(repr(n) for n in near)}?" if near else None
    return NameNotFoundError(
        f"There is no {what} called {name!r}", given=name, allowed=", ".join(known), fix=fix
    )


@lru_cache
def read_table(kind: str, name: str) -> Table:
    """Read one table.

    Parameters
    ----------
    kind
        Folder, one of `KINDS`.
    name
        File name without `.csv`, one of `names(kind)`.

    Raises
    ------
    NameNotFoundError
        If there is no such kind or table; the nearest names are told.
    FileFormatError
        If the file breaks the format described in README.md.
    """
    known = names(kind)
    if name not in known:
        raise not_found(f"table of kind {kind!r}", name, known)
    path = _FOLDER / kind / f"{name}.csv"
    return parse_table(name, path.read_text(encoding="utf-8"), str(path))


def parse_table(name: str, text: str, file: str | None) -> Table:
    """Table from the text of a CSV file; `file` is only told in errors.

    Raises
    ------
    FileFormatError
        If a header line is missing, a row has the wrong length or a cell is not a finite number.
    """
    header: dict[str, str] = {}
    lines = text.splitlines()
    start = 0
    for start, line in enumerate(lines):  # noqa: B007
        if not line.startswith("#"):
            break
        key, _, value = line[1:].partition(":")
        header[key.strip()] = value.strip()
    missing = [key for key in HEADER_KEYS if not header.get(key)]
    if missing:
        raise FileFormatError(f"header line missing: {', '.join(missing)}", file=file)
    if header["status"].split()[0].rstrip(",;:") not in STATUSES:
        raise FileFormatError(
            "the status must start with a known word",
            file=file,
            given=header["status"],
            allowed=", ".join(STATUSES),
        )
    column_names = [cell.strip() for cell in lines[start].split(",")] if lines else []
    refuse_doubled(column_names, file)
    rows = [line for line in lines[start + 1 :] if line.strip()]
    try:
        if any("_" in row for row in rows):
            raise ValueError("an underscore is no part of a number")
        values = np.array(",".join(rows).split(","), dtype=np.float64)
        values = values.reshape(-1, len(column_names))
    except ValueError as error:
        given = next((row for row in rows if not _is_row(row, len(column_names))), "no row at all")
        raise FileFormatError(
            "A row is not numbers, one for each column.",
            file=file,
            given=given,
            allowed=f"{len(column_names)} numbers with commas between",
        ) from error
    if not np.all(np.isfinite(values)):
        raise FileFormatError("a cell is not a finite number", file=file)
    columns = {key: np.ascontiguousarray(values[:, i]) for i, key in enumerate(column_names)}
    for column in columns.values():
        column.setflags(write=False)
    return Table(name=name, columns=columns, header=header)


def _is_row(row: str, count: int) -> bool:
    cells = row.split(",")
    try:
        return len([float(cell) for cell in cells]) == count
    except ValueError:
        return False
