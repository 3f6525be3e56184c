"""`nightproof predict`: the picture and the verdict of one scene seen by one camera."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def predict(
    scene: Annotated[
        str, typer.Argument(metavar="SCENE", help="Scene file, or a name of `nightproof list`.")
    ],
    *,
    camera: Annotated[
        str,
        typer.Option(
            "--camera", metavar="PROFILE", help="Camera file, or a name of `nightproof list`."
        ),
    ],
    sets: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="KEY=VALUE",
            help="Set a value of scene or camera, such as target.plate.speed_kmh=30. Repeatable.",
        ),
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="Seed of all randomness.")] = 0,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="DIR", help="Result folder (default: outputs/SCENE--CAMERA)."
        ),
    ] = None,
    raw: Annotated[bool, typer.Option("--raw", help="Write raw.tiff and radiance.tiff too.")] = (
        False
    ),
    as_json: Annotated[bool, typer.Option("--json", help="Print only the verdict, as JSON.")] = (
        False
    ),
) -> None:
    """Predict what CAMERA shows of SCENE, judge it, and write a result folder."""
    from simulator.app.cli.progress import progress_line
    from simulator.studies.folder import check_writable
    from simulator.studies.overrides import load_pair

    with progress_line() as progress:
        scene_, camera_ = load_pair(scene, camera, sets or [])
        folder = out or Path("outputs") / f"{scene_.name}--{camera_.name}"
        check_writable(folder)  # told now, not after the work

        from simulator.report.prediction import predict as run

        result = run(scene_, camera_, seed=seed, progress=progress)
        result.save(folder, raw=raw)
    if as_json:
        typer.echo(result.verdict_json(), nl=False)
        return
    from simulator.app.cli.verdict_text import print_verdict

    print_verdict(result.verdict, scene_.model.question, folder)
