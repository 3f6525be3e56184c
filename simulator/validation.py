"""Strict validation of what a file says, with errors a person can act on.

The first thing wrong becomes one `FileFormatError` that names the file, the dotted key, what was
given, what is allowed and how to fix it.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from simulator.annotations import (
    describe,
    is_list,
    is_model,
    kinds,
    member_models,
    one_of,
    pick_model,
    strip_annotation,
)
from simulator.errors import FileFormatError
from simulator.reading import LONGEST_KEY

Model = TypeVar("Model", bound=BaseModel)

_METRE: Final = "length"
_SECOND: Final = "time"
UNITS: Final[dict[str, tuple[str, float]]] = {
    # exact by definition (SI brochure; international yard and pound agreement of 1959)
    "km": (_METRE, 1e3),
    "m": (_METRE, 1.0),
    "cm": (_METRE, 1e-2),
    "mm": (_METRE, 1e-3),
    "um": (_METRE, 1e-6),
    "nm": (_METRE, 1e-9),
    "ft": (_METRE, 0.3048),
    "in": (_METRE, 0.0254),
    "h": (_SECOND, 3600.0),
    "min": (_SECOND, 60.0),
    "s": (_SECOND, 1.0),
    "ms": (_SECOND, 1e-3),
    "us": (_SECOND, 1e-6),
    "kmh": ("speed", 1.0),
    "mph": ("speed", 1.609344),
    "lux": ("illuminance", 1.0),
    "lx": ("illuminance", 1.0),
    "fc": ("illuminance", 1.0 / 0.3048**2),
    "w": ("power", 1.0),
    "mw": ("power", 1e-3),
    "kw": ("power", 1e3),
}
"""Unit suffixes of key names: what they measure, and their size in the first unit of its kind."""

COMMON_WORDS: Final[dict[str, str]] = {
    "wdr": "wide_range.method", "hdr": "wide_range.method", "blc": "exposure.metering",
    "ir": "illuminator", "infrared": "illuminator", "flash": "illuminator", "led": "lamp",
    "shutter": "exposure.shutter_s", "exposure_time": "exposure.shutter_s",
    "gain": "exposure.gain_db", "agc": "exposure.gain_max_db", "iso": "exposure.gain_db",
    "aperture": "lens.f_number", "iris": "lens.f_number", "f": "lens.f_number",
    "zoom": "lens.focal_length_mm", "focal_length": "lens.focal_length_mm",
    "focus": "station.focus_m", "height": "station.height_m",
    "lux": "natural_light.illuminance_lux", "light": "natural_light.illuminance_lux",
    "sun": "natural_light.sun_altitude_deg", "moon": "natural_light.moon_altitude_deg",
    "speed": "target.NAME.speed_kmh", "text": "target.NAME.text",
    "dnr": "processing.noise_reduction", "2dnr": "processing.noise_reduction",
    "3dnr": "processing.temporal_noise_reduction", "fps": "processing.frame_rate_hz",
    "bitrate": "stream.bitrate_kbit_s", "codec": "stream.codec",
    "resolution": "sensor.width_px", "pixels": "sensor.width_px",
    "fog": "air.visibility_m", "haze": "air.visibility_m", "rain": "air.rain_mm_per_h",
    "day": "day_night.mode", "night": "day_night.mode", "icr": "day_night.mode",
}  # fmt: skip
"""What people call things on the trade's sheets, and the key that sets it here."""
OTHER_WORDS: Final[dict[str, tuple[str, ...]]] = {
    "lorry": ("truck", "vehicle-front"), "hgv": ("truck", "vehicle-front"),
    "truck": ("vehicle-front",), "car": ("vehicle-front",), "vehicle": ("vehicle-front",),
    "licence-plate": ("plate",), "license-plate": ("plate",), "number-plate": ("plate",),
    "man": ("person",), "woman": ("person",), "human": ("person",), "pedestrian": ("person",),
    "head": ("face",), "box": ("parcel",), "package": ("parcel",), "board": ("sign",),
    "door": ("opening",), "window": ("opening",), "doorway": ("opening",),
    "floor": ("ground",), "road": ("ground",), "fence": ("gate",), "photo": ("photograph",),
    "picture": ("photograph",), "centre-weighted": ("centre",), "center": ("centre",),
    "h.264": ("h264",), "h.265": ("h265",), "hevc": ("h265",), "recognize": ("recognise",),
    "wdr": ("exposures", "backlight"), "ir": ("infrared",), "shutter": ("motion",),
    "noise": ("noise-reduction",), "nr": ("noise-reduction",), "blur": ("motion",),
    "dark": ("low-light", "starlight"), "night": ("low-light", "town-night"),
    "on": ("exposures", "automatic"), "mono": ("night",),
    "color": ("colour", "day"), "colour": ("day",), "b/w": ("night",),
}  # fmt: skip
"""Other words for kinds and choices, each with those of ours it may stand for."""
WORDS_IN_NAMES: Final[dict[str, tuple[str, ...]]] = {
    "ir": ("infrared",), "wdr": ("wide", "log"), "hdr": ("wide", "log"), "ptz": ("dome", "zoom"),
    "speed-dome": ("dome",), "anpr": ("plate",), "lpr": ("plate",), "alpr": ("plate",),
    "bodycam": ("body",), "body-cam": ("body",), "4k": ("8mp",), "uhd": ("8mp",),
    "1080p": ("2mp",), "full-hd": ("2mp",), "720p": ("1mp",), "starlight": ("lowlight",),
    "low-light": ("lowlight",), "panoramic": ("overview",), "bullet": ("fixed",),
    "cvbs": ("analogue",), "pal": ("analogue",), "ntsc": ("analogue",), "door": ("doorway",),
    "entrance": ("doorway",), "gate": ("gate",), "dark": ("dark", "night", "lowlight"),
}  # fmt: skip
"""Words of the trade, and the parts of bundled names that tell of the same."""
SPOKEN: Final[dict[str, str]] = {
    "kmh": "km/h", "um": "µm", "deg": "degrees", "w_per_sr": "W/sr", "hz": "Hz", "db": "dB",
    "e": "electrons", "c": "°C", "k": "K", "px": "pixels", "w": "W", "us": "µs",
    "e_per_s": "electrons a second", "kbit_s": "kbit/s", "mm_per_h": "mm/h", "m2": "m²",
    "cd_m2": "cd/m²", "h": "hours",
}  # fmt: skip
"""Units as people write them, by the suffix of a key."""
_SUFFIXES: Final = (*UNITS, "deg", "rad", "hz", "db", "cd", "lm", "e", "px", "c", "k", "w_per_sr",
                    "e_per_s", "kbit_s", "mm_per_h", "cd_m2")  # fmt: skip


def nearest(word: str, words: Iterable[Any], count: int = 1) -> list[str]:
    """Words most like `word`, best first; empty where none is close."""
    return difflib.get_close_matches(word[:LONGEST_KEY], list(map(str, words)), count, cutoff=0.6)


def nearest_name(word: str, names: Iterable[str], count: int = 3) -> list[str]:
    """Names of files most like a word, else those that speak of it; empty where none does.

    Examples
    --------
    >>> nearest_name("ptz", ["overview-8mp", "zoom-2mp-dome"])
    ['zoom-2mp-dome']
    """
    known = list(names)
    close = nearest(word, known, count)
    if close:
        return close
    plain = word.strip().lower().replace("_", "-").replace(" ", "-")
    parts = WORDS_IN_NAMES.get(plain, (plain,))
    return [name for name in known if set(parts) & set(name.split("-"))][:count]


def nearest_choice(word: str, choices: Iterable[Any]) -> list[str]:
    """The choice that a word means or is nearest to; empty where none is close."""
    known = list(map(str, choices))
    for meant in OTHER_WORDS.get(word.strip().lower(), ()):
        if meant in known:
            return [meant]
    return nearest(word.strip().lower(), known)


def spoken(unit: str) -> str:
    """A unit as people write it, by the suffix of a key.

    Examples
    --------
    >>> spoken("kmh"), spoken("mm")
    ('km/h', 'mm')
    """
    return SPOKEN.get(unit, unit.replace("_", " "))


def _hop(raw: Any, step: Any) -> Any:
    if isinstance(raw, Mapping):
        return raw.get(step)
    if isinstance(raw, list | tuple) and isinstance(step, int) and step < len(raw):
        return raw[step]
    return None


class _Place:
    """Where an error stands: dotted key, the field there, and the model around it."""

    def __init__(self, model: type[BaseModel], raw: Any, loc: tuple[Any, ...]) -> None:
        self.key = ""
        self.annotation: Any = model
        self.metadata: list[Any] = []
        self.owner: type[BaseModel] | None = None
        self.leaf = ""
        current: type[BaseModel] | None = model
        for step in loc:
            if isinstance(step, int):
                raw = _hop(raw, step)
                name = raw.get("name") if isinstance(raw, Mapping) else None
                self.key += f".{name}" if isinstance(name, str) and name else f"[{step}]"
                arguments = get_args(self.annotation)
                at = 0 if is_list(self.annotation) else min(step, len(arguments) - 1)
                inner = arguments[at] if arguments else None
                self.annotation, self.metadata = strip_annotation(inner)
                current = pick_model(self.annotation, raw)
            elif current is not None and len(member_models(self.annotation)) > 1:
                current = kinds(self.annotation).get(step, current)  # the tag of a union
                self.annotation = current
            else:
                raw = _hop(raw, step)
                self.key += f".{step}" if self.key else str(step)
                self.leaf = str(step)
                self.owner = current
                field = current.model_fields.get(self.leaf) if current else None
                if field is None:
                    self.annotation, self.metadata, current = None, [], None
                else:
                    self.annotation, extra = strip_annotation(field.annotation)
                    self.metadata = [*field.metadata, *extra]
                    current = pick_model(self.annotation, raw)
        self.model = current


def _split_unit(key: str) -> tuple[str, str]:
    for unit in sorted(_SUFFIXES, key=len, reverse=True):
        if key.endswith(f"_{unit}"):
            return key[: -len(unit) - 1], unit
    return key, ""


def _all_leaves(model: type[BaseModel], prefix: str = "") -> Iterator[tuple[str, str]]:
    """(table, key) of the plain tables of a model, for a key that stands in the wrong table."""
    for name, field in model.model_fields.items():
        annotation, _ = strip_annotation(field.annotation)
        if is_model(annotation):
            yield from _all_leaves(annotation, f"{prefix}{name}.")
        yield prefix.rstrip("."), name


def fix_unknown_key(owner: type[BaseModel], key: str, given: Any, root: type[BaseModel]) -> str:
    """How to fix an unknown key: another unit, another table, or the nearest valid key."""
    valid = list(owner.model_fields)
    stem, unit = _split_unit(key)
    for candidate in valid:
        its_stem, its_unit = _split_unit(candidate)
        if its_unit and its_stem == stem and its_unit != unit:
            known = UNITS.get(unit), UNITS.get(its_unit)
            number = isinstance(given, int | float) and not isinstance(given, bool)
            if number and known[0] and known[1] and known[0][0] == known[1][0]:
                value = given * known[0][1] / known[1][1]
                return f"the unit differs: write {candidate} = {value:.6g}"
            return f"the unit differs: write {candidate}, in {spoken(its_unit)}"
    if hints := nearest(key, valid):
        return f"did you mean {hints[0]}?"
    for table, name in _all_leaves(root):
        if name == key and table:
            return f"{key} belongs under [{table}]"
    for candidate in valid:
        if stem and _split_unit(candidate)[0].split("_")[0] == stem.split("_")[0]:
            return f"did you mean {candidate}?"
    return "remove it, or write one of the allowed keys"


def renamed(owner: type[BaseModel] | None) -> dict[str, str]:
    """Former names of the keys of a model, each with what to write now (see `FileModel`)."""
    return getattr(owner, "renamed_keys", {})


def _unknown_key(place: _Place, given: Any, file: object, root: type[BaseModel]) -> FileFormatError:
    owner = place.owner or root
    if (new := renamed(owner).get(place.leaf)) is not None:
        return FileFormatError(
            f"The key {place.leaf!r} has a new name.",
            file=file,
            key=place.key,
            given=given,
            fix=f"write {new}",
        )
    return FileFormatError(
        f"Unknown key {place.leaf!r}.",
        file=file,
        key=place.key,
        given=given,
        allowed="the keys " + ", ".join(owner.model_fields),
        fix=fix_unknown_key(owner, place.leaf, given, root),
    )


def _rule_error(place: _Place, message: str, raw: Any, file: object) -> FileFormatError:
    """Error of a rule that spans several values of a table; its message may open with a key."""
    message = message.removeprefix("Value error, ")
    model = place.model
    key = place.key
    given: Any = None
    opening = re.match(r"([a-z_]+(?:\.[^:]*)?): (.*)", message, re.S)
    if opening and model is not None and opening[1].split(".")[0] in model.model_fields:
        key, message = f"{key}.{opening[1]}" if key else opening[1], opening[2]
    elif model is not None and (word := message.split(" ", 1)[0]) in model.model_fields:
        key = f"{key}.{word}" if key else word
    for step in key.split(".") if key else []:
        if isinstance(raw, list):
            raw = next((e for e in raw if isinstance(e, Mapping) and e.get("name") == step), None)
        else:
            raw = _hop(raw, step)
    scalars = isinstance(raw, list) and not any(isinstance(e, Mapping | list) for e in raw)
    if scalars or not isinstance(raw, Mapping | list):
        given = raw
    opens_with_key = "_" in message.split(" ", 1)[0]
    problem = message if opens_with_key else message[:1].upper() + message[1:]
    return FileFormatError(f"{problem.rstrip('.')}.", file=file, key=key or None, given=given)


def _may_be_off(place: _Place) -> bool:
    """Whether a key may be left out and then does nothing."""
    field = place.owner.model_fields.get(place.leaf) if place.owner is not None else None
    return field is not None and not field.is_required() and field.default is None


def _explain(error: ValidationError, model: type[BaseModel], raw: Any, file: object) -> Exception:
    details = error.errors(include_url=False)
    # an unknown key often explains the missing one beside it, so it is told first
    first = next((d for d in details if d["type"] == "extra_forbidden"), details[0])
    loc, given, kind = first["loc"], first["input"], first["type"]
    if kind == "missing" and isinstance(loc[-1], int):  # a list that is too short
        loc, kind = loc[:-1], "length"
    place = _Place(model, raw, loc)
    if kind == "extra_forbidden":
        return _unknown_key(place, given, file, model)
    if kind == "value_error":
        return _rule_error(place, first["msg"], raw, file)
    allowed = describe(place.annotation, place.metadata)
    if kind == "missing":
        what = f"the key {place.leaf!r}" if place.owner is not None else "a value"
        fix = f"add {place.leaf} = ..." if place.owner is not None else None
        return FileFormatError(
            f"Missing: {what} must be written.",
            file=file,
            key=place.key or None,
            given="nothing",
            allowed=allowed,
            fix=fix,
        )
    if kind in {"union_tag_not_found", "union_tag_invalid"}:
        words = kinds(place.annotation)
        given = given.get("kind") if isinstance(given, Mapping) else given
        hints = nearest_choice(given, words) if isinstance(given, str) else []
        return FileFormatError(
            "Unknown kind." if given is not None else "The kind is missing.",
            file=file,
            key=f"{place.key}.kind",
            given=given if given is not None else "nothing",
            allowed=one_of(words),
            fix=f'did you mean "{hints[0]}"?' if hints else None,
        )
    if _may_be_off(place):
        allowed += ", or none to switch it off (leave it out of a file)"
    problem = "This value is not allowed."
    fix = None
    if kind == "finite_number":
        problem = "NaN and infinity are not numbers that a scene or a camera can have."
        fix = "write a finite number"
    elif kind in {"length", "too_long", "too_short"}:
        problem = "This list has the wrong length."
    elif kind == "literal_error":
        literals = get_args(place.annotation)
        hints = nearest_choice(given, literals) if isinstance(given, str) else []
        fix = f'did you mean "{hints[0]}"?' if hints else None
    elif kind in {"greater_than_equal", "greater_than", "less_than_equal", "less_than"}:
        problem = "This value is out of range."
        unit = _split_unit(place.leaf)[1]
        fix = f"check the unit: {place.leaf} is in {spoken(unit)}" if unit else None
    elif kind.endswith("_type") or kind.endswith("_parsing"):
        problem = "This value is of the wrong type."
        if isinstance(given, str):
            fix = _fix_of_text(given, place.leaf, allowed)
    return FileFormatError(
        problem, file=file, key=place.key or None, given=given, allowed=allowed, fix=fix
    )


def _fix_of_text(given: str, leaf: str, allowed: str) -> str | None:
    """How to fix a text where something else belongs: a number, perhaps with its unit beside it."""
    if re.fullmatch(r"\s*[-+]?[\d.]+\s*", given):
        return "write the number without quotation marks"
    if "number" in allowed and re.match(r"\s*(f/)?[-+]?[\d.,/]+\s*\S", given):
        unit = _split_unit(leaf)[1]
        return "write the number alone" + (f", in {spoken(unit)}" if unit else "")
    return None


def validate(model_class: type[Model], raw: Mapping[str, Any], file: object) -> Model:
    """Model from plain values.

    Parameters
    ----------
    model_class
        What the file must say.
    raw
        Plain values, without tolerances (see `simulator.files.split_tolerances`).
    file
        Where they come from, for the message.

    Raises
    ------
    FileFormatError
        For the first thing wrong.
    """
    try:
        return model_class.model_validate(raw)
    except ValidationError as error:
        raise _explain(error, model_class, raw, file) from None


def json_schema(model_class: type[BaseModel]) -> dict[str, Any]:
    """JSON Schema (2020-12) of a file.

    A number may also be a table with its tolerance; a table with `use` may leave anything out.
    """

    def widen(node: Any) -> Any:
        if isinstance(node, list):
            return [widen(item) for item in node]
        if not isinstance(node, dict):
            return node
        if node.get("type") not in ("number", "integer"):
            node = {key: widen(value) for key, value in node.items()}
            if "use" in node.get("properties", {}) and "required" in node:
                needed = {"required": node.pop("required")}
                node |= {"if": {"not": {"required": ["use"]}}, "then": needed}
            return node
        outer = {k: node[k] for k in ("title", "description", "default") if k in node}
        number = {k: v for k, v in node.items() if k not in outer}
        table = {
            "type": "object",
            "properties": {
                "value": number,
                "tolerance": {"type": "number", "minimum": 0},
                "source": {"enum": ["measured", "datasheet", "assumed"]},
            },
            "required": ["value", "tolerance", "source"],
            "additionalProperties": False,
        }
        return {**outer, "anyOf": [number, table]}

    schema: dict[str, Any] = widen(model_class.model_json_schema())
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
