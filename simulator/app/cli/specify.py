"""`nightproof specify`: what to buy, set and mount for a scene's task."""

from __future__ import annotations

from contextlib import ExitStack
from typing import TYPE_CHECKING, Annotated

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.options import (
    AtOption,
    JsonOption,
    OutOption,
    PlaceOption,
    SceneArgument,
    SeedOption,
    SetOption,
    TimezoneOption,
    WorkersOption,
    split_list,
)
from simulator.app.cli.outcome import at_time, new_folder, print_json

if TYPE_CHECKING:
    from simulator.scene.load import Scene
    from simulator.studies.specify.result import Way


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
    thorough: Annotated[
        bool,
        typer.Option(
            help="Draw the tolerances and seek every reserve; without, only the reserve in light."
        ),
    ] = True,
    sets: SetOption = None,
    at: AtOption = None,
    place: PlaceOption = None,
    timezone: TimezoneOption = None,
    workers: WorkersOption = None,
    seed: SeedOption = 0,
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say what to buy, set and mount so that SCENE's task succeeds with reserve.

    Without a camera, the two bundled ones that suit best are searched. --at worst takes the hour of
    a year at which the camera as it is does worst; it needs a place in the scene or --place.
    """
    from simulator.app.cli.progress import progress_line
    from simulator.studies.lighting.costs import parse_price
    from simulator.studies.overrides import load_scene

    with ExitStack() as line:
        progress = line.enter_context(progress_line())
        loaded, worst = load_scene(scene, sets or []), at == "worst"
        if not worst:
            loaded = at_time(loaded, at, place, timezone)
        folder = new_folder(context, out, "specify", loaded.name)

        from simulator.api.specifying import specify as run
        from simulator.report.wording import say_all
        from simulator.studies.calendar.sky import parse_place
        from simulator.studies.specify.findings import way_line

        def answered(of: Scene, way: Way) -> None:
            """Print the answer at once: tolerances and reserve take as long again."""
            if not as_json:
                line.close()
                print(f"first answer: {' '.join(say_all(way_line(of, way)))}", flush=True)

        result = run(
            loaded, [*([camera] if camera else []), *(cameras or [])], reserve=reserve,
            gain_cap_db=gain_cap, budget=budget,
            prices=dict(parse_price(text) for text in price or []), workers=workers, seed=seed,
            thorough=thorough,
            at="worst" if worst else None,
            place=parse_place(place) if worst and place is not None else None,
            progress=progress, answered=answered,
        )  # fmt: skip
        result.save(folder)
    if as_json:
        print_json(result)
        return
    record = result.to_dict()
    print(record["answer"])
    for way in record["ways"]:
        print(f"{way['title']}\n  {way['line']}\n  Reserve: {'; '.join(way['sheets']['reserve'])}")
    for line in (*record["why"], *record["without_success"]):
        print(line)
    print(f"result: {folder}")


COMMAND = Command("specify", specify, 55)
