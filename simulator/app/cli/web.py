"""`nightproof web`: the workbench, a page that answers every change."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import CameraOption


def web(
    scene: Annotated[
        str, typer.Argument(metavar="SCENE", help="Bundled scene that is shown first.")
    ] = "depot-gate-infrared",
    *,
    camera: CameraOption = "fixed-2mp-lowlight",
    host: Annotated[
        str,
        typer.Option(
            "--host",
            metavar="ADDRESS",
            help="Where it listens. Others than this computer need the token that is printed.",
        ),
    ] = "127.0.0.1",
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="Port; 0 takes a free one.")
    ] = 8642,
    workspace: Annotated[
        Path | None,
        typer.Option(
            "--workspace",
            metavar="FOLDER",
            help="Folder for photos that a page opens (default: a temporary one).",
        ),
    ] = None,
    open_page: Annotated[
        bool, typer.Option("--open/--no-open", help="Whether a browser is opened.")
    ] = True,
) -> None:
    """Open the workbench: move light, place, target and camera, and see picture and verdict."""
    from simulator.errors import InputError

    try:
        from simulator.app.web.serving import serve
    except ModuleNotFoundError as error:
        raise InputError(
            "The workbench needs its extra.",
            given=f"no {error.name}",
            fix='pip install "nightproof[web]"',
        ) from None
    serve(scene, camera, host=host, port=port, workspace=workspace, open_page=open_page)


COMMAND = Command("web", web, 108)
