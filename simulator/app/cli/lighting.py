"""`nightproof lighting`: size an illuminator and say if it is worth it."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    AtOption,
    CameraOption,
    JsonOption,
    LightsOption,
    OtherCamerasOption,
    OutOption,
    PlaceOption,
    SceneArgument,
    SeedOption,
    SetOption,
    TimezoneOption,
    TrialsOption,
    WorkersOption,
)
from simulator.app.cli.outcome import at_time, new_folder, print_json


def lighting(
    context: typer.Context,
    scene: SceneArgument,
    *,
    camera: CameraOption,
    kind: Annotated[
        str,
        typer.Option("--kind", help="infrared-850 or -940 (W/sr), or white (cd and lumens)."),
    ] = "infrared-850",
    beam: Annotated[
        float | None,
        typer.Option("--beam", min=2.0, max=165.0, help="Beam angle in degrees."),
    ] = None,
    lamp_at: Annotated[
        str | None,
        typer.Option("--lamp-at", metavar="X,Y,Z", help="Place of the lamp in metres."),
    ] = None,
    aim: Annotated[
        str | None,
        typer.Option("--aim", metavar="X,Y,Z", help="Where it points (default: the target)."),
    ] = None,
    emitter_width: Annotated[
        float, typer.Option(min=0.001, max=2.0, help="Width of its shining face in metres.")
    ] = 0.06,
    lights: LightsOption = None,
    others: OtherCamerasOption = None,
    place: PlaceOption = None,
    year: Annotated[int, typer.Option(help="Year of the hours of darkness.")] = 2026,
    dark_below: Annotated[
        float, typer.Option(help="Dark with the sun below this altitude in degrees.")
    ] = -6.0,
    price: Annotated[
        list[str] | None,
        typer.Option(
            "--price",
            metavar="NAME=AMOUNT",
            help="Price of sized-lamp, faster-lens, a lamp, a camera, or missed. Repeatable.",
        ),
    ] = None,
    price_per_kwh: Annotated[
        float | None, typer.Option(min=0.0, help="Price of a kilowatt-hour.")
    ] = None,
    years: Annotated[
        float, typer.Option(min=0.1, max=50.0, help="Years that it is in use.")
    ] = 10.0,
    passes_per_year: Annotated[
        float | None, typer.Option(min=0.0, help="How often the task comes up in the dark.")
    ] = None,
    sets: SetOption = None,
    at: AtOption = None,
    timezone: TimezoneOption = None,
    trials: TrialsOption = 90,
    anyway: Annotated[
        bool, typer.Option("--anyway", help="Size a lamp even where none is needed.")
    ] = False,
    workers: WorkersOption = None,
    seed: SeedOption = 0,
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Find the least lamp that lets SCENE's task succeed, and what else would do."""
    from simulator.app.cli.progress import progress_line
    from simulator.studies.calendar.sky import parse_place
    from simulator.studies.lighting.costs import parse_price
    from simulator.studies.lighting.study import parse_point
    from simulator.studies.overrides import load_pair

    with progress_line() as progress:
        loaded, body = load_pair(scene, camera, sets or [])
        if at is not None:
            loaded = at_time(loaded, at, place, timezone)
        folder = new_folder(context, out, "lighting", loaded.name, body.name)

        from simulator.api.lamp import lighting as run

        result = run(
            loaded, body, kind=kind, beam_deg=beam, at_m=parse_point("--lamp-at", lamp_at),
            aim_m=parse_point("--aim", aim), emitter_width_m=emitter_width, lights=lights,
            other_cameras=others, place=None if place is None else parse_place(place), year=year,
            dark_below_deg=dark_below, prices=dict(parse_price(text) for text in price or []),
            price_per_kwh=price_per_kwh, years=years, passes_per_year=passes_per_year,
            trials=trials, anyway=anyway, workers=workers, seed=seed, progress=progress,
        )  # fmt: skip
        result.save(folder)
    if as_json:
        print_json(result)
        return
    record = result.to_dict()
    print(record["answer"])
    for line in (*record["hours"], *record["changes"]):
        print(f"  {line}")
    for line in record["cautions"]:
        print(f"  Caution: {line}")
    for line in _hints(record["lighting"]):
        print(f"  Hint: {line}")
    print(f"result: {folder}")


def _hints(figures: dict[str, Any]) -> list[str]:
    """Options that would tell more."""
    if "costs_given" not in figures:
        return ["--anyway sizes a lamp all the same"]
    given = figures["costs_given"]
    missing = [
        *([] if given["place"] else ["--place LAT,LON (hours of darkness)"]),
        *([] if given["energy"] else ["--price-per-kwh AMOUNT"]),
        *([f"--price NAME=AMOUNT for {', '.join(given['names'])}"] if given["names"] else []),
        "--passes-per-year N, --price missed=AMOUNT (benefit)",
    ]
    return [f"for costs give {'; '.join(missing)}"] if len(missing) > 1 else []


COMMAND = Command("lighting", lighting, 60)
