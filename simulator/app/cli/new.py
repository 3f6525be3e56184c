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
    title: Annotated[str | None, typer.Option(help="Title of the scene.")] = None,
    light: Annotated[
        str | None,
        typer.Option(help=f"Light of the place: {', '.join(LIGHTS)}."),
    ] = None,
    distance_m: Annotated[str | None, typer.Option(help="Distance of the plate [m].")] = None,
    height_m: Annotated[str | None, typer.Option(help="Height of the camera [m].")] = None,
    sideways_m: Annotated[
        str | None, typer.Option(help="Plate to the right of the camera's axis [m].")
    ] = None,
    text: Annotated[str | None, typer.Option(help="Text of the plate.")] = None,
    vehicle: Annotated[str | None, typer.Option(help="car, van or truck.")] = None,
    speed_kmh: Annotated[str | None, typer.Option(help="Speed of the vehicle [km/h].")] = None,
    infrared: Annotated[
        str | None, typer.Option(help="Light profile beside the camera, or none.")
    ] = None,
    lamp: Annotated[
        str | None,
        typer.Option(
            help='Lamp near the plate: lumens or watts of an LED ("4000 lm", "40 W"), or 0.'
        ),
    ] = None,
    copy: CopyOption = None,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace FILE.")] = False,
) -> None:
    """Write a commented scene file from a few answers.

    On a terminal it asks for what no option gives; otherwise it takes the usual values.
    """
    from simulator.errors import OutputError
    from simulator.studies.folder import whole_file
    from simulator.studies.new.answers import FIELDS, QUESTIONS, checked
    from simulator.studies.new.scene import Answers, scene_text

    file = toml_name(file)
    if file.exists() and not overwrite:
        raise OutputError(
            "There is a file of that name.", file=file, given=str(file),
            fix="choose another name, or say --overwrite",
        )  # fmt: skip
    if copy is not None:
        _copied("scenes", copy, file)
        return
    given: dict[str, str | None] = {
        "title": title, "light": light, "distance_m": distance_m, "height_m": height_m,
        "sideways_m": sideways_m, "text": text, "vehicle": vehicle, "speed_kmh": speed_kmh,
        "infrared": infrared, "lamp": lamp,
    }  # fmt: skip
    answers: dict[str, Any] = {
        name: checked(name, said) for name, said in given.items() if said is not None
    }
    for name, question in QUESTIONS.items():
        if name not in answers and sys.stdin.isatty():
            answers[name] = _asked(name, question.words, question.usual)
    content = scene_text(Answers(**{FIELDS.get(k, k): v for k, v in answers.items()}))
    with whole_file(file, "The scene cannot be written here.") as part:
        part.write_text(content, encoding="utf-8")
    print(f"{file}")
    print(f"next: nightproof show {file}; nightproof predict {file} --camera fixed-2mp-lowlight")


@new.command("site")
def site(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Site file to write, .toml.")],
    copy: CopyOption = "fruit-depot",
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace FILE.")] = False,
) -> None:
    """Write a commented site file to start from: camera positions on a plan, and their hours."""
    from simulator.errors import OutputError

    file = toml_name(file)
    if file.exists() and not overwrite:
        raise OutputError(
            "There is a file of that name.", file=file, given=str(file),
            fix="choose another name, or say --overwrite",
        )  # fmt: skip
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
