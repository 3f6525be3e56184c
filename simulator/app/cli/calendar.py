"""`nightproof calendar`: the probability for every hour of a year at a place."""

from __future__ import annotations

from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    CameraOption,
    JsonOption,
    OutOption,
    SceneArgument,
    SeedOption,
    SetOption,
    WorkersOption,
)
from simulator.app.cli.outcome import new_folder, print_json


def calendar(
    context: typer.Context,
    scene: SceneArgument,
    *,
    camera: CameraOption,
    place: Annotated[
        str,
        typer.Option("--place", metavar="LAT,LON", help="Degrees, north and east positive."),
    ],
    year: Annotated[int, typer.Option("--year", metavar="Y", help="The year.")],
    timezone: Annotated[
        str,
        typer.Option(
            "--timezone",
            metavar="NAME",
            help="Whose clock, as Europe/Vienna (tz database); without it UTC and solar time.",
        ),
    ] = "UTC",
    bearing: Annotated[
        float | None,
        typer.Option(
            "--bearing",
            min=0.0,
            max=360.0,
            metavar="DEG",
            help="Where the camera looks, clockwise from north (default: the scene's, or north).",
        ),
    ] = None,
    cloud: Annotated[
        float, typer.Option("--cloud", min=0.0, max=1.0, help="Covered share of the sky.")
    ] = 0.0,
    skyglow: Annotated[
        float | None,
        typer.Option("--skyglow", min=0.0, max=10.0, metavar="LUX", help="Glow of a town."),
    ] = None,
    lamp: Annotated[
        list[str] | None,
        typer.Option(
            "--lamp",
            metavar="NAME=WHEN",
            help="on, off, dusk-dawn, 18-23, dusk-23 or 5-dawn (default: as in the scene)."
            " Repeatable.",
        ),
    ] = None,
    dusk_lux: Annotated[
        float | None,
        typer.Option("--dusk-lux", min=0.001, help="Light at which dusk lamps switch [lx]."),
    ] = None,
    sets: SetOption = None,
    nodes: Annotated[
        int, typer.Option(min=6, max=2000, help="Hours judged; the others are interpolated.")
    ] = 28,
    checks: Annotated[
        int, typer.Option(min=0, max=500, help="Random hours judged to check the interpolation.")
    ] = 8,
    workers: WorkersOption = None,
    seed: SeedOption = 0,
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Judge SCENE through a year: sun, moon, twilight, lamps by the clock or by dusk."""
    from simulator.app.cli.progress import progress_line
    from simulator.studies.calendar.sky import DUSK_LUX, parse_place
    from simulator.studies.overrides import load_pair

    where = parse_place(place)
    with progress_line(time_left=True) as progress:
        loaded, body = load_pair(scene, camera, sets or [])
        folder = new_folder(context, out, "calendar", loaded.name, body.name)

        from simulator.api.year import calendar as run

        result = run(
            loaded, body, where, year, timezone=timezone, bearing_deg=bearing, cloud_cover=cloud,
            skyglow_lux=skyglow, lamps=lamp, nodes=nodes, checks=checks, workers=workers, seed=seed,
            dusk_lux=DUSK_LUX if dusk_lux is None else dusk_lux, progress=progress,
        )  # fmt: skip
        result.save(folder)
    if as_json:
        print_json(result)
        return
    from simulator.report.calendar.record import replaced
    from simulator.report.wording import say

    print(result.to_dict()["answer"])
    print(say(replaced(result)))
    if timezone == "UTC":
        print("Hint: --timezone NAME gives the clock of a time zone")
    print(f"result: {folder}")


COMMAND = Command("calendar", calendar, 40)
