"""Plain values, as TOML holds them: of what callers give, and of checked models."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import Enum
from operator import index
from pathlib import PurePath
from typing import Any

from pydantic import BaseModel

from simulator.errors import InputError
from simulator.files import Tolerance

NO_TOLERANCES: Mapping[str, Tolerance] = {}


def plain(value: Any) -> Any:
    """A value as a file would hold it; what is not known stays as it is, for the check to refuse.

    Parameters
    ----------
    value
        Numbers and arrays of numpy (or anything with `tolist`), tuples, paths, tables, checked
        models; a table's None means that the key is not written.

    Examples
    --------
    >>> import numpy as np
    >>> plain({"aim_m": np.array([0.0, 18.0, 0.5]), "focus_m": None, "on": np.bool_(True)})
    {'aim_m': [0.0, 18.0, 0.5], 'on': True}
    """
    if isinstance(value, BaseModel):
        return table_of(value)
    if isinstance(value, Mapping):
        return {str(key): plain(entry) for key, entry in value.items() if entry is not None}
    if isinstance(value, list | tuple):
        return [plain(entry) for entry in value]
    if isinstance(value, Enum):
        return plain(value.value)
    if callable(tolist := getattr(value, "tolist", None)):
        return plain(tolist())
    return str(value) if isinstance(value, PurePath) else value


def whole_number(value: Any, argument: str, least: int = 0) -> int:
    """A whole number that a caller gave, such as a seed, as a plain one.

    Parameters
    ----------
    value
        Any integer, of numpy too.
    argument
        Name of the caller's argument, for the message.
    least
        The smallest one allowed.

    Raises
    ------
    InputError
        If it is none, or smaller.

    Examples
    --------
    >>> whole_number(7, "seed")
    7
    """
    try:
        number = None if isinstance(value, bool) else index(value)
    except TypeError:
        number = None
    if number is None or number < least:
        raise InputError(
            "This value is not allowed.",
            argument=argument,
            given=value,
            allowed=f"a whole number from {least} upwards",
        )
    return number


def entry_key(key: str, index: int, entry: Any) -> str:
    """Dotted key of an entry of a list: by its name, or by `[index]`."""
    name = entry.get("name") if isinstance(entry, Mapping) else getattr(entry, "name", None)
    return f"{key}.{name}" if isinstance(name, str) and name else f"{key}[{index}]"


def numbers_of(model: BaseModel) -> Iterator[tuple[str, float]]:
    """Every number of a checked model by its dotted key, in the order of the model."""

    def walk(value: Any, key: str) -> Iterator[tuple[str, float]]:
        if isinstance(value, BaseModel):
            for name in type(value).model_fields:
                yield from walk(getattr(value, name), f"{key}.{name}" if key else name)
        elif isinstance(value, list | tuple):
            for index, entry in enumerate(value):
                yield from walk(entry, entry_key(key, index, entry))
        elif isinstance(value, int | float) and not isinstance(value, bool):
            yield key, value

    return walk(model, "")


def tolerances_of(model: BaseModel, tolerances: Mapping[str, Tolerance]) -> dict[str, Tolerance]:
    """Those tolerances whose number the model holds, in the order of the model.

    The tolerance of a number that has changed does not belong to the new one.
    """
    if not tolerances:
        return {}
    return {
        key: tolerances[key]
        for key, number in numbers_of(model)
        if key in tolerances and tolerances[key].value == number
    }


def table_of(
    model: BaseModel, tolerances: Mapping[str, Tolerance] = NO_TOLERANCES
) -> dict[str, Any]:
    """A checked model as the table of a file, in the order of the model.

    What a model says when nothing is written is left out, so that equal models give equal tables.
    `use` is left out too: the values of the profile stand in the model.

    Parameters
    ----------
    model
        A file model or a table of one.
    tolerances
        By dotted key; they stand beside their numbers.
    """

    def written(value: Any, key: str) -> Any:
        if isinstance(value, BaseModel):
            return fields(value, key)
        if isinstance(value, list | tuple):
            return [written(entry, entry_key(key, i, entry)) for i, entry in enumerate(value)]
        known = tolerances.get(key)
        if known is None:
            return value
        return {"value": value, "tolerance": known.tolerance, "source": known.source}

    def fields(table: BaseModel, prefix: str) -> dict[str, Any]:
        out: dict[str, Any] = {}
        for name, field in type(table).model_fields.items():
            value = table.__dict__.get(name)
            if name == "use" or value is None:
                continue
            key = f"{prefix}.{name}" if prefix else name
            entry = written(value, key)
            default = field.get_default(call_default_factory=True)
            if field.is_required() or value != default or _holds_tolerance(entry):
                out[name] = entry
        return out

    return fields(model, "")


def _holds_tolerance(entry: Any) -> bool:
    """Whether what equals its default carries a tolerance."""
    if isinstance(entry, Mapping):
        return bool(entry)
    return isinstance(entry, list) and any(isinstance(one, Mapping) for one in entry)
