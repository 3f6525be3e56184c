"""`nightproof compare`: cameras side by side before the same scenes."""

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
    SeedOption,
    SetOption,
    folder_for,
)


def compare(
    context: typer.Context,
    scenes: Annotated[
        list[str], typer.Argument(metavar="SCENE...", help="Scene files or bundled names.")
    ],
    *,
    cameras: CamerasOption,
    lens: LensOption = None,
    variant: Annotated[
        list[str] | None,
        typer.Option(
            "--variant",
            metavar="NAME:SETS",
            help='The first camera in other settings: "NAME: KEY=VALUE ...". Repeatable.',
        ),
    ] = None,
    same_framing: SameFramingOption = False,
    sets: SetOption = None,
    seed: SeedOption = 0,
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Predict every SCENE with every camera, alike in all else, and rank the cameras."""
    from simulator.app.cli.progress import progress_line
    from simulator.scene.load import Scene
    from simulator.studies.compare import load_cameras, variants
    from simulator.studies.folder import check_writable

    with progress_line() as progress:
        loaded = [Scene.load(name, sets or []) for name in scenes]
        found_cameras = load_cameras(cameras, lens=lens, same_framing=same_framing)
        found_cameras += variants(found_cameras[0], variant or [])
        folder = folder_for(context, out, "compare", *(s.name for s in loaded))
        check_writable(folder)

        from simulator.report.compare_sheet import save_comparison
        from simulator.studies.compare import compare as run

        found = run(
            loaded, found_cameras, seed=seed, lens=lens, same_framing=same_framing,
            progress=progress,
        )  # fmt: skip
        save_comparison(folder, found)
    if as_json:
        import json

        from simulator.report.wording.comparison import comparison_table

        typer.echo(json.dumps(comparison_table(found), indent=2, ensure_ascii=False))
        return
    from simulator.report.wording import percent, percent_range
    from simulator.report.wording.verdict import shown_word

    for scene in loaded:
        print(f"{scene.name}: {scene.model.question}")
        for row in found.standings[scene.name]:
            tie = " (tie)" if row.tied else ""
            print(
                f"  {row.rank}{tie:<7} {row.camera:<28}"
                f" {shown_word(row.verdict, scene.model.task.name)}:"
                f" {percent(row.probability)} of pictures"
                f" ({percent_range(row.probability_low, row.probability_high)})"
            )
    print(f"result: {folder}")


COMMAND = Command("compare", compare, 20)
