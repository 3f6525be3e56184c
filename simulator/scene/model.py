"""What a scene file says. Lengths in metres, angles in degrees, everything in SI-derived units.

World axes: x to the camera's right, y away from the camera along the ground, z up; the origin
is the ground under the camera. `facing_deg = 0` looks back at the camera and turns towards +x
as it grows; `heading_deg` likewise, so heading 0 comes towards the camera.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.fields import Angle, BeamAngle, Coordinate, FileModel, Fraction, Name, Point, Speed


class NaturalLight(FileModel):
    """Light of sky and sun."""

    illuminance_lux: Annotated[float, Field(ge=0.0, le=200_000.0)]
    """Illuminance on level ground, sun and sky together [lx]."""
    spectrum: str = "daylight"
    """Name of a spectrum, see `nightproof list`."""
    sun_share: Fraction = 0.0
    """Share of that illuminance which comes straight from the sun."""
    sun_altitude_deg: Annotated[float, Field(ge=1.0, le=90.0)] = 45.0
    """Height of the sun above the horizon [deg]."""
    sun_azimuth_deg: Angle = 135.0
    """Where the sun stands: 0 ahead of the camera, 90 to its right, 180 behind it [deg]."""


class Station(FileModel):
    """Where the camera stands and looks."""

    height_m: Annotated[float, Field(ge=0.05, le=200.0)]
    """Height of the lens above the ground [m]."""
    aim_m: Point
    """World point at the middle of the picture [m]."""
    setback_m: Coordinate = 0.0
    """How far the camera moves back from the origin, away from the scene [m]."""
    sideways_m: Coordinate = 0.0
    """How far the camera moves to its right from the origin [m]."""

    @property
    def position_m(self) -> tuple[float, float, float]:
        """World position of the lens [m]."""
        return (self.sideways_m, -self.setback_m, self.height_m)


class Lamp(FileModel):
    """A visible lamp given by its luminous intensity."""

    name: Name
    spectrum: str
    """Name of a spectrum, see `nightproof list`."""
    intensity_cd: Annotated[float, Field(ge=0.0, le=1e7)]
    """Luminous intensity on the beam axis [cd]."""
    beam_deg: BeamAngle = 120.0
    """Full angle at half the peak intensity [deg]."""
    position_m: Point
    aim_m: Point
    """World point on the beam axis [m]."""
    diameter_m: Annotated[float, Field(gt=0.0, le=5.0)] = 0.2
    """Diameter of the bright face as the camera sees it [m]."""
    on: bool = True


class Illuminator(FileModel):
    """An infrared illuminator given by its radiant intensity.

    `use` names a file of profiles/lights/; its values stand here unless written again.
    Give either `position_m` or `beside_camera_m`.
    """

    name: Name
    use: str | None = None
    """Name of a light profile whose values fill what is not written here."""
    title: str = ""
    wavelength_nm: Annotated[float, Field(ge=400.0, le=1050.0)]
    """Peak wavelength [nm]."""
    bandwidth_nm: Annotated[float, Field(ge=1.0, le=200.0)] = 35.0
    """Full width at half maximum of the spectrum [nm]."""
    radiant_intensity_w_per_sr: Annotated[float, Field(ge=0.0, le=10_000.0)]
    """Radiant intensity on the beam axis [W/sr]."""
    beam_deg: BeamAngle
    """Full angle at half the peak intensity [deg]."""
    emitter_width_m: Annotated[float, Field(gt=0.0, le=2.0)] = 0.05
    """Width of the emitting face [m], for the eye-safety caution."""
    electrical_power_w: Annotated[float, Field(gt=0.0, le=5000.0)] | None = None
    """Electrical power drawn [W]."""
    position_m: Point | None = None
    """World position [m]."""
    beside_camera_m: Point | None = None
    """Position from the lens: right, forward, up [m]."""
    aim_m: Point
    """World point on the beam axis [m]."""
    on: bool = True

    @model_validator(mode="after")
    def _one_place(self) -> Illuminator:
        if (self.position_m is None) == (self.beside_camera_m is None):
            raise ValueError("give exactly one of position_m and beside_camera_m")
        return self


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


class Task(FileModel):
    """What must be done with which target, and how surely."""

    target: str
    """Name of the target that is judged."""
    name: Literal["read"] = "read"
    wanted_probability: Annotated[float, Field(gt=0.0, lt=1.0)] = 0.9


class SceneModel(FileModel):
    """One situation: light, station, things, and the question asked of it."""

    title: Annotated[str, Field(min_length=1, max_length=120)]
    question: Annotated[str, Field(max_length=300)] = ""
    natural_light: NaturalLight
    station: Station
    lamp: list[Lamp] = Field(default_factory=list)
    illuminator: list[Illuminator] = Field(default_factory=list)
    surface: list[Surface] = Field(default_factory=list)
    target: Annotated[list[Target], Field(min_length=1)]
    task: Task

    @model_validator(mode="after")
    def _names(self) -> SceneModel:
        for list_name in ("lamp", "illuminator", "surface", "target"):
            names = [entry.name for entry in getattr(self, list_name)]
            twice = sorted({n for n in names if names.count(n) > 1})
            if twice:
                raise ValueError(f"{list_name}: the name {twice[0]!r} is used more than once")
        plates = [t.name for t in self.target if isinstance(t, Plate)]
        if self.task.target not in plates:
            raise ValueError(
                f"task.target: {self.task.target!r} is not a plate of this scene"
                f" (plates: {', '.join(plates) or 'none'})"
            )
        for t in self.target:
            if isinstance(t, VehicleFront) and t.carries is not None and t.carries not in plates:
                raise ValueError(
                    f"target.{t.name}.carries: {t.carries!r} is not a plate of this scene"
                )
        if sum(isinstance(s, Ground) for s in self.surface) > 1:
            raise ValueError("surface: only one surface of kind 'ground' is allowed")
        return self
