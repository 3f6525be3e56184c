"""The one door for files that people name: what is no file, too large or no text is refused here.

Everything that is read goes through `bytes_of` or `text_of`, every number in a table through
`number_of`, every table of values through `check_values`, so that no reader needs guards of its
own.
"""

from __future__ import annotations

import errno
import json
import os
import re
import stat
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from simulator.errors import FileFormatError

MOST_TEXT_BYTES: Final = 16 << 20
"""Largest text file (chosen by us): a photometric file of 2000 x 100 directions has 2 MB."""
MOST_BYTES: Final = 256 << 20
"""Largest other file (chosen by us): a TIFF of the largest photograph has 240 MB."""
MOST_DEEP: Final = 12
"""Tables within tables; the deepest file of ours has five."""
LARGEST_WHOLE: Final = 2**63 - 1
"""TOML 1.0, "Integer": 64-bit signed."""
LONGEST_KEY: Final = 200
LONGEST_TEXT: Final = MOST_TEXT_BYTES
_NUMBER: Final = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d{1,3})?", re.ASCII)
_PLAINLY: Final = {
    errno.EACCES: "you may not read it",
    errno.EPERM: "you may not read it",
    errno.ENAMETOOLONG: "its name is too long",
    errno.ELOOP: "its links go in a circle",
    errno.ENOTDIR: "a part of its path is a file, not a folder",
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "your share of the disk is full",
    errno.EROFS: "the disk is read-only",
    errno.EEXIST: "something of that name is there",
    errno.ENOENT: "a folder of its path is missing",
    errno.EISDIR: "a folder of that name is there",
    errno.EIO: "the disk failed",
    errno.EMFILE: "too many files are open",
}


@contextmanager
def unheard() -> Iterator[None]:
    """Within it, lines that decoders in C write to the terminal of their own accord are dropped:
    what is wrong with a file is told once, in words of ours."""
    try:
        kept = os.dup(2)
    except OSError:  # no standard error to be kept clean
        yield
        return
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def plainly(error: BaseException) -> str:
    """What the system said of a file, in words of ours.

    Parameters
    ----------
    error
        What was raised.

    Returns
    -------
    The reason, without the system's number and wording.

    Examples
    --------
    >>> plainly(PermissionError(13, "Permission denied"))
    'you may not read it'
    """
    number = getattr(error, "errno", None)
    if number in (errno.EACCES, errno.EPERM) and getattr(error, "filename2", None):
        return "you may not write there"
    return _PLAINLY.get(number, "the system does not open it")  # type: ignore[arg-type]


def is_file(path: Path) -> bool:
    """Whether there is a file of a name that a person or a file gave.

    Parameters
    ----------
    path
        A link is followed.

    Returns
    -------
    False, too, for a name that no file can have: `Path.is_file` raises for names that are too long.

    Examples
    --------
    >>> is_file(Path("a" * 5000))
    False
    """
    return os.path.isfile(path)  # noqa: PTH113  as above


def bytes_of(path: str | Path, what: str = "file", *, most: int = MOST_BYTES) -> bytes:
    """Content of a file.

    Parameters
    ----------
    path
        A link is followed.
    what
        What it is, for messages.
    most
        Largest size [byte].

    Returns
    -------
    Its bytes.

    Raises
    ------
    FileFormatError
        If it is not there, is a folder, a device or a pipe, is too large or cannot be read.
    """
    path = Path(path)
    try:
        # opened without waiting, so that a pipe without a writer does not hang
        number = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
    except FileNotFoundError:
        raise FileFormatError(
            "There is no such file.", file=path, allowed=f"a {what}", fix="check the path"
        ) from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the path
        raise _cannot_be_read(path, what, plainly(error)) from None
    try:
        _check_regular(os.fstat(number), path, what, most)
        return b"".join(iter(lambda: os.read(number, 1 << 20), b""))
    except OSError as error:
        raise _cannot_be_read(path, what, plainly(error)) from None
    finally:
        os.close(number)


def _check_regular(status: os.stat_result, path: Path, what: str, most: int) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise FileFormatError(
            "This is a folder, not a file.", file=path, allowed=f"a {what}",
            fix="name a file in it",
        )  # fmt: skip
    if not stat.S_ISREG(status.st_mode):
        raise _cannot_be_read(path, what, "it is a device or a pipe")
    if status.st_size > most:
        raise FileFormatError(
            f"This {what} is too large.",
            file=path,
            given=f"{status.st_size / 1e6:.1f} MB",
            allowed=f"at most {most / 1e6:.0f} MB",
            fix="name a smaller one",
        )


def _cannot_be_read(path: Path, what: str, given: str) -> FileFormatError:
    return FileFormatError(
        f"This {what} cannot be read.",
        file=path,
        given=given,
        allowed=f"a {what} that you may read",
        fix="check the path, and that you may read it",
    )


def text_of(path: str | Path, what: str = "file") -> str:
    """Text of a file in UTF-8, without its byte order mark.

    Parameters
    ----------
    path, what
        As `bytes_of` takes them.

    Returns
    -------
    Its text.

    Raises
    ------
    FileFormatError
        If it cannot be read, or is no text; line and column are told.
    """
    data = bytes_of(path, what, most=MOST_TEXT_BYTES)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileFormatError(
            f"This file is not UTF-8 text ({_place(data, error.start)}).",
            file=path,
            given=data[error.start : error.start + 1],
            allowed=f"a {what} in UTF-8",
            fix="save it as UTF-8",
        ) from None
    if (at := data.find(b"\0")) >= 0:
        raise FileFormatError(
            f"This file holds a NUL character ({_place(data, at)}), which no text does.",
            file=path,
            allowed=f"a {what} in UTF-8",
            fix="save it as UTF-8",
        )
    return text


def _place(data: bytes, at: int) -> str:
    line, start = data.count(b"\n", 0, at) + 1, data.rfind(b"\n", 0, at)
    return f"line {line}, column {at - start}"


def json_of(path: str | Path, what: str) -> dict[str, Any]:
    """The object of a JSON file.

    Parameters
    ----------
    path, what
        As `bytes_of` takes them.

    Returns
    -------
    Its names and values.

    Raises
    ------
    FileFormatError
        If it cannot be read, is cut off, or holds something else than an object.
    """
    try:
        table = json.loads(text_of(path, what))
    except (ValueError, RecursionError) as error:
        if isinstance(error, FileFormatError):
            raise
        at = f" (line {error.lineno})" if isinstance(error, json.JSONDecodeError) else ""
        raise FileFormatError(
            f"This {what} is not whole: it is no JSON{at}.",
            file=path,
            allowed=f"a {what} as nightproof wrote it",
            fix="run the study again",
        ) from None
    if not isinstance(table, dict):
        raise FileFormatError(
            f"This is no {what}.",
            file=path,
            given=type(table).__name__,
            allowed=f"a {what} as nightproof wrote it",
            fix="run the study again",
        )
    check_values(table, path)
    return table


def number_of(text: str) -> float:
    """A number as people write it in a table: digits, a decimal point, an exponent.

    Parameters
    ----------
    text
        Spaces around it are left out.

    Returns
    -------
    The number, finite.

    Raises
    ------
    ValueError
        For anything else that `float` would take: underscores, "nan", "inf", other digits; and for
        a number too large to be held.

    Examples
    --------
    >>> number_of(" 1.5e3 ")
    1500.0
    >>> number_of("1_500")
    Traceback (most recent call last):
    ValueError: not a number: '1_500'
    """
    text = text.strip()
    if len(text) > LONGEST_KEY or _NUMBER.fullmatch(text) is None:
        raise ValueError(f"not a number: {text[:40]!r}")
    value = float(text)
    if abs(value) == float("inf"):
        raise ValueError(f"too large a number: {text[:40]!r}")
    return value


def check_values(table: Mapping[str, Any], file: object = None) -> None:
    """Refuse what no file of ours may hold, wherever it stands in a table.

    Parameters
    ----------
    table
        As TOML or a caller gives it.
    file
        Where it comes from, for messages.

    Raises
    ------
    FileFormatError
        For tables in tables in tables without end, whole numbers beyond 64 bits, keys that are too
        long, and texts that no text file can hold.
    """

    def refuse(problem: str, key: str, given: object, allowed: str, fix: str) -> FileFormatError:
        return FileFormatError(
            problem, file=file, key=key or None, given=given, allowed=allowed, fix=fix
        )

    waiting: list[tuple[str, Any, int]] = [("", table, 0)]
    while waiting:
        key, value, deep = waiting.pop()
        if isinstance(value, Mapping | list | tuple) and deep > MOST_DEEP:
            raise refuse(
                "Tables and lists stand in each other too deep.", key, f"{deep} levels",
                f"at most {MOST_DEEP} levels", "write it flatter",
            )  # fmt: skip
        if isinstance(value, Mapping):
            for name, entry in value.items():
                _check_text(name, key, file, longest=LONGEST_KEY)
                waiting.append((f"{key}.{name}" if key else str(name), entry, deep + 1))
        elif isinstance(value, list | tuple):
            waiting += [(f"{key}[{i}]", entry, deep + 1) for i, entry in enumerate(value)]
        elif isinstance(value, str):
            _check_text(value, key, file, longest=LONGEST_TEXT)
        elif isinstance(value, int) and not isinstance(value, bool) and abs(value) > LARGEST_WHOLE:
            raise refuse(
                "This whole number is too large.", key, f"a number of {value.bit_length()} bits",
                "whole numbers of at most 64 bits", "write a smaller number",
            )  # fmt: skip


def _check_text(text: str, key: str, file: object, longest: int) -> None:
    if len(text) > longest:
        raise FileFormatError(
            "This text is too long.", file=file, key=key or None,
            given=f"{text[:40]}... ({len(text)} characters)",
            allowed=f"at most {longest} characters", fix="shorten it",
        )  # fmt: skip
    if "\0" in text or not _is_text(text):
        raise FileFormatError(
            "This text holds a character that no text file can hold.", file=file, key=key or None,
            given=text, allowed="text in UTF-8 without NUL", fix="take the character out",
        )  # fmt: skip


def _is_text(text: str) -> bool:
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def check_layout(table: Mapping[str, Any], allowed: int, file: object, again: str) -> None:
    """Refuse the table of a result that another version laid out.

    Parameters
    ----------
    table
        What was read.
    allowed
        The `schema_version` that is read.
    file
        Where it was read.
    again
        How to make the result again, in words that follow "to migrate, ".

    Raises
    ------
    FileFormatError
        For any other `schema_version`; it says how to migrate.
    """
    given = table.get("schema_version")
    if type(given) is int and given == allowed:
        return
    problem = "This result does not say which layout it has."
    if type(given) is int:
        side = "an earlier" if given < allowed else "a later"
        problem = f"This result was written by {side} version of nightproof."
    said = table.get("versions")
    wrote = said.get("nightproof") if isinstance(said, Mapping) else None
    with_it = f"; nightproof {wrote} wrote it and reads it" if isinstance(wrote, str) else ""
    raise FileFormatError(
        problem, file=file, key="schema_version", given="nothing" if given is None else given,
        allowed=str(allowed), fix=f"to migrate, {again}{with_it}",
    )  # fmt: skip
