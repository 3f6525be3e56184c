"""`nightproof light-levels`: the same target through several cameras as the light falls."""

from __future__ import annotations

from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    CamerasOption,
    JsonOption,
    LensOption,
    OutOption,
    SameFramingOption,
    SceneArgument,
    SeedOption,
    SetOption,
    TrialsOption,
    folder_for,
    split_numbers,
)


def light_levels(
    context: typer.Context,
    scene: SceneArgument = "conveyor-belt-parcel",
    *,
    cameras: CamerasOption,
    lux: Annotated[
        list[str] | None,
        typer.Option(
            "--lux",
            metavar="A,B,...",
            callback=split_numbers,
            help="Illuminances on the target (default: half-decades from 300 lx to 0.1 lx).",
        ),
    ] = None,
    lens: LensOption = None,
    same_framing: SameFramingOption = False,
    sets: SetOption = None,
    trials: TrialsOption = 90,
    seed: SeedOption = 0,
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Dim all lights of SCENE and judge its task through every camera, level by level."""
    from simulator.app.cli.progress import progress_line
    from simulator.scene.load import Scene
    from simulator.studies.compare import load_cameras
    from simulator.studies.folder import check_writable

    with progress_line(time_left=True) as progress:
        loaded = Scene.load(scene, sets or [])
        found_cameras = load_cameras(cameras, lens=lens, same_framing=same_framing)
        folder = folder_for(context, out, "light-levels", loaded.name)
        check_writable(folder)

        from simulator.report.light_levels.sheet import save_light_levels
        from simulator.report.light_levels.words import table
        from simulator.studies.light_levels.study import LEVELS_LUX
        from simulator.studies.light_levels.views import light_levels as run

        levels = LEVELS_LUX if lux is None else [float(text) for text in lux]
        found = run(loaded, found_cameras, levels, seed=seed, trials=trials, progress=progress)
        save_light_levels(folder, found)
    told = table(found)
    if as_json:
        import json

        typer.echo(json.dumps(told, indent=2, ensure_ascii=False))
        return
    from simulator.app.cli.plain_table import print_table

    print(told["answer"])
    for part in told["tables"]:
        print_table(part)
    print(f"result: {folder}")


COMMAND = Command("light-levels", light_levels, 90)
