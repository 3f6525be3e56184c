"""What the annotations of a file model say: which tables it holds, what each value may be."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo


def strip_annotation(annotation: Any) -> tuple[Any, list[Any]]:
    """Type without its `Annotated` wrapping and without `| None`, and the metadata found there."""
    metadata: list[Any] = []
    while True:
        origin = get_origin(annotation)
        if origin is Annotated:
            annotation, *extra = get_args(annotation)
            for item in extra:
                metadata.extend(item.metadata if isinstance(item, FieldInfo) else [item])
        elif origin in (Union, UnionType):
            parts = [part for part in get_args(annotation) if part is not NoneType]
            if len(parts) != 1:
                return annotation, metadata
            annotation = parts[0]
        else:
            return annotation, metadata


def is_model(annotation: Any) -> bool:
    """Whether a stripped annotation is a table with a model of its own."""
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)


def member_models(annotation: Any) -> list[type[BaseModel]]:
    """Models that a stripped annotation may stand for: one, or those of a union by `kind`."""
    if is_model(annotation):
        return [annotation]
    if get_origin(annotation) in (Union, UnionType):
        return [part for part in get_args(annotation) if is_model(part)]
    return []


def is_list(annotation: Any) -> bool:
    """Whether a stripped annotation is a list of any length."""
    return get_origin(annotation) is list or get_args(annotation)[1:] == (Ellipsis,)


def entry_annotation(annotation: Any) -> Any | None:
    """Stripped annotation of the entries of a list of tables; None for anything else."""
    if not is_list(annotation):
        return None
    entry, _ = strip_annotation(get_args(annotation)[0])
    return entry if member_models(entry) else None


def kinds(annotation: Any) -> dict[str, type[BaseModel]]:
    """Models of a union by the word in their `kind`."""
    models: dict[str, type[BaseModel]] = {}
    for model in member_models(annotation):
        field = model.model_fields.get("kind")
        words = get_args(field.annotation) if field is not None else ()
        models.update(dict.fromkeys(words, model))
    return models


def pick_model(annotation: Any, raw: Any) -> type[BaseModel] | None:
    """Model that a raw table is meant for, chosen by its `kind` where there are several."""
    models = member_models(annotation)
    if len(models) == 1:
        return models[0]
    kind = raw.get("kind") if isinstance(raw, Mapping) else None
    return kinds(annotation).get(kind) if isinstance(kind, str) else None


@dataclass(frozen=True)
class Shape:
    """What one key of a table holds.

    Attributes
    ----------
    annotation
        Its type, stripped.
    metadata
        Everything its annotation carries beside the type.
    default
        What it is when not written.
    models
        Tables that it is itself, or that its entries are; empty for a plain value.
    listed
        Whether it is a list of tables.
    point
        Whether it is a list of a fixed number of values.
    """

    annotation: Any
    metadata: tuple[Any, ...]
    default: Any
    models: Mapping[str | None, type[BaseModel]]
    listed: bool
    point: bool

    def pick(self, raw: Any) -> type[BaseModel] | None:
        """The table that a raw one is meant for, by its `kind` where there are several."""
        kind = raw.get("kind") if isinstance(raw, Mapping) else None
        if None in self.models:
            return self.models[None]
        return self.models.get(kind) if isinstance(kind, str) else None


@lru_cache
def shapes(model: type[BaseModel]) -> dict[str, Shape]:
    """What every key of a table holds, in the order of the model."""
    by_key = {}
    for name, field in model.model_fields.items():
        annotation, inner = strip_annotation(field.annotation)
        entry = entry_annotation(annotation)
        table = annotation if entry is None else entry
        alone = member_models(table)
        models: dict[str | None, type[BaseModel]] = dict(kinds(table).items())
        if len(alone) == 1:
            models = {None: alone[0]}
        by_key[name] = Shape(
            annotation=annotation,
            metadata=(*field.metadata, *inner),
            default=field.default,
            models=models,
            listed=entry is not None,
            point=get_origin(annotation) is tuple and not is_list(annotation),
        )
    return by_key


def _range_words(metadata: Iterable[Any]) -> str:
    low: str | None = None
    high: str | None = None
    for item in metadata:
        if getattr(item, "ge", None) is not None:
            low = f"from {item.ge:g}"
        if getattr(item, "gt", None) is not None:
            low = f"above {item.gt:g}"
        if getattr(item, "le", None) is not None:
            high = f"{item.le:g}"
        if getattr(item, "lt", None) is not None:
            high = f"below {item.lt:g}"
    if high is None:
        return "" if low is None else f" {low}" if low.startswith("above") else f" {low} upwards"
    if low is None:
        return f" {high}" if high.startswith("below") else f" up to {high}"
    if low.startswith("from") and not high.startswith("below"):
        return f" {low} to {high}"
    return f" {low} and {high if high.startswith('below') else f'at most {high}'}"


def _text_words(metadata: Iterable[Any]) -> str:
    shortest = longest = None
    rule = ""
    for item in metadata:
        shortest = getattr(item, "min_length", None) or shortest
        longest = getattr(item, "max_length", None) or longest
        if getattr(item, "pattern", None):
            rule = f" matching {item.pattern}"
    if shortest and longest:
        return f"text of {shortest} to {longest} characters{rule}"
    if longest:
        return f"text of at most {longest} characters{rule}"
    return f"text{rule}"


def describe(annotation: Any, metadata: Iterable[Any] = ()) -> str:
    """What a field allows, in words, such as "a number from 0 to 200000"."""
    annotation, inner = strip_annotation(annotation)
    everything = [*metadata, *inner]
    origin, arguments = get_origin(annotation), get_args(annotation)
    words = "a table" if member_models(annotation) else "a value of another kind"
    if annotation is bool:
        words = "true or false"
    elif annotation is int:
        words = f"a whole number{_range_words(everything)}"
    elif annotation is float:
        words = f"a number{_range_words(everything)}"
    elif annotation is str:
        words = _text_words(everything)
    elif origin is Literal:
        words = one_of(arguments)
    elif is_list(annotation):
        some = any(getattr(item, "min_length", None) for item in everything)
        words = f"a list{' that is not empty' if some else ''}, each entry {describe(arguments[0])}"
    elif origin is tuple:
        words = f"a list of {len(arguments)} entries, each {describe(arguments[0])}"
    elif len(member_models(annotation)) > 1:
        words = f"a table whose kind is {one_of(kinds(annotation))}"
    return words


def one_of(words: Iterable[Any]) -> str:
    """Words to choose from, in words."""
    return "one of " + ", ".join(f'"{word}"' for word in words)
