"""`nightproof specify`: what to buy, set and mount for a scene's task."""

from __future__ import annotations

from typing import Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    JsonOption,
    OutOption,
    SceneArgument,
    SeedOption,
    SetOption,
    WorkersOption,
    folder_for,
    split_list,
)


def specify(
    context: typer.Context,
    scene: SceneArgument,
    *,
    camera: Annotated[
        str | None,
        typer.Option(
            "--camera", metavar="CAMERA", help="Camera file, or a name of `nightproof list`."
        ),
    ] = None,
    cameras: Annotated[
        list[str] | None,
        typer.Option(
            "--cameras",
            metavar="A,B,...",
            callback=split_list,
            help="Camera files or names of `nightproof list`.",
        ),
    ] = None,
    reserve: Annotated[
        float, typer.Option(min=1.0, max=100.0, help="Reserve in light that is asked for.")
    ] = 3.0,
    gain_cap: Annotated[
        float | None,
        typer.Option(
            min=0.0, max=60.0, help="Most gain in dB (default: 12 to read text, 24 for all else)."
        ),
    ] = None,
    budget: Annotated[
        float | None, typer.Option(min=0.0, help="Most that the parts with a price may cost.")
    ] = None,
    price: Annotated[
        list[str] | None,
        typer.Option(
            "--price",
            metavar="NAME=AMOUNT",
            help="Your price of a camera, lens, mount or lamp (a kind, or a class such as"
            " infrared-850-15w-30deg). Repeatable.",
        ),
    ] = None,
    sets: SetOption = None,
    workers: WorkersOption = None,
    seed: SeedOption = 0,
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say what to buy, set and mount so that SCENE's task succeeds with reserve.

    Without a camera, the two bundled ones that suit best are searched.
    """
    from simulator.app.cli.progress import progress_line
    from simulator.camera.load import Camera
    from simulator.scene.load import Scene
    from simulator.studies.folder import check_writable
    from simulator.studies.lighting.costs import parse_price
    from simulator.studies.specify.result import Ask
    from simulator.studies.specify.study import specify as run

    with progress_line() as progress:
        loaded = Scene.load(scene, sets or [])
        bodies = [Camera.load(name) for name in [*([camera] if camera else []), *(cameras or [])]]
        prices = dict(parse_price(text) for text in price or [])
        ask = Ask(reserve, gain_cap, budget, prices or None, seed, workers)
        folder = folder_for(context, out, "specify", loaded.name)
        check_writable(folder)
        found = run(loaded, bodies, ask, progress=progress)

        from simulator.report.specification.record import save_specification, specification_table

        save_specification(folder, found)
    if as_json:
        import json

        table = specification_table(found)
        typer.echo(json.dumps(table, indent=2, ensure_ascii=False))
        return
    from simulator.report.specification.words import words_of

    words = words_of(found)
    print(words.answer)
    for way in words.ways:
        print(f"{way.title}\n  {way.line}\n  Reserve: {'; '.join(way.reserve)}")
    for name, text in (("Which lens?", words.lens), ("Is WDR needed?", words.wide_range)):
        if text:
            print(f"{name} {text}")
    for line in words.failed:
        print(f"  Not: {line}")
    print(f"result: {folder}")


COMMAND = Command("specify", specify, 55)
