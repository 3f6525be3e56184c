"""`nightproof new`: write a commented scene file from a few answers, or a camera's profile."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from simulator.app.cli.new_camera import camera

new = typer.Typer(help="Write a new file to start from.", no_args_is_help=True)


@new.callback()
def _new() -> None:
    """Write a new file to start from."""


new.command("camera")(camera)


@new.command("scene")
def scene(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Scene file to write, .toml.")],
    title: Annotated[str | None, typer.Option(help="Title of the scene.")] = None,
    light: Annotated[
        str | None,
        typer.Option(help="day, office, living-room, twilight, dusk-cloudy, moon or night."),
    ] = None,
    distance_m: Annotated[float | None, typer.Option(help="Distance of the plate [m].")] = None,
    height_m: Annotated[float | None, typer.Option(help="Height of the camera [m].")] = None,
    sideways_m: Annotated[
        float | None, typer.Option(help="Plate to the right of the camera's axis [m].")
    ] = None,
    text: Annotated[str | None, typer.Option(help="Text of the plate.")] = None,
    vehicle: Annotated[str | None, typer.Option(help="car, van or truck.")] = None,
    speed_kmh: Annotated[float | None, typer.Option(help="Speed of the vehicle [km/h].")] = None,
    infrared: Annotated[
        str | None, typer.Option(help="Light profile beside the camera, or none.")
    ] = None,
    lamp_cd: Annotated[
        float | None, typer.Option(help="Intensity of a lamp near the plate [cd], 0 for none.")
    ] = None,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace FILE.")] = False,
) -> None:
    """Write a commented scene file from a few answers.

    On a terminal it asks for what no option gives; otherwise it takes the usual values.
    """
    from dataclasses import fields

    from simulator.errors import OutputError
    from simulator.studies.folder import whole_file
    from simulator.studies.new_scene import Answers, scene_text

    if file.exists() and not overwrite:
        raise OutputError(
            "There is a file of that name.", file=file, given=str(file),
            mend="choose another name, or say --overwrite",
        )  # fmt: skip
    given: dict[str, Any] = {
        "title": title, "light": light, "distance_m": distance_m, "height_m": height_m,
        "sideways_m": sideways_m, "text": text, "vehicle": vehicle, "speed_kmh": speed_kmh,
        "infrared": infrared, "lamp_cd": lamp_cd,
    }  # fmt: skip
    answers: dict[str, Any] = {}
    for field in fields(Answers):
        if field.name not in given:
            continue
        value = given[field.name]
        if value is None and sys.stdin.isatty():
            question = field.name.replace("_m", " [m]").replace("_kmh", " [km/h]")
            value = typer.prompt(question.replace("_cd", " [cd]"), default=field.default)
        if value is not None:
            answers[field.name] = None if value == "none" else value
    content = scene_text(Answers(**answers))
    with whole_file(file, "The scene cannot be written here.") as part:
        part.write_text(content, encoding="utf-8")
    print(f"{file}")
    print(f"next: nightproof show {file}; nightproof predict {file} --camera fixed-2mp-lowlight")
