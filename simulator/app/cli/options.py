"""Arguments and options that several commands share, and how each kind is written.

A list of names or numbers is written with commas between, or the option is repeated; both may be
mixed. `KEY=VALUE` options are repeated, since a value may hold commas itself.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from simulator.app.cli.completing import keys, names

NONE = "none"
"""Word for an empty list."""


def split_list(values: list[str] | None) -> list[str] | None:
    """Entries of a list option as typed: commas part them, spaces around them go; `none` is none.

    Parameters
    ----------
    values
        What each use of the option gave, or None if it was not used.

    Returns
    -------
    The entries in order; None if the option was not used.

    Raises
    ------
    typer.BadParameter
        For an empty entry.
    """
    if not values:
        return None
    entries = [entry.strip() for text in values for entry in text.split(",")]
    if entries == [NONE]:
        return []
    if "" in entries or NONE in entries:
        raise typer.BadParameter(
            f"{','.join(values)!r} is not a list; write it as A,B or repeat the option"
        )
    return entries


def split_numbers(values: list[str] | None) -> list[str] | None:
    """As `split_list`, for numbers, which stay texts."""
    entries = split_list(values)
    for entry in entries or []:
        try:
            float(entry)
        except ValueError:
            raise typer.BadParameter(
                f"{entry!r} is not a number; write them as 100,10,1 or repeat the option"
            ) from None
    return entries


SceneArgument = Annotated[
    str,
    typer.Argument(
        metavar="SCENE",
        help="Scene file, or a name of `nightproof list`.",
        autocompletion=names("scenes"),
    ),
]
CameraArgument = Annotated[
    str,
    typer.Argument(
        metavar="CAMERA",
        help="Camera file, or a name of `nightproof list`.",
        autocompletion=names("cameras"),
    ),
]
CameraOption = Annotated[
    str,
    typer.Option(
        "--camera",
        metavar="CAMERA",
        help="Camera file, or a name of `nightproof list`.",
        autocompletion=names("cameras"),
    ),
]
CamerasOption = Annotated[
    list[str],
    typer.Option(
        "--cameras",
        metavar="A,B,...",
        callback=split_list,
        help="Camera files or names of `nightproof list`.",
        autocompletion=names("cameras"),
    ),
]
OtherCamerasOption = Annotated[
    list[str] | None,
    typer.Option(
        "--other-cameras",
        metavar="A,B,...",
        callback=split_list,
        help="Cameras that may be proposed instead, or none (default: all bundled ones).",
    ),
]
LightsOption = Annotated[
    list[str] | None,
    typer.Option(
        "--lights",
        metavar="A,B,...",
        callback=split_list,
        help="Light files or names that are tried besides, or none (default: all bundled ones).",
    ),
]
LensOption = Annotated[
    str | None, typer.Option("--lens", metavar="LENS", help="One lens for every camera.")
]
SameFramingOption = Annotated[
    bool, typer.Option("--same-framing", help="Every camera frames as wide as the first one.")
]
SetOption = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="KEY=VALUE",
        autocompletion=keys,
        help="Set a value of a file, such as target.plate.speed_kmh=30. Repeatable.",
    ),
]
PlaceOption = Annotated[
    str | None,
    typer.Option("--place", metavar="LAT,LON", help="Degrees, north and east positive."),
]
AtOption = Annotated[
    str | None,
    typer.Option(
        "--at",
        metavar="DATE TIME",
        help='Sky of a moment, such as "2026-11-15 18:00"; needs a place in the scene or --place.',
    ),
]
TimezoneOption = Annotated[
    str | None,
    typer.Option("--timezone", metavar="NAME", help="Clock of --at, as Europe/Vienna."),
]
TrialsOption = Annotated[
    int, typer.Option("--trials", min=8, max=2000, help="Repetitions of the camera at each point.")
]
WorkersOption = Annotated[
    int | None,
    typer.Option("--workers", min=1, help="Processes (default: one for each processor)."),
]
ResumeOption = Annotated[
    bool, typer.Option("--resume", help="Go on with the points of an interrupted run.")
]
SeedOption = Annotated[int, typer.Option("--seed", min=0, help="Seed of all randomness.")]
OutOption = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="DIR",
        help="Result folder (default: one in outputs/, named by what is asked and what is set).",
    ),
]
PdfOption = Annotated[bool, typer.Option("--pdf", help="Write a PDF beside it (extra `pdf`).")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
RemediesOption = Annotated[
    bool,
    typer.Option(
        "--remedies/--no-remedies",
        help="If it is not legible, search for the least change that fixes it (takes longest).",
    ),
]
ReserveOption = Annotated[
    bool,
    typer.Option(
        "--reserve/--no-reserve",
        help="If it is legible, say how much darker, faster, farther and dirtier it may get.",
    ),
]
TolerancesOption = Annotated[
    bool,
    typer.Option(
        "--tolerances/--no-tolerances",
        help="Let the interval hold the tolerances of scene and camera.",
    ),
]

_NOT_NAMED = {
    "as_json", "camera", "cluster", "out", "pdf", "raw", "resume", "scene", "scenes", "workers",
}  # fmt: skip
"""Parameters that change nothing of what is asked, or stand in the name of a folder already."""
_LONGEST = 60


def named_by_options(context: typer.Context) -> str:
    """How the name of a default folder ends, so that a what-if has a folder of its own.

    Returns
    -------
    Every option given on the command line that changes what is asked, as
    "--target.plate.speed_kmh=40--seed=7"; a hash of them where that is too long for a name; empty
    if there is none.
    """
    given: list[str] = []
    for parameter in context.command.params:
        name, value = parameter.name or "", context.params.get(parameter.name or "")
        source = context.get_parameter_source(name)
        used = source is not None and source.name == "COMMANDLINE"
        if used and name not in _NOT_NAMED and value != parameter.get_default(context):
            given += _texts(name, value)
    if not given:
        return ""
    text = "--".join(given)
    plain = "".join(c if c.isalnum() or c in "._=+-" else "-" for c in text)
    if plain == text and len(text) <= _LONGEST:
        return f"--{text}"
    import hashlib

    short = hashlib.sha256(text.encode()).hexdigest()[:8]
    return f"--{plain[:_LONGEST].rstrip('-.')}--{short}"


def _texts(name: str, value: Any) -> list[str]:
    name = name.replace("_", "-")
    if isinstance(value, list | tuple):
        values = [str(entry) for entry in value]
        return values if all("=" in entry for entry in values) else [f"{name}={'+'.join(values)}"]
    if isinstance(value, bool):
        return [name if value else f"no-{name}"]
    return [f"{name}={value}"]


def folder_for(context: typer.Context, out: Path | None, *parts: str) -> Path:
    """The result folder: the one asked for, or one in outputs/ named by its parts and the options.

    Parameters
    ----------
    context
        The command at work, which knows the options given.
    parts
        What is asked of what, such as "calendar", scene and camera.
    """
    return out or Path("outputs") / f"{'--'.join(parts)}{named_by_options(context)}"
