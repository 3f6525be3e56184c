"""The one catalogue of words and the templates that are filled from it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Literal

from simulator.judge.impairments import IMPAIRMENTS
from simulator.messages import Message, unique
from simulator.report.wording import clock, numbers
from simulator.studies.key_units import split_unit

if TYPE_CHECKING:
    from jinja2 import Environment

Reader = Literal["customer", "engineer"]
FILTERS = (
    clock.clock_gap, clock.hour,
    numbers.capital, numbers.decibels, numbers.digits, numbers.duration,
    numbers.f_number, numbers.listed, numbers.per_thousand, numbers.position,
    numbers.lowered, numbers.lux, numbers.metres_to, numbers.percent, numbers.percent_range,
    numbers.pictures, numbers.quantity, numbers.shade, numbers.shutter, numbers.snr,
    numbers.snr_in_words, numbers.with_unit,
)  # fmt: skip


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Jinja2 with the folder's templates and `FILTERS`; a value that is missing is an error."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("simulator.report.wording", "templates"),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update({f.__name__: f for f in (*FILTERS, nouns)})
    made.globals.update(entry=entry, subject=subject, setting=setting)
    phrases = made.get_template("macros.j2").module
    made.globals.update({k: v for k, v in vars(phrases).items() if not k.startswith("_")})
    return made


@lru_cache(maxsize=1)
def catalogue() -> Mapping[str, Any]:
    """Tables of all TOML files of the folder.

    Raises
    ------
    KeyError
        If two files hold a table of the same name.
    """
    out: dict[str, Any] = {}
    for path in sorted(files("simulator.report.wording").iterdir(), key=lambda p: p.name):
        if path.name.endswith(".toml"):
            tables = tomllib.loads(path.read_text("utf-8"))
            if twice := out.keys() & tables.keys():
                raise KeyError(f"{path.name}: {', '.join(sorted(twice))} stands in another file")
            out |= tables
    return out


def entry(table: str, key: str) -> Any:
    """One entry of a table: a text, or a table of texts.

    Examples
    --------
    >>> entry("task", "read")["done"]
    'read correctly'
    """
    return catalogue()[table][key]


def nouns(factors: Iterable[str]) -> list[str]:
    """Impairments as they are named in a sentence.

    Examples
    --------
    >>> nouns(["light", "defocus"])
    ['too little light', 'defocus']
    """
    return [IMPAIRMENTS[factor].noun for factor in factors]


def subject(task: str, kind: str, text: str | None) -> str:
    """What a task is about.

    Examples
    --------
    >>> subject("read", "plate", "K2W8 R4D")
    'number plate K2W8 R4D'
    """
    name = catalogue()["target"].get(kind, kind.replace("-", " "))
    target = f"{name} {text}" if text else name
    return str(entry("task", task)["subject"].format(target=target))


def setting(key: str, value: float, tolerance: float) -> str:
    """A number of a file in words, with its unit and tolerance.

    Parameters
    ----------
    key
        Full dotted key; its last part ends in its unit.

    Examples
    --------
    >>> setting("camera.lens.aberration_um", 1.6, 0.5)
    "aberration of the camera's lens (1.6 ± 0.5 µm)"
    """
    side, *path = (part.rstrip("]") for part in key.replace("[", ".").split("."))
    name, unit = split_unit(key)
    owner = " ".join(_named(part) for part in path[:-1]) or side
    whose = f"the camera's {owner}" if side == "camera" and len(path) > 1 else owner
    figures = f"{value:g} ± {tolerance:g} {unit}".rstrip()
    return f"{_named(name)} of {whose} ({figures})"


def _named(part: str) -> str:
    return str(catalogue()["key"].get(part, part.replace("_", " ")))


def filled(template: str, values: Mapping[str, Any]) -> str:
    """A template's text with values in it, in one line."""
    return one_line(environment().from_string(template).render(values))


def rendered(name: str, **values: Any) -> str:
    """The text of a file of templates/, in one line."""
    return one_line(environment().get_template(name).render(values))


def one_line(text: str) -> str:
    """Words with single spaces between them, and none before a stop or comma."""
    return re.sub(r" ([;,.])(?= |$)", r"\1", re.sub(r"[ \n]+", " ", text)).strip()


def say(message: Message, reader: Reader = "engineer") -> str:
    """A message in words.

    Parameters
    ----------
    message
        Its identity is a table and an entry of the catalogue.
    reader
        Whom to tell, where the entry differs between the two.

    Raises
    ------
    KeyError
        For a message that the catalogue does not hold.
    jinja2.UndefinedError
        For a value that its text needs and that is missing.
    """
    table, _, key = message.id.partition(".")
    text = entry(table, key)
    return filled(text if isinstance(text, str) else text[reader], message.values)


def say_all(messages: Iterable[Message], reader: Reader = "engineer") -> list[str]:
    """Messages in words, each once."""
    return [say(message, reader) for message in unique(messages)]
