"""Finding, reading and merging the TOML files people write.

Scenes and profiles are found by path or by the name of a bundled file. A number may be written
as a value or as `{ value = 2.6, tolerance = 0.4, source = "measured" }`.
"""

from __future__ import annotations

import math
import os
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal, get_args

from simulator.errors import FileFormatError, NameNotFoundError, NightproofError
from simulator.reading import check_values, is_file, text_of
from simulator.validation import json_schema, nearest, nearest_name, validate

__all__ = [
    "SINGULAR",
    "Kind",
    "Tolerance",
    "bundled_folder",
    "bundled_names",
    "find",
    "json_schema",
    "merge_use",
    "parse_toml",
    "read_toml",
    "refuse_other_kind",
    "split_tolerances",
    "validate",
]

Kind = Literal["cameras", "lenses", "lights", "scenes", "sites"]
Source = Literal["measured", "datasheet", "assumed"]

SINGULAR: Final[dict[Kind, str]] = {
    "cameras": "camera",
    "lenses": "lens",
    "lights": "light",
    "scenes": "scene",
    "sites": "site",
}
"""Kinds of files, and what one of them is called."""


@dataclass(frozen=True)
class Tolerance:
    """What is known about one number of a file."""

    value: float
    """The number itself, in the unit of its key."""
    tolerance: float
    """Half width of the interval the true value lies in, in the unit of the key."""
    source: Source
    """Where the number comes from."""


_FOLDERS: Final[dict[str, Path]] = {"scenes": Path("scenes"), "sites": Path("scenes") / "sites"}
"""Folders of the kinds that are no profiles."""


def bundled_folder(kind: Kind) -> Path:
    """Folder of the bundled files of a kind: inside the installed package, else the checkout.

    Raises
    ------
    NightproofError
        If neither exists, which means a broken installation.
    """
    package = Path(__file__).resolve().parent
    inner = _FOLDERS.get(kind, Path("profiles") / kind)
    for folder in (package / "bundled" / inner, package.parent / inner):
        if folder.is_dir():
            return folder
    raise NightproofError(f"the bundled {kind} are missing from this installation")


def bundled_names(kind: Kind) -> list[str]:
    """Names of the bundled files of a kind, in order."""
    return sorted(path.stem for path in bundled_folder(kind).glob("*.toml"))


def find(
    kind: Kind,
    name_or_path: str | Path,
    *,
    beside: Path | None = None,
    file: object = None,
    key: str | None = None,
    argument: str | None = None,
) -> Path:
    """Path of a file given by its path or by the name of a bundled file.

    Anything that ends in `.toml` or holds a path separator is a path, everything else a name.

    Parameters
    ----------
    kind
        What is looked for.
    name_or_path
        Bundled name, or path. A path that does not exist is refused here where `file` is given,
        else by `read_toml`.
    beside
        Folder that relative paths start from; without it the current folder.
    file, key, argument
        Where the name was written, for the message.

    Raises
    ------
    NameNotFoundError
        For a name that is not bundled, or a used file that does not exist.
    """
    text = str(name_or_path)
    if isinstance(name_or_path, Path) or text.endswith(".toml") or re.search(r"[/\\]", text):
        path = Path(text).expanduser() if text.startswith("~/") else Path(text)
        path = path if beside is None else beside / path
        if file is not None and not is_file(path):
            raise NameNotFoundError(
                "There is no such file.",
                argument=argument,
                file=file,
                key=key,
                given=text,
                allowed=f"a path from {beside or Path.cwd()}, or one of: "
                + ", ".join(bundled_names(kind)),
                fix="check the path",
            )
        return path
    names = bundled_names(kind)
    if text in names:
        return bundled_folder(kind) / f"{text}.toml"
    hints = nearest_name(text, names)
    singular = SINGULAR[kind]
    raise NameNotFoundError(
        f"There is no bundled {singular} of this name.",
        argument=argument,
        file=file,
        key=key,
        given=text,
        allowed=f"a path ending in .toml, or one of: {', '.join(names)}",
        fix=f"did you mean {' or '.join(hints)}?" if hints else "see `nightproof list`",
    )


_MARKS: Final[dict[str, frozenset[str]]] = {
    "camera": frozenset({"sensor", "exposure", "processing", "day_night"}),
    "scene": frozenset({"station", "task", "target", "natural_light"}),
    "site": frozenset({"position", "hours"}),
}
"""Tables that only files of a kind have."""


def refuse_other_kind(raw: Mapping[str, Any], path: object, wanted: str) -> None:
    """Say so at once where a file is one of another kind, such as a scene given as a camera.

    Raises
    ------
    FileFormatError
        If the file holds tables of another kind and none of the wanted one.
    """
    if _MARKS[wanted] & raw.keys():
        return
    other = next((kind for kind, marks in _MARKS.items() if marks & raw.keys()), None)
    if other is not None:
        raise FileFormatError(
            f"This is a {other}, not a {wanted}.",
            file=path,
            given=f"a file with {', '.join(sorted(_MARKS[other] & raw.keys()))}",
            allowed=f"a {wanted} file, which has {', '.join(sorted(_MARKS[wanted]))}",
            fix="check the order: SCENE first, the camera after --camera"
            if {other, wanted} == {"scene", "camera"}
            else f"name a {wanted} file",
        )


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file.

    Raises
    ------
    FileFormatError
        If it is missing, is no file, cannot be opened, is not UTF-8 or is not TOML; the place of
        the fault is told by line and column.
    """
    try:
        text = text_of(path, "TOML file")
    except FileFormatError as error:
        if os.path.lexists(path):
            raise
        near = nearest(path.name, _toml_names(path.parent), count=3)
        if any(path.stem in bundled_names(kind) for kind in SINGULAR):
            raise error.but(fix=f"for the bundled file write {path.stem}, without .toml") from None
        raise (error.but(fix=f"did you mean {' or '.join(near)}?") if near else error) from None
    return parse_toml(text, path)


def parse_toml(text: str, file: object = None) -> dict[str, Any]:
    """Table of a TOML text.

    Parameters
    ----------
    text
        The text.
    file
        Where it comes from, for the message.

    Raises
    ------
    FileFormatError
        If it is not TOML; the place of the fault is told by line and column.
    """
    try:
        table = tomllib.loads(text)
    except RecursionError:
        problem, given = "Tables and lists stand in each other too deep.", None
    except tomllib.TOMLDecodeError as error:
        problem, given = f"This file is not valid TOML: {error}", _line_of(text, str(error))
    except ValueError:  # what Python says of a whole number of more than 4300 digits
        problem, given = "This file holds a number that is too long.", _longest_number(text)
    else:
        check_values(table, file)
        return table
    raise FileFormatError(
        problem,
        file=file,
        given=given,
        allowed="TOML 1.0: key = value, tables as [name], list entries as [[name]]",
        fix="correct the line named above" if given else "write it flatter, as the examples do",
    )


def _toml_names(folder: Path) -> list[str]:
    try:
        return [entry.name for entry in folder.iterdir() if entry.suffix == ".toml"]
    except OSError:
        return []


def _longest_number(text: str) -> str:
    return max(re.findall(r"\d+", text), key=len)


def _line_of(text: str, message: str) -> str | None:
    place = re.search(r"at line (\d+)", message)
    lines = text.splitlines()
    if place is None or not 0 < int(place[1]) <= len(lines):
        return None
    return lines[int(place[1]) - 1]


def _tolerance(table: Mapping[str, Any], key: str, file: object) -> Tolerance:
    form = '{ value = number, tolerance = number from 0 upwards, source = "measured" }'
    allowed = f"{form}, where source is one of {', '.join(get_args(Source))}"

    def refuse(problem: str, part: str, given: object) -> FileFormatError:
        where = f"{key}.{part}"
        return FileFormatError(problem, file=file, key=where, given=given, allowed=allowed)

    wanted = ("value", "tolerance", "source")
    for part in table:
        if part not in wanted:
            raise refuse(f"Unknown key {part!r} in a number with a tolerance.", part, table[part])
    for part in wanted:
        if part not in table:
            raise refuse(f"A number with a tolerance needs its {part}.", part, "nothing")
    for part in ("value", "tolerance"):
        number = table[part]
        if isinstance(number, bool) or not isinstance(number, int | float):
            raise refuse(f"The {part} must be a number.", part, number)
        if isinstance(number, float) and not math.isfinite(number):
            raise refuse(f"The {part} must be finite, not NaN or infinity.", part, number)
    if table["tolerance"] < 0:
        raise refuse("The tolerance must not be negative.", "tolerance", table["tolerance"])
    if table["source"] not in get_args(Source):
        raise refuse("Unknown source.", "source", table["source"])
    return Tolerance(table["value"], float(table["tolerance"]), table["source"])


def split_tolerances(
    raw: Mapping[str, Any], file: object = None
) -> tuple[dict[str, Any], dict[str, Tolerance]]:
    """Plain values, and the tolerances that stood beside them.

    Parameters
    ----------
    raw
        Table as read; it is not changed.
    file
        Where it comes from, for the message.

    Returns
    -------
    tuple
        The table with each `{value, tolerance, source}` replaced by its value, and the
        tolerances by dotted key; list entries go by their `name`, numbers in a list by `[index]`.

    Raises
    ------
    FileFormatError
        For a table with `value` or `tolerance` that is not of that form.
    """
    tolerances: dict[str, Tolerance] = {}

    def walk(node: Any, key: str) -> Any:
        if isinstance(node, Mapping):
            if key and ("value" in node or "tolerance" in node):
                tolerances[key] = _tolerance(node, key, file)
                return node["value"]
            return {k: walk(v, f"{key}.{k}" if key else k) for k, v in node.items()}
        if isinstance(node, list):
            return [walk(entry, entry_key(key, i, entry)) for i, entry in enumerate(node)]
        return node

    def entry_key(key: str, index: int, entry: Any) -> str:
        name = entry.get("name") if isinstance(entry, Mapping) else None
        return f"{key}.{name}" if isinstance(name, str) and name else f"{key}[{index}]"

    return walk(raw, ""), tolerances


def merge_use(entry: Mapping[str, Any], profile_raw: Mapping[str, Any]) -> dict[str, Any]:
    """Entry with what it does not say taken from a profile; what the entry says wins."""
    return {**entry, **{k: v for k, v in profile_raw.items() if k not in entry}}
