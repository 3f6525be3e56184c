"""Plain tables as TOML text, for the copies of inputs that a result keeps."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Mapping
from typing import Any


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _string(name)


def _string(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, str):
        return _string(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, dt.datetime | dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(entry) for entry in value) + "]"
    raise TypeError(f"TOML has no {type(value).__name__}")


def _is_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(e, Mapping) for e in value)


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping) and "value" not in value  # a toleranced number stays inline


def _lines(table: Mapping[str, Any], path: str) -> list[str]:
    lines = [
        f"{_key(key)} = {_value(value)}"
        for key, value in table.items()
        if not _is_table(value) and not _is_tables(value)
    ]
    for key, value in table.items():
        inner = f"{path}.{_key(key)}" if path else _key(key)
        if _is_table(value):
            lines += ["", f"[{inner}]", *_lines(value, inner)]
        elif _is_tables(value):
            for entry in value:
                lines += ["", f"[[{inner}]]", *_lines(entry, inner)]
    return lines


def to_toml(table: Mapping[str, Any]) -> str:
    """TOML text that reads back as the same table.

    Raises
    ------
    TypeError
        For a value that TOML cannot hold, such as None.
    """
    return "\n".join(_lines(table, "")).lstrip("\n") + "\n"
