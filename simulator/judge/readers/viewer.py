"""Viewers of your own: a file that says how well they read, and at which display.

`task.reader = "our-desk.toml"` names one; a relative path starts from the current folder. What the
file leaves out is as for the person (`named`). `nightproof trial-reading` writes such a file.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Annotated

from pydantic import Field

from simulator.fields import FileModel, Fraction
from simulator.files import read_toml, split_tolerances, validate
from simulator.judge.eye import CONTROL_ROOM, Display
from simulator.judge.readers.template_reader import TemplateReader
from simulator.messages import Message

ENDING = ".toml"


class DisplayTable(FileModel):
    """The display and its room."""

    white_cd_m2: Annotated[float, Field(ge=20.0, le=2000.0)] = CONTROL_ROOM.white_cd_m2
    """Luminance of white [cd/m2]."""
    black_cd_m2: Annotated[float, Field(ge=0.0, le=10.0)] = CONTROL_ROOM.black_cd_m2
    """Luminance of black in a dark room [cd/m2]."""
    room_lux: Annotated[float, Field(ge=0.0, le=10_000.0)] = CONTROL_ROOM.room_lux
    """Light of the room on the screen [lx]."""
    screen_reflectance: Fraction = CONTROL_ROOM.screen_reflectance
    """Share of it that the screen scatters back."""


class ReadingTable(FileModel):
    """How well the viewers read."""

    efficiency: Annotated[float, Field(gt=0.0, le=1.0)]
    """Share of the information in noisy pictures of small letters that they use."""
    contrast_noise: Annotated[float, Field(gt=0.0, le=3.0)]
    """Noise of their own in proportion to the contrast of letters: how soft a letter they read."""


class ViewerModel(FileModel):
    """Viewers at a display."""

    title: Annotated[str, Field(min_length=1, max_length=200)]
    """Who they are, in a line."""
    plates_read: Annotated[int, Field(ge=0)] = 0
    """Plates that they were shown."""
    display: DisplayTable = DisplayTable()
    reading: ReadingTable


def is_viewer_file(name: str) -> bool:
    """Whether the name of a reader is that of a viewer file."""
    return name.endswith(ENDING)


def viewer_of(file: str | Path, person: TemplateReader) -> TemplateReader:
    """The reader that a viewer file describes.

    Parameters
    ----------
    file
        The file.
    person
        What it does not say.

    Raises
    ------
    FileFormatError
        For a file that is missing or at fault.
    """
    path = Path(file)
    values, _ = split_tolerances(read_toml(path), path)
    model = validate(ViewerModel, values, path)
    return viewer(model, person)


def viewer(model: ViewerModel, person: TemplateReader) -> TemplateReader:
    """The person with other numbers; the quick estimate follows them.

    Noise that counts 1 / efficiency times, and noise in proportion to contrast, are terms of the
    quick estimate too; they change by the same factors.
    """
    keen = model.reading.efficiency / person.efficiency
    own = model.reading.contrast_noise / person.contrast_noise
    large = None if person.large_efficiency is None else min(1.0, keen * person.large_efficiency)
    quick = replace(
        person.quick, noise=person.quick.noise / keen, clutter=person.quick.clutter * own**2
    )
    return replace(
        person,
        name=model.title,
        efficiency=model.reading.efficiency,
        large_efficiency=large,
        contrast_noise=model.reading.contrast_noise,
        display=Display(**model.display.model_dump()),
        quick=quick,
        assumption=Message("reader.viewers", {"viewers": model.title, "plates": model.plates_read}),
    )


def viewer_text(model: ViewerModel, spread: dict[str, float]) -> str:
    """A viewer file (TOML).

    Parameters
    ----------
    spread
        Tolerance of the measured numbers, by key.
    """

    def number(key: str) -> str:
        value, tolerance = getattr(model.reading, key), spread[key]
        digits = max(2, 1 - math.floor(math.log10(tolerance)))
        return (
            f"{key} = {{ value = {value:.{digits}f}, tolerance = {tolerance:.{digits}f},"
            ' source = "measured" }'
        )

    shown = "\n".join(f"{key} = {value:g}" for key, value in model.display.model_dump().items())
    title = model.title.replace("\\", "\\\\").replace('"', '\\"')
    return (
        f'title = "{title}"\nplates_read = {model.plates_read}\n\n[display]\n{shown}\n\n'
        f"[reading]\n{number('efficiency')}\n{number('contrast_noise')}\n"
    )
