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
    folder_for,
)


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
    from simulator.camera.load import Camera
    from simulator.studies.folder import check_writable

    with progress_line() as progress:
        loaded = Camera.load(camera, sets or [])
        folder = folder_for(context, out, "measure", loaded.name)
        check_writable(folder)

        from simulator.report.measurement import measurement_table, save_measurement
        from simulator.studies.measure import measure as run

        found = run(loaded, seed=seed, progress=progress)
        save_measurement(folder, found)
    table = measurement_table(found)
    if as_json:
        import json

        typer.echo(json.dumps(table, indent=2, ensure_ascii=False))
        return
    from simulator.app.cli.plain_table import print_table

    print(table["answer"])
    for part in table["tables"]:
        print_table(part)
    print(f"result: {folder}")


COMMAND = Command("measure", measure, 100)
