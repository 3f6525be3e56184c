"""Points that are done, kept in a file line by line, so that interrupted work can go on.

The first line names the study and the run, every other one a point, its row and the run again. The
file is locked while it is used; a line that was being written when the work was ended is dropped,
and anything else that does not belong here is refused.
"""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from simulator.errors import InputError, OutputError
from simulator.reading import plainly

FORMAT = 1
"""Number of the layout of the file; it grows when the layout changes."""
Row = dict[str, Any]


def kept_file(folder: Path) -> Path:
    """File beside a result folder that keeps the points that are done."""
    return folder.with_name(f"{folder.name}.points.jsonl")


@dataclass
class KeptRows:
    """Rows of the points that are done, by the names of the points.

    `run` tells this run from others: its inputs, seed and versions.
    """

    study: str
    run: str
    rows: dict[str, Row] = field(default_factory=dict)
    file: IO[bytes] | None = None

    def add(self, point: str, row: Row) -> None:
        """Keep one more point."""
        self.rows[point] = row
        self._write({"run": self.run, "point": point, "row": row})

    def begin(self) -> None:
        """Write the first line of a new file."""
        self._write({"format": FORMAT, "study": self.study, "run": self.run})

    def _write(self, line: Row) -> None:
        if self.file is not None:
            self.file.write(json.dumps(line, ensure_ascii=False).encode() + b"\n")
            self.file.flush()


@contextmanager
def kept_rows(
    file: Path | None,
    *,
    study: str,
    run: str,
    known: Collection[str] | Callable[[str], bool],
    resume: bool = False,
) -> Iterator[KeptRows]:
    """Open the file of a run's points; it stays locked until the end.

    Parameters
    ----------
    file
        Without one nothing is kept.
    study
        What kind of study it is, for messages.
    run
        What tells this run from others.
    known
        Names of the points that there are, or whether a name is one of them.
    resume
        Go on with the rows of the file; otherwise it begins anew.

    Raises
    ------
    InputError
        If another run uses the file, or a line of it does not belong to this run; it names the
        line.
    OutputError
        If the file cannot be written.
    """
    kept = KeptRows(study, run)
    if file is None:
        yield kept
        return
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        opened = file.open("a+b")
    except OSError as error:
        raise OutputError(
            "The points that are done cannot be kept here.",
            file=file,
            fix=f"make the place writable, or choose another ({plainly(error)})",
        ) from None
    with opened, _locked(opened, file):
        if resume:
            opened.seek(0)
            whole = opened.read()
            kept.rows, end = _rows_of(whole, file, kept, known)
            opened.truncate(end)
        else:
            end = 0
            opened.truncate(0)
        kept.file = opened
        if end == 0:
            kept.begin()
        try:
            yield kept
        except InputError:  # refused before its first point: nothing to go on with
            if not kept.rows:
                with contextlib.suppress(OSError):
                    file.unlink()
            raise


def _rows_of(
    whole: bytes, file: Path, kept: KeptRows, known: Collection[str] | Callable[[str], bool]
) -> tuple[dict[str, Row], int]:
    """Rows of a file, and where its last whole line ends; 0 for a file without any."""
    is_known = known if callable(known) else known.__contains__
    if not whole:
        return {}, 0
    end = whole.rfind(b"\n") + 1
    rows: dict[str, Row] = {}
    lines = whole[:end].split(b"\n")[:-1]
    if not lines:
        raise _refused(kept, file, 1, "is not whole", whole)
    for n, line in enumerate(lines, start=1):
        table = _table_of(line, kept, file, n)
        if n == 1:
            _check_first(table, kept, file)
            continue
        if table.get("run") != kept.run:
            raise _refused(kept, file, n, f"belongs to another {kept.study}", line)
        point, row = table.get("point"), table.get("row")
        if not isinstance(point, str) or not is_known(point):
            raise _refused(kept, file, n, f"names a point that this {kept.study} has not", line)
        if not isinstance(row, dict):
            raise _refused(kept, file, n, "holds no row", line)
        rows[point] = row
    return rows, end


def _table_of(line: bytes, kept: KeptRows, file: Path, n: int) -> Row:
    try:
        table = json.loads(line.decode("utf-8"))
    except UnicodeDecodeError:
        raise _refused(kept, file, n, "is not UTF-8 text", line) from None
    except (ValueError, RecursionError):  # brackets in brackets without end
        raise _refused(kept, file, n, "is not JSON", line) from None
    if not isinstance(table, dict):
        raise _refused(kept, file, n, "is not a JSON object", line)
    return table


def _check_first(head: Row, kept: KeptRows, file: Path) -> None:
    if head.get("format") != FORMAT or "study" not in head or "run" not in head:
        raise _refused(kept, file, 1, "is not the head of such a file", json.dumps(head).encode())
    if head["study"] != kept.study or head["run"] != kept.run:
        raise InputError(
            f"The points that are kept here belong to another {kept.study}.",
            file=f"{file}, line 1",
            given=f"{head['study']} {head['run']}",
            allowed="the same scenes, cameras, values, points, seed and version",
            fix="leave out --resume to begin anew, or name another folder with --out",
        )


def _refused(kept: KeptRows, file: Path, n: int, what: str, line: bytes) -> InputError:
    return InputError(
        f"Line {n} of the points that are kept {what}.",
        file=f"{file}, line {n}",
        given=line.decode("utf-8", "replace"),
        allowed=f"a point of this {kept.study}, as an interrupted one left it",
        fix="take the line out, leave out --resume to begin anew, or name another folder",
    )


@contextmanager
def _locked(opened: IO[bytes], file: Path) -> Iterator[None]:
    """Keep all others out; the system takes the lock away from a process that ends."""
    if not _lock(opened):
        raise InputError(
            "Another run is keeping its points here.",
            file=file,
            fix="wait until it ends, or name another folder with --out",
        )
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            _unlock(opened)


if sys.platform == "win32":  # pragma: no cover
    import msvcrt

    _FAR = 1 << 40

    def _lock(opened: IO[bytes]) -> bool:
        opened.seek(_FAR)
        try:
            msvcrt.locking(opened.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _unlock(opened: IO[bytes]) -> None:
        opened.seek(_FAR)
        msvcrt.locking(opened.fileno(), msvcrt.LK_UNLCK, 1)
else:
    import fcntl

    def _lock(opened: IO[bytes]) -> bool:
        try:
            fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _unlock(opened: IO[bytes]) -> None:
        fcntl.flock(opened, fcntl.LOCK_UN)
