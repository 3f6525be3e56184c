"""One record a concept, in one registry: what tables, sheets, commands and the glossary follow.

A record is a frozen dataclass that says everything there is to say of one impairment, lever,
spectrum kind or figure. A field without a default must be filled: a record that leaves one out is
refused when its module is imported, so that nothing falls back silently later.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Generic, TypeVar

from simulator.errors import NightproofError

R = TypeVar("R")


class RecordError(NightproofError):
    """A record that lacks something, or a name of code that no record has: our own fault."""


class Registry(Generic[R]):
    """Records of one concept by name, in the order in which they were entered.

    Parameters
    ----------
    concept
        What a record is, for messages ("impairment").
    key
        Name of the field that tells records apart.

    Examples
    --------
    >>> from dataclasses import dataclass
    >>> @dataclass(frozen=True)
    ... class Lamp:
    ...     name: str
    ...     meaning: str
    >>> lamps = Registry("lamp", "name", [Lamp("gate", "stands at the gate")])
    >>> lamps["gate"].meaning
    'stands at the gate'
    >>> lamps.enter(Lamp("door", ""))
    Traceback (most recent call last):
    ...
    simulator.registry.RecordError: the lamp 'door' lacks its meaning
    """

    def __init__(self, concept: str, key: str, records: Iterable[R] = ()) -> None:
        self.concept, self._key = concept, key
        self._records: dict[str, R] = {}
        for record in records:
            self.enter(record)

    def enter(self, record: R, *, before: str | None = None) -> R:
        """Enter a record as the last one, or before another one.

        Raises
        ------
        RecordError
            If a field without a default is empty, or the name is taken.
        """
        name = str(getattr(record, self._key))
        for missing in unfilled(record):
            raise RecordError(f"the {self.concept} {name!r} lacks its {missing}")
        if name in self._records:
            raise RecordError(f"the {self.concept} {name!r} is entered twice")
        rows = list(self._records.items())
        at = len(rows) if before is None else list(self._records).index(before)
        self._records = dict([*rows[:at], (name, record), *rows[at:]])
        return record

    @contextmanager
    def with_record(self, record: R, *, before: str | None = None) -> Iterator[R]:
        """A record that is there only inside a `with` block."""
        self.enter(record, before=before)
        try:
            yield record
        finally:
            del self._records[str(getattr(record, self._key))]

    def names(self) -> tuple[str, ...]:
        """Names of all records, in order."""
        return tuple(self._records)

    def where(self, holds: Callable[[R], bool]) -> list[R]:
        """Records of which something holds, in order."""
        return [record for record in self if holds(record)]

    def __getitem__(self, name: str) -> R:
        """The record of a name.

        Raises
        ------
        RecordError
            If there is none: a name that code uses must be entered.
        """
        if name not in self._records:
            raise RecordError(
                f"there is no {self.concept} {name!r}; there are {', '.join(self._records)}"
            )
        return self._records[name]

    def __contains__(self, name: object) -> bool:
        return name in self._records

    def __iter__(self) -> Iterator[R]:
        return iter(tuple(self._records.values()))

    def __len__(self) -> int:
        return len(self._records)


def unfilled(record: object) -> list[str]:
    """Fields without a default that hold nothing: no text, no entries, None.

    Parameters
    ----------
    record
        A dataclass instance.
    """
    return [
        part.name
        for part in dataclasses.fields(record)  # type: ignore[arg-type]
        if part.default is dataclasses.MISSING
        and part.default_factory is dataclasses.MISSING
        and _empty(getattr(record, part.name))
    ]


def _empty(value: object) -> bool:
    if isinstance(value, str):
        return not value.strip()
    return value is None or (isinstance(value, tuple | frozenset) and not value)
