"""Readers by name: a person at a screen, a program for reading text, and your own.

The person is a template reader, and so is the quick estimate of the machine; they lack what real
readers lack (`template_reader`) and differ in numbers. `docs/reading.md` tells where those come
from and how well they hold. The machine itself is a real recogniser, where one is installed.
"""

from __future__ import annotations

from simulator.errors import FileFormatError
from simulator.judge.readers.fitted import MACHINE_QUICK, PERSON_QUICK
from simulator.judge.readers.machine import Recogniser
from simulator.judge.readers.outside import COMMAND, installed_readers, outside_reader
from simulator.judge.readers.reader import Reader
from simulator.judge.readers.recogniser import recogniser_installed
from simulator.judge.readers.template_reader import TemplateReader
from simulator.judge.readers.viewer import is_viewer_file, viewer_of
from simulator.messages import Message

PERSON = TemplateReader(
    name="person",
    contrast_noise=0.65,
    efficiency=0.3,
    floor_px=0.35,
    level_noise=0.5,
    eye_contrast=0.02,
    misfit_noise=1.0,
    smear_noise=3.5,
    defocus_noise=3.5,
    shared_noise=0.5,
    large_efficiency=0.16,
    quick=PERSON_QUICK,
    assumption=Message("reader.person"),
)
MACHINE = TemplateReader(
    name="machine",
    contrast_noise=0.78,
    efficiency=0.3,
    floor_px=0.6,
    misfit_noise=3.0,
    level_noise=2.2,
    smear_noise=4.3,
    defocus_noise=3.5,
    spread=0.3,
    in_context=True,
    shared_noise=0.9,
    quick=MACHINE_QUICK,
    stands_in=True,
    assumption=Message("reader.machine-estimate"),
)
RECOGNISER = Recogniser(
    name="machine",
    assumption=Message("reader.machine"),
    estimate=MACHINE,
)
READERS: dict[str, TemplateReader] = {reader.name: reader for reader in (PERSON, MACHINE)}
"""The template readers, by name."""


def reader_of(name: str | Reader) -> Reader:
    """The reader of a name; a reader passes through.

    Parameters
    ----------
    name
        "person", "machine", a viewer file (`viewer`), the name of a reader that an installed
        package offers, or "command:" with a command (`outside`). The machine is a text recogniser,
        or its quick estimate where none is installed.

    Raises
    ------
    FileFormatError
        If there is none.
    """
    if not isinstance(name, str):
        return name
    if name == "machine" and recogniser_installed():
        return RECOGNISER
    if is_viewer_file(name):
        return viewer_of(name, PERSON)
    reader = READERS.get(name) or outside_reader(name, MACHINE)
    if reader is None:
        known = ", ".join([*READERS, *installed_readers()])
        raise FileFormatError(
            "There is no such reader.",
            key="task.reader",
            given=name,
            allowed=f"{known}, a viewer file (.toml), or {COMMAND}PROGRAM",
        )
    return reader
