"""What a scene file says of its lights: sky and sun, lamps, infrared illuminators."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from simulator.fields import Angle, BeamAngle, FileModel, Fraction, Name, Point


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
