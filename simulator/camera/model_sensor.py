"""What a camera profile says of its sensor."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.fields import FileModel, Fraction


class Sensor(FileModel):
    """The sensor, in the terms of EMVA 1288."""

    width_px: Annotated[int, Field(ge=64, le=16384)]
    """Columns of pixels [px]."""
    height_px: Annotated[int, Field(ge=64, le=16384)]
    """Rows of pixels [px]."""
    pixel_pitch_um: Annotated[float, Field(ge=0.5, le=50.0)]
    """Distance from pixel to pixel [um]."""
    quantum_efficiency: str
    """Name of a quantum-efficiency table, see `nightproof list`."""
    full_well_e: Annotated[float, Field(ge=100.0, le=1e6)]
    """Saturation capacity [e-]."""
    read_noise_e: Annotated[float, Field(ge=0.0, le=500.0)]
    """Temporal dark noise sigma_d without dark current [e-]."""
    bit_depth: Annotated[int, Field(ge=8, le=16)] = 12
    """Digits of the converter [bit]."""
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
    column_noise_e: Annotated[float, Field(ge=0.0, le=100.0)] = 0.0
    """Fixed offset common to a column, standard deviation [e-]."""
    hot_pixels_per_million: Annotated[float, Field(ge=0.0, le=10_000.0)] = 0.0
    """Pixels with much more dark current than the rest."""
    hot_pixel_e_per_s: Annotated[float, Field(ge=0.0, le=1e6)] = 2000.0
    """Mean dark current of the hot pixels at 25 degrees Celsius [e-/s]."""
    high_gain_from_db: Annotated[float, Field(ge=0.0, le=90.0)] | None = None
    """Gain from which the small conversion capacitor is used (dual conversion gain) [dB]."""
    high_gain_read_noise_e: Annotated[float, Field(ge=0.0, le=500.0)] | None = None
    """Temporal dark noise with the small capacitor [e-]."""
    high_gain_full_well_e: Annotated[float, Field(ge=100.0, le=1e6)] | None = None
    """Saturation capacity with the small capacitor [e-]."""
    analog_gain_max_db: Annotated[float, Field(ge=0.0, le=90.0)] | None = None
    """Gain before the converter, the rest is digital; without it all gain is analog [dB]."""
    converter_noise_dn: Annotated[float, Field(ge=0.0, le=100.0)] = 0.0
    """Noise behind the analog gain, standard deviation [DN]."""
    shutter: Literal["global", "rolling"] = "global"
    """Whether all rows are exposed at once or one after another."""
    line_time_us: Annotated[float, Field(ge=0.1, le=1000.0)] | None = None
    """Time from row to row of a rolling shutter; without it the rows fill the frame time [us]."""
    blooming: Fraction = 0.0
    """Share of the charge above full well that spills along the column; the rest is drained."""
    smear_db: Annotated[float, Field(ge=-160.0, le=-20.0)] | None = None
    """Vertical smear of a charge-coupled sensor: signal above or below a bright patch that is a
    tenth of the picture high, over that of the patch [dB]."""

    @model_validator(mode="after")
    def _second_gain(self) -> Sensor:
        given = [
            self.high_gain_from_db, self.high_gain_read_noise_e, self.high_gain_full_well_e
        ]  # fmt: skip
        if any(v is None for v in given) and any(v is not None for v in given):
            raise ValueError(
                "dual conversion gain needs high_gain_from_db, high_gain_read_noise_e and"
                " high_gain_full_well_e together"
            )
        return self
