"""Text that must fit: wrapped and made smaller by measured widths."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

POINTS_PER_IN = 72.0


class Fitted(NamedTuple):
    """A text with its line breaks, its size [pt], and whether it fits."""

    text: str
    size: float
    fits: bool


@lru_cache(maxsize=4096)
def _width_pt(text: str, bold: bool) -> float:
    """Width of a text at a size of 100 [pt]."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextToPath

    properties = FontProperties(weight="bold" if bold else "normal")
    properties.set_size(100.0)
    width, _, _ = TextToPath().get_text_width_height_descent(text, properties, ismath=False)
    return float(width)


def text_width_pt(text: str) -> float:
    """Width of a text at a size of 100 [pt]."""
    return _width_pt(text, False)


def fit_text(
    text: str, width_in: float, sizes: Sequence[float], lines: int, *, bold: bool = False
) -> Fitted:
    """A text in the first of some sizes in which so many lines hold it.

    Words longer than a line are broken. If no size holds it, the last one, with more lines.
    """
    wrapped: list[str] = []
    for size in sizes:
        room = width_in * POINTS_PER_IN * 100.0 / size
        wrapped = _wrap(text, room, bold)
        if len(wrapped) <= lines:
            return Fitted("\n".join(wrapped), size, True)
    return Fitted("\n".join(wrapped), sizes[-1], False)


def wrapped(text: str, width_in: float, size: float, *, bold: bool = False) -> list[str]:
    """A text in as many lines of a width as it takes; words longer than a line are broken."""
    return _wrap(text, width_in * POINTS_PER_IN * 100.0 / size, bold)


_UNITED = re.compile(r"(?<=\d) (?=[%°]|(?:px|m|s|mm|dB|lx)\b|\d{3}\b)")
"""Gaps within a number and between it and its unit, where no line ends."""
_TIE = "\u00a0"


def _wrap(text: str, room: float, bold: bool) -> list[str]:
    out: list[str] = []
    line = ""
    for word in re.split(r"[ \n\t]+", _UNITED.sub(_TIE, text).strip()):
        joined = f"{line} {word}".strip(" ")
        if _width_pt(joined, bold) <= room:
            line = joined
            continue
        if line:
            out.append(line)
        line = word
        while _width_pt(line, bold) > room and len(line) > 1:
            keep = max(1, int(len(line) * room / _width_pt(line, bold)))
            while keep > 1 and _width_pt(line[:keep], bold) > room:
                keep -= 1
            out.append(line[:keep])
            line = line[keep:]
    return [part.replace(_TIE, " ") for part in ([*out, line] if line else out)]
