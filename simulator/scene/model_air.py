"""What a scene file says of the air."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from simulator.fields import FileModel
from simulator.messages import Message


class AirModel(FileModel):
    """Haze, fog or rain between things; without this table the air is clear."""

    visibility_m: Annotated[float, Field(ge=10.0, le=100_000.0)] | None = None
    """Meteorological visibility without the rain, at a contrast threshold of 2 %, for green light
    [m]; clear air if only rain is given."""
    kind: Literal["haze", "fog"] = "haze"
    """"haze": extinction by wavelength after Kim (none under 500 m); "fog": the same for all."""
    rain_mm_per_h: Annotated[float, Field(ge=0.0, le=200.0)] = 0.0
    """Rate of rain [mm/h]: light 2, heavy 10 to 50."""

    @model_validator(mode="after")
    def _something(self) -> Self:
        if self.visibility_m is None and self.rain_mm_per_h == 0.0:
            raise ValueError("give visibility_m or rain_mm_per_h; leave [air] out for clear air")
        return self

    def message(self) -> Message:
        """What was assumed of it."""
        return Message(
            "assumption.air",
            {
                "kind": self.kind,
                "visibility_m": self.visibility_m,
                "rain_mm_per_h": self.rain_mm_per_h,
            },
        )
