"""Exceptions named by their cause.

Everything a user can fix is an `InputError`; commands print it as one message and end with
exit code 2. Anything else that escapes is our own fault and ends with exit code 1.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final, Self

_BUNDLED: Final = Path(__file__).resolve().parent / "bundled"
_LONGEST = {
    "problem": 300, "argument": 150, "file": 250, "key": 150, "given": 300, "allowed": 560,
    "fix": 250,
}  # fmt: skip
"""Characters of each part that a message shows; the middle of a longer one is left out."""
LONGEST_MESSAGE = 2048
"""Bytes that no message exceeds: a screen of 25 lines of 80 characters."""


class NightproofError(Exception):
    """Base of every exception raised on purpose by this package."""


class InputError(NightproofError, ValueError):
    """Input that a person can fix.

    Parameters
    ----------
    problem
        What is wrong, in one sentence.
    argument
        The caller's argument at fault, and which part of it, such as `set station.height_m`. The
        command line shows it as its option: `--set station.height_m`.
    file
        The file it stands in.
    key
        Dotted key path inside the file.
    given
        What was given.
    allowed
        What is allowed.
    fix
        How to fix it.

    Examples
    --------
    >>> print(InputError("This value is out of range.", key="station.height_m", given=-3.0))
    This value is out of range.
      key:     station.height_m
      given:   -3.0
    """

    def __init__(
        self,
        problem: str,
        *,
        argument: str | None = None,
        file: object = None,
        key: str | None = None,
        given: object = None,
        allowed: str | None = None,
        fix: str | None = None,
    ) -> None:
        self.problem = problem
        self.argument = argument
        self.file = None if file is None else str(file)
        self.key = key
        self.given = given
        self.allowed = allowed
        self.fix = fix
        super().__init__(self.text())

    def text(self, *, command_line: bool = False) -> str:
        """The whole message, one labelled line for each part that is known.

        Parameters
        ----------
        command_line
            Whether the reader gave options (`--set`) rather than arguments (`set`).
        """
        for share in (
            1.0,
            0.5,
            0.25,
            0.12,
        ):  # other scripts take more bytes
            text = self._text(command_line, share)
            if len(text.encode("utf-8", "backslashreplace")) <= LONGEST_MESSAGE:
                break
        return text

    def _text(self, command_line: bool, share: float) -> str:
        argument, label = self.argument, "argument"
        if argument is not None and command_line:
            name, space, rest = argument.partition(" ")
            argument, label = f"--{name.replace('_', '-')}{space}{rest}", "option"

        def short(name: str, text: str) -> str:
            return shortened(text, int(_LONGEST[name] * share))

        lines = [short("problem", self.problem)]
        for name, shown, part in (
            ("argument", label, argument),
            ("file", "file", None if self.file is None else _place(self.file)),
            ("key", "key", self.key),
            ("given", "given", None if self.given is None else _written(self.given)),
            ("allowed", "allowed", self.allowed),
            ("fix", "fix", self.fix),
        ):
            if part is not None:
                lines.append(f"  {shown + ':':<8} {short(name, part)}")
        return "\n".join(lines)

    def but(self, **parts: Any) -> Self:
        """The same error with some of its parts said otherwise.

        Parameters
        ----------
        **parts
            Any parameter of this class.
        """
        mine = {k: getattr(self, k) for k in ("argument", "file", "key", "given", "allowed", "fix")}
        problem = parts.pop("problem", self.problem)
        return type(self)(problem, **{**mine, **parts})


def shortened(text: str, longest: int) -> str:
    """A text of at most so many characters; the middle of a long one is left out.

    Examples
    --------
    >>> shortened("a very long text that goes on", 20)
    'a very lon ... es on'
    """
    if len(text) <= longest:
        return text
    tail = longest // 4
    return f"{text[: longest - tail - 5]} ... {text[-tail:]}"


def _place(file: str) -> str:
    """A file as people know it: what came with the package goes by its name."""
    path = Path(file)
    if _BUNDLED not in path.parents or path.suffix != ".toml":
        return file
    return f"the bundled {path.parent.name.removesuffix('s')} {path.stem}"


def _written(given: object) -> str:
    try:
        return repr(given)
    except ValueError:  # a whole number of more digits than Python writes
        return f"a {type(given).__name__} that is too long to be written"


class FileFormatError(InputError):
    """A file that cannot be read, parsed or validated."""


class NameNotFoundError(InputError):
    """A profile, scene, spectrum or material that does not exist."""


class GeometryError(InputError):
    """A scene that cannot be imaged: target behind the camera, outside the frame, ..."""


class NoLightError(InputError):
    """A scene in which no light at all reaches the sensor."""


class OutputError(InputError):
    """A result that cannot be written where it was asked for."""
