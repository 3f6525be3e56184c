"""What a scene file says of its things: surfaces that stand still, plates and vehicles."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from simulator.fields import Angle, FileModel, Fraction, Name, Point, Speed
from simulator.scene.model_targets import (
    ColourChart,
    EdgeChart,
    Face,
    GreyChart,
    Parcel,
    Person,
    ResolutionChart,
    Sign,
    StarChart,
)


class Ground(FileModel):
    """The level ground plane, z = 0."""

    kind: Literal["ground"]
    name: Name
    material: str
    variation: Fraction = 0.0
    """Relative standard deviation of the reflectance from place to place."""
    grain_m: Annotated[float, Field(gt=0.0, le=50.0)] = 0.05
    """Size of the patches of that variation [m]."""


class Wall(FileModel):
    """An upright rectangle."""

    kind: Literal["wall"]
    name: Name
    material: str
    position_m: Point
    """Middle of the lower edge [m]."""
    width_m: Annotated[float, Field(gt=0.0, le=1000.0)]
    height_m: Annotated[float, Field(gt=0.0, le=300.0)]
    facing_deg: Angle = 0.0
    variation: Fraction = 0.0
    grain_m: Annotated[float, Field(gt=0.0, le=50.0)] = 0.2


class Gate(FileModel):
    """An upright gate of vertical bars with a rail at top and bottom."""

    kind: Literal["gate"]
    name: Name
    material: str
    position_m: Point
    """Middle of the lower edge [m]."""
    width_m: Annotated[float, Field(gt=0.0, le=100.0)]
    height_m: Annotated[float, Field(gt=0.0, le=20.0)]
    bar_width_m: Annotated[float, Field(ge=0.005, le=2.0)] = 0.03
    bar_gap_m: Annotated[float, Field(ge=0.005, le=5.0)] = 0.12
    facing_deg: Angle = 0.0


Surface = Annotated[Ground | Wall | Gate, Field(discriminator="kind")]


class Plate(FileModel):
    """A number plate."""

    kind: Literal["plate"]
    name: Name
    text: Annotated[str, Field(min_length=1, max_length=12)]
    """Characters of the plate; a space parts the groups, "/" or a line break parts the rows."""
    design: str = "dark-on-white-520x110"
    """Name of a plate design, see `nightproof list`."""
    position_m: Point
    """Centre of the plate [m]."""
    facing_deg: Angle = 0.0
    tilt_deg: Annotated[float, Field(ge=-60.0, le=60.0)] = 0.0
    """How far the plate leans back, its face turning upwards [deg]."""
    sheeting: str | None = None
    """Retroreflective sheeting, or "none"; without it the design decides."""
    speed_kmh: Speed = 0.0
    heading_deg: Angle = 0.0


class _Vehicle(FileModel):
    """What every view of a vehicle shares."""

    name: Name
    style: Literal["car", "van", "truck"] = "car"
    paint: str = "paint-white"
    """Material of the body."""
    position_m: Point | None = None
    facing_deg: Angle = 0.0
    speed_kmh: Speed = 0.0


class _Carrier(_Vehicle):
    carries: str | None = None
    """Name of the plate that this vehicle carries."""
    heading_deg: Angle = 0.0

    @model_validator(mode="after")
    def _one_place(self) -> Self:
        if (self.carries is None) == (self.position_m is None):
            raise ValueError("give exactly one of carries and position_m")
        moved = {"facing_deg", "speed_kmh", "heading_deg"} & self.model_fields_set
        if self.carries is not None and moved:
            raise ValueError(
                f"{', '.join(sorted(moved))} come from the plate when carries is given"
            )
        return self


class VehicleFront(_Carrier):
    """The front of a vehicle as cards: body, windscreen, lamps, tyres.

    With `carries` the vehicle is placed behind that plate and moves with it; otherwise give
    `position_m` (the ground under the middle of the front).
    """

    kind: Literal["vehicle-front"]
    headlights: Literal["off", "dipped", "main"] = "off"
    headlight_spectrum: str = "led-5000k"


class VehicleRear(_Carrier):
    """The rear of a vehicle, placed as a front is; `facing_deg = 0` shows its rear squarely.

    A vehicle that drives away has heading 180.
    """

    kind: Literal["vehicle-rear"]
    tail_lamps: Literal["off", "tail", "brake"] = "off"


class VehicleSide(_Vehicle):
    """The side of a vehicle; it drives the way its nose points."""

    kind: Literal["vehicle-side"]
    position_m: Point
    """The ground under the middle of the side [m]."""
    nose: Literal["left", "right"] = "left"
    """Where its front points for one who looks at the side."""


Target = Annotated[
    Plate
    | VehicleFront
    | VehicleRear
    | VehicleSide
    | Face
    | Person
    | Sign
    | Parcel
    | GreyChart
    | ColourChart
    | StarChart
    | EdgeChart
    | ResolutionChart,
    Field(discriminator="kind"),
]
