"""What a camera profile says of exposure, wide range, and day and night."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, Strict, model_validator

from simulator.fields import FileModel, Fraction

SHORTEST_S = 1e-7
"""Shortest shutter that is taken [s]: a tenth of what the fastest global shutters reach, some 1 us
(from memory)."""


class Exposure(FileModel):
    """Automatic exposure: shutter first, then gain, between limits."""

    shutter_max_s: Annotated[float, Field(ge=SHORTEST_S, le=10.0)]
    """Longest shutter [s]."""
    shutter_min_s: Annotated[float, Field(ge=SHORTEST_S, le=10.0)]
    """Shortest shutter [s]."""
    gain_max_db: Annotated[float, Field(ge=0.0, le=90.0)]
    """Largest gain [dB], 20 log10."""
    metering: Literal["average", "centre", "spot", "backlight", "highlight"] = "average"
    """What the loop looks at: the whole picture, mostly its middle, `window` alone, mostly
    `window` but never darker than the whole would have it (backlight compensation), or the whole
    with what is white left out (highlight suppression)."""
    window: Annotated[tuple[Fraction, Fraction, Fraction, Fraction], Strict(False)] | None = None
    """Left, top, right, bottom of the metering window as shares of the picture; without it spot
    metering takes the middle (0.375 to 0.625 each way) and backlight compensation the middle of the
    lower part (0.3 to 0.7 across, 0.4 to 1 down), where people stand in a door."""
    target_level: Annotated[float, Field(gt=0.01, lt=0.9)] = 0.18
    """Wanted mean of the linear picture, as a share of white."""
    shutter_s: Annotated[float, Field(ge=SHORTEST_S, le=10.0)] | None = None
    """Fixed shutter [s]; the automatic then moves the gain only."""
    gain_db: Annotated[float, Field(ge=0.0, le=90.0)] | None = None
    """Fixed gain [dB]; the automatic then moves the shutter only."""

    priority: Literal["shutter", "gain"] = "shutter"
    """What is spent first as light falls: a longer shutter, or more gain."""
    iris: Literal["fixed", "automatic"] = "fixed"
    """An automatic iris closes in bright light before the shutter gets shorter."""
    f_number_max: Annotated[float, Field(ge=0.7, le=64.0)] = 16.0
    """Smallest opening of an automatic iris."""
    slow_shutter_max_s: Annotated[float, Field(ge=SHORTEST_S, le=10.0)] | None = None
    """Longest shutter once gain is spent, by adding up frames [s]."""
    flicker_safe_hz: Literal[50, 60] | None = None
    """Mains frequency whose flicker the shutter steps avoid, where the light allows it [Hz]."""
    step_share: Annotated[float, Field(gt=0.0, le=1.0)] = 0.3
    """Share of the error in level, in decibels, that the loop corrects from frame to frame."""
    hysteresis_db: Annotated[float, Field(ge=0.0, le=6.0)] = 0.5
    """Error below which the loop stays as it is [dB]."""

    @model_validator(mode="after")
    def _order(self) -> Exposure:
        if self.shutter_min_s > self.shutter_max_s:
            raise ValueError("shutter_min_s is longer than shutter_max_s")
        x0, y0, x1, y1 = self.window or (0.0, 0.0, 1.0, 1.0)
        if x1 <= x0 or y1 <= y0:
            raise ValueError("window is left, top, right, bottom, each larger than its start")
        slow = self.slow_shutter_max_s
        if slow is not None and slow < self.shutter_max_s:
            raise ValueError("slow_shutter_max_s is shorter than shutter_max_s")
        return self


class WideRange(FileModel):
    """How more than one exposure's range is brought into one picture."""

    method: Literal["off", "exposures", "logarithmic"] = "off"
    """Several exposures merged, or a pixel that turns logarithmic near its full well."""
    exposures: Annotated[int, Field(ge=2, le=4)] = 2
    """Exposures of one frame that are merged."""
    ratio: Annotated[float, Field(ge=2.0, le=64.0)] = 16.0
    """Each exposure is shorter than the last by this factor."""
    knee: Annotated[float, Field(gt=0.05, lt=1.0)] = 0.6
    """Share of full well at which a logarithmic pixel leaves the straight line."""
    reach_db: Annotated[float, Field(ge=6.0, le=80.0)] = 40.0
    """How far a logarithmic pixel reaches beyond its knee before it is white [dB]."""
    local_tone: Fraction = 0.5
    """Strength of the local tone mapping: 0 one curve for the whole picture."""
    claimed_db: Annotated[float, Field(ge=20.0, le=180.0)] | None = None
    """Dynamic range the maker claims [dB]."""


class DayNight(FileModel):
    """When the infrared-cut filter leaves and the picture turns monochrome."""

    mode: Literal["auto", "day", "night"] = "auto"
    """By the light, or held in one mode."""
    to_night_lux: Annotated[float, Field(ge=0.0, le=1000.0)] = 3.0
    """Below this illuminance, as the camera itself estimates it, to night [lx]."""
    to_day_lux: Annotated[float, Field(ge=0.0, le=2000.0)] = 8.0
    """Above this illuminance, as the camera itself estimates it, to day [lx]."""

    delay_s: Annotated[float, Field(ge=0.0, le=600.0)] = 5.0
    """How long the light must lie beyond a threshold before the camera acts [s]."""

    @model_validator(mode="after")
    def _order(self) -> DayNight:
        if self.to_day_lux < self.to_night_lux:
            raise ValueError("to_day_lux is below to_night_lux, the camera would hunt")
        return self
