"""`nightproof sweep`: the verdict over one or more keys of scene and camera."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    AtOption,
    CameraOption,
    JsonOption,
    OutOption,
    PlaceOption,
    ResumeOption,
    SceneArgument,
    SeedOption,
    SetOption,
    TimezoneOption,
    TrialsOption,
    WorkersOption,
)
from simulator.app.cli.outcome import at_time, kept_points, new_folder, print_study


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
    at: AtOption = None,
    place: PlaceOption = None,
    timezone: TimezoneOption = None,
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

    axes = [parse_axis(text) for text in over]
    folder = new_folder(context, out, "sweep", Path(scene).stem, Path(camera).stem)
    with progress_line(time_left=True) as progress, kept_points(folder) as keep:
        from simulator.api.sweeping import sweep as run
        from simulator.scene.load import Scene

        under = scene if at is None else at_time(Scene.load(scene), at, place, timezone)
        result = run(
            under, camera, axes, changes=sets or (), trials=trials, workers=workers, seed=seed,
            keep=keep, resume=resume, progress=progress,
        )  # fmt: skip
        result.save(folder)
    print_study(result, folder, as_json=as_json)


COMMAND = Command("sweep", sweep, 30)
