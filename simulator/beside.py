"""Files that a file names beside itself: their content in the place of their names."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from simulator import dotted
from simulator.annotations import shapes
from simulator.errors import FileFormatError, InputError
from simulator.fields import Beside
from simulator.reading import is_file

Take = Callable[[Path], str]
"""What stands in the place of a file's name; raises an `InputError` where the file is at fault."""


def with_files(
    table: dict[str, Any],
    model: type[BaseModel],
    takes: Mapping[str, Take],
    folder: Path,
    file: object,
) -> dict[str, Any]:
    """Table with what files beside it say in the place of their names.

    Parameters
    ----------
    table
        Plain values, tolerances and all; it is not changed.
    model
        What the table must say; its fields marked `Beside` may name files.
    takes
        By the `what` of that mark.
    folder
        Where the files are looked for.
    file
        Where the table comes from, for messages.

    Raises
    ------
    InputError
        For a file that is not there or at fault, with the key that names it.
    """
    if not any(True for _ in _named(table, model)):
        return table
    filled = copy.deepcopy(table)
    for key, inner, name, mark in list(_named(filled, model)):
        inner[name] = _taken(takes[mark.what], folder / inner[name], inner[name], mark, key, file)
    return filled


def _named(
    table: Mapping[str, Any], model: type[BaseModel]
) -> Iterator[tuple[str, dict[str, Any], str, Beside]]:
    """Every text that names a file: its dotted key, the table it stands in, its name there."""
    for part, inner, prefix in dotted.tables(model, table):
        if not isinstance(inner, dict):
            continue
        for name, mark in _marks(part).items():
            text = inner.get(name)
            if not isinstance(text, str) or not text:
                continue
            if "\n" not in text and text.endswith(mark.ending):  # else it is a name or a content
                yield f"{prefix}{name}", inner, name, mark


@lru_cache
def _marks(model: type[BaseModel]) -> dict[str, Beside]:
    """Keys of a table that may name a file."""
    return {
        name: item
        for name, shape in shapes(model).items()
        for item in shape.metadata
        if isinstance(item, Beside)
    }


def _taken(take: Take, path: Path, given: str, mark: Beside, key: str, file: object) -> str:
    if not is_file(path):
        raise FileFormatError(
            f"There is no such {mark.what}.",
            file=file,
            key=key,
            given=given,
            allowed=f"a file, looked for in {path.parent.resolve()}",
            fix=f"put the {mark.what} there or name its whole path",
        )
    try:
        return take(path)
    except InputError as error:
        raise error.but(file=error.file or path, key=error.key or key) from None
