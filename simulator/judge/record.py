"""What every part of a verdict is: a frozen record, and figures that say what they are."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, GetJsonSchemaHandler

from simulator.registry import RecordError, unfilled

Form = Literal["plain", "percent", "shutter", "decibels", "f_number", "snr", "word"]
"""How a figure is written: a number with its unit, or as the trade writes that sort of figure."""
Place = Literal["sheet", "back", "document", "compare"]
"""Where a figure is told: front and back of a sheet, report, comparison."""

FRONT: tuple[Place, ...] = ("sheet", "back", "document", "compare")
BEHIND: tuple[Place, ...] = ("back", "document")


def _within(value: Any) -> Any:
    """A sum of shares that rounding took a hair beyond 0 or 1, brought back."""
    if isinstance(value, float) and (-_ROUNDING < value < 0.0 or 1.0 < value < 1.0 + _ROUNDING):
        return round(value)
    return value


_ROUNDING = 1e-9
Probability = Annotated[float, Field(ge=0.0, le=1.0), BeforeValidator(_within)]


class Record(BaseModel):
    """A part of a verdict: frozen, without unknown keys, without NaN or infinity."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        allow_inf_nan=False,
        validate_by_name=True,
        validate_by_alias=True,
        use_attribute_docstrings=True,
    )

    def to_dict(self) -> dict[str, Any]:
        """As verdict.json holds it: plain dictionaries, lists, numbers and texts."""
        return self.model_dump(mode="json", by_alias=True)


@dataclass(frozen=True)
class Quantity:
    """What a field of a record is as a figure; its meaning is the field's docstring.

    A field without a default must be filled.
    """

    label: str
    """What it is called in a table."""
    source: str
    """Module under simulator/ that computes it."""
    unit: str = "1"
    """"1" for shares, ratios and words."""
    symbol: str = ""
    form: Form = "plain"
    digits: int = 3
    """Significant digits of the plain form."""
    places: tuple[Place, ...] = ()
    beside: tuple[str, ...] = ()
    """Keys of figures that are told in its row."""
    aside: str = "{}"
    """How it is told in the row of another figure, with its text for {}."""
    idle: float | str | None = None
    """A value that is not worth a word there or before a customer, such as no infrared."""
    of: Callable[[Any], float | None] | None = None
    """What computes it from what was measured, where nothing else does."""

    def __post_init__(self) -> None:
        missing = unfilled(self)
        if missing:
            raise RecordError(f"the figure {self.label!r} lacks its {missing[0]}")
        for place in self.places:
            if place not in get_args(Place):
                raise RecordError(f"the figure {self.label!r} has no place {place!r}")

    def __get_pydantic_json_schema__(
        self, core: Any, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Schema of the field with its unit."""
        return {**handler(core), "unit": self.unit}


def quantities(model: type[BaseModel]) -> Iterator[tuple[str, Quantity, str]]:
    """Fields of a record that are figures: name, what they are, and their meaning."""
    for name, field in model.model_fields.items():
        for part in field.metadata:
            if isinstance(part, Quantity):
                yield name, part, field.description or ""


def computed(model: type[BaseModel], measured: Any) -> Mapping[str, float | None]:
    """Figures of a record from what was measured, by name.

    Raises
    ------
    RecordError
        For a figure that nothing computes.
    """
    out: dict[str, float | None] = {}
    for name, quantity, _ in quantities(model):
        if quantity.of is None:
            raise RecordError(f"nothing computes the figure {name!r}")
        out[name] = quantity.of(measured)
    return out
