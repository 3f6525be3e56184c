"""What a scene file says of its things: surfaces that stand still, and targets."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.fields import Angle, FileModel, Fraction, Name, Point, Speed


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
    """Characters of the plate; a space parts the groups."""
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


class VehicleFront(FileModel):
    """The front of a vehicle as cards: body, windscreen, lamps, tyres.

    With `carries` the vehicle is placed behind that plate and moves with it; otherwise give
    `position_m` (the ground under the middle of the front).
    """

    kind: Literal["vehicle-front"]
    name: Name
    style: Literal["car", "van", "truck"] = "car"
    paint: str = "paint-white"
    """Material of the body."""
    carries: str | None = None
    """Name of the plate that this vehicle carries."""
    position_m: Point | None = None
    facing_deg: Angle = 0.0
    speed_kmh: Speed = 0.0
    heading_deg: Angle = 0.0
    headlights: Literal["off", "dipped", "main"] = "off"
    headlight_spectrum: str = "led-5000k"

    @model_validator(mode="after")
    def _one_place(self) -> VehicleFront:
        if (self.carries is None) == (self.position_m is None):
            raise ValueError("give exactly one of carries and position_m")
        moved = {"facing_deg", "speed_kmh", "heading_deg"} & self.model_fields_set
        if self.carries is not None and moved:
            raise ValueError(
                f"{', '.join(sorted(moved))} come from the plate when carries is given"
            )
        return self


Target = Annotated[Plate | VehicleFront, Field(discriminator="kind")]
