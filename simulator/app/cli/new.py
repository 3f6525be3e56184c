"""`nightproof new`: write a commented scene file from a few answers, or a camera's profile."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from simulator.app.cli.command import Command
from simulator.app.cli.new_camera import camera, toml_name
from simulator.studies.new.lights import LIGHTS

if TYPE_CHECKING:
    from simulator.files import Kind

CopyOption = Annotated[
    str | None,
    typer.Option("--copy", metavar="NAME", help="Copy this one of `nightproof list` as it is."),
]

new = typer.Typer(help="Write a new file to start from.", no_args_is_help=True)


@new.callback()
def _new() -> None:
    """Write a new file to start from."""


new.command("camera")(camera)


@new.command("scene")
def scene(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Scene file to write, .toml.")],
    kind: Annotated[
        str, typer.Option(help="Kind of scene: gate, car-park, door, room, fence or person.")
    ] = "gate",
    title: Annotated[str | None, typer.Option(help="Title of the scene.")] = None,
    light: Annotated[
        str | None,
        typer.Option("--light", "--lux", help=f"Light: {', '.join(LIGHTS)}, or such as 3 lx."),
    ] = None,
    distance_m: Annotated[
        str | None, typer.Option("--distance-m", "--distance", help="Distance of the target [m].")
    ] = None,
    height_m: Annotated[
        str | None, typer.Option("--height-m", "--height", help="Height of the camera [m].")
    ] = None,
    sideways_m: Annotated[
        str | None, typer.Option(help="Target to the right of the camera's axis [m].")
    ] = None,
    text: Annotated[str | None, typer.Option(help="Text of the plate.")] = None,
    vehicle: Annotated[str | None, typer.Option(help="car, van or truck.")] = None,
    speed_kmh: Annotated[
        str | None, typer.Option("--speed-kmh", "--speed", help="Speed of the target [km/h].")
    ] = None,
    infrared: Annotated[
        str | None, typer.Option(help="Light profile beside the camera, or none.")
    ] = None,
    lamp: Annotated[
        str | None,
        typer.Option(help='Visible light: lumens or watts of an LED ("4000 lm", "40 W"), or 0.'),
    ] = None,
    copy: CopyOption = None,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace FILE.")] = False,
) -> None:
    """Write a commented scene file from a few answers.

    On a terminal it asks for what no option gives; otherwise it takes the usual values of the kind.
    """
    from simulator.studies.folder import refuse_overwriting, whole_file
    from simulator.studies.new.answers import (
        FIELDS,
        QUESTIONS,
        asked_of,
        check_options,
        checked,
        usual_of,
    )
    from simulator.studies.new.scene import answers_for, scene_text

    file = toml_name(file)
    refuse_overwriting(file, overwrite, "--overwrite")
    if copy is not None:
        _copied("scenes", copy, file)
        return
    every: dict[str, str | None] = {
        "title": title, "light": light, "distance_m": distance_m, "height_m": height_m,
        "sideways_m": sideways_m, "text": text, "vehicle": vehicle, "speed_kmh": speed_kmh,
        "infrared": infrared, "lamp": lamp,
    }  # fmt: skip
    given = {name: said for name, said in every.items() if said is not None}
    check_options(kind, given)
    answers: dict[str, Any] = {name: checked(name, said) for name, said in given.items()}
    for name in asked_of(kind):
        if name not in answers and sys.stdin.isatty():
            answers[name] = _asked(name, QUESTIONS[name].words, usual_of(kind, name))
    content = scene_text(answers_for(kind, **{FIELDS.get(k, k): v for k, v in answers.items()}))
    with whole_file(file, "The scene cannot be written here.") as part:
        part.write_text(content, encoding="utf-8")
    print(f"{file}")
    camera_name = CAMERAS.get(kind, "fixed-2mp-lowlight")
    print(f"next: nightproof show {file}; nightproof predict {file} --camera {camera_name}")


CAMERAS = {"door": "doorway-2mp-wide", "room": "doorway-2mp-wide"}
"""Bundled camera that suits a kind of scene, where it is not the usual one."""


@new.command("site")
def site(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Site file to write, .toml.")],
    copy: CopyOption = "fruit-depot",
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace FILE.")] = False,
) -> None:
    """Write a commented site file to start from: camera positions on a plan, and their hours."""
    from simulator.studies.folder import refuse_overwriting

    file = toml_name(file)
    refuse_overwriting(file, overwrite, "--overwrite")
    _copied("sites", str(copy), file)


def _copied(kind: Kind, name: str, file: Path) -> None:
    """A bundled file as it is, comments included."""
    from simulator.files import find
    from simulator.studies.folder import whole_file

    text = find(kind, name).read_text(encoding="utf-8")
    with whole_file(file, "The file cannot be written here.") as part:
        part.write_text(text, encoding="utf-8")
    print(f"{file}")


def _asked(name: str, words: str, usual: str) -> Any:
    """An answer from the terminal, asked again until it is possible."""
    from simulator.errors import InputError
    from simulator.studies.new.answers import checked

    while True:
        try:
            return checked(name, str(typer.prompt(words, default=usual)))
        except InputError as error:
            print(error.text(), file=sys.stderr)


COMMAND = Command("new", new, 130)
