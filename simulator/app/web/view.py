"""What a page looks at: a scene, a camera and the changes made to them, as its address says it."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.files import bundled_names, parse_toml, refuse_other_kind
from simulator.scene.load import Scene
from simulator.studies.overrides import load_pair

MOST_CHANGES = 200
MOST_TEXT = 400_000
"""Characters of a scene or camera that a page brings along."""
START = ("depot-gate-infrared", "fixed-2mp-lowlight")
"""What a page shows that asks for nothing."""


@dataclass(frozen=True)
class View:
    """What is looked at.

    Attributes
    ----------
    scene, camera
        Bundled names.
    scene_text, camera_text
        Files that the page brings along, in their place; "" without.
    changes
        Values set, by key as `--set` takes them.
    seed
        Of the noise.
    """

    scene: str = START[0]
    camera: str = START[1]
    scene_text: str = ""
    camera_text: str = ""
    changes: Mapping[str, Any] = field(default_factory=dict)
    seed: int = 0

    @classmethod
    def of(cls, given: Any) -> View:
        """A view from what a page sent.

        Raises
        ------
        InputError
            For anything that is no view. Files are named by bundled names alone, so that a page
            reaches no file of this computer.
        """
        if not isinstance(given, Mapping):
            raise InputError("This is no view.", given=type(given).__name__, allowed="an object")
        texts = {k: given.get(k, "") for k in ("scene", "camera", "scene_text", "camera_text")}
        for key, text in texts.items():
            if not isinstance(text, str) or len(text) > MOST_TEXT:
                raise InputError(
                    "This is no text, or too long.", key=key,
                    allowed=f"at most {MOST_TEXT} characters",
                )  # fmt: skip
        changes = given.get("changes", {})
        if not isinstance(changes, Mapping) or len(changes) > MOST_CHANGES:
            raise InputError(
                "These are no changes.", key="changes", allowed=f"at most {MOST_CHANGES} values"
            )
        seed = given.get("seed", 0)
        if not isinstance(seed, int) or not 0 <= seed < 2**31:
            raise InputError("This is no seed.", key="seed", given=seed, allowed="0 or more")
        scene, camera = texts["scene"] or START[0], texts["camera"] or START[1]
        for kind, name, text in (
            ("scenes", scene, texts["scene_text"]), ("cameras", camera, texts["camera_text"]),
        ):  # fmt: skip
            if not text and name not in bundled_names(kind):  # type: ignore[arg-type]
                raise InputError(
                    "There is nothing of this name.", key=kind.removesuffix("s"), given=name,
                    fix="choose one from the list, or open a file",
                )  # fmt: skip
        for key, value in changes.items():
            _refuse_paths(str(key), value)
        return cls(
            scene, camera, texts["scene_text"], texts["camera_text"],
            {str(k): v for k, v in changes.items()}, seed,
        )  # fmt: skip

    @property
    def key(self) -> str:
        """Hash of all that it says."""
        parts = [self.scene, self.camera, self.scene_text, self.camera_text,
                dict(self.changes), self.seed]  # fmt: skip
        text = json.dumps(parts, sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()

    def opened(
        self, folder: Path | None = None, but: frozenset[str] = frozenset()
    ) -> tuple[Scene, Camera]:
        """Scene and camera with the changes made, some of them left out.

        Parameters
        ----------
        folder
            Where files lie that scene and camera of the page name: its uploads.
        but
            Keys whose changes are left out.

        Raises
        ------
        InputError
            For a file, key or value that is at fault.
        """
        scene: Scene | str = self.scene
        camera: Camera | str = self.camera
        if self.scene_text:
            scene = Scene.from_dict(
                _table(self.scene_text, "scene"), name=self.scene, folder=folder
            )
        if self.camera_text:
            table = _table(self.camera_text, "camera")
            camera = Camera.from_dict(table, name=self.camera, folder=folder)
        return load_pair(scene, camera, {k: v for k, v in self.changes.items() if k not in but})


PLAIN = frozenset({"text", "title", "question", "name", "label"})
"""Keys whose texts are words and never name a file."""


def _table(text: str, noun: str) -> dict[str, Any]:
    """A file of the page as a table that names nothing outside its own folder."""
    table = parse_toml(text)
    refuse_other_kind(table, None, noun)
    for key, value in table.items():
        _refuse_paths(key, value)
    return table


def _refuse_paths(key: str, value: Any) -> None:
    """Refuse a value that names a file by a path: what a page names lies among its uploads."""
    if isinstance(value, Mapping):
        for inner, one in value.items():
            _refuse_paths(f"{key}.{inner}", one)
    elif isinstance(value, list | tuple):
        for one in value:
            _refuse_paths(key, one)
    elif isinstance(value, str) and "\n" not in value and key.rpartition(".")[2] not in PLAIN:
        fraction = re.fullmatch(r"\s*[\d.]+\s*/\s*[\d.]+\s*", value)
        if not fraction and (any(sign in value for sign in ("/", "\\")) or ".." in value):
            raise InputError(
                "A page names no files of this computer.", key=key, given=value,
                allowed="bundled names, and files opened in the page",
                fix="open the file in the page and name it without a folder",
            )  # fmt: skip
