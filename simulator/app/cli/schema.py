"""`nightproof schema`: JSON Schema of the files people write."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer


class FileKind(StrEnum):
    """Kinds of files."""

    SCENE = "scene"
    CAMERA = "camera"
    LENS = "lens"
    LIGHT = "light"


def schema(
    kind: Annotated[FileKind, typer.Argument(help="Which kind of file.")] = FileKind.SCENE,
) -> None:
    """Print the JSON Schema of a kind of file, for editors that check while you type."""
    import json

    from simulator.camera.load import LensFile
    from simulator.camera.model import CameraModel
    from simulator.files import json_schema
    from simulator.scene.load import LightFile
    from simulator.scene.model import SceneModel

    models = {
        FileKind.SCENE: SceneModel,
        FileKind.CAMERA: CameraModel,
        FileKind.LENS: LensFile,
        FileKind.LIGHT: LightFile,
    }
    typer.echo(json.dumps(json_schema(models[kind]), indent=2))
