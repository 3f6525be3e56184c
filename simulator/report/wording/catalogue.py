"""The one catalogue of words and the templates that are filled from it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from simulator.messages import Message, unique
from simulator.report.wording import numbers

if TYPE_CHECKING:
    from jinja2 import Environment

FILTERS = (
    numbers.capital, numbers.decibels, numbers.digits, numbers.f_number, numbers.listed,
    numbers.lowered, numbers.lux, numbers.percent, numbers.pictures, numbers.quantity,
    numbers.shutter, numbers.snr, numbers.with_unit,
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
    made.filters.update({f.__name__: f for f in FILTERS})
    made.globals.update(entry=entry)
    return made


@lru_cache(maxsize=1)
def catalogue() -> Mapping[str, Any]:
    """Tables of catalogue.toml."""
    text = files("simulator.report.wording").joinpath("catalogue.toml").read_text("utf-8")
    return tomllib.loads(text)


def entry(table: str, key: str) -> Any:
    """One entry of a table: a text, or a table of texts.

    Examples
    --------
    >>> entry("task", "read")["done"]
    'read correctly'
    """
    return catalogue()[table][key]


def filled(template: str, values: Mapping[str, Any]) -> str:
    """A template's text with values in it, in one line."""
    return one_line(environment().from_string(template).render(values))


def rendered(name: str, **values: Any) -> str:
    """The text of a file of templates/, in one line."""
    return one_line(environment().get_template(name).render(values))


def one_line(text: str) -> str:
    """Words with single spaces between them."""
    return re.sub(r"[ \n]+", " ", text).strip()


def say(message: Message) -> str:
    """A message in words.

    Raises
    ------
    KeyError
        For a message that the catalogue does not hold.
    jinja2.UndefinedError
        For a value that its text needs and that is missing.
    """
    table, _, key = message.id.partition(".")
    return filled(entry(table, key), message.values)


def say_all(messages: Iterable[Message]) -> list[str]:
    """Messages in words, each once."""
    return [say(message) for message in unique(messages)]
