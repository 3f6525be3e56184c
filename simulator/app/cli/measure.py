"""`nightproof measure`: a camera on the bench."""

from __future__ import annotations

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    CameraArgument,
    JsonOption,
    OutOption,
    SeedOption,
    SetOption,
)
from simulator.app.cli.outcome import new_folder, print_study


def measure(
    context: typer.Context,
    camera: CameraArgument,
    *,
    sets: SetOption = None,
    seed: SeedOption = 0,
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Measure a camera profile: dynamic range against its claim, colours, trails, sharpness."""
    from simulator.app.cli.progress import progress_line
    from simulator.studies.overrides import load_camera

    with progress_line() as progress:
        loaded = load_camera(camera, sets or [])
        folder = new_folder(context, out, "measure", loaded.name)

        from simulator.api.measuring import measure as run

        result = run(loaded, seed=seed, progress=progress)
        result.save(folder)
    print_study(result, folder, as_json=as_json)


COMMAND = Command("measure", measure, 100)
