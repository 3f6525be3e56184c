"""The file of a survey: camera positions on a plan, their scenes, cameras and hours."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, model_validator

from simulator.checked_file import CheckedFile
from simulator.csv_table import csv_rows
from simulator.errors import FileFormatError
from simulator.fields import Angle, Coordinate, Entries, FileModel, Name
from simulator.files import SINGULAR, Kind, find
from simulator.reading import number_of

COLUMNS = ("name", "scene", "camera", "x_m", "y_m", "bearing_deg", "price", "set", "worst",
           "typical")  # fmt: skip
Sets = Entries[Annotated[str, Field(pattern=r"^[^=]+=.+$")]]


class Hours(FileModel):
    """Values of the worst and of the typical hour, each `key=value`."""

    worst: Sets = ()
    """Nothing: the scene as written."""
    typical: Sets = ()


class Position(FileModel):
    """One camera and its task."""

    name: Name
    scene: Annotated[str, Field(min_length=1)]
    """Bundled scene, or a scene file beside the site file."""
    camera: Annotated[str, Field(min_length=1)]
    """Bundled camera, or a profile beside the site file."""
    x_m: Coordinate
    """Place on the plan, to the right [m]."""
    y_m: Coordinate
    """Place on the plan, upwards [m]."""
    bearing_deg: Angle
    """Where the y axis of the scene points on the plan: 0 up, 90 to the right [deg]."""
    price: Annotated[float, Field(ge=0.0, le=1e9)] | None = None
    """Price of what stands there, in the user's currency."""
    set: Sets = ()
    """Values for both hours, each `key=value`."""
    worst: Sets | None = None
    """Values of its worst hour instead of those of the site."""
    typical: Sets | None = None
    """Values of its typical hour instead of those of the site."""


class SiteModel(FileModel):
    """A site with its camera positions."""

    title: Annotated[str, Field(min_length=1, max_length=120)]
    question: Annotated[str, Field(max_length=300)] = ""
    hours: Hours = Hours()
    position: Annotated[Entries[Position], Field(min_length=1, max_length=500)]

    @model_validator(mode="after")
    def _names(self) -> SiteModel:
        names = [p.name for p in self.position]
        twice = sorted({n for n in names if names.count(n) > 1})
        if twice:
            raise ValueError(f"position: the name {twice[0]!r} is used more than once")
        return self

    def sets(self, position: Position, hour: str) -> list[str]:
        """All values of a position at an hour, "worst" or "typical"."""
        own: Sets | None = getattr(position, hour)
        return [*position.set, *(getattr(self.hours, hour) if own is None else own)]


@dataclass(frozen=True, eq=False, repr=False)
class SiteFile(CheckedFile[SiteModel]):
    """A site from a TOML or CSV file; scenes and cameras that stand beside it get whole paths.

    A CSV has one row for each position with the columns name, scene, camera, x_m, y_m, bearing_deg
    and, as wished, price, set, worst, typical; several values in one cell are parted by ";". Its
    title is the name of the file.

    Examples
    --------
    >>> SiteFile.load("fruit-depot").model.position[0].name
    'gate'
    """

    model: SiteModel
    KIND = "sites"
    MODEL = SiteModel

    @classmethod
    def _find(cls, name_or_path: str) -> Path:
        return Path(name_or_path) if name_or_path.endswith(".csv") else super()._find(name_or_path)

    @classmethod
    def _read(cls, path: Path) -> dict[str, Any]:
        return _csv(path) if path.suffix == ".csv" else super()._read(path)

    @classmethod
    def _filled(cls, table: dict[str, Any], folder: Path, file: object) -> dict[str, Any]:
        positions = table.get("position")
        if not isinstance(positions, list):
            return table
        return {**table, "position": [_beside(one, folder, file) for one in positions]}


def _beside(position: Any, folder: Path, file: object) -> Any:
    """A position with whole paths of the scene and camera files that stand beside the site."""
    if not isinstance(position, Mapping):
        return position
    beside = dict(position)
    kinds: tuple[Kind, Kind] = ("scenes", "cameras")
    for kind in kinds:
        word = SINGULAR[kind]
        if isinstance(name := beside.get(word), str) and name:
            key = f"position.{position.get('name', '?')}.{word}"
            path = find(kind, name, beside=folder, file=file, key=key)
            if name.endswith(".toml"):
                beside[word] = str(path.resolve())
    return beside


def _csv(path: Path) -> dict[str, Any]:
    rows = [_row(row, path, line) for line, row in csv_rows(path, COLUMNS)]
    return {"title": path.stem.replace("-", " ").capitalize(), "position": rows}


def _row(row: Mapping[str, str], path: Path, line: int) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for column, value in row.items():
        if column in ("set", "worst", "typical"):
            if value:
                out[column] = [part.strip() for part in value.split(";") if part.strip()]
        elif column in ("x_m", "y_m", "bearing_deg", "price"):
            if not value and column == "price":
                continue
            try:
                out[column] = number_of(value)
            except ValueError:
                raise FileFormatError(
                    "This is not a number.", file=path, key=f"line {line}, {column}", given=value,
                    allowed="a number with a decimal point", fix="write a number",
                ) from None  # fmt: skip
        else:
            out[column] = value
    return out
