"""`nightproof lighting`: size an illuminator and say if it is worth it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def lighting(
    scene: Annotated[str, typer.Argument(metavar="SCENE", help="Scene file or bundled name.")],
    *,
    camera: Annotated[
        str, typer.Option("--camera", metavar="PROFILE", help="Camera profile or bundled name.")
    ],
    kind: Annotated[
        str,
        typer.Option("--kind", help="infrared-850 or -940 (W/sr), or white (cd and lumens)."),
    ] = "infrared-850",
    beam: Annotated[
        float | None,
        typer.Option("--beam", min=2.0, max=165.0, help="Beam angle in degrees."),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option("--at", metavar="X,Y,Z", help="Place of the lamp in metres."),
    ] = None,
    aim: Annotated[
        str | None,
        typer.Option("--aim", metavar="X,Y,Z", help="Where it points (default: the target)."),
    ] = None,
    emitter_width: Annotated[
        float, typer.Option(min=0.001, max=2.0, help="Width of its shining face in metres.")
    ] = 0.06,
    lights: Annotated[
        str | None,
        typer.Option("--lights", metavar="A,B,...", help="Lamps beside it, or none (default all)."),
    ] = None,
    instead: Annotated[
        str | None,
        typer.Option("--instead", metavar="A,B,...", help="Cameras beside it, or none."),
    ] = None,
    place: Annotated[
        str | None,
        typer.Option("--place", metavar="LAT,LON", help="Place, for the hours of darkness."),
    ] = None,
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
    years: Annotated[float, typer.Option(min=0.1, max=50.0, help="Years that it serves.")] = 10.0,
    passes_per_year: Annotated[
        float | None, typer.Option(min=0.0, help="How often the task comes up in the dark.")
    ] = None,
    sets: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="KEY=VALUE", help="Set a value. Repeatable."),
    ] = None,
    trials: Annotated[
        int, typer.Option(min=8, max=2000, help="Repetitions of the camera at every point.")
    ] = 90,
    anyway: Annotated[
        bool, typer.Option("--anyway", help="Size a lamp even where none is needed.")
    ] = False,
    workers: Annotated[
        int | None, typer.Option(min=1, help="Processes (default: one for each processor).")
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="Seed of all randomness.")] = 0,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Result folder (default: outputs/lighting--...)"),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Find the least lamp that lets SCENE's task succeed, and what else would do."""
    from simulator.app.cli.progress import progress_line
    from simulator.light.darkness import hours_dark
    from simulator.studies.folder import check_writable
    from simulator.studies.lighting.costs import Money, parse_place, parse_price
    from simulator.studies.lighting.need import NoLamp, as_it_is
    from simulator.studies.lighting.study import Ask, check, named, parse_point
    from simulator.studies.lighting.study import lighting as run
    from simulator.studies.overrides import load_pair

    with progress_line() as progress:
        loaded, body = load_pair(scene, camera, sets or [])
        dark = None if place is None else hours_dark(*parse_place(place), year, dark_below)
        prices = dict(parse_price(text) for text in price or [])
        money = Money(dark, years, prices, price_per_kwh, passes_per_year)
        ask = Ask(
            kind, beam, parse_point("--at", at), parse_point("--aim", aim), emitter_width,
            named(lights), named(instead), seed, trials, workers,
        )  # fmt: skip
        folder = out or Path("outputs") / f"lighting--{loaded.name}--{body.name}"
        check_writable(folder)
        check(ask, money)
        progress("is a lamp needed at all?", 0.0)
        before = as_it_is(loaded, body, seed=seed, trials=trials)
        if before.suffices and not anyway:
            from simulator.report.lighting.needless import needless_table, save_needless

            no_lamp = NoLamp(loaded, body, before, seed, trials)
            told = needless_table(no_lamp, money)
            save_needless(folder, no_lamp, money)
        else:
            found = run(loaded, body, ask, money=money, before=before, progress=progress)

            from simulator.report.lighting.sheet import save_lighting
            from simulator.report.lighting.tables import verdict_table

            told = verdict_table(found)
            save_lighting(folder, found)
    if as_json:
        import json

        typer.echo(json.dumps(told, indent=2, ensure_ascii=False))
        return
    print(told["answer"])
    for line in (*told["hours"], *told["changes"]):
        print(f"  {line}")
    for line in told["cautions"]:
        print(f"  Caution: {line}")
    print(f"result: {folder}")
