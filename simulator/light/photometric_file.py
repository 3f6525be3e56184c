"""Photometric files of luminaires: the open standard IES LM-63, forms of 1991, 1995, 2002, 2019.

What is read is a `luminaire.PhotometricFile`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Final

import numpy as np

from simulator.errors import FileFormatError
from simulator.light import photometric_types
from simulator.light.luminaire import PhotometricFile
from simulator.reading import number_of, text_of
from simulator.units import FloatArray

FORMS: Final[dict[str, str]] = {
    "IESNA91": "1991",
    "IESNA:LM-63-1995": "1995",
    "IESNA:LM-63-2002": "2002",
    "IES:LM-63-2019": "2019",
}
"""First line and year of the forms that are read."""
_FOOT_M = 0.3048
_MOST_ANGLES = 2000
_MOST_CANDELA = 1e9
"""Brightest light that is taken: a carbon arc searchlight had some 8e8 cd (from memory)."""


class _Numbers:
    """The numbers of a file one after the other, each with its line."""

    def __init__(self, lines: list[str], start: int, file: object) -> None:
        self.words = [
            (word, number)
            for number, line in enumerate(lines[start:], start=start + 1)
            for word in re.split(r"[\s,]+", line.strip())
            if word
        ]
        self.next = 0
        self.end = len(lines)
        self.file = file

    def fail(self, problem: str, given: object = None, allowed: str | None = None,
             line: int | None = None) -> FileFormatError:  # fmt: skip
        at = self.words[max(0, self.next - 1)][1] if self.words else self.end
        return FileFormatError(
            f"Line {line or at}: {problem}.", file=self.file, given=given, allowed=allowed
        )

    def number(self, what: str, allowed: str | None = None,
               test: Callable[[float], bool] = lambda _: True) -> float:  # fmt: skip
        if self.next >= len(self.words):
            raise self.fail(f"the file ends where {what} should stand", line=self.end)
        word, line = self.words[self.next]
        self.next += 1
        try:
            value = number_of(word)
        except ValueError:
            raise self.fail(f"{what} must be a number", given=word) from None
        if not np.isfinite(value) or not test(value):
            raise self.fail(f"{what} is not allowed", given=word, allowed=allowed, line=line)
        return value

    def whole(self, what: str, low: int, high: int) -> int:
        allowed = f"a whole number from {low} to {high}"
        value = self.number(what, allowed, lambda v: v == int(v) and low <= v <= high)
        return int(value)

    def list(self, what: str, count: int) -> FloatArray:
        return np.array([self.number(what) for _ in range(count)])

    def angles(self, what: str, count: int) -> FloatArray:
        values = self.list(what, count)
        if np.any(np.diff(values) <= 0.0):
            raise self.fail(f"{what}s must rise", given=values.tolist()[:12])
        return values


def parse_photometric_file(text: str, file: object = None) -> PhotometricFile:
    """Read an LM-63 file.

    Intensity = value x multiplier x ballast factor, and x the ballast-lamp factor in the forms of
    1991 and 1995; the later forms hold another number in its place.

    Parameters
    ----------
    text
        The whole file.
    file
        Where it comes from, for errors.

    Returns
    -------
    PhotometricFile
        The luminaire, intensities with every factor of the file applied.

    Raises
    ------
    FileFormatError
        With the line, for another form, a tilt in another file (`read_photometric_file` and scenes
        put it in its place), angles that LM-63 does not allow, factors that are not above 0, no
        light at all or more than any lamp gives, or anything that is no number where one should be.

    References
    ----------
    ANSI/IES LM-63-19 and its forerunners LM-63-02, LM-63-1995 and LM-63-1991; structure as public
    descriptions of the standard give it.

    Examples
    --------
    >>> cone = '''IES:LM-63-2019
    ... [LUMINAIRE] a cone
    ... TILT=NONE
    ... 1 -1 1 3 1 1 2 0.1 0.1 0.1
    ... 1 1 50
    ... 0 45 90
    ... 0
    ... 300 150 0'''
    >>> found = parse_photometric_file(cone)
    >>> found.keywords["LUMINAIRE"], found.absolute, float(found.intensity(0.0, 22.5))
    ('a cone', True, 225.0)
    """
    lines = text.lstrip("\ufeff").splitlines()
    head = lines[0].strip().upper() if lines else ""
    if head not in FORMS:
        raise FileFormatError(
            "Line 1: this is not a photometric file of a form that is read.",
            file=file,
            given=head[:60],
            allowed="a first line " + ", ".join(FORMS),
        )
    form = FORMS[head]
    tilt_line, keywords = _keywords(lines, file)
    tilt = lines[tilt_line].partition("=")[2].strip().upper()
    numbers = _Numbers(lines, tilt_line + 1, file)
    tilt_deg = tilt_factor = np.zeros(0)
    if tilt == "INCLUDE":
        numbers.whole("the lamp-to-luminaire geometry", 1, 3)
        count = numbers.whole("the number of tilt angles", 1, _MOST_ANGLES)
        tilt_deg = numbers.angles("tilt angle", count)
        tilt_factor = numbers.list("a tilt factor", count)
        if np.any(tilt_factor < 0.0):
            raise numbers.fail("a tilt factor is negative", given=float(tilt_factor.min()))
    elif tilt != "NONE":
        raise FileFormatError(
            f"Line {tilt_line + 1}: the tilt is in another file, which is not known here.",
            file=file,
            given=lines[tilt_line].strip(),
            allowed="TILT=NONE or TILT=INCLUDE in a text",
            fix="name the photometric file by its path; the tilt file is then read beside it",
        )
    lamps = numbers.whole("the number of lamps", 1, 10_000)
    lumens = numbers.number(
        "the lumens a lamp", "more than 0, or -1", lambda v: v > 0.0 or v == -1.0
    )
    multiplier = numbers.number("the multiplier", "more than 0", lambda v: v > 0.0)
    many_gamma = numbers.whole("the number of vertical angles", 2, _MOST_ANGLES)
    many_c = numbers.whole("the number of horizontal angles", 1, _MOST_ANGLES)
    kind = numbers.whole("the photometric type", 1, 3)
    metre = _FOOT_M if numbers.whole("the units type", 1, 2) == 1 else 1.0
    width, length, height = numbers.list("the size of the opening", 3) * metre
    ballast = numbers.number("the ballast factor", "more than 0", lambda v: v > 0.0)
    counts = form in ("1991", "1995")
    second = numbers.number(
        "the number after the ballast factor",
        "more than 0" if counts else None,
        lambda v: v > 0.0 or not counts,
    )
    watts = numbers.number("the input watts", "0 or more", lambda v: v >= 0.0)
    gamma = numbers.angles("vertical angle", many_gamma)
    if kind != _TYPE_C:
        _check_ends(numbers, "vertical", gamma)
    elif (gamma[0], gamma[-1]) not in ((0.0, 90.0), (90.0, 180.0), (0.0, 180.0)):
        raise numbers.fail(
            "vertical angles must span a half or the whole sphere",
            given=(float(gamma[0]), float(gamma[-1])),
            allowed="0 to 90, 90 to 180 or 0 to 180",
        )
    c = numbers.angles("horizontal angle", many_c)
    ends = (float(c[0]), float(c[-1]))
    if kind != _TYPE_C:
        _check_ends(numbers, "horizontal", c)
    elif ends not in ((0.0, 0.0), (0.0, 90.0), (0.0, 180.0), (0.0, 360.0), (90.0, 270.0)):
        raise numbers.fail(
            "horizontal angles must end where a symmetry ends",
            given=ends,
            allowed="0 alone, or 0 to 90, 0 to 180, 0 to 360, 90 to 270",
        )
    table = numbers.list("a candela value", many_gamma * many_c).reshape(many_c, many_gamma).T
    if np.any(table < 0.0):
        raise numbers.fail("a candela value is negative", given=float(table.min()))
    if numbers.next < len(numbers.words):
        word, line = numbers.words[numbers.next]
        raise numbers.fail("the file goes on after the last candela value", given=word, line=line)
    with np.errstate(over="ignore", invalid="ignore"):  # such factors are refused below
        factor = multiplier * ballast * (second if counts else 1.0)
        candela = np.ascontiguousarray(table * factor)
    if not 0.0 < candela.max() <= _MOST_CANDELA:
        raise numbers.fail(
            "the luminaire gives no light" if candela.max() == 0.0 else "this is no lamp",
            given=f"{candela.max():.3g} cd at most",
            allowed=f"intensities up to {_MOST_CANDELA:g} cd, not all of them 0",
        )
    candela.setflags(write=False)
    return PhotometricFile(
        form,
        keywords,
        lumens == -1.0,
        None if lumens == -1.0 else lamps * lumens,
        gamma,
        c,
        candela,
        (float(width), float(length), float(height)),
        watts,
        tilt_deg,
        tilt_factor,
        ".CBA"[kind],
    )


_TYPE_C = 1
"""LM-63 numbers the photometric types: 1 C, 2 B, 3 A."""


def _check_ends(numbers: _Numbers, what: str, angles: FloatArray) -> None:
    """Angles of types A and B span both sides, or one that stands for both."""
    ends = (float(angles[0]), float(angles[-1]))
    if ends not in photometric_types.ENDS:
        raise numbers.fail(
            f"{what} angles of types A and B must span one side or both",
            given=ends,
            allowed="-90 to 90, or 0 to 90 where both sides are alike",
        )


def _keywords(lines: list[str], file: object) -> tuple[int, dict[str, str]]:
    """Index of the TILT line, and the keywords before it."""
    keywords: dict[str, str] = {}
    last: str | None = None
    for number, line in enumerate(lines[1:], start=1):
        if photometric_types.TILT_LINE.match(line):
            return number, keywords
        match = re.match(r"\s*\[(\w+)\]\s*(.*)", line)
        if match is None:
            continue
        keyword = match[1].upper()
        if keyword == "MORE" and last is not None:
            keywords[last] += f"\n{match[2].strip()}"
        else:
            last = keyword
            keywords[last] = match[2].strip()
    raise FileFormatError(
        f"Line {len(lines)}: the file ends without a line TILT=.",
        file=file,
        allowed="TILT=NONE or TILT=INCLUDE before the numbers",
    )


def read_photometric_file(path_or_text: str | Path) -> PhotometricFile:
    """Photometric file from a path, or from the text of one, which has several lines.

    Parameters
    ----------
    path_or_text
        Path of the file, or its text.

    Returns
    -------
    PhotometricFile
        The luminaire, see `parse_photometric_file`.

    Raises
    ------
    FileFormatError
        If the file cannot be read, or is at fault.

    References
    ----------
    As `parse_photometric_file`.

    Examples
    --------
    >>> cone = '''IES:LM-63-2019
    ... [LUMINAIRE] a cone
    ... TILT=NONE
    ... 1 -1 1 3 1 1 2 0.1 0.1 0.1
    ... 1 1 50
    ... 0 45 90
    ... 0
    ... 300 150 0'''
    >>> read_photometric_file(cone).candela[:, 0].tolist()
    [300.0, 150.0, 0.0]
    """
    if isinstance(path_or_text, str) and "\n" in path_or_text:
        return parse_photometric_file(path_or_text)
    path = Path(path_or_text)
    return parse_photometric_file(photometric_text(path), path)


def photometric_text(path: Path) -> str:
    """Text of a photometric file; a tilt in another file beside it stands in its place.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    Its text, which needs no other file.

    Raises
    ------
    FileFormatError
        If it, or the tilt file, cannot be read.
    """
    return photometric_types.with_tilt(text_of(path, "photometric file"), path.parent, path)
