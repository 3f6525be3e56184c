"""Words that a shell completes: bundled names, keys and short names for --set."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from simulator.files import Kind


def names(kind: Kind) -> Callable[[str], list[str]]:
    """Bundled names of a kind that begin as what is typed, the last of a list with commas."""

    def begun(incomplete: str) -> list[str]:
        from simulator.files import bundled_names

        before, comma, last = incomplete.rpartition(",")
        return [before + comma + name for name in bundled_names(kind) if name.startswith(last)]

    return begun


def keys(ctx: Any, incomplete: str) -> list[str]:
    """Short names and dotted keys of the scene and camera that are typed, each with "="."""
    from simulator import dotted
    from simulator.camera.load import Camera
    from simulator.camera.model import CameraModel
    from simulator.errors import InputError
    from simulator.scene.load import Scene
    from simulator.scene.model import SceneModel
    from simulator.studies.short_names import SHORT_NAMES

    known = list(SHORT_NAMES)
    for kind, model, typed in (
        (Scene, SceneModel, ctx.params.get("scene")),
        (Camera, CameraModel, ctx.params.get("camera")),
    ):
        try:
            table = kind.load(typed).table() if typed else {}
        except InputError:
            table = {}
        known += dotted.valid_keys(model, table)
    return [f"{key}=" for key in dict.fromkeys(known) if key.startswith(incomplete)]
