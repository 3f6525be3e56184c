"""What a scene file says. Lengths in metres, angles in degrees, everything in SI-derived units.

World axes: x to the camera's right, y away from the camera along the ground, z up; the origin
is the ground under the camera. `facing_deg = 0` looks back at the camera and turns towards +x
as it grows; `heading_deg` likewise, so heading 0 comes towards the camera.
"""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, ValidationError, model_validator

from simulator.errors import InputError
from simulator.fields import Entries, FileModel, GroundPoint, Point
from simulator.scene.model_air import AirModel
from simulator.scene.model_bodies import Body, Room
from simulator.scene.model_light import Illuminator, Lamp, NaturalLight
from simulator.scene.model_photo import SitePhoto
from simulator.scene.model_targets import Parcel, Sign
from simulator.scene.model_things import (
    Gate,
    Ground,
    Plate,
    Surface,
    Target,
    VehicleFront,
    VehicleRear,
    VehicleSide,
    Wall,
)
from simulator.scene.photo_match import station_of

__all__ = [
    "AirModel",
    "Gate",
    "Ground",
    "Illuminator",
    "Lamp",
    "NaturalLight",
    "Plate",
    "SceneModel",
    "Station",
    "Surface",
    "Target",
    "Task",
    "VehicleFront",
    "VehicleRear",
    "VehicleSide",
    "Wall",
]


MOST_THINGS = 200
"""Surfaces, and targets, of a scene (chosen by us): a full car park; time grows with their number,
and each is judged."""
MOST_LIGHTS = 200
"""Lamps, and illuminators, of a scene (chosen by us); each is a picture of its own in memory."""


class Station(FileModel):
    """Where the camera stands and looks."""

    renamed_keys: ClassVar[dict[str, str]] = {
        "setback_m": "ground_position_m = [x, y], with y = -setback_m",
        "sideways_m": "ground_position_m = [x, y], with x = sideways_m",
    }

    height_m: Annotated[float, Field(ge=0.05, le=200.0)]
    """Height of the lens above the ground [m]."""
    aim_m: Point
    """World point at the middle of the picture [m]."""
    ground_position_m: GroundPoint = (0.0, 0.0)
    """Point of the ground that the lens is above [m]; y below 0 is back from the origin."""
    focus_m: Annotated[float, Field(ge=0.05, le=100_000.0)] | None = None
    """Distance that the lens was focused at when the camera was mounted here, in visible light [m];
    without it the camera profile's `lens.focus_m`, and without that the target of the task."""

    @property
    def position_m(self) -> tuple[float, float, float]:
        """World position of the lens [m]."""
        return (*self.ground_position_m, self.height_m)


TaskName = Literal["read", "detect", "recognise", "identify", "colour"]


class Task(FileModel):
    """What must be done with which target, and with which probability."""

    target: str
    """Name of the target that is judged."""
    name: TaskName = "read"
    """Read its text; or tell that something is there; what kind of thing it is, or that a person is
    somebody seen before; which one it is; what colour it has."""
    reader: Annotated[str, Field(min_length=1, examples=["person", "machine"])] = "person"
    """Who reads: "person" at a screen, "machine" for a general text recogniser, a viewer file
    (.toml, as `nightproof trial-reading` writes it), the name of a reader that an installed package
    offers, or "command:" and a program that takes a picture file and prints its text."""
    wanted_probability: Annotated[float, Field(gt=0.0, lt=1.0)] = 0.9
    """Target probability that the task succeeds."""


class SceneModel(FileModel):
    """One situation: light, station, things, and the question asked of it."""

    title: Annotated[str, Field(min_length=1, max_length=120)]
    """What it shows, in a line."""
    question: Annotated[str, Field(max_length=300)] = ""
    """What is asked of it, in a sentence."""
    natural_light: NaturalLight
    """Light of sky, sun and moon."""
    station: Station
    """Where the camera stands and looks."""
    air: AirModel | None = None
    """Haze, fog or rain; without it the air is clear."""
    lamp: Annotated[Entries[Lamp], Field(max_length=MOST_LIGHTS)] = ()
    """Lamps of visible light."""
    illuminator: Annotated[Entries[Illuminator], Field(max_length=MOST_LIGHTS)] = ()
    """Infrared or white illuminators."""
    site_photo: SitePhoto | None = None
    """A photograph of the site that fills the frame: its ground is the scene's."""
    surface: Annotated[Entries[Surface], Field(max_length=MOST_THINGS)] = ()
    """What stands still: ground, walls, gates, openings, photographs."""
    room: Annotated[Entries[Room], Field(max_length=MOST_THINGS)] = ()
    """Rooms: floor, walls and ceiling in one entry."""
    body: Annotated[Entries[Body], Field(max_length=MOST_THINGS)] = ()
    """What stands about: blocks, posts, fences, plants, windows, doors, meshes from files."""
    target: Annotated[Entries[Target], Field(min_length=1, max_length=MOST_THINGS)]
    """What is judged or stands in the scene: plates, vehicles, people, signs, parcels, charts."""
    task: Task
    """What must be done with which target."""

    @model_validator(mode="before")
    @classmethod
    def _photographed(cls, data: Any) -> Any:
        """Without a station the camera takes the place of the one that took the site photograph."""
        if not isinstance(data, dict) or "station" in data or "site_photo" not in data:
            return data
        try:
            photo = SitePhoto.model_validate(data["site_photo"])
        except ValidationError:
            return data  # told with the other faults
        try:
            return {**data, "station": station_of(photo)}
        except InputError as error:
            problem = (error.problem, error.given, error.fix)
            raise ValueError(f"{error.key}: {' '.join(str(x) for x in problem if x)}") from None

    @model_validator(mode="after")
    def _names(self) -> SceneModel:
        for list_name in ("lamp", "illuminator", "surface", "room", "body", "target"):
            names = [entry.name for entry in getattr(self, list_name)]
            twice = sorted({n for n in names if names.count(n) > 1})
            if twice:
                raise ValueError(f"{list_name}: the name {twice[0]!r} is used more than once")
        both = {one.name for one in self.lamp} & {one.name for one in self.illuminator}
        if both:  # lights are dimmed and told by their name
            raise ValueError(f"lamp and illuminator: both have the name {min(both)!r}")
        plates = [t.name for t in self.target if isinstance(t, Plate)]
        self._refuse_task()
        for t in self.target:
            if isinstance(t, VehicleFront | VehicleRear) and t.carries not in (None, *plates):
                raise ValueError(
                    f"target.{t.name}.carries: {t.carries!r} is not a plate of this scene"
                )
        if sum(isinstance(s, Ground) for s in self.surface) > 1:
            raise ValueError("surface: only one surface of kind 'ground' is allowed")
        return self

    def _refuse_task(self) -> None:
        names = [t.name for t in self.target]
        if self.task.name == "read":
            texts = [
                t.name
                for t in self.target
                if isinstance(t, Plate | Sign) or (isinstance(t, Parcel) and t.label)
            ]
            if self.task.target not in texts:
                other = "; the task can also be detect, recognise, identify or colour"
                raise ValueError(
                    f"task.target: {self.task.target!r} is not a plate, sign or labelled parcel of"
                    f" this scene (to read there: {', '.join(texts) or 'nothing'}"
                    f"{other if self.task.target in names else ''})"
                )
        elif self.task.target not in names:
            raise ValueError(
                f"task.target: {self.task.target!r} is not a target of this scene"
                f" (targets: {', '.join(names)})"
            )
