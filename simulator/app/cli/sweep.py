"""`nightproof sweep`: the verdict over one or more keys of scene and camera."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer


def sweep(
    scene: Annotated[str, typer.Argument(metavar="SCENE", help="Scene file or bundled name.")],
    *,
    camera: Annotated[
        str, typer.Option("--camera", metavar="PROFILE", help="Camera profile or bundled name.")
    ],
    over: Annotated[
        list[str],
        typer.Option(
            "--over",
            metavar="KEY=RANGE",
            help="Key and values: 0.01:100:log25, 0:40:9, or 0,20,40. Repeatable.",
        ),
    ],
    sets: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="KEY=VALUE", help="Set a value for every point. Repeatable."),
    ] = None,
    trials: Annotated[
        int, typer.Option(min=8, max=2000, help="Repetitions of the camera at every point.")
    ] = 90,
    workers: Annotated[
        int | None, typer.Option(min=1, help="Processes (default: one for each processor).")
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="Seed of all randomness.")] = 0,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Result folder (default: outputs/sweep--...)."),
    ] = None,
    resume: Annotated[
        bool, typer.Option("--resume", help="Go on with the points of an interrupted sweep.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the points as JSON.")] = False,
) -> None:
    """Judge SCENE at every combination of values, and chart the probability."""
    from simulator.app.cli.progress import progress_line
    from simulator.studies.axes import parse_axis
    from simulator.studies.folder import check_writable
    from simulator.studies.sweep import Plan, kept_file
    from simulator.studies.sweep import sweep as run

    axes = tuple(parse_axis(text) for text in over)
    plan = Plan(scene, camera, tuple(sets or ()), axes, seed, trials)
    folder = out or Path("outputs") / f"sweep--{Path(scene).stem}--{Path(camera).stem}"
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
        from simulator.report.sweep_chart import save_sweep, table

        save_sweep(folder, found)
    keep.unlink(missing_ok=True)
    if as_json:
        import json

        typer.echo(json.dumps(table(found), indent=2, ensure_ascii=False))
        return
    value = found.array("probability")
    print(
        f"{len(found.rows)} points, probability {value.min():.2f} to {value.max():.2f},"
        f" wanted {found.wanted:.2f}"
    )
    print(f"result: {folder}")
