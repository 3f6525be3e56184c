"""`nightproof sweep`: the verdict over one or more keys of scene and camera."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    CameraOption,
    JsonOption,
    OutOption,
    ResumeOption,
    SceneArgument,
    SeedOption,
    SetOption,
    TrialsOption,
    WorkersOption,
    folder_for,
)


def sweep(
    context: typer.Context,
    scene: SceneArgument,
    *,
    camera: CameraOption,
    over: Annotated[
        list[str],
        typer.Option(
            "--over",
            metavar="KEY=RANGE",
            help="Key and values: 0.01:100:log25, 0:40:9, or 0,20,40. Repeatable.",
        ),
    ],
    sets: SetOption = None,
    trials: TrialsOption = 90,
    workers: WorkersOption = None,
    seed: SeedOption = 0,
    out: OutOption = None,
    resume: ResumeOption = False,
    as_json: JsonOption = False,
) -> None:
    """Judge SCENE at every combination of values, and chart the probability."""
    from simulator.app.cli.progress import progress_line
    from simulator.studies.axes import parse_axis
    from simulator.studies.folder import check_writable
    from simulator.studies.kept import kept_file
    from simulator.studies.sweep import Plan, sweep as run

    axes = tuple(parse_axis(text) for text in over)
    plan = Plan(scene, camera, tuple(sets or ()), axes, seed, trials)
    folder = folder_for(context, out, "sweep", Path(scene).stem, Path(camera).stem)
    check_writable(folder)
    keep = kept_file(folder)
    with progress_line(time_left=True) as progress:
        try:
            found = run(plan, keep=keep, resume=resume, workers=workers, progress=progress)
        except KeyboardInterrupt:
            print(
                f"Interrupted. The points that are done stay in {keep};"
                " the same command with --resume goes on.",
                file=sys.stderr,
            )
            raise
        from simulator.report.sweep import save_sweep, table

        save_sweep(folder, found)
    keep.unlink(missing_ok=True)
    if as_json:
        import json

        typer.echo(json.dumps(table(found), indent=2, ensure_ascii=False))
        return
    print(table(found)["answer"])
    print(f"result: {folder}")


COMMAND = Command("sweep", sweep, 30)
