"""`nightproof light-levels`: the same target through several cameras as the light falls."""

from __future__ import annotations

from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    AtOption,
    CamerasOption,
    JsonOption,
    LensOption,
    OutOption,
    PlaceOption,
    SameFramingOption,
    SceneArgument,
    SeedOption,
    SetOption,
    TimezoneOption,
    TrialsOption,
    split_numbers,
)
from simulator.app.cli.outcome import at_time, new_folder, print_study


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
    at: AtOption = None,
    place: PlaceOption = None,
    timezone: TimezoneOption = None,
    trials: TrialsOption = 90,
    seed: SeedOption = 0,
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Dim all lights of SCENE and judge its task through every camera, level by level."""
    from simulator.app.cli.progress import progress_line
    from simulator.studies.overrides import load_scene

    with progress_line(time_left=True) as progress:
        loaded = at_time(load_scene(scene, sets or []), at, place, timezone)
        folder = new_folder(context, out, "light-levels", loaded.name)

        from simulator.api.light_level import light_levels as run
        from simulator.studies.light_levels.study import LEVELS_LUX

        levels = LEVELS_LUX if lux is None else [float(text) for text in lux]
        result = run(
            loaded, cameras, lux=levels, lens=lens, same_framing=same_framing, trials=trials,
            seed=seed, progress=progress,
        )  # fmt: skip
        result.save(folder)
    print_study(result, folder, as_json=as_json)


COMMAND = Command("light-levels", light_levels, 90)
