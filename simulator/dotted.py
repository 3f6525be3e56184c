"""Values set from outside a file by their dotted key, such as `target.plate.speed_kmh=15`."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from pydantic import BaseModel

from simulator.annotations import Shape, shapes
from simulator.errors import FileFormatError, InputError
from simulator.plain import plain
from simulator.validation import COMMON_WORDS, nearest, renamed

FORM = "key=value, such as target.plate.speed_kmh=15"
UNDERSCORED = re.compile(r"[-+\d._eE]*\d_[-+\d._eE]*")
"""Numbers as TOML and Python take them and nobody else writes them."""


class Change(NamedTuple):
    """One value to be set; a `text` is read as TOML, None takes the key out of the file."""

    key: str
    value: Any
    text: bool = False


Changes = Mapping[str, Any] | str | Iterable[str] | Iterable[Change]
"""Values by dotted key, or `key=value` texts."""


def changes_of(*given: Changes | Change) -> list[Change]:
    """What is to be set, in order.

    Raises
    ------
    InputError
        For what is neither a table nor `key=value`.
    """
    out: list[Change] = []
    for one in given:
        if isinstance(one, Change):
            out.append(one)
        elif isinstance(one, str):
            out.append(Change(*split_set(one), text=True))
        elif isinstance(one, Mapping):
            for key, value in one.items():
                if not isinstance(key, str):
                    raise _not_a_change(key)
                out.append(Change(key.strip(), plain(value)))
        elif isinstance(one, Iterable):
            for entry in one:
                out += changes_of(entry)
        else:
            raise _not_a_change(one)
    return out


def _not_a_change(given: object) -> InputError:
    return InputError(
        "This is not a key and a value.",
        argument="set",
        given=given,
        allowed=f"{{key: value}}, or a text {FORM}",
    )


def valid_keys(model: type[BaseModel] | None, raw: Any, prefix: str = "") -> list[str]:
    """Every dotted key that can be set; list entries go by the names in `raw`, the numbers of a
    point by `[index]`."""
    keys: list[str] = []
    for table, inner, place in tables(model, raw, prefix):
        for name, shape in shapes(table).items():
            keys.append(f"{place}{name}")
            written = inner.get(name) if isinstance(inner, Mapping) else None
            if shape.point:
                count = len(_point(shape, written))
                keys += [f"{place}{name}[{index}]" for index in range(count)]
            elif shape.listed:
                keys += [f"{place}{name}.{item['name']}" for item in _named_entries(written)]
    return keys


def _point(shape: Shape, written: Any) -> list[Any]:
    """The numbers of a point as written or, where it is not, as it is taken."""
    now = shape.default if written is None else written
    return list(now) if isinstance(now, list | tuple) else []


def tables(
    model: type[BaseModel] | None, raw: Any, prefix: str = ""
) -> Iterator[tuple[type[BaseModel], Any, str]]:
    """Every table that a raw table holds: its model, its raw values, and how its keys begin."""
    if model is None:
        return
    yield model, raw, prefix
    for name, shape in shapes(model).items():
        if not shape.models:
            continue
        inner = raw.get(name) if isinstance(raw, Mapping) else None
        if shape.listed:
            for item in _named_entries(inner):
                yield from tables(shape.pick(item), item, f"{prefix}{name}.{item['name']}.")
        else:
            yield from tables(shape.pick(inner), inner, f"{prefix}{name}.")


def _named_entries(entries: Any) -> list[Mapping[str, Any]]:
    return [
        item
        for item in (entries if isinstance(entries, list) else [])
        if isinstance(item, Mapping) and isinstance(item.get("name"), str)
    ]


def renamed_keys(model: type[BaseModel], raw: Any) -> dict[str, str]:
    """Dotted keys by their former names, each with what to write now."""
    return {
        f"{place}{old}": f"{place}{new}"
        for table, _, place in tables(model, raw)
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
            argument="set",
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
    """TOML value of a text; what is not TOML, and a number with underscores, is a plain string."""
    if UNDERSCORED.fullmatch(text.strip()):
        return text
    try:
        table = tomllib.loads(f"v = {text}")
    except (ValueError, RecursionError):  # no TOML, too long a number, too deep
        return text
    return table["v"] if set(table) == {"v"} else text


def unknown_key(
    key: str, given: object, keys: Sequence[str], new_names: Mapping[str, str]
) -> InputError:
    """Error for a key that nothing knows, with its new name or the nearest valid ones."""
    if (new := new_names.get(key)) is not None:
        return InputError(
            f"The key {key!r} has a new name.",
            argument=f"set {key}",
            key=key,
            given=given,
            fix=f"write {new}",
        )
    hints = nearest(key, keys, count=3)
    last = key.rsplit(".", 1)[-1]
    if (meant := COMMON_WORDS.get(last.lower())) is not None and last not in keys:
        hints = [meant]
    if not hints:
        hints = [k for k in keys if k.rsplit(".", 1)[-1] == last][:3]
    return InputError(
        f"Unknown key {key!r}.",
        argument=f"set {key}",
        key=key,
        given=given,
        allowed="a key of the scene or the camera; list entries go by their name",
        fix=f"did you mean {' or '.join(hints)}?" if hints else "see `nightproof schema`",
    )


def _set(raw: dict[str, Any], model: type[BaseModel], change: Change) -> None:
    """Set one value in place; the tolerance written beside the old value goes with it."""
    node: Any = raw
    current: type[BaseModel] | None = model
    *path, last = change.key.split(".")
    listed: Shape | None = None
    for step in path:
        if listed is not None:
            node = next(e for e in _named_entries(node) if e["name"] == step)
            current, listed = listed.pick(node), None
            continue
        assert current is not None
        shape = shapes(current)[step]
        node = node.setdefault(step, [] if shape.listed else {})
        if shape.listed:
            listed = shape
        elif isinstance(node, dict):
            current = shape.pick(node)
        else:
            raise FileFormatError("This is not a table.", key=step, given=node, allowed="a table")
    value = parse_value(parse_fraction(change.key, change.value)) if change.text else change.value
    if listed is not None:
        _set_entry(node, change.key, last, value)
        return
    assert current is not None
    name, _, index = last.rstrip("]").partition("[")
    shape = shapes(current)[name]
    if index:
        point = _point(shape, node.get(name))
        point[int(index)] = value
        node[name] = point
    elif value is None or (change.text and value == "none" and _is_switch(shape)):
        node.pop(name, None)
    else:
        text = change.text and shape.annotation is str and not isinstance(value, str)
        node[name] = change.value if text else value


def _is_switch(shape: Shape) -> bool:
    """Whether a key is off where it is not written, and "none" is no value of its own."""
    return shape.default is None and shape.annotation is not str


def _set_entry(entries: list[Any], key: str, name: str, value: Any) -> None:
    """Put a whole entry in the place of the one of that name, or take it out."""
    if value is not None and not isinstance(value, Mapping):
        raise FileFormatError(
            "This is not a table.", key=key, given=value, allowed="a table",
            fix=f"set a key of it, {key}.KEY=VALUE; a light is switched off by {key}.on=false",
        )  # fmt: skip
    for index, old in enumerate(entries):
        if isinstance(old, Mapping) and old.get("name") == name:
            entries[index : index + 1] = [] if value is None else [{"name": name, **value}]
            return


BESIDE_CAMERA_M = [0.1, 0.0, 0.1]
"""Where a new illuminator hangs, from the lens: right, forward, up [m]."""


def with_new_entry(
    raw: Mapping[str, Any], model: type[BaseModel], change: Change
) -> dict[str, Any]:
    """Copy of `raw` with a new entry, if the change is a whole entry, or the `use` of an
    illuminator, that is not there yet.

    An illuminator hangs beside the camera and points where the camera does; both can be set after
    it.
    """
    result = dict(raw)
    list_name, _, rest = change.key.partition(".")
    name, _, last = rest.partition(".")
    shape = shapes(model).get(list_name)
    entries = raw.get(list_name, [])
    if shape is None or not shape.listed or not isinstance(entries, list):
        return result
    if not name.strip() or change.value is None:
        return result
    if any(isinstance(e, Mapping) and e.get("name") == name for e in entries):
        return result
    if not last:
        result[list_name] = [*entries, {"name": name}]
    elif (list_name, last) == ("illuminator", "use") and isinstance(raw.get("station"), Mapping):
        aim = copy.deepcopy(raw["station"].get("aim_m"))
        new = {"name": name, "beside_camera_m": list(BESIDE_CAMERA_M), "aim_m": aim}
        result[list_name] = [*entries, new]
    return result


def apply(
    raw: Mapping[str, Any],
    model: type[BaseModel],
    changes: Iterable[Change],
    profiles: Mapping[str, frozenset[str]] | None = None,
) -> dict[str, Any]:
    """Copy of a table with values set in order.

    Parameters
    ----------
    raw
        Table as read, or as a checked model gives it.
    model
        What the table must say.
    changes
        Keys are dotted, list entries go by their name. A table for a list entry that is not there
        adds it, and `illuminator.NAME.use=PROFILE` adds an illuminator.
    profiles
        By the first part of a key, what a profile named by `use` says. Another profile takes away
        what the old one said, but not what was set before it among these changes.

    Raises
    ------
    InputError
        For a key the file cannot have.
    """
    result = copy.deepcopy(dict(raw))
    done: list[str] = []
    for change in changes:
        result = with_new_entry(result, model, change)
        keys = valid_keys(model, result)
        if change.key not in keys:
            raise unknown_key(change.key, change.value, keys, renamed_keys(model, result))
        _set(result, model, change)
        prefix, _, last = change.key.rpartition(".")
        if last == "use" and change.value is not None:
            said = (profiles or {}).get(prefix.split(".")[0], frozenset())
            for name in sorted(said):
                if (key := f"{prefix}.{name}") in keys and key not in done:
                    _set(result, model, Change(key, None))
        done.append(change.key)
    return result


def blamed(error: InputError, changes: Sequence[Change], file: object) -> InputError:
    """The same error, saying which of the values set caused it.

    Parameters
    ----------
    error
        What went wrong once they were set.
    changes
        The values set.
    file
        File they were set in; a profile they name may be at fault itself.
    """
    if error.argument is not None or error.file != (None if file is None else str(file)):
        return error
    hit = hits(error, changes)
    return error.but(argument="set " + ", ".join(hit[-1:] or [change.key for change in changes]))


def hits(error: InputError, changes: Sequence[Change]) -> list[str]:
    """Keys among those set that an error is about."""
    where = error.key or ""
    keys = [change.key for change in changes]
    found = [key for key in keys if where == key or where.startswith((f"{key}.", f"{key}["))]
    # a rule of a whole table is broken by what was set in it
    return found or [key for key in keys if where and key.startswith(f"{where}.")]
