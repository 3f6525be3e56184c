"""Cameras from TOML files; the lens takes what it does not say from a lens file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from pydantic import create_model

from simulator.camera.model import CameraModel, Lens
from simulator.checked_file import CheckedFile
from simulator.dotted import Change
from simulator.fields import FileModel
from simulator.files import bundled_names, find, merge_use, read_toml, split_tolerances, validate

_MOVE_THE_FASTEST = {
    f"lens.{key}"
    for key in ("use", "focal_length_mm", "focal_min_mm", "focal_max_mm", "f_number_wide",
                "f_number_tele")
}  # fmt: skip
"""Keys that the smallest f-number depends on."""
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


def _set_by_itself(lens: dict[str, Any], file: object) -> None:
    """Fill the focal length of a fixed lens, and the f-number with the fastest there is."""
    plain, _ = split_tolerances(lens, file)
    low, high = plain.get("focal_min_mm"), plain.get("focal_max_mm")
    if "focal_length_mm" not in lens and low is not None and low == high:
        lens["focal_length_mm"] = plain["focal_length_mm"] = low
    ends = ("focal_min_mm", "focal_max_mm", "f_number_wide", "f_number_tele", "focal_length_mm")
    if "f_number" not in lens and all(_is_number(plain.get(key)) for key in ends):
        lens["f_number"] = Lens.model_construct(**plain).smallest_f_number


def _lens_profile(use: str, folder: Path, file: object) -> dict[str, Any]:
    """What a lens file says, checked."""
    path = find("lenses", use, beside=folder, file=file, key="lens.use")
    profile = read_toml(path)
    values, _ = split_tolerances(profile, path)
    validate(LensFile, values, path)
    return profile


@dataclass(frozen=True, eq=False, repr=False)
class Camera(CheckedFile[CameraModel]):
    """One camera with its lens; the values of a lens file that it uses stand in the model.

    Attributes
    ----------
    model
        What the file says, checked.
    name
        Stem of the file; for one made in code, what it is to be called.
    file
        Where it was read; None for one made in code.
    tolerances
        By dotted key, list entries by their name.
    folder
        Where files are looked for that a relative path names.

    Examples
    --------
    >>> camera = Camera.load("fixed-2mp-lowlight")
    >>> camera
    Camera('fixed-2mp-lowlight': 2 MP fixed camera with a low-light sensor (archetype))
    >>> camera.set({"exposure.shutter_max_s": 0.002}).model.exposure.shutter_max_s
    0.002
    """

    model: CameraModel
    KIND = "cameras"
    MODEL = CameraModel
    PROFILES: ClassVar[Mapping[str, frozenset[str]]] = {"lens": frozenset(LensFile.model_fields)}

    @classmethod
    def _filled(cls, table: dict[str, Any], folder: Path, file: object) -> dict[str, Any]:
        lens = table.get("lens")
        if not isinstance(lens, Mapping):
            return table
        filled = dict(lens)
        if isinstance(use := filled.pop("use", None), str):
            filled = merge_use(filled, _lens_profile(use, folder, file))
        elif use is not None:
            filled["use"] = use  # not a name: the check refuses it
        _set_by_itself(filled, file)
        return {**table, "lens": filled}

    def _with(self, table: dict[str, Any], changes: list[Change]) -> dict[str, Any]:
        """A lens that is wide open stays so at another focal length. Another lens keeps the
        f-number, or is wide open where it does not reach it, and one of a single focal length is at
        that one."""
        changed = super()._with(table, changes)
        keys = {change.key for change in changes}
        lens, was = changed.get("lens"), self.model.lens
        if not isinstance(lens, dict) or "lens" in keys:
            return changed
        fixed = was.focal_min_mm == was.focal_max_mm
        if fixed and "lens.use" in keys and "lens.focal_length_mm" not in keys:
            lens.pop("focal_length_mm", None)
        if "lens.f_number" not in keys and keys & _MOVE_THE_FASTEST:
            open_wide = {key: value for key, value in lens.items() if key != "f_number"}
            filled = self._filled({"lens": open_wide}, Path(self.folder or ""), self.file)["lens"]
            fastest = filled.get("f_number")
            too_fast = "lens.use" in keys and _is_number(fastest) and was.f_number < fastest
            if was.f_number == was.smallest_f_number or too_fast:
                lens.pop("f_number", None)
        return changed


def bundled_cameras(*, but: str) -> list[Camera]:
    """Every bundled camera but the one of this name: what may be proposed in its place."""
    return [Camera.load(name) for name in bundled_names("cameras") if name != but]
