"""`nightproof schema`: JSON Schema of the files that people write and programs read."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

from simulator.app.cli.command import Command


class FileKind(StrEnum):
    """Kinds of files."""

    SCENE = "scene"
    CAMERA = "camera"
    LENS = "lens"
    LIGHT = "light"
    SITE = "site"
    VERDICT = "verdict"


def schema(
    kind: Annotated[FileKind, typer.Argument(help="Which kind of file.")] = FileKind.SCENE,
) -> None:
    """Print the JSON Schema of a kind of file: for editors that check while you type, and for
    programs that read verdict.json."""
    import json

    from simulator.camera.load import LensFile
    from simulator.camera.model import CameraModel
    from simulator.files import json_schema
    from simulator.judge.result import Verdict
    from simulator.scene.load import LightFile
    from simulator.scene.model import SceneModel
    from simulator.studies.survey.site_file import SiteModel

    if kind is FileKind.VERDICT:
        typer.echo(json.dumps(Verdict.model_json_schema(mode="serialization"), indent=2))
        return
    models = {
        FileKind.SCENE: SceneModel,
        FileKind.CAMERA: CameraModel,
        FileKind.LENS: LensFile,
        FileKind.LIGHT: LightFile,
        FileKind.SITE: SiteModel,
    }
    typer.echo(json.dumps(json_schema(models[kind]), indent=2))


COMMAND = Command("schema", schema, 140)
