"""Scenes from TOML files; illuminators take what they do not say from a light profile.

Photometric files, spectra and reflectances beside a scene file are read here and their text put in
their place, so that the copy of a scene which a result keeps needs no file beside it. The path of a
photograph becomes absolute here; `Scene.save` copies the picture beside the scene.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from pydantic import create_model

from simulator.beside import Take, with_files
from simulator.checked_file import CheckedFile
from simulator.fields import FileModel
from simulator.files import find, merge_use, read_toml, split_tolerances, validate
from simulator.light.lamp_spectra import spectrum_of_text
from simulator.light.photometric_file import parse_photometric_file, photometric_text
from simulator.reading import bytes_of, text_of
from simulator.scene.materials import material_of_text
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


def _text(check: Callable[[str, Path], object]) -> Take:
    """Takes the text of a file, once it is checked."""

    def take(path: Path) -> str:
        text = text_of(path)
        check(text, path)
        return text

    return take


def _photometric(path: Path) -> str:
    text = photometric_text(path)
    parse_photometric_file(text, path)
    return text


TAKES: dict[str, Take] = {
    "spectrum": _text(spectrum_of_text),
    "photometric file": _photometric,
    "material": _text(material_of_text),
    "photograph": lambda path: str(path.resolve()),
    "mesh": lambda path: str(path.resolve()),
}
"""What stands in a checked scene for a file that it names."""


def _light_profile(use: str, key: str, folder: Path, file: object) -> dict[str, Any]:
    """What a light profile says, checked, with the tables beside it."""
    path = find("lights", use, beside=folder, file=file, key=key)
    profile = with_files(read_toml(path), LightFile, TAKES, path.parent, path)
    values, _ = split_tolerances(profile, path)
    validate(LightFile, values, path)
    return profile


def _with_profile(entry: Any, folder: Path, file: object) -> Any:
    if not isinstance(entry, Mapping) or not isinstance(use := entry.get("use"), str):
        return entry
    key = f"illuminator.{entry.get('name', '?')}.use"
    own = {k: v for k, v in entry.items() if k != "use"}
    return merge_use(own, _light_profile(use, key, folder, file))


@dataclass(frozen=True, eq=False, repr=False)
class Scene(CheckedFile[SceneModel]):
    """One scene; the values of light profiles that it uses stand in the model.

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
    >>> scene = Scene.load("depot-gate-infrared")
    >>> scene
    Scene('depot-gate-infrared': Fruit depot gate, moonless night, infrared on the mast)
    >>> scene.set({"target.plate.speed_kmh": 30}).model.target[0].speed_kmh
    30.0
    >>> scene.set("station.height_m=4") == scene.set({"station.height_m": 4.0})
    True
    """

    model: SceneModel
    KIND = "scenes"
    MODEL = SceneModel
    PROFILES: ClassVar[Mapping[str, frozenset[str]]] = {
        "illuminator": frozenset(LightFile.model_fields)
    }

    @classmethod
    def _filled(cls, table: dict[str, Any], folder: Path, file: object) -> dict[str, Any]:
        filled = dict(table)
        if isinstance(entries := table.get("illuminator"), list):
            filled["illuminator"] = [_with_profile(entry, folder, file) for entry in entries]
        return with_files(filled, SceneModel, TAKES, folder, file)

    def _content(self) -> str:
        def digest(photograph: Path) -> str:
            return hashlib.sha256(bytes_of(photograph)).hexdigest()

        return to_toml(_with_photographs(self.table(), digest))

    def save(self, path: str | Path) -> Path:
        """Write it, with the photographs it shows beside it, so that it loads there by itself.

        Parameters
        ----------
        path
            The TOML file; its folder must be there. Photographs are named by their content.

        Returns
        -------
        Path of the TOML file.

        Raises
        ------
        FileFormatError
            If a photograph is no longer there.
        OSError
            If the copies cannot be written.
        """
        path = Path(path)

        def copied(photograph: Path) -> str:
            content = bytes_of(photograph)
            digest = hashlib.sha256(content).hexdigest()
            name = f"photograph-{digest[:8]}{photograph.suffix.lower()}"
            (path.parent / name).write_bytes(content)
            return name

        path.write_text(to_toml(_with_photographs(self.table(), copied)), encoding="utf-8")
        return path


def _with_photographs(table: dict[str, Any], named: Callable[[Path], str]) -> dict[str, Any]:
    """A scene's table with other names for its photographs."""
    out = dict(table)
    if "surface" in table:
        out["surface"] = [
            {**entry, "file": named(Path(entry["file"]))} if "file" in entry else entry
            for entry in table["surface"]
        ]
    if isinstance(photo := table.get("site_photo"), Mapping):
        out["site_photo"] = {**photo, "file": named(Path(photo["file"]))}
    return out
