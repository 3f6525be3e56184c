"""What a key of a file or of a result means."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import BaseModel

from simulator.annotations import Shape, describe, shapes
from simulator.camera.model import CameraModel
from simulator.errors import NameNotFoundError
from simulator.judge.result import Verdict
from simulator.scene.model import SceneModel
from simulator.studies.short_names import SHORT_NAMES, ShortName
from simulator.studies.survey.site_file import SiteModel
from simulator.validation import COMMON_WORDS, nearest

ROOTS: dict[str, type[BaseModel]] = {
    "scene": SceneModel,
    "camera": CameraModel,
    "site": SiteModel,
    "verdict.json": Verdict,
}
"""What can be explained beside short names, by where it stands."""


@dataclass(frozen=True)
class Explained:
    """One key.

    Attributes
    ----------
    where
        "scene", "camera", "site", "verdict.json" or "short name".
    key
        Dotted key; `NAME` stands for the name of a list entry. Or the short name.
    meaning
        What it is, with its unit.
    allowed
        What may be written there, in words.
    default
        What holds where it is not written; None if it must be.
    """

    where: str
    key: str
    meaning: str
    allowed: str
    default: str | None

    def text(self) -> str:
        """The whole, in labelled lines."""
        lines = [f"{self.key} ({self.where}): {self.meaning}"]
        if self.where != "verdict.json":
            lines.append(f"  allowed: {self.allowed}")
            if self.default is not None:
                lines.append(f"  default: {self.default}")
        return "\n".join(lines)


def explain(key: str) -> list[Explained]:
    """What a key of a scene, camera, site or verdict.json means.

    Parameters
    ----------
    key
        Dotted key as `--set` takes it (the name of a list entry, or any word, in its place), its
        last part alone, a short name of `--set`, or a common word of the trade.

    Returns
    -------
    Every key that it may be: of a short name itself first and what it sets, then in the order of
    the files.

    Raises
    ------
    InputError
        For a key that nothing has; the nearest ones are told.

    References
    ----------
    The texts are those of the file models, which `nightproof schema` prints too.

    Examples
    --------
    >>> [found] = explain("station.height_m")
    >>> found.allowed
    'a number from 0.05 to 200'
    >>> [found.key for found in explain("shutter")]
    ['shutter', 'exposure.shutter_s', 'sensor.shutter']
    """
    asked = key.strip()
    short = SHORT_NAMES.get(asked.lower())
    known = [] if short is None else _of_short(short)
    entries = known + [one for one in _named(asked) if one not in known]
    if entries:
        return entries
    if asked.lower() in COMMON_WORDS:
        return _named(COMMON_WORDS[asked.lower()])
    every = list(keys())
    hints = nearest(asked, [one.key for one in every], count=2)
    last = asked.rpartition(".")[2]
    names = {one.key.rpartition(".")[2]: one.key for one in every}
    hints = hints or [names[name] for name in nearest(last, names, count=3)]
    raise NameNotFoundError(
        f"Nothing has the key {key!r}.", argument="key", given=key,
        allowed="a key of a scene, camera, site or verdict.json, or a short name of --set",
        fix=f"did you mean {' or '.join(hints)}?" if hints else "see `nightproof schema scene`",
    )  # fmt: skip


def _of_short(short: ShortName) -> list[Explained]:
    """A short name and the keys that it stands for."""
    meaning = short.meaning.replace("`", "")
    unit = f", in {short.unit}" if short.unit else ""
    own = Explained(
        "short name", short.name, f"{meaning}.", f"--set {short.name}=VALUE{unit}", None
    )
    stands_for = re.findall(r"`(\w+(?:\.\w+)+)`", short.meaning)
    return [own, *(one for key in stands_for for one in _named(key))]


def _named(asked: str) -> list[Explained]:
    """Every key of that name, or of that last part."""
    every = list(keys())
    where, _, rest = asked.partition(".")
    if where in ROOTS and rest:
        every, asked = [one for one in every if one.where == where], rest
    entries = [one for one in every if _matches(asked, one.key)]
    if not entries:
        entries = [one for one in every if one.key.rpartition(".")[2] == asked]
    return entries


def _matches(asked: str, key: str) -> bool:
    """Whether a dotted key is meant; any word stands for the name of a list entry."""
    a, b = asked.split("."), key.split(".")
    return len(a) == len(b) and all(y in (x, "NAME") for x, y in zip(a, b, strict=True))


def keys() -> Iterator[Explained]:
    """Every key of every file, in the order of the models."""
    for where, root in ROOTS.items():
        yield from _of_model(where, root, "", ())


def _of_model(
    where: str, model: type[BaseModel], prefix: str, above: tuple[type[BaseModel], ...]
) -> Iterator[Explained]:
    if model in above:
        return
    for name, shape in shapes(model).items():
        field = model.model_fields[name]
        default = None if field.is_required() else _default(field.get_default())
        key = f"{prefix}{name}"
        meaning = " ".join((field.description or _of_table(name, shape)).split())
        yield Explained(where, key, meaning, describe(field.annotation, field.metadata), default)
        entry = ".NAME." if shape.listed and where != "verdict.json" else "."
        for inner in dict.fromkeys(shape.models.values()):
            yield from _of_model(where, inner, f"{key}{entry}", (*above, model))


_PLAIN = {
    "kind": "What kind of thing it is.",
    "name": "Its name.",
    "title": "What it is, in a line.",
    "question": "What is asked, in a sentence.",
    "scene": "Name of the scene.",
    "camera": "Name of the camera.",
    "typical": "What is set at the typical hour; nothing: the scene as written.",
    "targets": "Every target of the scene, with its figures.",
    "distance_m": "Distance from the lens [m].",
    "density_class": "Class of pixel density (IEC 62676-4:2014).",
    "density_class_2025": "Class of pixel density (IEC 62676-4:2025).",
    "contrast_to_surround": "Contrast of the target to what surrounds it.",
    "clipped_fraction": "Share of the target that is white without drawing.",
    "crushed_fraction": "Share of the target that is black without drawing.",
    "text": "Characters of the target.",
    "wanted_probability": "Target probability that the task succeeds.",
    "verdict": "legible, marginal or not legible.",
    "probability_sampling_low": "Low end of the interval from the number of pictures alone.",
    "value": "The number itself.",
    "tolerance": "Half width of the interval that the number lies in.",
    "named_text_probability_low": "Low end of the interval of that probability.",
    "character": "The character that was read instead.",
    "lever": "What is changed.",
    "unit": "Unit of both values.",
    "probability": "Probability with the change.",
    "side_effects": "What else the change does.",
    "cautions": "What has to be minded.",
    "customer": "The answer in a sentence without figures of the trade.",
    "engineer": "The answer with its figures and units.",
    "conditions": "What was assumed.",
    "at_least": "Figures at which the search ended while the task still succeeded.",
    "to_settle": "What must be settled before anything is bought.",
}
"""Meanings of keys that no model tells beside the key, by their last part."""


def _of_table(name: str, shape: Shape) -> str:
    """Meaning of a key whose model says nothing: that of its table, or a plain word."""
    for model in shape.models.values():
        first = (model.__doc__ or "").partition("\n\n")[0]
        if name not in _PLAIN and first:
            return first
    return _PLAIN.get(name, "")


def _default(value: object) -> str:
    if value is None or value == ():
        return "nothing"
    if isinstance(value, bool):
        return str(value).lower()
    return "its own defaults" if isinstance(value, BaseModel) else str(value)
