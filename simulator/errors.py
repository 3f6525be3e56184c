"""Exceptions named by their cause.

Everything a user can fix is an `InputError`; commands print it as one message and end with
exit code 2. Anything else that escapes is our own fault and ends with exit code 1.
"""

from __future__ import annotations


class NightproofError(Exception):
    """Base of every exception raised on purpose by this package."""


class InputError(NightproofError):
    """Input that a person can fix.

    Parameters
    ----------
    problem
        What is wrong, in one sentence.
    file
        The file it stands in, or where it came from (`--set`).
    key
        Dotted key path inside the file.
    given
        What was given.
    allowed
        What is allowed.
    mend
        How to fix it.
    """

    def __init__(
        self,
        problem: str,
        *,
        file: object = None,
        key: str | None = None,
        given: object = None,
        allowed: str | None = None,
        fix: str | None = None,
    ) -> None:
        self.problem = problem
        self.file = None if file is None else str(file)
        self.key = key
        self.given = given
        self.allowed = allowed
        self.fix = fix
        super().__init__(self.text())

    def text(self) -> str:
        """The whole message, one labelled line for each part that is known."""
        lines = [self.problem]
        for label, part in (
            ("file", self.file),
            ("key", self.key),
            ("given", None if self.given is None else repr(self.given)),
            ("allowed", self.allowed),
            ("fix", self.fix),
        ):
            if part is not None:
                lines.append(f"  {label + ':':<9}{part}")
        return "\n".join(lines)


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
