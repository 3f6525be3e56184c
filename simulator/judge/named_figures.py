"""The registry of figures: every number of a verdict that is told somewhere, by its key.

It follows from the fields of the verdict that say what they are (`record.Quantity`); tables of
sheet and report, columns of a sweep and rows of the glossary follow from it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from simulator.judge.record import Place, Quantity, quantities
from simulator.judge.result import Verdict
from simulator.registry import Registry


@dataclass(frozen=True)
class Figure:
    """One figure. A field without a default must be filled."""

    key: str
    """Where it stands in verdict.json, such as "signal.snr_db"."""
    quantity: Quantity
    meaning: str

    @property
    def name(self) -> str:
        """The last part of its key, by which a sweep and the quick form call it."""
        return self.key.rpartition(".")[2]

    def read(self, verdict: Verdict) -> Any:
        """Its value in a verdict; None where it is not measured."""
        value: Any = verdict
        for part in self.key.split("."):
            value = None if value is None else getattr(value, part)
        return value


def _figures(model: type[BaseModel], lead: str = "") -> Iterator[Figure]:
    """Figures of a record and of the records in it, in the order of its fields."""
    own = {name: (quantity, meaning) for name, quantity, meaning in quantities(model)}
    for name, field in model.model_fields.items():
        if name in own:
            quantity, meaning = own[name]
            yield Figure(f"{lead}{name}", quantity, " ".join(meaning.split()))
        for part in (field.annotation, *get_args(field.annotation)):
            if isinstance(part, type) and issubclass(part, BaseModel) and not _many(field):
                yield from _figures(part, f"{lead}{name}.")


def _many(field: FieldInfo) -> bool:
    """Whether a field holds a row of records rather than one."""
    return get_origin(field.annotation) is tuple


FIGURES: Registry[Figure] = Registry("figure", "key", _figures(Verdict))


def shown_on(place: Place) -> list[Figure]:
    """Figures that are told at a place, in order."""
    return FIGURES.where(lambda figure: place in figure.quantity.places)
