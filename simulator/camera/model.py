"""What a camera profile says. A lens file fills the lens table through `use`."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.fields import FileModel, Fraction


class Sensor(FileModel):
    """The sensor, in the terms of EMVA 1288."""

    width_px: Annotated[int, Field(ge=64, le=16384)]
    height_px: Annotated[int, Field(ge=64, le=16384)]
    pixel_pitch_um: Annotated[float, Field(ge=0.5, le=50.0)]
    quantum_efficiency: str
    """Name of a quantum-efficiency table, see `nightproof list`."""
    full_well_e: Annotated[float, Field(ge=100.0, le=1e6)]
    """Saturation capacity [e-]."""
    read_noise_e: Annotated[float, Field(ge=0.0, le=500.0)]
    """Temporal dark noise sigma_d without dark current [e-]."""
    bit_depth: Annotated[int, Field(ge=8, le=16)] = 12
    dark_current_e_per_s: Annotated[float, Field(ge=0.0, le=1e5)] = 10.0
    """Dark current at 25 degrees Celsius [e-/s]."""
    dark_doubling_k: Annotated[float, Field(ge=3.0, le=20.0)] = 7.0
    """Temperature rise that doubles the dark current [K]."""
    temperature_c: Annotated[float, Field(ge=-40.0, le=90.0)] = 40.0
    """Temperature of the sensor while it works [deg C]."""
    prnu: Annotated[float, Field(ge=0.0, le=0.2)] = 0.008
    """Photo response non-uniformity, relative standard deviation."""
    dsnu_e: Annotated[float, Field(ge=0.0, le=500.0)] = 1.0
    """Dark signal non-uniformity, standard deviation [e-]."""
    row_noise_e: Annotated[float, Field(ge=0.0, le=100.0)] = 0.2
    """Temporal noise common to a row [e-]."""


class Lens(FileModel):
    """The lens as set. Lens files hold the range; the camera says how it is set."""

    use: str | None = None
    """Name of a lens file whose values fill what is not written here."""
    title: str = ""
    focal_length_mm: Annotated[float, Field(ge=0.5, le=2000.0)]
    f_number: Annotated[float, Field(ge=0.7, le=64.0)]
    focus_m: Annotated[float, Field(ge=0.05, le=100_000.0)]
    """Distance that is in focus, along the lens axis [m]."""
    focal_min_mm: Annotated[float, Field(ge=0.5, le=2000.0)]
    focal_max_mm: Annotated[float, Field(ge=0.5, le=2000.0)]
    f_number_wide: Annotated[float, Field(ge=0.7, le=64.0)]
    """Smallest f-number at the shortest focal length."""
    f_number_tele: Annotated[float, Field(ge=0.7, le=64.0)]
    """Smallest f-number at the longest focal length."""
    transmittance: Annotated[float, Field(gt=0.0, le=1.0)]
    """Transmittance in visible light."""
    transmittance_infrared: Annotated[float, Field(gt=0.0, le=1.0)]
    """Transmittance from 850 nm on."""
    aberration_um: Annotated[float, Field(ge=0.0, le=100.0)]
    """Standard deviation of the Gaussian aberration blur on the image [um]."""
    glare_index: Annotated[float, Field(ge=0.0, le=0.5)]
    """Veiling glare index of ISO 9358 as a fraction: black patch over extended bright field."""
    corner_light: Annotated[float, Field(gt=0.0, le=1.0)] = 0.7
    """Relative illumination at the corner of the image circle from vignetting alone."""
    image_circle_mm: Annotated[float, Field(gt=0.0, le=200.0)]
    """Diameter of the image circle [mm]."""
    infrared_focus_shift_um: Annotated[float, Field(ge=-500.0, le=500.0)] = 0.0
    """Shift of the image plane at 850 nm from its place in visible light [um]."""

    @model_validator(mode="after")
    def _range(self) -> Lens:
        if self.focal_min_mm > self.focal_max_mm:
            raise ValueError("focal_min_mm is larger than focal_max_mm")
        if not self.focal_min_mm <= self.focal_length_mm <= self.focal_max_mm:
            raise ValueError(
                f"focal_length_mm {self.focal_length_mm:g} is outside this lens"
                f" ({self.focal_min_mm:g} to {self.focal_max_mm:g} mm)"
            )
        fastest = self.smallest_f_number
        if self.f_number < fastest - 0.05:
            raise ValueError(
                f"f_number {self.f_number:g} is faster than this lens allows at"
                f" {self.focal_length_mm:g} mm (f/{fastest:.2f})"
            )
        return self

    @property
    def smallest_f_number(self) -> float:
        """Smallest f-number at the set focal length, linear between the ends of the range."""
        span = self.focal_max_mm - self.focal_min_mm
        share = 0.0 if span == 0.0 else (self.focal_length_mm - self.focal_min_mm) / span
        return self.f_number_wide + share * (self.f_number_tele - self.f_number_wide)


class Exposure(FileModel):
    """Automatic exposure: shutter first, then gain, between limits."""

    shutter_max_s: Annotated[float, Field(gt=0.0, le=10.0)]
    """Longest shutter [s]."""
    shutter_min_s: Annotated[float, Field(gt=0.0, le=10.0)]
    """Shortest shutter [s]."""
    gain_max_db: Annotated[float, Field(ge=0.0, le=90.0)]
    """Largest gain [dB], 20 log10."""
    metering: Literal["average", "centre"] = "average"
    target_level: Annotated[float, Field(gt=0.01, lt=0.9)] = 0.18
    """Wanted mean of the linear picture, as a share of white."""
    shutter_s: Annotated[float, Field(gt=0.0, le=10.0)] | None = None
    """Fixed shutter [s]; the automatic then moves the gain only."""
    gain_db: Annotated[float, Field(ge=0.0, le=90.0)] | None = None
    """Fixed gain [dB]; the automatic then moves the shutter only."""

    @model_validator(mode="after")
    def _order(self) -> Exposure:
        if self.shutter_min_s > self.shutter_max_s:
            raise ValueError("shutter_min_s is longer than shutter_max_s")
        return self


class DayNight(FileModel):
    """When the infrared-cut filter leaves and the picture turns monochrome."""

    mode: Literal["auto", "day", "night"] = "auto"
    to_night_lux: Annotated[float, Field(ge=0.0, le=1000.0)] = 3.0
    """Below this illuminance, as the camera itself estimates it, to night [lx]."""
    to_day_lux: Annotated[float, Field(ge=0.0, le=2000.0)] = 8.0
    """Above this illuminance, as the camera itself estimates it, to day [lx]."""

    @model_validator(mode="after")
    def _order(self) -> DayNight:
        if self.to_day_lux < self.to_night_lux:
            raise ValueError("to_day_lux is below to_night_lux, the camera would hunt")
        return self


class Processing(FileModel):
    """From the mosaic to eight bits."""

    noise_reduction: Fraction = 0.4
    """Strength of the spatial noise reduction."""
    temporal_noise_reduction: Annotated[float, Field(ge=0.0, le=0.95)] = 0.0
    """Share of the previous output kept where nothing seems to move."""
    sharpening: Annotated[float, Field(ge=0.0, le=3.0)] = 0.3
    """Strength of the unsharp mask."""
    tone: Literal["bt709", "srgb", "linear"] = "bt709"
    white_balance: Literal["automatic", "daylight"] = "automatic"
    analogue_tv_lines: Annotated[float, Field(ge=100.0, le=2000.0)] | None = None
    """Horizontal resolution limit of an analogue output [TV lines per picture height]."""
    frame_rate_hz: Annotated[float, Field(ge=1.0, le=240.0)] = 25.0


class CameraModel(FileModel):
    """One camera with its lens, as a generic archetype."""

    title: Annotated[str, Field(min_length=1, max_length=120)]
    sensor: Sensor
    lens: Lens
    exposure: Exposure
    day_night: DayNight = Field(default_factory=DayNight)
    processing: Processing = Field(default_factory=Processing)
