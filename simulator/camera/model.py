"""What a camera profile says. A lens file fills the lens table through `use`."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from simulator.camera.model_exposure import DayNight, Exposure, WideRange
from simulator.camera.model_lens import Cover, Lens
from simulator.camera.model_processing import Processing, Stream
from simulator.camera.model_sensor import Sensor
from simulator.fields import FileModel

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
    price: Annotated[float, Field(ge=0.0, le=1e7)] | None = None
    """What the user pays for it, in any currency; only compared, never looked up."""
    sensor: Sensor
    lens: Lens
    cover: Cover = Field(default_factory=Cover)
    exposure: Exposure
    wide_range: WideRange = Field(default_factory=WideRange)
    day_night: DayNight = Field(default_factory=DayNight)
    processing: Processing = Field(default_factory=Processing)
    stream: Stream = Field(default_factory=Stream)
