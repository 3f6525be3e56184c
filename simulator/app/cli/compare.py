"""`nightproof compare`: cameras side by side before the same scenes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def compare(
    scenes: Annotated[
        list[str], typer.Argument(metavar="SCENE...", help="Scene files or bundled names.")
    ],
    *,
    cameras: Annotated[
        str, typer.Option("--cameras", metavar="A,B,...", help="Camera profiles or bundled names.")
    ],
    lens: Annotated[
        str | None, typer.Option("--lens", metavar="LENS", help="One lens for every camera.")
    ] = None,
    variant: Annotated[
        list[str] | None,
        typer.Option(
            "--variant",
            metavar="NAME:SETS",
            help='The first camera in other settings: "NAME: KEY=VALUE ...". Repeatable.',
        ),
    ] = None,
    same_framing: Annotated[
        bool,
        typer.Option("--same-framing", help="Every camera frames as wide as the first one."),
    ] = False,
    sets: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="KEY=VALUE", help="Set a value of every scene. Repeatable."),
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="Seed of all randomness.")] = 0,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Result folder (default: outputs/compare--...)."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the table as JSON.")] = False,
) -> None:
    """Predict every SCENE with every camera, alike in all else, and rank the cameras."""
    from simulator.app.cli.progress import progress_line
    from simulator.scene.load import Scene
    from simulator.studies.compare import load_cameras, variants
    from simulator.studies.folder import check_writable

    with progress_line() as progress:
        loaded = [Scene.load(name, sets or []) for name in scenes]
        names = [name.strip() for name in cameras.split(",") if name.strip()]
        found_cameras = load_cameras(names, lens=lens, same_framing=same_framing)
        found_cameras += variants(found_cameras[0], variant or [])
        folder = out or Path("outputs") / f"compare--{'-'.join(s.name for s in loaded)}"
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

        typer.echo(json.dumps(found.table(), indent=2, ensure_ascii=False))
        return
    from simulator.judge.verdict import shown_word

    for scene in loaded:
        print(f"{scene.name}: {scene.model.question}")
        for row in found.standings[scene.name]:
            tie = " (tie)" if row.tied else ""
            print(
                f"  {row.rank}{tie:<7} {row.camera:<28}"
                f" {shown_word(row.verdict, scene.model.task.name)}:"
                f" probability {row.probability:.2f} ({row.probability_low:.2f} to"
                f" {row.probability_high:.2f})"
            )
    print(f"result: {folder}")
