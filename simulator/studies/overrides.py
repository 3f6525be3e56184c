"""Values set from the command line: which file a dotted key belongs to, and the pair loaded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel

from simulator import dotted
from simulator.camera.load import Camera
from simulator.camera.model import CameraModel
from simulator.errors import InputError
from simulator.files import find, read_toml
from simulator.scene.load import Scene
from simulator.scene.model import SceneModel

Side = Literal["scene", "camera"]
_MODELS: dict[Side, type[BaseModel]] = {"scene": SceneModel, "camera": CameraModel}


def _side(
    scene_raw: Mapping[str, Any], camera_raw: Mapping[str, Any], full_key: str, given: str
) -> tuple[Side, str]:
    """File that a key belongs to, and the key inside it."""
    known = {
        "scene": dotted.valid_keys(SceneModel, scene_raw),
        "camera": dotted.valid_keys(CameraModel, camera_raw),
    }
    new_names = {
        "scene": dotted.renamed_keys(SceneModel, scene_raw),
        "camera": dotted.renamed_keys(CameraModel, camera_raw),
    }
    prefix, _, rest = full_key.partition(".")
    if prefix in known and rest:
        side: Side = "scene" if prefix == "scene" else "camera"
        if rest not in known[side]:
            keys = [f"{side}.{key}" for key in known[side]]
            news = {f"{side}.{old}": f"{side}.{new}" for old, new in new_names[side].items()}
            raise dotted.unknown_key(full_key, given, keys, news)
        return side, rest
    in_scene, in_camera = full_key in known["scene"], full_key in known["camera"]
    if in_scene and in_camera:
        raise InputError(
            f"The key {full_key!r} is ambiguous: scene and camera both have it.",
            file=f"--set {full_key}",
            key=full_key,
            given=given,
            allowed=f"scene.{full_key} or camera.{full_key}",
            fix="write one of these full names",
        )
    if not in_scene and not in_camera:
        both = {**new_names["scene"], **new_names["camera"]}
        raise dotted.unknown_key(full_key, given, [*known["scene"], *known["camera"]], both)
    return ("scene" if in_scene else "camera"), full_key


def sort_sets(
    scene_raw: Mapping[str, Any], camera_raw: Mapping[str, Any], sets: Sequence[str]
) -> tuple[list[str], list[str]]:
    """The `key=value` texts of the scene and those of the camera, without prefix.

    Raises
    ------
    InputError
        For a key that neither has, or that both have.
    """
    sorted_: dict[Side, list[str]] = {"scene": [], "camera": []}
    raws: dict[Side, Mapping[str, Any]] = {"scene": scene_raw, "camera": camera_raw}
    for text in sets:
        full_key, value = dotted.split_set(text)
        raws["scene"] = dotted.with_new_entry(raws["scene"], full_key.removeprefix("scene."))
        side, key = _side(raws["scene"], raws["camera"], full_key, value)
        sorted_[side].append(f"{key}={value}")
        raws[side] = dotted.set_value(raws[side], _MODELS[side], key, value)
    return sorted_["scene"], sorted_["camera"]


def apply_sets(
    scene_raw: Mapping[str, Any], camera_raw: Mapping[str, Any], sets: Sequence[str]
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Copies of both tables with the values set.

    Parameters
    ----------
    scene_raw, camera_raw
        Tables as read.
    sets
        Each `key=value`; the key is dotted, list entries go by their name, and it may begin with
        `scene.` or `camera.`. The value is read as TOML, bare words as text.

    Raises
    ------
    InputError
        For a text that is not `key=value`, or a key that neither or both have.
    """
    scene_sets, camera_sets = sort_sets(scene_raw, camera_raw, sets)
    return (
        dotted.apply(scene_raw, SceneModel, scene_sets),
        dotted.apply(camera_raw, CameraModel, camera_sets),
    )


def load_pair(
    scene: str | Path, camera: str | Path, sets: Sequence[str] = ()
) -> tuple[Scene, Camera]:
    """Scene and camera by path or bundled name, with values set and everything checked.

    Raises
    ------
    InputError
        For a file, name, key or value that is at fault.
    """
    scene_sets, camera_sets = sort_sets(
        read_toml(find("scenes", scene)), read_toml(find("cameras", camera)), sets
    )
    loaded = Scene.load(scene, scene_sets)
    if loaded.model.station.focus_m is not None and any(
        text.split("=")[0].strip() == "lens.focus_m" for text in camera_sets
    ):
        raise InputError(
            "The scene says where the camera is focused; a focus of the lens would be ignored.",
            file="--set",
            key="lens.focus_m",
            fix="set station.focus_m instead",
        )
    return loaded, Camera.load(camera, camera_sets)
