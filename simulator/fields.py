"""Field types shared by every file model: strict, frozen, with a range and a unit in the name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, TypeVar

from pydantic import BaseModel, ConfigDict, Field, Strict


class FileModel(BaseModel):
    """A table of a TOML file: unknown keys refused, values frozen, no NaN or infinity."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, strict=True, allow_inf_nan=False, use_attribute_docstrings=True
    )
    renamed_keys: ClassVar[dict[str, str]] = {}
    """Former names of keys: by the old name the new one, or what to write in place of the old. They
    are refused with that in the message."""


def written(model: FileModel, names: tuple[str, ...]) -> list[str]:
    """Which of these keys say something else than they do when not written."""
    fields = type(model).model_fields
    return [name for name in names if getattr(model, name) != fields[name].default]


@dataclass(frozen=True)
class Beside:
    """Marks a text that may name a file beside the one it stands in.

    Attributes
    ----------
    what
        What that file is, as messages call it.
    ending
        Only a text that ends so names a file; empty if every one does.
    """

    what: str
    ending: str = ""


Entry = TypeVar("Entry")
Entries = Annotated[tuple[Entry, ...], Strict(False)]
"""A list of a file, which cannot be changed once it is checked."""
Coordinate = Annotated[float, Field(ge=-10_000.0, le=10_000.0)]
"""One world coordinate [m]."""
Point = Annotated[tuple[Coordinate, Coordinate, Coordinate], Strict(False)]
"""World point (x to the camera's right, y away from the camera, z up) [m]."""
GroundPoint = Annotated[tuple[Coordinate, Coordinate], Strict(False)]
"""Point on the ground (x to the camera's right, y away from the camera) [m]."""
Angle = Annotated[float, Field(ge=-360.0, le=360.0)]
"""Angle [deg]."""
Fraction = Annotated[float, Field(ge=0.0, le=1.0)]
"""Share between 0 and 1."""
Name = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[^.=\[\]]+$")]
"""Name of a list entry; dots, equal signs and brackets are kept for dotted keys."""
BeamAngle = Annotated[float, Field(ge=1.0, le=170.0)]
"""Full angle between the directions of half the peak intensity [deg]."""
Speed = Annotated[float, Field(ge=0.0, le=400.0)]
"""Speed [km/h]."""
MaterialName = Annotated[str, Beside("material", ".csv")]
"""Name of a material, or a CSV file of its reflectance."""
