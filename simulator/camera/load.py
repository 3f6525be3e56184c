"""Cameras from TOML files; the lens takes what it does not say from a lens file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import create_model

from simulator import dotted
from simulator.camera.model import CameraModel, Lens
from simulator.errors import InputError
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
from simulator.toml_text import to_toml

_OF_THE_CAMERA = {"use", "focal_length_mm", "f_number", "focus_m"}

LensFile = create_model(
    "LensFile",
    __base__=FileModel,
    __doc__="A lens as it can be bought (profiles/lenses/).",
    **{  # type: ignore[call-overload]
        name: (field.annotation, field)
        for name, field in Lens.model_fields.items()
        if name not in _OF_THE_CAMERA
    },
)
"""What a lens file says: the lens without how it is set."""
LensFile.renamed_keys = Lens.renamed_keys


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _set_by_itself(lens: dict[str, Any], file: Path) -> None:
    """Fill the focal length of a fixed lens, and the f-number with the fastest there is."""
    plain, _ = split_tolerances(lens, file)
    low, high = plain.get("focal_min_mm"), plain.get("focal_max_mm")
    if "focal_length_mm" not in lens and low is not None and low == high:
        lens["focal_length_mm"] = plain["focal_length_mm"] = low
    ends = ("focal_min_mm", "focal_max_mm", "f_number_wide", "f_number_tele", "focal_length_mm")
    if "f_number" not in lens and all(_is_number(plain.get(key)) for key in ends):
        lens["f_number"] = Lens.model_construct(**plain).smallest_f_number


def _fill(lens: Mapping[str, Any], file: Path) -> dict[str, Any]:
    filled = dict(lens)
    use = lens.get("use")
    if isinstance(use, str):
        path = find("lenses", use, beside=file.parent, file=file, key="lens.use")
        profile = read_toml(path)
        plain, _ = split_tolerances(profile, path)
        validate(LensFile, plain, path)
        filled = merge_use(lens, profile)
        if use.endswith(".toml"):  # a path means nothing to the copy a result keeps
            del filled["use"]
    _set_by_itself(filled, file)
    return filled


@dataclass(frozen=True)
class Camera:
    """One camera profile: the checked model and where it came from."""

    model: CameraModel
    name: str
    """Stem of the file."""
    file: Path
    tolerances: dict[str, Tolerance]
    """Tolerances by dotted key."""
    raw: dict[str, Any]
    """The table after overrides, with the lens file filled in."""

    @classmethod
    def from_raw(cls, raw: Mapping[str, Any], name: str, file: str | Path) -> Camera:
        """Camera from a table.

        Parameters
        ----------
        raw
            Table as a camera profile would give it; it is not changed.
        name
            Name of the camera.
        file
            Where it comes from; a relative lens file is looked for beside it.

        Raises
        ------
        FileFormatError
            For the first thing wrong.
        NameNotFoundError
            If the lens uses a file that does not exist.
        """
        file = Path(file)
        filled = dict(raw)
        if isinstance(raw.get("lens"), Mapping):
            filled["lens"] = _fill(raw["lens"], file)
        plain, tolerances = split_tolerances(filled, file)
        return cls(validate(CameraModel, plain, file), name, file, tolerances, filled)

    @classmethod
    def load(cls, name_or_path: str | Path, sets: Sequence[str] = ()) -> Camera:
        """Camera from a profile or a bundled name.

        Parameters
        ----------
        name_or_path
            Path of a TOML file, or a name of `nightproof list`.
        sets
            Values to set, each `key=value` with a dotted key of the camera.

        Raises
        ------
        InputError
            For a file, name, key or value that is at fault.
        """
        path = find("cameras", name_or_path)
        untouched = read_toml(path)
        refuse_other_kind(untouched, path, "camera")
        raw = dotted.apply(untouched, CameraModel, sets)
        try:
            return cls.from_raw(raw, path.stem, path)
        except InputError as error:
            raise dotted.blame_sets(
                error, sets, path, lambda: cls.from_raw(untouched, path.stem, path)
            ) from None

    def to_toml(self) -> str:
        """The camera as a TOML file that needs no lens file beside it."""
        return to_toml(self.raw)
