"""What a result has to say, as data: an identity and values. Words are made in report/wording."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

Value = str | float | int | bool | None | tuple[str, ...] | tuple[float, ...]


@dataclass(frozen=True)
class Message:
    """One thing to say: which, and with what figures.

    Parameters
    ----------
    id
        Table and entry of the wording catalogue, such as "caution.height".
    values
        Figures and names in it; the unit ends the key, as in `height_m`.

    Examples
    --------
    >>> Message("caution.height", {"height_m": 4.0}).row()
    {'id': 'caution.height', 'values': {'height_m': 4.0}}
    """

    id: str
    values: Mapping[str, Value] = field(default_factory=dict, hash=False)

    @classmethod
    def of(cls, id: str, /, **values: Value) -> Message:
        """A message with its values by keyword.

        Examples
        --------
        >>> Message.of("caution.height", height_m=4.0) == Message("caution.height", {"height_m": 4})
        True
        """
        return cls(id, values)

    def row(self) -> dict[str, Any]:
        """As it is saved in JSON."""
        return {"id": self.id, "values": dict(self.values)}

    @classmethod
    def from_row(cls, row: Mapping[str, Any]) -> Message:
        """The message that `row` was saved from."""
        values = {k: tuple(v) if isinstance(v, list) else v for k, v in row["values"].items()}
        return cls(row["id"], values)


def unique(messages: Iterable[Message]) -> list[Message]:
    """Messages without repetitions, in the order in which they first come."""
    return list(dict.fromkeys(messages))
