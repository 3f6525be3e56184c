"""`nightproof budget`: the light of a target's pixel, factor by factor."""

from __future__ import annotations

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    AtOption,
    CameraOption,
    JsonOption,
    OutOption,
    PlaceOption,
    SceneArgument,
    SeedOption,
    SetOption,
    TimezoneOption,
)
from simulator.app.cli.outcome import at_time, new_folder, print_study


def budget(
    context: typer.Context,
    scene: SceneArgument,
    *,
    camera: CameraOption,
    sets: SetOption = None,
    at: AtOption = None,
    place: PlaceOption = None,
    timezone: TimezoneOption = None,
    seed: SeedOption = 0,
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Follow the light of SCENE's target to the display, each factor with its equation."""
    from simulator.app.cli.progress import progress_line
    from simulator.studies.overrides import load_pair

    with progress_line() as progress:
        plain, with_camera = load_pair(scene, camera, sets or [])
        pair = at_time(plain, at, place, timezone), with_camera
        folder = new_folder(context, out, "budget", pair[0].name, pair[1].name)

        from simulator.api.budgeting import budget as run

        progress("light budget", 0.2)
        result = run(*pair, seed=seed)
        result.save(folder)
    print_study(result, folder, as_json=as_json)


COMMAND = Command("budget", budget, 95)
