"""A reader of your own: an installed package or a command reads the pictures.

A package offers a function under the entry point group `nightproof.readers`:

    [project.entry-points."nightproof.readers"]
    mine = "my_package:read"

`read(pictures)` takes a list of eight-bit pictures (rows, columns, 3), red, green, blue, each of
one line of text with some ground around it, and returns a list of as many strings. A command takes
the name of a PNG file as its last argument, or where `{picture}` stands, and prints the text:

    reader = "command:tesseract {picture} - --psm 7"

Spaces do not count, nor do small letters; look-alikes (O and 0, I and 1) are one.

A scene file that starts programs is a risk where scenes come from others, and so commands run only
where the environment variable `NIGHTPROOF_READER_COMMANDS` is 1.
"""

from __future__ import annotations

import os
import shlex
import subprocess
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.metadata import entry_points
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.errors import FileFormatError
from simulator.judge.readers.lines import TextLine, text_lines
from simulator.judge.readers.quick_estimate import QuickEstimate
from simulator.judge.readers.reader import laid_beside, true_symbols
from simulator.judge.readers.shapes import Shapes, design_shapes
from simulator.judge.readers.template_reader import TemplateReader
from simulator.judge.target import JudgedText
from simulator.messages import Message

GROUP = "nightproof.readers"
COMMAND = "command:"
ALLOWED = "NIGHTPROOF_READER_COMMANDS"
MARGIN = 0.35
"""Ground left around a line, as a share of the character height."""
COMMAND_PICTURES = 60
"""Pictures a command is given: each starts a program."""
COMMAND_SECONDS = 60

ReadFunction = Callable[[list[NDArray[np.uint8]]], Sequence[str]]


@dataclass(frozen=True)
class OutsideReader:
    """A function that reads pictures of lines.

    `estimate` stands in for it in searches; it is not fitted to it.
    """

    name: str
    function: ReadFunction
    estimate: TemplateReader
    most_pictures: int | None = None

    @property
    def quick(self) -> QuickEstimate:
        """That of the machine; it is not fitted to this reader."""
        return self.estimate.quick

    @property
    def assumption(self) -> Message:
        """Who reads."""
        return Message("reader.outside", {"reader": self.name})

    def symbols(
        self,
        pictures: NDArray[np.uint8],
        target: JudgedText,
        origin_px: tuple[float, float],
        *,
        seed: int,
        first: int = 0,
        shared_seed: int | None = None,
    ) -> NDArray[np.int64]:
        """As `Reader.symbols`.

        Raises
        ------
        FileFormatError
            If the reader does not answer every picture.
        """
        shapes, truth = design_shapes(target.design), true_symbols(target)
        out = np.empty((len(pictures), len(truth)), np.int64)
        for line in text_lines(target.cells_px - np.asarray(origin_px)):
            lines = [line_picture(picture, line) for picture in pictures]
            answers = list(self.function(lines))
            if len(answers) != len(lines):
                raise FileFormatError(
                    "The reader did not answer every picture.",
                    key="task.reader",
                    given=f"{len(answers)} answers",
                    allowed=f"{len(lines)} answers, one for each picture",
                )
            for n, answer in enumerate(answers):
                out[n, line.cells] = laid_beside(
                    read_as(answer, shapes), truth[line.cells].tolist()
                )
        return out


def read_as(answer: str, shapes: Shapes) -> list[int]:
    """Symbols of an answer; what the lettering lacks is left out."""
    known = {c: int(s) for c, s in zip(shapes.alphabet, shapes.symbols, strict=True)}
    return [known[c] for c in answer.upper() if c in known]


def line_picture(picture: NDArray[np.uint8], line: TextLine) -> NDArray[np.uint8]:
    """One line of text (rows, columns, 3), upright, at the picture's own scale."""
    rows = max(8, round(line.height_px * (1.0 + 2.0 * MARGIN)))
    columns = max(8, round(line.height_px * (line.aspect + 2.0 * MARGIN)))
    h, m = line.height_px, MARGIN * line.height_px - 0.5
    move = np.array([[h, 0, m], [0, h, m], [0, 0, 1]]) @ line.to_heights
    move = move @ np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    return np.asarray(
        cv2.warpPerspective(
            picture, move, (columns, rows), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
        ),
        dtype=np.uint8,
    )


def installed_readers() -> dict[str, str]:
    """Readers that installed packages offer, by name, and where each is."""
    return {point.name: point.value for point in entry_points(group=GROUP)}


def outside_reader(name: str, estimate: TemplateReader) -> OutsideReader | None:
    """The reader of an entry point or of a command; None if there is none of that name.

    Raises
    ------
    FileFormatError
        If a command is named and commands are not allowed.
    """
    if name.startswith(COMMAND):
        return OutsideReader(name, _command(name), estimate, COMMAND_PICTURES)
    for point in entry_points(group=GROUP):
        if point.name == name:
            return OutsideReader(name, point.load(), estimate)
    return None


def _command(name: str) -> ReadFunction:
    words = shlex.split(name.removeprefix(COMMAND))
    if os.environ.get(ALLOWED) != "1" or not words:
        raise FileFormatError(
            "A command may read only where that is allowed."
            if words
            else "The command of the reader is missing.",
            key="task.reader",
            given=name,
            allowed="a command, where the environment says so",
            fix=f"set {ALLOWED}=1 if you trust the scene file, for it starts this program",
        )
    if not any("{picture}" in word for word in words):
        words.append("{picture}")

    def read(pictures: list[NDArray[np.uint8]]) -> list[str]:
        with tempfile.TemporaryDirectory() as folder:
            return [_answer(words, picture, Path(folder) / "line.png") for picture in pictures]

    return read


def _answer(words: list[str], picture: NDArray[np.uint8], file: Path) -> str:
    """What a command prints on one picture."""
    cv2.imwrite(str(file), picture[..., ::-1])
    command = [word.replace("{picture}", str(file)) for word in words]
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, check=True, timeout=COMMAND_SECONDS
        )
    except (OSError, subprocess.SubprocessError) as error:
        raise FileFormatError(
            "The command that reads the text failed.",
            key="task.reader",
            given=shlex.join(words),
            allowed="a program that takes a PNG file and prints its text",
            fix=str(error),
        ) from None
    return done.stdout
