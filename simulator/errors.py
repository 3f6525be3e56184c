"""Exceptions named by their cause.

Everything a user can fix is an `InputError`; commands print it as one message and end with
exit code 2. Anything else that escapes is our own fault and ends with exit code 1.
"""

from __future__ import annotations

from typing import Any, Self

_LONGEST = 300
"""Characters of a given value that a message shows."""


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
        argument, label = self.argument, "argument"
        if argument is not None and command_line:
            name, space, rest = argument.partition(" ")
            argument, label = f"--{name.replace('_', '-')}{space}{rest}", "option"
        lines = [self.problem]
        for name, part in (
            (label, argument),
            ("file", self.file),
            ("key", self.key),
            ("given", None if self.given is None else _short(self.given)),
            ("allowed", self.allowed),
            ("fix", self.fix),
        ):
            if part is not None:
                lines.append(f"  {name + ':':<8} {part}")
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


def _short(given: object) -> str:
    """Text of a value; the middle of a long one is left out."""
    text = repr(given)
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 60]} ... {text[-50:]}"


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
