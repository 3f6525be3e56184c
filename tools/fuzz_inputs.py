"""Inputs for `fuzz.py`: good files, and what is done to them."""

from __future__ import annotations

import io
import re
from collections.abc import Callable

from hypothesis import strategies as st
from PIL import Image

NUMBERS = (
    "0", "-0", "-1", "1e300", "-1e300", "1e-300", "1e308", "nan", "inf", "-inf", "9" * 25,
    "9" * 4301, "1_000", "0x10", "1e400", "0.05", "4", "1e5", "3.5", "-0.001", "true", "[]", "{}",
    '"1"', '""', "1979-05-27", "0" * 300 + "1", "1." + "0" * 400 + "1", "2e9", "65536",
)  # fmt: skip
"""Numbers and things that are none, where a number stood."""
PIECES = (
    "\x00", "\ufeff", "\u202e", "$", "$x_{", "{{ 7 }}", "=1+1", '"', "'", '"""', "\\", "\\u0000",
    "[", "]", "[[", "]]", "{", "}", "=", ".", ",", ";", "#", "\n", "\r", "\t", " ", "%s", "../",
    "/dev/null", "a" * 300, "a." * 900, "[" * 900, "{a=" * 300, "name = ", "kind = ", "use = ",
    "value = ", "tolerance = ", "ß", "é", "字", "\U0001f600", "-1", "e", "E", "_",
)  # fmt: skip
"""Pieces of text that readers stumble over."""
_NUMBER = re.compile(r"(?<![\w.])[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?(?![\w.])")
Step = Callable[[str, int, int, int], str]


def _number(text: str, at: int, what: int, _length: int) -> str:
    numbers = list(_NUMBER.finditer(text))
    if not numbers:
        return text
    hit = numbers[at % len(numbers)]
    return text[: hit.start()] + NUMBERS[what % len(NUMBERS)] + text[hit.end() :]


def _insert(text: str, at: int, what: int, _length: int) -> str:
    at %= len(text) + 1
    return text[:at] + PIECES[what % len(PIECES)] + text[at:]


def _cut(text: str, at: int, _what: int, length: int) -> str:
    at %= len(text) + 1
    return text[:at] + text[at + length :]


def _truncate(text: str, at: int, _what: int, _length: int) -> str:
    return text[: at % (len(text) + 1)]


def _lines(text: str, at: int, what: int, _length: int) -> str:
    """Drop, double or exchange a line."""
    lines = text.split("\n")
    n, m = at % len(lines), what % len(lines)
    if what % 3 == 0:
        del lines[n]
    elif what % 3 == 1:
        lines.insert(m, lines[n])
    else:
        lines[n], lines[m] = lines[m], lines[n]
    return "\n".join(lines)


def _words(text: str, at: int, what: int, _length: int) -> str:
    """Put another word of the text in the place of one."""
    words = list(re.finditer(r"[\w-]+", text))
    if not words:
        return text
    hit, other = words[at % len(words)], words[what % len(words)]
    return text[: hit.start()] + other.group() + text[hit.end() :]


def _byte(text: str, at: int, what: int, _length: int) -> str:
    if not text:
        return text
    at %= len(text)
    return text[:at] + chr(what % 256) + text[at + 1 :]


STEPS: tuple[Step, ...] = (_number, _number, _insert, _cut, _truncate, _lines, _words, _byte)
"""Each takes the text, a place, a choice and a length."""
_WHOLE = st.integers(0, 1 << 16)
_CHANGES = st.lists(
    st.tuples(st.sampled_from(STEPS), _WHOLE, _WHOLE, st.integers(1, 60)), min_size=1, max_size=5
)


@st.composite
def changed(draw: st.DrawFn, corpus: tuple[bytes, ...]) -> bytes:
    """One of some good files with a few things done to it; its bytes pass as characters."""
    text = draw(st.sampled_from(corpus)).decode("latin-1")
    for step, at, what, length in draw(_CHANGES):
        text = step(text, at, what, length)
    return text.encode("latin-1", "ignore") if text.isascii() else _either(text)


def _either(text: str) -> bytes:
    """Bytes of a text that was taken for latin-1, with anything put in as UTF-8."""
    return b"".join(
        c.encode("latin-1") if ord(c) < 256 else c.encode("utf-8", "surrogatepass") for c in text
    )


def pictures() -> tuple[bytes, ...]:
    """Small pictures of the kinds that are read, and of kinds that must be refused."""
    files = []
    for mode, form in (
        ("RGB", "PNG"), ("RGBA", "PNG"), ("L", "PNG"), ("P", "PNG"), ("I;16", "PNG"),
        ("RGB", "JPEG"), ("L", "JPEG"), ("RGB", "TIFF"), ("1", "TIFF"), ("RGB", "GIF"),
        ("RGB", "BMP"), ("RGB", "PPM"), ("RGB", "WEBP"),
    ):  # fmt: skip
        out = io.BytesIO()
        Image.new(mode, (12, 9)).save(out, form)
        files.append(out.getvalue())
    return tuple(files)
