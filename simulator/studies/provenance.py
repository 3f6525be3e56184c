"""What a result can be traced back to: a hash of its inputs and the versions that made it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.toml_text import to_toml


def input_hash(scene: Scene, camera: Camera) -> str:
    """SHA-256 over the filled-in scene and camera tables, first 16 hexadecimal digits.

    A photograph counts by its content, wherever it lies.
    """

    def content(path: Path) -> str:
        return f"sha256 {hashlib.sha256(path.read_bytes()).hexdigest()}"

    text = to_toml(with_photographs(scene.raw, content)) + "\n" + camera.to_toml()
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def with_photographs(raw: dict[str, Any], told: Callable[[Path], str]) -> dict[str, Any]:
    """A scene's table in which every photograph's path is told otherwise."""
    out = dict(raw)
    out["surface"] = [
        {**entry, "file": told(Path(entry["file"]))} if "file" in entry else entry
        for entry in raw.get("surface", [])
    ]
    return out if out["surface"] else raw


def copy_scene(scene: Scene, folder: Path) -> None:
    """Write scene.toml and its photographs into a folder, so that it loads there by itself.

    Raises
    ------
    OSError
        If a photograph cannot be read or the copies cannot be written.
    """
    copied: dict[Path, str] = {}

    def copy(path: Path) -> str:
        if path not in copied:
            copied[path] = f"photograph-{len(copied) + 1}{path.suffix.lower()}"
            (folder / copied[path]).write_bytes(path.read_bytes())
        return copied[path]

    text = to_toml(with_photographs(scene.raw, copy))
    (folder / "scene.toml").write_text(text, encoding="utf-8")


def versions() -> dict[str, str]:
    """Versions of this package and of the libraries that shape the numbers."""
    out = {}
    for name in ("nightproof", "numpy", "scipy", "opencv-python-headless", "numba"):
        try:
            out[name] = version(name)
        except PackageNotFoundError:
            out[name] = "unknown"
    return out
