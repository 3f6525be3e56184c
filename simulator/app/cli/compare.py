"""`nightproof compare`: cameras side by side before the same scenes."""

from __future__ import annotations

from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    AtOption,
    CamerasOption,
    JsonOption,
    LensOption,
    OutOption,
    PlaceOption,
    SameFramingOption,
    SeedOption,
    SetOption,
    TimezoneOption,
)
from simulator.app.cli.outcome import at_time, new_folder, print_json


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
    at: AtOption = None,
    place: PlaceOption = None,
    timezone: TimezoneOption = None,
    seed: SeedOption = 0,
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Predict every SCENE with every camera, alike in all else, and rank the cameras."""
    from simulator.app.cli.progress import progress_line
    from simulator.studies.overrides import load_scene

    with progress_line() as progress:
        loaded = [at_time(load_scene(name, sets or []), at, place, timezone) for name in scenes]
        folder = new_folder(context, out, "compare", *(one.name for one in loaded))

        from simulator.api.comparison import compare as run
        from simulator.studies.compare import parse_variant

        result = run(
            loaded, cameras, lens=lens, same_framing=same_framing, seed=seed, progress=progress,
            variants=dict(parse_variant(text) for text in variant or []),
        )  # fmt: skip
        result.save(folder)
    if as_json:
        print_json(result)
        return
    from simulator.report.wording import percent, percent_range, say
    from simulator.report.wording.verdict import shown_word
    from simulator.studies.reserve import reserve_message

    for scene in loaded:
        print(f"{scene.name}: {scene.model.question}")
        for row in result.standings[scene.name]:
            tie = " (tie)" if row.tied else ""
            print(
                f"  {row.rank}{tie:<7} {row.camera:<28}"
                f" {shown_word(row.verdict, scene.model.task.name)}:"
                f" {percent(row.probability)} of pictures"
                f" ({percent_range(row.probability_low, row.probability_high)})"
            )
            if row.reserve is not None:
                print(f"{'':<12}{say(reserve_message(row.reserve))}")
    print(f"result: {folder}")


COMMAND = Command("compare", compare, 20)
