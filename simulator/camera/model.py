"""What a camera profile says. A lens file fills the lens table through `use`."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.camera.model_exposure import DayNight, Exposure, WideRange
from simulator.camera.model_lens import Cover, Lens
from simulator.camera.model_processing import Processing, Stream
from simulator.camera.model_sensor import Sensor
from simulator.fields import FileModel

CIRCLE_SLACK = 0.02
"""A diagonal may exceed the image circle by this share (tolerance of stated circles, assumed)."""
TAKES = {"c": ("c",), "cs": ("cs", "c"), "s": ("s",), "fixed": ("fixed",)}
"""Lenses that a body takes."""

__all__ = [
    "CameraModel",
    "Cover",
    "DayNight",
    "Exposure",
    "Lens",
    "Processing",
    "Sensor",
    "Stream",
    "WideRange",
]


class CameraModel(FileModel):
    """One camera with its lens, as a generic archetype."""

    title: Annotated[str, Field(min_length=1, max_length=120)]
    """What it is, in a line."""
    price: Annotated[float, Field(ge=0.0, le=1e7)] | None = None
    """What the user pays for it, in any currency; only compared, never looked up."""
    mount: Literal["c", "cs", "s", "fixed"] = "cs"
    """What the body takes: a CS body also takes C lenses with a 5 mm ring; "fixed" is built in."""
    sensor: Sensor
    """The sensor."""
    lens: Lens
    """The lens as set."""
    cover: Cover = Field(default_factory=Cover)
    """Window or dome before the lens."""
    exposure: Exposure
    """Automatic exposure and its limits."""
    wide_range: WideRange = Field(default_factory=WideRange)
    """How a wide range of light is taken."""
    day_night: DayNight = Field(default_factory=DayNight)
    """When the infrared-cut filter moves."""
    processing: Processing = Field(default_factory=Processing)
    """From the mosaic to eight bits."""
    stream: Stream = Field(default_factory=Stream)
    """What recording does to the picture."""

    @property
    def light_per_pixel_um2(self) -> float:
        """Light that a pixel gathers from a bright plane, up to a factor that is the same for all:
        pitch^2 T / F^2 [um2] (image-plane illuminance pi L T / (4 F^2) over the pixel's area)."""
        pitch, lens = self.sensor.pixel_pitch_um, self.lens
        return pitch**2 * lens.transmittance / lens.f_number**2

    @model_validator(mode="after")
    def _lens_fits(self) -> CameraModel:
        if self.lens.mount not in TAKES[self.mount]:
            raise ValueError(
                f"a {self.lens.mount!r} lens does not fit a {self.mount!r} body, which takes"
                f" {' or '.join(TAKES[self.mount])}; choose another lens, or set mount"
            )
        s = self.sensor
        diagonal = math.hypot(s.width_px, s.height_px) * s.pixel_pitch_um * 1e-3
        if diagonal > self.lens.image_circle_mm * (1.0 + CIRCLE_SLACK):
            raise ValueError(
                f"the lens covers a circle of {self.lens.image_circle_mm:g} mm, the sensor's"
                f" diagonal is {diagonal:.2f} mm: its corners would stay dark; choose a lens for a"
                " larger format"
            )
        return self
