"""Scenes from TOML files; illuminators take what they do not say from a light profile.

Photometric files and spectra beside a scene file are read here and their text put in their place,
so that the copy of a scene which a result keeps needs no file beside it. A photograph's path
becomes absolute here; a result keeps a copy of the picture beside that of the scene.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import create_model

from simulator import dotted
from simulator.errors import FileFormatError, InputError
from simulator.fields import FileModel
from simulator.files import (
    Tolerance,
    find,
    merge_use,
    read_toml,
    refuse_other_kind,
    split_tolerances,
    validate,
)
from simulator.light.lamp_spectra import read_text, spectrum_of_text
from simulator.light.photometric_file import parse_photometric_file
from simulator.scene.model import Illuminator, SceneModel
from simulator.toml_text import to_toml

_OF_THE_SCENE = {"name", "use", "position_m", "beside_camera_m", "aim_m", "on", "dimming"}

LightFile = create_model(
    "LightFile",
    __base__=FileModel,
    __doc__="An infrared or white illuminator as it can be bought (profiles/lights/).",
    **{  # type: ignore[call-overload]
        name: (field.annotation, field)
        for name, field in Illuminator.model_fields.items()
        if name not in _OF_THE_SCENE
    },
)
"""What a light profile says: the illuminator without its place."""


def _fill(entry: Mapping[str, Any], name: str, file: Path) -> dict[str, Any]:
    use = entry["use"]
    key = f"illuminator.{name}.use"
    path = find("lights", use, beside=file.parent, file=file, key=key)
    profile = read_toml(path)
    plain, _ = split_tolerances(profile, path)
    validate(LightFile, plain, path)
    filled = merge_use(entry, profile)
    if use.endswith(".toml"):  # a path means nothing to the copy a result keeps
        del filled["use"]
    return filled


def _with_texts(entry: Mapping[str, Any], list_name: str, file: Path) -> dict[str, Any]:
    """A light or surface with the text of the files it names in their place; checked, to blame
    that file. The path of a photograph becomes absolute."""
    filled = dict(entry)
    where = f"{list_name}.{entry.get('name', '?')}"
    named = entry.get("photometry")
    if list_name == "lamp" and isinstance(named, str) and named and "\n" not in named:
        key, path = f"{where}.photometry", file.parent / named
        text = read_text(path, "photometric file", file=str(file), key=key, given=named)
        parse_photometric_file(text, path)
        filled["photometry"] = text
    named = entry.get("spectrum")
    if isinstance(named, str) and named.endswith(".csv") and "\n" not in named:
        key, path = f"{where}.spectrum", file.parent / named
        text = read_text(path, "spectrum", file=str(file), key=key, given=named)
        spectrum_of_text(text, path)
        filled["spectrum"] = text
    named = entry.get("file")
    if list_name == "surface" and entry.get("kind") == "photograph" and isinstance(named, str):
        filled["file"] = _absolute(named, f"{where}.file", file)
    return filled


def _absolute(named: str, key: str, file: Path) -> str:
    """Absolute path of a picture that is named beside a scene file and exists."""
    path = (file.parent / named).resolve()
    if not path.is_file():
        raise FileFormatError(
            "There is no such photograph.",
            file=file,
            key=key,
            given=named,
            allowed=f"a picture file, looked for in {path.parent}",
            fix="put the picture beside the scene file or name its whole path",
        )
    return str(path)


@dataclass(frozen=True)
class Scene:
    """One scene: the checked model and where it came from."""

    model: SceneModel
    name: str
    """Stem of the file."""
    file: Path
    tolerances: dict[str, Tolerance]
    """Tolerances by dotted key; list entries go by their name."""
    raw: dict[str, Any]
    """The table after overrides, with light profiles and the text of other files filled in."""

    @classmethod
    def from_raw(cls, raw: Mapping[str, Any], name: str, file: str | Path) -> Scene:
        """Scene from a table.

        Parameters
        ----------
        raw
            Table as a scene file would give it; it is not changed.
        name
            Name of the scene.
        file
            Where it comes from; what a relative path names is looked for beside it.

        Raises
        ------
        FileFormatError
            For the first thing wrong.
        NameNotFoundError
            If an illuminator uses a profile that does not exist.
        """
        file = Path(file)
        filled = dict(raw)
        entries = raw.get("illuminator")
        if isinstance(entries, list):
            filled["illuminator"] = [
                _fill(entry, str(entry.get("name", "?")), file)
                if isinstance(entry, Mapping) and isinstance(entry.get("use"), str)
                else entry
                for entry in entries
            ]
        for list_name in ("lamp", "illuminator", "surface"):
            entries = filled.get(list_name)
            if isinstance(entries, list):
                filled[list_name] = [
                    _with_texts(entry, list_name, file) if isinstance(entry, Mapping) else entry
                    for entry in entries
                ]
        plain, tolerances = split_tolerances(filled, file)
        return cls(validate(SceneModel, plain, file), name, file, tolerances, filled)

    @classmethod
    def load(cls, name_or_path: str | Path, sets: Sequence[str] = ()) -> Scene:
        """Scene from a file or a bundled name.

        Parameters
        ----------
        name_or_path
            Path of a TOML file, or a name of `nightproof list`.
        sets
            Values to set, each `key=value` with a dotted key of the scene.

        Raises
        ------
        InputError
            For a file, name, key or value that is at fault.
        """
        path = find("scenes", name_or_path)
        untouched = read_toml(path)
        refuse_other_kind(untouched, path, "scene")
        raw = dotted.apply(untouched, SceneModel, sets)
        try:
            return cls.from_raw(raw, path.stem, path)
        except InputError as error:
            raise dotted.blame_sets(
                error, sets, path, lambda: cls.from_raw(untouched, path.stem, path)
            ) from None

    def to_toml(self) -> str:
        """The scene as a TOML file that needs no profile beside it."""
        return to_toml(self.raw)
