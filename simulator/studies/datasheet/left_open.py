"""What a datasheet leaves open, and what to beware of, as messages."""

from __future__ import annotations

from collections.abc import Mapping

from simulator.camera.lens import lens_factor
from simulator.camera.model import CameraModel
from simulator.camera.sensor_readout import noise_electrons, readout
from simulator.messages import Message
from simulator.studies.datasheet.figures import Datasheet
from simulator.studies.datasheet.optics import card_electrons, linear_range_db
from simulator.units import ratio_to_db

_SOLVED, _ASSUMED = "solved", "assumed"


def unknowable(sheet: Datasheet, origin: Mapping[str, str]) -> list[Message]:
    """What these figures leave open."""
    out = [_sensitivity(sheet, origin)]
    minimum = sheet.minimum
    if origin["read_noise_e"] == _ASSUMED:
        out.append("read-noise")
    if origin["full_well_e"] == _ASSUMED:
        out.append("full-well")
    if minimum is None or minimum.picture == "colour":
        out.append("near-infrared")
    if sheet.dynamic_range is not None and sheet.dynamic_range.kind == "wide":
        out.append("exposures")
    if sheet.snr is not None and sheet.snr.measured_on == "picture-reduced":
        out.append("sensor-noise")
    return [Message(f"datasheet-open.{key}") for key in (*out, "rest")]


def _sensitivity(sheet: Datasheet, origin: Mapping[str, str]) -> str:
    if sheet.minimum is None:
        return "sensitivity"
    if origin["quantum_efficiency"] == _SOLVED:
        return "efficiency-and-lens"
    return "efficiency-and-gain" if origin["gain_max_db"] == _SOLVED else "efficiency-and-well"


def figure_signal(sheet: Datasheet, scale: float, model: CameraModel) -> tuple[float, float] | None:
    """Electrons and signal to noise [dB] of one raw pixel at the minimum illumination."""
    figure = sheet.minimum
    if figure is None:
        return None
    table = model.sensor.quantum_efficiency
    electrons = scale * card_electrons(figure, table, model.lens, sheet.pixel_pitch_um)
    gain = model.exposure.gain_max_db if figure.gain_db is None else figure.gain_db
    noise = noise_electrons(electrons, model.sensor, readout(model.sensor, gain), figure.shutter_s)
    return electrons, ratio_to_db(electrons / float(noise))


def cautions(
    sheet: Datasheet, gain_max_db: float, scale: float, model: CameraModel
) -> list[Message]:
    """What to beware of."""
    out, figure = [], sheet.minimum

    def beware(key: str, **values: float) -> None:
        out.append(Message(f"datasheet-caution.{key}", values))

    seen = figure_signal(sheet, scale, model)
    if figure is not None and seen is not None:
        if seen[1] < 6.0:
            beware("mostly-noise", electrons=seen[0], snr_db=seen[1])
        if figure.shutter_s > 1.05 / sheet.frame_rate_hz:
            beware("slow-shutter", shutter_s=figure.shutter_s, rate_hz=sheet.frame_rate_hz)
        if figure.f_number < model.lens.f_number - 0.05:
            loss = lens_factor(figure.f_number, 0.0) / lens_factor(model.lens.f_number, 0.0)
            beware(
                "slower-lens", stated=figure.f_number, has=model.lens.f_number, times=float(loss)
            )
        if figure.gain_db is not None and figure.gain_db > gain_max_db + 0.05:
            beware("more-gain", stated_db=figure.gain_db, largest_db=gain_max_db)
    ranged = sheet.dynamic_range
    if ranged is not None and ranged.kind == "wide":
        has = linear_range_db(model.sensor, model.exposure.shutter_max_s)
        if ranged.db < has:
            beware("narrow", has_db=has)
        elif ranged.db - has > 90.0:
            beware("very-wide", stated_db=ranged.db, beyond_db=ranged.db - has)
    if sheet.minimum is None and sheet.snr is None and sheet.dynamic_range is None:
        beware("no-figure")
    return out
