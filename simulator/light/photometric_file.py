"""Photometric files of luminaires: the open standard IES LM-63, forms of 1991, 1995, 2002, 2019.

Type C photometry: gamma from straight down (0) to straight up (180), C around the vertical,
counterclockwise seen from above, C = 0 along the luminaire's length.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from simulator.errors import FileFormatError
from simulator.light import webs
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


@dataclass(frozen=True)
class PhotometricFile:
    """A luminaire as LM-63 gives it; intensities with every factor of the file applied.

    Attributes
    ----------
    form
        Year of the standard's form.
    keywords
        Text by keyword, such as `LUMINAIRE`, without brackets; continued lines joined.
    absolute
        Whether the file is of absolute photometry (lumens per lamp -1).
    rated_lumens
        Number of lamps x lumens a lamp [lm]; None with absolute photometry.
    gamma_deg, c_deg
        Angles of the table [deg]; c_deg as written, before symmetry.
    candela
        Luminous intensity [cd], shape (gamma, C), read-only.
    size_m
        Width, length, height of the luminous opening [m]; negative as written means round.
    input_watts
        Electrical power [W].
    tilt_deg, tilt_factor
        Factor on the light by the tilt of the lamp [deg]; empty for TILT=NONE.

    References
    ----------
    ANSI/IES LM-63-19 and its forerunners, see `parse_photometric_file`.

    Examples
    --------
    >>> cone = '''IES:LM-63-2019
    ... TILT=NONE
    ... 1 -1 1 3 1 1 2 0.1 0.1 0.1
    ... 1 1 50
    ... 0 45 90
    ... 0
    ... 300 150 0'''
    >>> found = parse_photometric_file(cone)
    >>> found.candela.shape, round(found.lumens())  # 2 pi 300 (1 - 2 / pi)
    ((3, 1), 685)
    """

    form: str
    keywords: dict[str, str]
    absolute: bool
    rated_lumens: float | None
    gamma_deg: FloatArray
    c_deg: FloatArray
    candela: FloatArray
    size_m: tuple[float, float, float]
    input_watts: float
    tilt_deg: FloatArray
    tilt_factor: FloatArray

    def intensity(self, c_deg: FloatArray | float, gamma_deg: FloatArray | float) -> FloatArray:
        """Luminous intensity [cd] towards directions, bilinear; 0 beyond the table's gamma.

        Parameters
        ----------
        c_deg
            Angle about the axis [deg], any; what the file leaves out follows from its symmetry.
        gamma_deg
            Angle from the axis [deg], 0 to 180.
        """
        c, g = np.broadcast_arrays(self._folded(np.asarray(c_deg, dtype=np.float64)), gamma_deg)
        g = np.asarray(g, dtype=np.float64)
        i, a = _between(self.gamma_deg, g)
        if len(self.c_deg) == 1:
            value = self.candela[i, 0] * (1.0 - a) + self.candela[i + 1, 0] * a
        else:
            j, b = _between(self.c_deg, c)
            low = self.candela[i, j] * (1.0 - b) + self.candela[i, j + 1] * b
            high = self.candela[i + 1, j] * (1.0 - b) + self.candela[i + 1, j + 1] * b
            value = low * (1.0 - a) + high * a
        inside = (g >= self.gamma_deg[0] - 1e-9) & (g <= self.gamma_deg[-1] + 1e-9)
        return np.where(inside, value, 0.0)

    def _folded(self, c: FloatArray) -> FloatArray:
        """C brought into the part of the circle that the file gives."""
        c = np.mod(c, 360.0)
        first, last = self.c_deg[0], self.c_deg[-1]
        if first == 90.0:  # symmetric about the plane 90-270
            return np.where((c < 90.0) | (c > 270.0), np.mod(180.0 - c, 360.0), c)
        if last in (90.0, 180.0):
            c = np.where(c > 180.0, 360.0 - c, c)
        if last == 90.0:
            c = np.where(c > 90.0, 180.0 - c, c)
        return np.asarray(c)

    def lumens(self) -> float:
        """Luminous flux [lm], integral of I sin(gamma) dgamma dC, exact for the bilinear table."""
        part = float(self.c_deg[-1] - self.c_deg[0])
        if part == 0.0:
            return webs.flux(self.gamma_deg, np.array([0.0, 360.0]), self.candela[:, [0, 0]])
        return webs.flux(self.gamma_deg, self.c_deg, self.candela) * 360.0 / part

    def dense_table(self) -> NDArray[np.float32]:
        """Intensity [cd] on the grid of `webs`, gamma by C, both ends included."""
        table = self.intensity(webs.C_DEG[None, :], webs.GAMMA_DEG[:, None])
        return np.ascontiguousarray(table, dtype=np.float32)

    def factor_at_tilt(self, tilt_deg: float) -> float:
        """Factor on the light with the luminaire's axis this far from straight down [deg]."""
        if len(self.tilt_deg) == 0:
            return 1.0
        return float(np.interp(tilt_deg, self.tilt_deg, self.tilt_factor))


def _between(angles: FloatArray, at: FloatArray) -> tuple[NDArray[np.int64], FloatArray]:
    """Index of the interval and the place in it, 0 to 1; held at the ends."""
    i = np.clip(np.searchsorted(angles, at, side="right") - 1, 0, len(angles) - 2)
    share = np.clip((at - angles[i]) / (angles[i + 1] - angles[i]), 0.0, 1.0)
    return np.asarray(i), np.asarray(share)


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
        With the line, for another form, photometry of type A or B, a tilt in another file, angles
        that LM-63 does not allow, or anything that is no number where one should be.

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
    head = lines[0].strip() if lines else ""
    if head not in FORMS:
        raise FileFormatError(
            "Line 1: this is not a photometric file of a form that is read.",
            file=file,
            given=head[:60],
            allowed="a first line " + ", ".join(FORMS),
        )
    form = FORMS[head]
    tilt_line, keywords = _keywords(lines, file)
    tilt = lines[tilt_line].strip()[5:].strip()
    numbers = _Numbers(lines, tilt_line + 1, file)
    tilt_deg = tilt_factor = np.zeros(0)
    if tilt == "INCLUDE":
        numbers.whole("the lamp-to-luminaire geometry", 1, 3)
        count = numbers.whole("the number of tilt angles", 1, _MOST_ANGLES)
        tilt_deg = numbers.angles("tilt angle", count)
        tilt_factor = numbers.list("a tilt factor", count)
    elif tilt != "NONE":
        raise FileFormatError(
            f"Line {tilt_line + 1}: a tilt in another file is not read.",
            file=file,
            given=lines[tilt_line].strip(),
            allowed="TILT=NONE or TILT=INCLUDE",
        )
    lamps = numbers.whole("the number of lamps", 1, 10_000)
    lumens = numbers.number(
        "the lumens a lamp", "more than 0, or -1", lambda v: v > 0.0 or v == -1.0
    )
    multiplier = numbers.number("the multiplier", "more than 0", lambda v: v > 0.0)
    many_gamma = numbers.whole("the number of vertical angles", 2, _MOST_ANGLES)
    many_c = numbers.whole("the number of horizontal angles", 1, _MOST_ANGLES)
    kind = numbers.whole("the photometric type", 1, 3)
    if kind != 1:
        raise numbers.fail(
            f"photometry of type {'.CBA'[kind]} is not read", given=kind, allowed="1, type C"
        )
    metre = _FOOT_M if numbers.whole("the units type", 1, 2) == 1 else 1.0
    width, length, height = numbers.list("the size of the opening", 3) * metre
    ballast = numbers.number("the ballast factor", "more than 0", lambda v: v > 0.0)
    second = numbers.number("the number after the ballast factor")
    watts = numbers.number("the input watts", "0 or more", lambda v: v >= 0.0)
    gamma = numbers.angles("vertical angle", many_gamma)
    if (gamma[0], gamma[-1]) not in ((0.0, 90.0), (90.0, 180.0), (0.0, 180.0)):
        raise numbers.fail(
            "vertical angles must span a half or the whole sphere",
            given=(float(gamma[0]), float(gamma[-1])),
            allowed="0 to 90, 90 to 180 or 0 to 180",
        )
    c = numbers.angles("horizontal angle", many_c)
    ends = (float(c[0]), float(c[-1]))
    if ends not in ((0.0, 0.0), (0.0, 90.0), (0.0, 180.0), (0.0, 360.0), (90.0, 270.0)):
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
    factor = multiplier * ballast * (second if form in ("1991", "1995") else 1.0)
    candela = np.ascontiguousarray(table * factor)
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
    )


def _keywords(lines: list[str], file: object) -> tuple[int, dict[str, str]]:
    """Index of the TILT line, and the keywords before it."""
    keywords: dict[str, str] = {}
    last: str | None = None
    for number, line in enumerate(lines[1:], start=1):
        if line.strip().startswith("TILT="):
            return number, keywords
        found = re.match(r"\s*\[(\w+)\]\s*(.*)", line)
        if found is None:
            continue
        if found[1] == "MORE" and last is not None:
            keywords[last] += f"\n{found[2].strip()}"
        else:
            last = found[1]
            keywords[last] = found[2].strip()
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
    return parse_photometric_file(text_of(path, "photometric file"), path)
