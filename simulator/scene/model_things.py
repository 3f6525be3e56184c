"""What a scene file says of its things: surfaces that stand still, plates and vehicles."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, Strict, model_validator

from simulator.fields import (
    Angle,
    Beside,
    FileModel,
    Fraction,
    MaterialName,
    Name,
    Point,
    Speed,
    written,
)
from simulator.scene.model_light import SpectrumName
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
    """Name by which keys and results call it."""
    material: MaterialName
    """Name of a material, see `nightproof list`, or a CSV file beside the scene file."""
    variation: Fraction = 0.0
    """Relative standard deviation of the reflectance from place to place."""
    grain_m: Annotated[float, Field(gt=0.0, le=50.0)] = 0.05
    """Size of the patches of that variation [m]."""


HoleLength = Annotated[float, Field(ge=0.0, le=1000.0)]
"""A length on a wall [m]."""
Hole = Annotated[tuple[HoleLength, HoleLength, HoleLength, HoleLength], Strict(False)]
"""Rectangle on a wall: left, bottom, width, height [m]."""
HOLE_MIN_M = 0.05


class Wall(FileModel):
    """An upright rectangle, whole or with a hole."""

    kind: Literal["wall"]
    name: Name
    """Name by which keys and results call it."""
    material: MaterialName
    """Name of a material, see `nightproof list`, or a CSV file beside the scene file."""
    position_m: Point
    """Middle of the lower edge [m]."""
    width_m: Annotated[float, Field(gt=0.0, le=1000.0)]
    """Width [m]."""
    height_m: Annotated[float, Field(gt=0.0, le=300.0)]
    """Height [m]."""
    facing_deg: Angle = 0.0
    """Where its front looks: 0 back at the camera, 90 to the camera's right [deg]."""
    variation: Fraction = 0.0
    """Relative standard deviation of the reflectance from place to place."""
    grain_m: Annotated[float, Field(gt=0.0, le=50.0)] = 0.2
    """Size of the patches of that variation [m]."""
    opening_m: Hole | None = None
    """A hole through which what stands behind is seen: its left edge from the wall's left edge as
    one sees the wall's front, its lower edge above the wall's lower edge, width and height [m]."""

    @model_validator(mode="after")
    def _hole_inside(self) -> Self:
        if self.opening_m is None:
            return self
        left, bottom, width, height = self.opening_m
        if min(width, height) < HOLE_MIN_M:
            raise ValueError(f"opening_m: width and height must be >= {HOLE_MIN_M} m")
        slack = 1e-6
        if left + width > self.width_m + slack or bottom + height > self.height_m + slack:
            raise ValueError(
                "opening_m: left + width and bottom + height must not pass the wall's"
                f" width_m {self.width_m:g} and height_m {self.height_m:g}"
            )
        return self


class Gate(FileModel):
    """An upright gate of vertical bars with a rail at top and bottom."""

    kind: Literal["gate"]
    name: Name
    """Name by which keys and results call it."""
    material: MaterialName
    """Name of a material, see `nightproof list`, or a CSV file beside the scene file."""
    position_m: Point
    """Middle of the lower edge [m]."""
    width_m: Annotated[float, Field(gt=0.0, le=100.0)]
    """Width [m]."""
    height_m: Annotated[float, Field(gt=0.0, le=20.0)]
    """Height [m]."""
    bar_width_m: Annotated[float, Field(ge=0.005, le=2.0)] = 0.03
    """Width of a bar [m]."""
    bar_gap_m: Annotated[float, Field(ge=0.005, le=5.0)] = 0.12
    """Gap between bars [m]."""
    facing_deg: Angle = 0.0
    """Where its front looks: 0 back at the camera, 90 to the camera's right [deg]."""


class Opening(FileModel):
    """A bright rectangle: a doorway or window onto the day, or a lit panel.

    It shows an even luminance and lights what stands before it. Give its brightness in exactly one
    way.
    """

    renamed_keys: ClassVar[dict[str, str]] = {"contrast_ratio": "luminance_ratio"}

    kind: Literal["opening"]
    name: Name
    """Name by which keys and results call it."""
    position_m: Point
    """Middle of the lower edge [m]."""
    width_m: Annotated[float, Field(ge=0.05, le=100.0)]
    """Width [m]."""
    height_m: Annotated[float, Field(ge=0.05, le=100.0)]
    """Height [m]."""
    facing_deg: Angle = 0.0
    """Where its front looks: 0 back at the camera, 90 to the camera's right [deg]."""
    spectrum: SpectrumName = "daylight"
    """Spectrum of what is seen through it."""
    luminance_cd_m2: Annotated[float, Field(gt=0.0, le=1e8)] | None = None
    """Luminance it shows [cd/m²]."""
    illuminance_lux: Annotated[float, Field(gt=0.0, le=2e5)] | None = None
    """Illuminance on level ground under the even sky seen through it [lx]; L = E / pi."""
    luminance_ratio: Annotated[float, Field(gt=0.0, le=1e6)] | None = None
    """Luminance of the opening over the mean luminance of the target `against`."""
    against: str | None = None
    """Name of the target before the opening; needed with luminance_ratio, else it only asks for the
    ratio to be told."""

    @model_validator(mode="after")
    def _one_brightness(self) -> Self:
        given = (self.luminance_cd_m2, self.illuminance_lux, self.luminance_ratio)
        if sum(value is not None for value in given) != 1:
            raise ValueError(
                "give exactly one of luminance_cd_m2, illuminance_lux and luminance_ratio"
            )
        if self.luminance_ratio is not None and self.against is None:
            raise ValueError('luminance_ratio needs against = "name of a target"')
        return self


class Photograph(FileModel):
    """A picture file as a flat backdrop. Its colours are only scaled: the light in it stays."""

    kind: Literal["photograph"]
    name: Name
    """Name by which keys and results call it."""
    file: Annotated[str, Field(min_length=1), Beside("photograph")]
    """PNG or JPEG, looked for beside the scene file."""
    position_m: Point
    """Middle of the lower edge [m]."""
    width_m: Annotated[float, Field(gt=0.0, le=1000.0)]
    """Width [m]; the height follows from the shape of the picture."""
    facing_deg: Angle = 0.0
    """Where its front looks: 0 back at the camera, 90 to the camera's right [deg]."""
    white_reflectance: Annotated[float, Field(ge=0.01, le=1.0)] = 0.9
    """Reflectance that the picture's white stands for."""


Dirt = Annotated[float, Field(ge=0.0, le=0.55)]
"""Share of a surface that dirt hides, in the mean [1]."""


Surface = Annotated[Ground | Wall | Gate | Opening | Photograph, Field(discriminator="kind")]


class Plate(FileModel):
    """A number plate."""

    kind: Literal["plate"]
    name: Name
    """Name by which keys and results call it."""
    text: Annotated[str, Field(min_length=1, max_length=12)]
    """Characters of the plate; a space parts the groups, "/" or a line break parts the rows."""
    design: str = "dark-on-white-520x110"
    """Name of a plate design, see `nightproof list`."""
    position_m: Point
    """Centre of the plate [m]."""
    facing_deg: Angle = 0.0
    """Where its front looks: 0 back at the camera, 90 to the camera's right [deg]."""
    tilt_deg: Annotated[float, Field(ge=-60.0, le=60.0)] = 0.0
    """How far the plate leans back, its face turning upwards [deg]."""
    sheeting: str | None = None
    """Retroreflective sheeting, or "none"; without it the design decides."""
    dirt_share: Dirt = 0.0
    """Share that dirt hides [1]: of a plate in patches, of a vehicle alike all over but for its
    windows; 0.2 wants washing (common practice, no source)."""
    speed_kmh: Speed = 0.0
    """Speed [km/h]."""
    heading_deg: Angle = 0.0
    """Where it moves: 0 towards the camera, 90 to the camera's right [deg]."""


class _Vehicle(FileModel):
    """What every view of a vehicle shares."""

    name: Name
    """Name by which keys and results call it."""
    style: Literal["car", "estate", "van", "truck", "motorcycle"] = "car"
    """Shape and size of the body."""
    paint: MaterialName = "paint-white"
    """Material of the body."""
    dirt_share: Dirt = 0.0
    """Share that dirt hides [1]: of a plate in patches, of a vehicle alike all over but for its
    windows; 0.2 wants washing (common practice, no source)."""
    position_m: Point | None = None
    """The ground under the middle of what is seen [m]."""
    facing_deg: Angle = 0.0
    """Where the side that is seen looks: 0 back at the camera, 90 to its right [deg]."""
    speed_kmh: Speed = 0.0
    """Speed [km/h]."""


class _Carrier(_Vehicle):
    carries: str | None = None
    """Name of the plate that this vehicle carries."""
    heading_deg: Angle = 0.0
    """Where it moves: 0 towards the camera, 90 to the camera's right [deg]."""

    @model_validator(mode="after")
    def _one_place(self) -> Self:
        if (self.carries is None) == (self.position_m is None):
            raise ValueError("give exactly one of carries and position_m")
        moved = written(self, ("facing_deg", "heading_deg", "speed_kmh"))
        if self.carries is not None and moved:
            raise ValueError(f"{', '.join(moved)} come from the plate when carries is given")
        return self


class VehicleFront(_Carrier):
    """A vehicle that shows its front: a solid body, its foremost point over the place given.

    With `carries` the vehicle is placed behind that plate and moves with it; otherwise give
    `position_m` (the ground under the middle of the front).
    """

    kind: Literal["vehicle-front"]
    headlights: Literal["off", "dipped", "main"] = "off"
    """Beam of the headlights."""
    headlight_spectrum: SpectrumName = "led-5000k"
    """Spectrum of the headlights."""


class VehicleRear(_Carrier):
    """The rear of a vehicle, placed as a front is; `facing_deg = 0` shows its rear squarely.

    A vehicle that drives away has heading 180.
    """

    kind: Literal["vehicle-rear"]
    tail_lamps: Literal["off", "tail", "brake"] = "off"
    """Which lamps of the rear are lit."""


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
