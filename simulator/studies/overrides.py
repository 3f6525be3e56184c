"""Values set in a scene and its camera: which of the two a dotted key belongs to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, Literal, TypeVar

from pydantic import BaseModel

from simulator import dotted
from simulator.camera.load import Camera
from simulator.camera.model import CameraModel
from simulator.dotted import Change, Changes
from simulator.errors import InputError
from simulator.files import find, read_toml
from simulator.scene.load import Scene
from simulator.scene.model import SceneModel
from simulator.studies.short_names import with_full_keys

Either = TypeVar("Either", Scene, Camera)
Side = Literal["scene", "camera"]
_MODELS: dict[Side, type[BaseModel]] = {"scene": SceneModel, "camera": CameraModel}


def _side(tables: Mapping[Side, Mapping[str, Any]], change: Change) -> tuple[Side, str]:
    """File that a key belongs to, and the key inside it."""
    full_key = change.key
    known = {side: dotted.valid_keys(model, tables[side]) for side, model in _MODELS.items()}
    new_names = {side: dotted.renamed_keys(model, tables[side]) for side, model in _MODELS.items()}
    prefix, _, rest = full_key.partition(".")
    if prefix in known and rest:
        side: Side = "scene" if prefix == "scene" else "camera"
        if rest not in known[side]:
            raise dotted.unknown_key(
                full_key,
                change.value,
                [f"{side}.{key}" for key in known[side]],
                {f"{side}.{old}": f"{side}.{new}" for old, new in new_names[side].items()},
            )
        return side, rest
    in_scene, in_camera = full_key in known["scene"], full_key in known["camera"]
    if in_scene and in_camera:
        raise InputError(
            f"The key {full_key!r} is ambiguous: scene and camera both have it.",
            argument=f"set {full_key}",
            key=full_key,
            given=change.value,
            allowed=f"scene.{full_key} or camera.{full_key}",
            fix="write one of these full names",
        )
    if not in_scene and not in_camera:
        raise dotted.unknown_key(
            full_key,
            change.value,
            [*known["scene"], *known["camera"]],
            new_names["scene"] | new_names["camera"],
        )
    return ("scene" if in_scene else "camera"), full_key


def sort_changes(
    scene_table: Mapping[str, Any],
    camera_table: Mapping[str, Any],
    changes: Sequence[Change],
) -> tuple[list[Change], list[Change]]:
    """What is to be set in the scene and what in the camera, keys without prefix.

    Raises
    ------
    InputError
        For a key that neither has, or that both have.
    """
    sorted_: dict[Side, list[Change]] = {"scene": [], "camera": []}
    tables: dict[Side, Mapping[str, Any]] = {"scene": scene_table, "camera": camera_table}
    for change in _full(tables["scene"], changes):
        bare = change._replace(key=change.key.removeprefix("scene."))
        tables["scene"] = dotted.with_new_entry(tables["scene"], SceneModel, bare)
        side, key = _side(tables, change)
        own = change._replace(key=key)
        sorted_[side].append(own)
        tables[side] = dotted.apply(tables[side], _MODELS[side], [own])
    return sorted_["scene"], sorted_["camera"]


def _full(scene: Mapping[str, Any], changes: Iterable[Change]) -> list[Change]:
    """The changes with full keys in place of short names."""
    return [full for change in changes for full in with_full_keys(scene, change)]


def load_scene(scene: Scene | str | Path, sets: Changes = ()) -> Scene:
    """A scene alone with values set, short names too.

    Raises
    ------
    InputError
        For a file, name, key or value that is at fault.
    """
    return _loaded(Scene, scene, _full(_table(Scene, scene), dotted.changes_of(sets)))


def load_camera(camera: Camera | str | Path, sets: Changes = ()) -> Camera:
    """A camera alone with values set, short names too.

    Raises
    ------
    InputError
        For a file, name, key or value that is at fault.
    """
    return _loaded(Camera, camera, _full({}, dotted.changes_of(sets)))


def set_pair(scene: Scene, camera: Camera, *changes: Changes) -> tuple[Scene, Camera]:
    """Scene and camera with values set; the same object where nothing of it is set.

    Parameters
    ----------
    scene, camera
        They stay as they are.
    *changes
        As `Scene.set` takes them. Keys are tried in the scene, then in the camera, and may begin
        with `scene.` or `camera.`.

    Raises
    ------
    InputError
        For a key that neither has or that both have, or a value that is at fault.
    """
    every = dotted.changes_of(*changes)
    if not every:
        return scene, camera
    in_scene, in_camera = sort_changes(scene.table(), camera.table(), every)
    return scene.set(in_scene), camera.set(in_camera)


def load_pair(
    scene: Scene | str | Path, camera: Camera | str | Path, sets: Changes = ()
) -> tuple[Scene, Camera]:
    """Scene and camera, each by path, by bundled name or as it is, with values set.

    Parameters
    ----------
    scene, camera
        What to load.
    sets
        As `set_pair` takes them.

    Raises
    ------
    InputError
        For a file, name, key or value that is at fault.
    """
    in_scene, in_camera = sort_changes(
        _table(Scene, scene), _table(Camera, camera), dotted.changes_of(sets)
    )
    loaded = _loaded(Scene, scene, in_scene)
    if loaded.model.station.focus_m is not None and any(
        change.key == "lens.focus_m" for change in in_camera
    ):
        raise InputError(
            "The scene says where the camera is focused; a focus of the lens would be ignored.",
            argument="set lens.focus_m",
            key="lens.focus_m",
            fix="set station.focus_m instead",
        )
    return loaded, _loaded(Camera, camera, in_camera)


def _loaded(kind: type[Either], given: Any, changes: list[Change]) -> Either:
    if isinstance(given, str | Path):  # what is set may take a fault of the file away
        return kind.load(given, changes)
    return kind.of(given).set(changes)


def _table(kind: type[Scene] | type[Camera], given: Any) -> dict[str, Any]:
    """What a file says as it stands, faults and all, or what an object says."""
    if isinstance(given, str | Path):
        return read_toml(find(kind.KIND, given))
    return kind.of(given).table()
