"""Values set from outside a file by their dotted key, such as `target.plate.speed_kmh=15`."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, get_origin

from pydantic import BaseModel

from simulator.annotations import entry_annotation, member_models, pick_model, strip_annotation
from simulator.errors import FileFormatError, InputError
from simulator.validation import nearest, renamed

FORM = "key=value, such as target.plate.speed_kmh=15"


def valid_keys(model: type[BaseModel] | None, raw: Any, prefix: str = "") -> list[str]:
    """Every dotted key that can be set; list entries go by the names in `raw`, the numbers of a
    point by `[index]`."""
    keys: list[str] = []
    for table, inner, place in _tables(model, raw, prefix):
        for name in table.model_fields:
            keys.append(f"{place}{name}")
            written = inner.get(name) if isinstance(inner, Mapping) else None
            numbers = _point(table, name, written)
            keys += [f"{place}{name}[{index}]" for index in range(len(numbers))]
    return keys


def _point(table: type[BaseModel], name: str, written: Any) -> list[Any]:
    """The numbers of a point as written or, where it is not, as it is taken; empty for others."""
    field = table.model_fields[name]
    annotation, _ = strip_annotation(field.annotation)
    now = field.default if written is None else written
    if get_origin(annotation) is not tuple or not isinstance(now, list | tuple):
        return []
    return list(now)


def _tables(
    model: type[BaseModel] | None, raw: Any, prefix: str = ""
) -> Iterator[tuple[type[BaseModel], Any, str]]:
    """Every table that a raw table holds: its model, its raw values, and how its keys begin."""
    if model is None:
        return
    yield model, raw, prefix
    for name, field in model.model_fields.items():
        annotation, _ = strip_annotation(field.annotation)
        inner = raw.get(name) if isinstance(raw, Mapping) else None
        if member_models(annotation):
            yield from _tables(pick_model(annotation, inner), inner, f"{prefix}{name}.")
        elif (entry := entry_annotation(annotation)) is not None:
            for item in inner if isinstance(inner, list) else []:
                if isinstance(item, Mapping) and isinstance(item.get("name"), str):
                    place = f"{prefix}{name}.{item['name']}."
                    yield from _tables(pick_model(entry, item), item, place)


def renamed_keys(model: type[BaseModel], raw: Any) -> dict[str, str]:
    """Dotted keys by their former names, each with what to write now."""
    return {
        f"{place}{old}": f"{place}{new}"
        for table, _, place in _tables(model, raw)
        for old, new in renamed(table).items()
    }


def split_set(text: str) -> tuple[str, str]:
    """Key and value of one `key=value`.

    Raises
    ------
    InputError
        If there is no key or no equal sign.
    """
    key, equal, value = text.partition("=")
    key = key.strip()
    if not equal or not key or not value.strip():
        raise InputError(
            "This is not a key and a value.",
            file="--set",
            given=text,
            allowed=FORM,
            fix="write the key, an equal sign and the value",
        )
    return key, value.strip()


def _is_time(key: str) -> bool:
    return key.rsplit(".", 1)[-1].endswith("_s")


def parse_fraction(key: str, text: str) -> str:
    """A time such as 1/250 as a decimal; anything else as it is."""
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*/\s*(\d+(?:\.\d+)?)\s*", text)
    if match is None or not _is_time(key) or float(match[2]) == 0.0:
        return text
    return repr(float(match[1]) / float(match[2]))


def parse_value(text: str) -> Any:
    """TOML value of a text; what is not TOML is a plain string."""
    try:
        table = tomllib.loads(f"v = {text}")
    except (tomllib.TOMLDecodeError, RecursionError):
        return text
    return table["v"] if set(table) == {"v"} else text


def unknown_key(
    key: str, given: str, keys: Sequence[str], new_names: Mapping[str, str]
) -> InputError:
    """Error for a key that nothing knows, with its new name or the nearest valid ones."""
    if (new := new_names.get(key)) is not None:
        return InputError(
            f"The key {key!r} has a new name.",
            file=f"--set {key}",
            key=key,
            given=given,
            fix=f"write {new}",
        )
    hints = nearest(key, keys, count=3)
    if not hints:
        last = key.rsplit(".", 1)[-1]
        hints = [k for k in keys if k.rsplit(".", 1)[-1] == last][:3]
    return InputError(
        f"Unknown key {key!r}.",
        file=f"--set {key}",
        key=key,
        given=given,
        allowed="a key of the scene or the camera; list entries go by their name",
        fix=f"did you mean {' or '.join(hints)}?" if hints else "see `nightproof schema`",
    )


def set_value(
    raw: Mapping[str, Any], model: type[BaseModel], key: str, text: str
) -> dict[str, Any]:
    """Copy of `raw` with one value set; the tolerance written beside the old value goes with it.

    Parameters
    ----------
    raw
        Table as read.
    model
        What the table must say.
    key
        One of `valid_keys(model, raw)`.
    text
        The value as typed.

    Raises
    ------
    FileFormatError
        If a table on the way is not a table in `raw`.
    """
    result = copy.deepcopy(dict(raw))
    node: Any = result
    current: type[BaseModel] | None = model
    *path, last = key.split(".")
    entry: Any = None
    for step in path:
        if entry is not None:
            node = next(e for e in node if isinstance(e, dict) and e.get("name") == step)
            current, entry = pick_model(entry, node), None
            continue
        assert current is not None
        annotation, _ = strip_annotation(current.model_fields[step].annotation)
        entry = entry_annotation(annotation)
        node = node.setdefault(step, {})
        if entry is None:
            if not isinstance(node, dict):
                raise FileFormatError(
                    "This is not a table.", key=step, given=node, allowed="a table"
                )
            current = pick_model(annotation, node)
    assert current is not None
    value = parse_value(parse_fraction(key, text))
    if (number := re.fullmatch(r"(\w+)\[(\d+)\]", last)) is not None:
        last = number[1]
        point = _point(current, last, node.get(last))
        point[int(number[2])] = value
        node[last] = point
        return result
    annotation, _ = strip_annotation(current.model_fields[last].annotation)
    if annotation is str and not isinstance(value, str):
        value = text
    node[last] = value
    return result


BESIDE_CAMERA_M = [0.1, 0.0, 0.1]
"""Where a new illuminator hangs, from the lens: right, forward, up [m]."""


def with_new_entry(raw: Mapping[str, Any], key: str) -> dict[str, Any]:
    """Copy of `raw` with a new illuminator, if `key` is the `use` of one that is not there yet.

    It hangs beside the camera and points where the camera does; both can be set after it.
    """
    result = dict(raw)
    parts = key.split(".")
    entries = raw.get("illuminator", [])
    if len(parts) != 3 or (parts[0], parts[2]) != ("illuminator", "use") or not parts[1].strip():
        return result
    if not isinstance(entries, list) or not isinstance(raw.get("station"), Mapping):
        return result
    if any(isinstance(e, Mapping) and e.get("name") == parts[1] for e in entries):
        return result
    new = {
        "name": parts[1],
        "beside_camera_m": list(BESIDE_CAMERA_M),
        "aim_m": copy.deepcopy(raw["station"].get("aim_m")),
    }
    result["illuminator"] = [*entries, new]
    return result


def apply(raw: Mapping[str, Any], model: type[BaseModel], sets: Sequence[str]) -> dict[str, Any]:
    """Copy of `raw` with every `key=value` of `sets` applied in order.

    `illuminator.NAME.use=PROFILE` adds an illuminator where none has that name.

    Raises
    ------
    InputError
        For a text that is not `key=value` or a key the file cannot have.
    """
    result = dict(raw)
    for text in sets:
        key, value = split_set(text)
        result = with_new_entry(result, key)
        keys = valid_keys(model, result)
        if key not in keys:
            raise unknown_key(key, value, keys, renamed_keys(model, result))
        result = set_value(result, model, key, value)
    return result


def blame_sets(
    error: InputError, sets: Sequence[str], file: object, check_untouched: Callable[[], object]
) -> InputError:
    """The same error, saying which `--set` caused it and in which file the key stands.

    Parameters
    ----------
    error
        What went wrong with the values set.
    sets
        The `key=value` texts, without prefix.
    file
        File they were applied to.
    check_untouched
        Checks the file as it stands and raises where it is at fault itself.
    """
    if not sets or error.file != str(file):  # a profile that is used may be at fault itself
        return error
    keys = [split_set(text)[0] for text in sets]
    where = error.key or ""
    hit = [key for key in keys if where == key or where.startswith((f"{key}.", f"{key}["))]
    if not hit:
        try:
            check_untouched()
        except InputError:
            return error
    names = ", ".join(f"--set {key}" for key in (hit[-1:] or keys))
    return type(error)(
        error.problem,
        file=f"{names} (on {file})",
        key=error.key,
        given=error.given,
        allowed=error.allowed,
        fix=error.fix,
    )
