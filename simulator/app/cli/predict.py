"""`nightproof predict`: the picture and the verdict of one scene seen by one camera."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer


@contextmanager
def _progress_line() -> Iterator[Callable[[str, float], None]]:
    """Function that shows how far the work is, on a terminal only, on stderr."""
    if not sys.stderr.isatty():
        yield lambda _text, _share: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (BarColumn(bar_width=24), TextColumn("{task.description}"), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("reading the files", total=1.0)
        yield lambda text, share: progress.update(task, description=text, completed=share)


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
    from simulator.studies.folder import check_writable
    from simulator.studies.overrides import load_pair

    with _progress_line() as progress:
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
