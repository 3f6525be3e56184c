"""What a camera profile says of processing and of the stream."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.fields import FileModel, Fraction


class Processing(FileModel):
    """From the mosaic to eight bits."""

    noise_reduction: Fraction = 0.4
    """Strength of the spatial noise reduction."""
    temporal_noise_reduction: Annotated[float, Field(ge=0.0, le=0.95)] = 0.0
    """Share of the previous output kept where nothing seems to move."""
    sharpening: Annotated[float, Field(ge=0.0, le=3.0)] = 0.3
    """Strength of the unsharp mask."""
    tone: Literal["bt709", "srgb", "linear", "gamma", "knee"] = "bt709"
    """Curve from linear light to code values; "knee" is BT.709 with highlights pressed together."""
    gamma: Annotated[float, Field(ge=1.0, le=4.0)] = 2.2
    """Exponent of the "gamma" curve: value = light^(1/gamma)."""
    knee_point: Annotated[float, Field(gt=0.2, lt=1.0)] = 0.8
    """Share of white from which the "knee" curve presses highlights together."""
    knee_reach: Annotated[float, Field(ge=1.0, le=16.0)] = 4.0
    """Linear light, in units of white, that the "knee" curve still tells from white."""
    black_level: Annotated[float, Field(ge=-0.1, le=0.2)] = 0.0
    """Offset added to the encoded picture (set-up), as a share of white."""
    white_balance: Literal["automatic", "daylight"] = "automatic"
    """Follows the light, or is fixed for daylight."""
    white_balance_low_k: Annotated[float, Field(ge=1500.0, le=10_000.0)] = 2500.0
    """Warmest light that the automatic white balance makes neutral [K]."""
    white_balance_high_k: Annotated[float, Field(ge=2500.0, le=25_000.0)] = 10_000.0
    """Coldest light that the automatic white balance makes neutral [K]."""
    saturation: Annotated[float, Field(ge=0.0, le=2.0)] = 1.0
    """Strength of colour; 1 as the colour matrix gives it, 0 monochrome."""
    saturation_full_until_db: Annotated[float, Field(ge=0.0, le=90.0)] = 24.0
    """Gain up to which colour is kept whole [dB]."""
    saturation_gone_at_db: Annotated[float, Field(ge=0.0, le=120.0)] = 60.0
    """Gain at which no colour is left; linear in decibels between the two [dB]."""
    defect_correction: bool = True
    """Whether pixels far off all their neighbours are replaced."""
    analogue_tv_lines: Annotated[float, Field(ge=100.0, le=2000.0)] | None = None
    """Horizontal resolution limit of an analogue output [TV lines per picture height]."""
    frame_rate_hz: Annotated[float, Field(ge=1.0, le=240.0)] = 25.0
    """Pictures per second [Hz]."""

    @model_validator(mode="after")
    def _order(self) -> Processing:
        if self.white_balance_low_k > self.white_balance_high_k:
            raise ValueError("white_balance_low_k is above white_balance_high_k")
        if self.saturation_full_until_db > self.saturation_gone_at_db:
            raise ValueError("saturation_full_until_db is above saturation_gone_at_db")
        return self


class Stream(FileModel):
    """What recording or sending does to the picture."""

    codec: Literal["none", "h264", "h265"] = "none"
    """"none" loses nothing; the others need the extra `codec`."""
    bitrate_kbit_s: Annotated[float, Field(ge=16.0, le=200_000.0)] = 4000.0
    """Mean bit rate [kbit/s]."""
    keyframe_interval_s: Annotated[float, Field(gt=0.0, le=60.0)] = 2.0
    """Time between pictures that stand alone [s]."""
