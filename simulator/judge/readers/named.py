"""The two readers: a person at a screen, and a program for reading text.

Both lack what real readers lack (`reading`); they differ in numbers. `docs/reading.md` tells where
those come from and how well they hold.
"""

from __future__ import annotations

from typing import Literal, get_args

from simulator.errors import FileFormatError
from simulator.judge.readers.template_reader import TemplateReader

ReaderName = Literal["person", "machine"]

PERSON = TemplateReader(
    name="person",
    contrast_noise=0.781,
    efficiency=0.1,
    floor_px=0.35,
    misfit_noise=1.0,
    shared_noise=0.5,
    assumption="The reader is a person who knows where the text is and enlarges it at will; limits"
    " after published letter reading, not measured on your viewers.",
)
MACHINE = TemplateReader(
    name="machine",
    contrast_noise=0.78,
    efficiency=0.237,
    floor_px=0.623,
    misfit_noise=4.135,
    level_noise=3.0,
    in_context=True,
    shared_noise=0.9,
    assumption="The reader is a program that knows where the text is, as good as one general text"
    " recogniser on drawn plates; yours may be better or worse.",
)
READERS = {reader.name: reader for reader in (PERSON, MACHINE)}


def reader_of(name: str | TemplateReader) -> TemplateReader:
    """The reader of a name; a reader passes through.

    Raises
    ------
    FileFormatError
        If there is none.
    """
    if isinstance(name, TemplateReader):
        return name
    try:
        return READERS[name]
    except KeyError:
        raise FileFormatError(
            "There is no such reader.",
            key="task.reader",
            given=name,
            allowed=", ".join(get_args(ReaderName)),
        ) from None
