"""What a TOML file says, checked: one base for scenes, cameras and sites.

The checked model is the only truth. The table of the file, its TOML text, its equality and its hash
all follow from the model and the tolerances beside its numbers.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any, ClassVar, Generic, Self, TypeVar

from pydantic import BaseModel

from simulator import dotted
from simulator.errors import FileFormatError, InputError
from simulator.files import (
    SINGULAR,
    Kind,
    Tolerance,
    find,
    parse_toml,
    read_toml,
    refuse_other_kind,
    split_tolerances,
    validate,
)
from simulator.plain import plain, table_of, tolerances_of
from simulator.reading import check_values
from simulator.toml_text import to_toml

Model = TypeVar("Model", bound=BaseModel)
Given = str | os.PathLike[str] | Mapping[str, Any] | BaseModel
"""What stands for a checked file: a bundled name or path, a table, a model."""


@dataclass(frozen=True, eq=False, repr=False)
class CheckedFile(Generic[Model]):
    """A checked model, where it came from, and how sure its numbers are; nothing of it changes.

    Two of them are equal, and hash alike, where model and tolerances are: name and file do not
    count.

    Parameters
    ----------
    model
        What the file says, checked.
    name
        Stem of the file; for one made in code, what it is to be called.
    file
        Where it was read; None for one made in code.
    tolerances
        By dotted key, list entries by their name. Those whose number differs from that of the
        model are left out.
    folder
        Where files are looked for that a relative path names; that of `file`, or the current one.

    Raises
    ------
    InputError
        For a model of another kind, or a file it names that is not there.
    """

    KIND: ClassVar[Kind]
    MODEL: ClassVar[type[BaseModel]]
    PROFILES: ClassVar[Mapping[str, frozenset[str]]] = {}
    """By table, what a profile named by its `use` says."""

    model: Model
    name: str = ""
    file: Path | None = None
    tolerances: Mapping[str, Tolerance] = field(default_factory=dict)
    folder: Path | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.model, self.MODEL):
            raise _wrong_type(type(self), "model", self.model, f"a checked {self.MODEL.__name__}")
        put = object.__setattr__
        put(self, "name", str(self.name) or self.noun())
        put(self, "file", None if self.file is None else Path(self.file))
        if self.folder is None:
            put(self, "folder", Path() if self.file is None else self.file.parent)
        # a model that was copied with other values is not checked yet, and may name files
        table = self._filled(plain(table_of(self.model)), Path(self.folder or ""), self.file)
        put(self, "model", validate(self.MODEL, table, self.file))
        kept = tolerances_of(self.model, self.tolerances)
        put(self, "tolerances", MappingProxyType(kept))

    @classmethod
    def noun(cls) -> str:
        """What it is, in a word: "scene", "camera"."""
        return SINGULAR[cls.KIND]

    @classmethod
    def _filled(cls, table: dict[str, Any], folder: Path, file: object) -> dict[str, Any]:
        """Table with everything in it that other files say; the table itself where nothing is."""
        return table

    @classmethod
    def _of(cls, table: Mapping[str, Any], name: str, file: Path | None, folder: Path) -> Self:
        check_values(table, file)
        filled = cls._filled(dict(table), folder, file)
        values, tolerances = split_tolerances(filled, file)
        return cls(validate(cls.MODEL, values, file), name, file, tolerances, folder)  # type: ignore[arg-type]

    @classmethod
    def from_dict(
        cls, table: Mapping[str, Any], *, name: str = "", folder: str | Path | None = None
    ) -> Self:
        """From a table as a file would give it.

        Parameters
        ----------
        table
            Keys and values of the file; numpy numbers and arrays, tuples and paths are taken too,
            and None stands for a key that is not written.
        name
            What it is to be called.
        folder
            Where files are looked for that the table names; the current folder if not given.

        Returns
        -------
        The scene, camera or site.

        Raises
        ------
        InputError
            For the first thing wrong.

        Examples
        --------
        >>> from simulator import Scene
        >>> gate = Scene.load("depot-gate-dark")
        >>> Scene.from_dict(gate.table()) == gate
        True
        """
        if not isinstance(table, Mapping):
            raise _wrong_type(cls, "table", table, "a table of keys and values")
        return cls._of(plain(table), name, None, Path(folder or ""))

    @classmethod
    def from_toml(cls, text: str, *, name: str = "", folder: str | Path | None = None) -> Self:
        """From the text of a file.

        Parameters
        ----------
        text
            TOML.
        name, folder
            As `from_dict` takes them.

        Returns
        -------
        The scene, camera or site.

        Raises
        ------
        InputError
            For the first thing wrong.

        Examples
        --------
        >>> from simulator import Camera
        >>> body = Camera.load("plate-2mp-global")
        >>> Camera.from_toml(body.to_toml()) == body
        True
        """
        if not isinstance(text, str):
            raise _wrong_type(cls, "text", text, "the text of a TOML file")
        table = parse_toml(text)
        refuse_other_kind(table, None, cls.noun())
        return cls.from_dict(table, name=name, folder=folder)

    @classmethod
    def load(cls, name_or_path: str | os.PathLike[str], sets: dotted.Changes = ()) -> Self:
        """From a file or a bundled name.

        Parameters
        ----------
        name_or_path
            Path of a TOML file, or a name of `nightproof list`.
        sets
            Values to set, as `set` takes them. A fault of the file that they take away does not
            matter.

        Returns
        -------
        The scene, camera or site.

        Raises
        ------
        InputError
            For a file, name, key or value that is at fault.

        Examples
        --------
        >>> from simulator import Camera
        >>> Camera.load("plate-2mp-global", ["exposure.shutter_s=1/500"]).model.exposure.shutter_s
        0.002
        """
        if not isinstance(name_or_path, str | os.PathLike):
            raise _wrong_type(cls, "name_or_path", name_or_path, "a bundled name or a path")
        path = cls._find(os.fspath(name_or_path))
        table = cls._read(path)
        refuse_other_kind(table, path, cls.noun())
        changes = dotted.changes_of(sets)
        try:
            loaded = cls._of(table, path.stem, path, path.parent)
        except InputError:
            if not changes:
                raise
            return cls._repaired(table, path, changes)
        return loaded.set(changes)

    @classmethod
    def _find(cls, name_or_path: str) -> Path:
        return find(cls.KIND, name_or_path)

    @classmethod
    def _read(cls, path: Path) -> dict[str, Any]:
        return read_toml(path)

    @classmethod
    def _repaired(cls, table: Mapping[str, Any], path: Path, changes: list[dotted.Change]) -> Self:
        """A file that is at fault as it stands, with values set."""
        changed = dotted.apply(table, cls.MODEL, changes, cls.PROFILES)
        try:
            return cls._of(changed, path.stem, path, path.parent)
        except InputError as error:
            if not dotted.hits(error, changes):
                raise
            raise dotted.blamed(error, changes, path) from None

    @classmethod
    def of(cls, given: Any, argument: str = "") -> Self:
        """What a caller gave as one: as it is, by name or path, as a table or as a checked model.

        Parameters
        ----------
        given
            What was given.
        argument
            Name of the caller's argument, for the message.

        Returns
        -------
        The scene, camera or site.

        Raises
        ------
        InputError
            For anything else, or a name, file or table that is at fault.

        Examples
        --------
        >>> from simulator import Scene
        >>> Scene.of("depot-gate-dark") == Scene.load("depot-gate-dark")
        True
        """
        if isinstance(given, cls):
            return given
        if isinstance(given, str | os.PathLike):
            return cls.load(given)
        if isinstance(given, cls.MODEL):
            return cls(given)  # type: ignore[arg-type]
        if isinstance(given, Mapping):
            return cls.from_dict(given)
        raise _wrong_type(cls, argument or cls.noun(), given)

    def set(self, *changes: dotted.Changes) -> Self:
        """The same with values set; this one stays as it is.

        Parameters
        ----------
        *changes
            Tables of values by dotted key (`{"target.plate.speed_kmh": 30}`) or `key=value` texts.
            List entries go by their name, the numbers of a point by `[index]`. None takes a key out
            of the file. A table for an entry that is not there adds it, None takes the entry out. A
            number that is set has no tolerance but one that is given with it.

        Returns
        -------
        The changed scene, camera or site.

        Raises
        ------
        InputError
            For a key or value that is at fault.

        Examples
        --------
        >>> from simulator import Scene
        >>> gate = Scene.load("depot-gate-dark")
        >>> gate.set({"station.height_m": 4}, "target.plate.speed_kmh=30").model.station.height_m
        4.0
        """
        every = dotted.changes_of(*changes)
        if not every:
            return self
        try:
            table = self._with(self.table(), every)
            return self._of(table, self.name, self.file, Path(self.folder or ""))
        except InputError as error:
            here = error if error.file is not None else error.but(file=self.file)
            raise dotted.blamed(here, every, self.file) from None

    def _with(self, table: dict[str, Any], changes: list[dotted.Change]) -> dict[str, Any]:
        return dotted.apply(table, self.MODEL, changes, self.PROFILES)

    def table(self) -> dict[str, Any]:
        """What the file says, as plain values; numbers with a tolerance as tables."""
        return table_of(self.model, self.tolerances)

    def to_toml(self) -> str:
        """A TOML file that says the same and needs no profile beside it."""
        return to_toml(self.table())

    def save(self, path: str | Path) -> Path:
        """Write it as a TOML file that loads by itself.

        Parameters
        ----------
        path
            The file; its folder must be there.

        Returns
        -------
        Path of the file.

        Raises
        ------
        OSError
            If it cannot be written.
        """
        path = Path(path)
        path.write_text(self.to_toml(), encoding="utf-8")
        return path

    @cached_property
    def content_hash(self) -> str:
        """SHA-256 over all that counts, in hexadecimal digits; files count by their content."""
        return hashlib.sha256(self._content().encode()).hexdigest()

    def _content(self) -> str:
        return self.to_toml()

    def __eq__(self, other: object) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return self.content_hash == other.content_hash

    def __hash__(self) -> int:
        return hash((type(self), self.content_hash))

    def __repr__(self) -> str:
        title = getattr(self.model, "title", "")
        return f"{type(self).__name__}({self.name!r}: {title})"

    def __getstate__(self) -> dict[str, Any]:
        kept = ("model", "name", "file", "folder")
        return {key: getattr(self, key) for key in kept} | {"tolerances": dict(self.tolerances)}

    def __setstate__(self, state: dict[str, Any]) -> None:
        self.__dict__.update(state, tolerances=MappingProxyType(state["tolerances"]))


def _wrong_type(
    cls: type[CheckedFile[Any]], argument: str, given: object, allowed: str | None = None
) -> InputError:
    name = cls.__name__
    return FileFormatError(
        f"This is not what stands for a {cls.noun()}.",
        argument=argument,
        given=given,
        allowed=allowed
        or f"a {name}, a bundled name, a path, a table or a checked {cls.MODEL.__name__}",
        fix=f"{name}.load(...) reads a file, {name}.from_dict(...) takes a table",
    )
