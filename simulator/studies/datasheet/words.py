"""What a datasheet leaves open, and what to beware of."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from simulator.camera.lens import lens_factor
from simulator.camera.model import CameraModel
from simulator.camera.sensor_readout import noise_electrons, readout
from simulator.studies.datasheet.figures import Datasheet
from simulator.studies.datasheet.optics import card_electrons, linear_range_db
from simulator.units import ratio_to_db

_SOLVED, _ASSUMED = "solved", "assumed"


class Open(NamedTuple):
    """Something that the figures of a datasheet leave open, and why."""

    what: str
    why: str


def unknowable(sheet: Datasheet, origin: Mapping[str, str]) -> list[Open]:
    """What these figures leave open."""
    out = [*_sensitivity(sheet, origin)]
    minimum = sheet.minimum
    if origin["read_noise_e"] == _ASSUMED:
        why = "a level says nothing about its noise; a linear dynamic range, or a signal-to-noise"
        out.append(Open("read noise", f"{why} ratio in the dark, would"))
    if origin["full_well_e"] == _ASSUMED:
        why = "a signal-to-noise ratio without noise reduction would give it"
        out.append(Open("full well", why))
    if minimum is None or minimum.picture == "colour":
        why = "no figure was taken with the infrared-cut filter out"
        out.append(Open("response in the near infrared", why))
    if sheet.dynamic_range is not None and sheet.dynamic_range.kind == "wide":
        why = "the profile takes the fewest exposures that reach the wide range"
        out.append(Open("number and ratio of the exposures", why))
    if sheet.snr is not None and sheet.snr.measured_on == "picture-reduced":
        why = "its signal-to-noise ratio was taken with noise reduction of unknown strength and is"
        out.append(Open("the sensor's noise", f"{why} not used"))
    out.append(
        Open("spectral shape, dark current, non-uniformity, glare", "no such figure covers them")
    )
    return out


def _sensitivity(sheet: Datasheet, origin: Mapping[str, str]) -> list[Open]:
    if sheet.minimum is None:
        why = "without a minimum illumination, quantum efficiency, lens and gain are those of the"
        return [Open("sensitivity", f"{why} kind of camera")]
    if origin["quantum_efficiency"] == _SOLVED:
        why = "the minimum illumination gives their product only"
        return [Open("quantum efficiency apart from lens transmittance", why)]
    what = "gain" if origin["gain_max_db"] == _SOLVED else "full well"
    why = "one level of one card gives only their combined effect"
    return [Open(f"quantum efficiency apart from {what} and lens transmittance", why)]


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


def cautions(sheet: Datasheet, gain_max_db: float, scale: float, model: CameraModel) -> list[str]:
    """What to beware of, one sentence each."""
    out, figure = [], sheet.minimum
    seen = figure_signal(sheet, scale, model)
    if figure is not None and seen is not None:
        if seen[1] < 6.0:
            out.append(
                f"At its minimum illumination a pixel gathers {seen[0]:.2g} electrons"
                f" ({seen[1]:.1f} dB over its noise): the level is reached, but the picture is"
                " mostly noise."
            )
        if figure.shutter_s > 1.05 / sheet.frame_rate_hz:
            out.append(
                f"The minimum illumination was taken with a slow shutter of {figure.shutter_s:g} s"
                f" at {sheet.frame_rate_hz:g} frames a second: whatever moves blurs. The profile"
                " keeps to one frame and allows the slow shutter as a last step."
            )
        if figure.f_number < model.lens.f_number - 0.05:
            loss = lens_factor(figure.f_number, 0.0) / lens_factor(model.lens.f_number, 0.0)
            out.append(
                f"The minimum illumination holds at f/{figure.f_number:g}; this lens is at"
                f" f/{model.lens.f_number:.3g} and needs {loss:.1f} times the light."
            )
        if figure.gain_db is not None and figure.gain_db > gain_max_db + 0.05:
            out.append(
                f"The minimum illumination was taken at {figure.gain_db:g} dB, more than the"
                f" largest gain of {gain_max_db:g} dB."
            )
    ranged = sheet.dynamic_range
    if ranged is not None and ranged.kind == "wide":
        has = linear_range_db(model.sensor, model.exposure.shutter_max_s)
        if ranged.db < has:
            out.append(f"One exposure already spans {has:.0f} dB; the wide range claims less.")
        elif ranged.db - has > 90.0:
            out.append(
                f"A wide range of {ranged.db:g} dB is {ranged.db - has:.0f} dB beyond one exposure;"
                " stray light in the lens alone usually ends it at 60 to 80 dB within one picture"
                " (common practice, no source)."
            )
    if sheet.minimum is None and sheet.snr is None and sheet.dynamic_range is None:
        out.append("No figure was given: everything is assumed by kind and pixel size.")
    return out
