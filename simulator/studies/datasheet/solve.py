"""From a datasheet's figures to the physical parameters of a camera, and what stays unknown."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from simulator.camera.load import Camera
from simulator.camera.model import CameraModel
from simulator.camera.response import quantum_efficiency
from simulator.errors import InputError
from simulator.files import find, read_toml, split_tolerances
from simulator.messages import Message, unique
from simulator.studies.datasheet.figures import Datasheet, MinimumIllumination
from simulator.studies.datasheet.left_open import cautions, unknowable
from simulator.studies.datasheet.optics import (
    card_electrons,
    linear_level,
    linear_range_db,
    read_noise_for,
    signal_to_noise_db,
)
from simulator.units import db_to_ratio, ratio_to_db

FULL_WELL_E_PER_UM = 4000.0
"""Assumed full well over pixel pitch: the bundled archetypes lie at 3500 to 4150 e-/um."""
DENSITY_E_PER_UM2 = (300.0, 7000.0)
"""Least and most charge that silicon pixels hold by their area [e-/um^2] (from memory: large CCD
pixels 500 to 1000, stacked small pixels up to some 6000)."""
READ_NOISE_E = {"cmos": 2.5, "ccd": 14.0}
"""Assumed: as the bundled archetypes."""
READ_NOISE_LARGEST_E = 200.0
GAIN_LARGEST_DB = 72.0
"""Largest that sensors offer (from memory: 30 dB analogue and 42 dB digital); cameras use less."""
GAIN_ASSUMED_DB = {"cmos": 42.0, "ccd": 30.0}
TRANSMITTANCE = (0.3, 0.98)
"""Range in which efficiency that no table explains may be laid on the lens."""
DIGITS_DB = 1.0
"""Figures are printed in whole decibels; less than this is no contradiction."""
TABLES = {
    "cmos": ("cmos-small-pixel", "cmos-standard", "cmos-near-infrared-enhanced"),
    "ccd": ("ccd-analogue",),
}
_SMALL_PIXEL_UM = 2.3

GIVEN, SOLVED, ASSUMED, UNKNOWABLE = "given", "solved", "assumed", "unknowable"


@dataclass
class Solution:
    """Parameters found, each with where it comes from, and what is to be said about them."""

    table: str
    full_well_e: float
    read_noise_e: float
    gain_max_db: float
    transmittance_scale: float = 1.0
    """Factor on the lens file's transmittance, where only its product with the quantum efficiency
    is known."""
    origin: dict[str, str] = field(default_factory=dict)
    """given, solved or assumed, by parameter."""
    why: dict[str, Message] = field(default_factory=dict)
    """How a parameter was found, by parameter."""
    unknowable: list[Message] = field(default_factory=list)
    cautions: list[Message] = field(default_factory=list)


def camera_table(sheet: Datasheet, solution: Solution) -> dict[str, Any]:
    """The profile as plain numbers, without comments and tolerances."""
    focal = sheet.focal_length_mm or float(lens_file(sheet)["focal_min_mm"])
    lens: dict[str, Any] = {"use": sheet.lens, "focal_length_mm": focal}
    if sheet.f_number is not None:
        lens["f_number"] = sheet.f_number
    body = lens_file(sheet).get("mount", "cs")
    return {
        "title": sheet.title,
        "mount": "cs" if body == "c" else body,
        "sensor": {
            "width_px": sheet.width_px,
            "height_px": sheet.height_px,
            "pixel_pitch_um": sheet.pixel_pitch_um,
            "quantum_efficiency": solution.table,
            "full_well_e": solution.full_well_e,
            "read_noise_e": solution.read_noise_e,
            "bit_depth": sheet.bit_depth,
            "shutter": "rolling" if sheet.technology == "cmos" else "global",
        },
        "lens": lens,
        "exposure": {
            "shutter_max_s": max(1.0 / sheet.frame_rate_hz, 1e-4),
            "shutter_min_s": 1e-4,
            "gain_max_db": solution.gain_max_db,
        },
    }


def _model(sheet: Datasheet, solution: Solution) -> CameraModel:
    table = camera_table(sheet, solution)
    return Camera.from_dict(table, name="new camera").model


def lens_file(sheet: Datasheet) -> dict[str, Any]:
    """The sheet's lens profile, without tolerances."""
    path = find("lenses", sheet.lens, file="new camera", argument="lens")
    plain, _ = split_tolerances(read_toml(path), path)
    return dict(plain)


def solve(sheet: Datasheet) -> Solution:
    """Physical parameters that give the datasheet's figures back.

    Order: full well (given; else from the signal-to-noise ratio; else, if the minimum illumination
    states its gain, from that; else assumed by pitch), then quantum efficiency or gain from the
    minimum illumination, then read noise from a linear dynamic range.

    Raises
    ------
    InputError
        If the figures contradict each other or physics.
    """
    solved = _start(sheet)
    for _ in range(4):  # full well and read noise each follow from the other, weakly
        _full_well_by_ratio(sheet, solved)
        if sheet.minimum is not None:
            _fit_minimum(sheet, sheet.minimum, solved)
        _read_noise_by_range(sheet, solved)
    _check_ratio(sheet, solved)
    solved.unknowable = unknowable(sheet, solved.origin)
    model = _model(sheet, solved)
    solved.cautions = unique([
        *solved.cautions, *cautions(sheet, solved.gain_max_db, solved.transmittance_scale, model),
    ])  # fmt: skip
    return solved


def _start(sheet: Datasheet) -> Solution:
    usual = "cmos-small-pixel" if sheet.pixel_pitch_um < _SMALL_PIXEL_UM else "cmos-standard"
    usual = "ccd-analogue" if sheet.technology == "ccd" else usual
    well = sheet.full_well_e or FULL_WELL_E_PER_UM * sheet.pixel_pitch_um
    gain = sheet.gain_max_db
    if gain is None:
        gain = GAIN_ASSUMED_DB[sheet.technology]
        if sheet.minimum is not None and sheet.minimum.gain_db is not None:
            gain = sheet.minimum.gain_db
    solution = Solution(
        table=sheet.quantum_efficiency or usual,
        full_well_e=well,
        read_noise_e=sheet.read_noise_e or READ_NOISE_E[sheet.technology],
        gain_max_db=gain,
    )
    for key, value in (
        ("quantum_efficiency", sheet.quantum_efficiency),
        ("full_well_e", sheet.full_well_e),
        ("read_noise_e", sheet.read_noise_e),
        ("gain_max_db", sheet.gain_max_db),
    ):
        solution.origin[key] = ASSUMED if value is None else GIVEN
    if sheet.gain_max_db is None and sheet.minimum is not None:
        solution.origin["gain_max_db"] = GIVEN if sheet.minimum.gain_db is not None else ASSUMED
        solution.why["gain_max_db"] = _why("gain-of-minimum")
    quantum_efficiency(solution.table)
    return solution


def _well_limits(sheet: Datasheet) -> tuple[float, float]:
    area = sheet.pixel_pitch_um**2
    return max(100.0, DENSITY_E_PER_UM2[0] * area), min(1e6, DENSITY_E_PER_UM2[1] * area)


def _full_well_by_ratio(sheet: Datasheet, solution: Solution) -> None:
    figure = sheet.snr
    if figure is None or sheet.full_well_e is not None or figure.measured_on == "picture-reduced":
        return
    low, high = _well_limits(sheet)
    at = {well: _ratio_db(sheet, solution, well) for well in (low, high)}
    if figure.db > at[high] + DIGITS_DB:
        raise _contradiction(
            f"A pixel of {sheet.pixel_pitch_um:.3g} um cannot give {figure.db:g} dB: even"
            f" {high:.0f} electrons, the most that silicon of that area holds, give"
            f" {at[high]:.1f} dB of shot noise alone.",
            "snr_db", figure.db, f"up to {at[high]:.1f} dB at this level and gain",
            "the figure was taken with noise reduction on, or weighted: say"
            " --snr-measured-on picture-reduced, or leave it out",
        )  # fmt: skip
    if figure.db < at[low] - DIGITS_DB:
        raise _contradiction(
            f"{figure.db:g} dB is less than the smallest full well of such a pixel gives:"
            f" {low:.0f} electrons make {at[low]:.1f} dB at that level and gain.",
            "snr_db", figure.db, f"from {at[low]:.1f} dB",
            "the figure was taken at a lower level or with more gain than stated",
        )  # fmt: skip
    for _ in range(50):
        middle = float(np.sqrt(low * high))
        if _ratio_db(sheet, solution, middle) < figure.db:
            low = middle
        else:
            high = middle
    solution.full_well_e = high
    solution.origin["full_well_e"] = SOLVED
    solution.why["full_well_e"] = _why("full-well-by-ratio")


def _ratio_db(sheet: Datasheet, solution: Solution, well_e: float) -> float:
    assert sheet.snr is not None
    model = _model(sheet, solution)
    sensor = model.sensor.model_copy(update={"full_well_e": well_e})
    return signal_to_noise_db(sheet.snr, sensor, model.lens, model.exposure.shutter_max_s)


def _fit_minimum(sheet: Datasheet, figure: MinimumIllumination, solution: Solution) -> None:
    wanted = linear_level(figure.level)
    lens = _model(sheet, solution).lens
    tables = [sheet.quantum_efficiency] if sheet.quantum_efficiency else TABLES[sheet.technology]
    electrons = {t: card_electrons(figure, t, lens, sheet.pixel_pitch_um) for t in tables}
    well_known = solution.origin["full_well_e"] == GIVEN or (
        solution.origin["full_well_e"] == SOLVED and sheet.snr is not None
    )
    if figure.gain_db is None and sheet.gain_max_db is None:
        _gain_for(
            figure, wanted * solution.full_well_e / electrons[_pick(solution, electrons)], solution
        )
        return
    gain = db_to_ratio(sheet.gain_max_db if figure.gain_db is None else figure.gain_db)  # type: ignore[arg-type]
    if well_known:
        _efficiency_for(figure, wanted * solution.full_well_e / gain, electrons, lens, solution)
        return
    wells = {t: e * gain / wanted for t, e in electrons.items()}
    usual = FULL_WELL_E_PER_UM * sheet.pixel_pitch_um
    best = min(wells, key=lambda t: abs(np.log(wells[t] / usual)))
    low, high = _well_limits(sheet)
    if wells[best] < low:
        peak = float(quantum_efficiency(best).max())
        _refuse_efficiency(peak * low / wells[best], low, figure)
    if wells[best] > high:
        _refuse_too_easy(wells[best] / high, figure)
    solution.table, solution.full_well_e = best, wells[best]
    solution.origin["full_well_e"] = SOLVED
    solution.why["full_well_e"] = _why("full-well-by-minimum")


def _pick(solution: Solution, electrons: dict[str, float]) -> str:
    return solution.table if solution.table in electrons else next(iter(electrons))


def _gain_for(figure: MinimumIllumination, gain: float, solution: Solution) -> None:
    """Largest gain that lifts the figure's electrons to its level."""
    if gain < 1.0:
        _refuse_too_easy(1.0 / gain, figure)
    if ratio_to_db(gain) > GAIN_LARGEST_DB:
        peak = float(quantum_efficiency(solution.table).max())
        equal = peak * gain / db_to_ratio(GAIN_LARGEST_DB)
        raise _contradiction(
            f"{figure.lux:g} lx would need {ratio_to_db(gain):.0f} dB of gain, or at"
            f" {GAIN_LARGEST_DB:.0f} dB a quantum efficiency of {100 * equal:.0f} %"
            f"{', more electrons than photons' if equal > 1 else ''}.",
            "minimum_lux", figure.lux, f"gain up to {GAIN_LARGEST_DB:.0f} dB",
            "one of the conditions is not the true one: often a slower shutter or a lower level",
        )  # fmt: skip
    solution.gain_max_db = ratio_to_db(gain)
    solution.origin["gain_max_db"] = SOLVED
    solution.why["gain_max_db"] = _why("gain-by-minimum")


def _efficiency_for(
    figure: MinimumIllumination,
    wanted_e: float,
    electrons: dict[str, float],
    lens: Any,
    solution: Solution,
) -> None:
    """Table nearest to the electrons that the level takes; the rest is laid on the lens."""
    # the tables' own lens stands in the electrons; the scale of earlier rounds does not
    best = min(electrons, key=lambda t: abs(np.log(wanted_e / electrons[t])))
    scale = wanted_e / electrons[best]
    low, high = TRANSMITTANCE
    if lens.transmittance * scale > high:
        best = max(electrons, key=lambda t: electrons[t])
        scale = wanted_e / electrons[best]
    through = lens.transmittance * scale
    if through > high:
        peak = float(quantum_efficiency(best).max())
        _refuse_efficiency(peak * through / high, solution.full_well_e, figure)
    if through < low:
        _refuse_too_easy(low / through, figure)
    solution.table, solution.transmittance_scale = best, scale
    solution.origin["quantum_efficiency"] = SOLVED
    solution.origin["transmittance"] = SOLVED
    solution.why["quantum_efficiency"] = _why("efficiency-by-minimum")


def _refuse_efficiency(peak: float, well_e: float, figure: MinimumIllumination) -> None:
    """Raise: no silicon turns so many photons into electrons."""
    raise _contradiction(
        f"{figure.lux:g} lx at these conditions would need a quantum efficiency of"
        f" {100 * peak:.0f} %"
        + (
            ", more electrons than photons: that is not possible"
            if peak > 1.0
            else ", beyond any table we know for such a sensor"
        )
        + f" (with a full well of {well_e:.0f} electrons).",
        "minimum_lux", figure.lux, "a figure that photons can pay for",
        "one of the conditions is not the true one: often the shutter is slower, the gain larger,"
        " the level lower, or the infrared-cut filter out; or decibels are counted from elsewhere"
        " (here the full well is white at 0 dB): then say --minimum-gain-db max",
    )  # fmt: skip


def _refuse_too_easy(times: float, figure: MinimumIllumination) -> None:
    """Raise: the picture would be far brighter than stated."""
    raise _contradiction(
        f"At {figure.lux:g} lx and these conditions even a poor sensor reaches {times:.1f} times"
        f" the light that a level of {100 * figure.level:g} % needs.",
        "minimum_lux", figure.lux, "a figure that needs the gain it states",
        "one of the conditions is not the true one: often less gain, a shorter shutter or a higher"
        " level",
    )  # fmt: skip


def _read_noise_by_range(sheet: Datasheet, solution: Solution) -> None:
    figure = sheet.dynamic_range
    if figure is None or figure.kind != "linear":
        return
    model = _model(sheet, solution)
    shutter = model.exposure.shutter_max_s
    if sheet.read_noise_e is not None:
        has = linear_range_db(model.sensor, shutter)
        if figure.db > has + DIGITS_DB:
            raise _contradiction(
                f"A full well of {solution.full_well_e:.0f} electrons over a read noise of"
                f" {solution.read_noise_e:g} gives {has:.1f} dB, not {figure.db:g} dB.",
                "dynamic_range_db", figure.db, f"up to {has:.1f} dB",
                "a range beyond that is a wide one (--dynamic-range-kind wide)",
            )  # fmt: skip
        if figure.db < has - 6.0:
            solution.cautions.append(Message("datasheet-caution.range-by-well", {"has_db": has}))
        return
    noise = read_noise_for(figure, model.sensor, shutter)
    if noise is None:
        still = model.sensor.model_copy(update={"read_noise_e": 0.0})
        has = linear_range_db(still, shutter)
        raise _contradiction(
            f"One exposure of {solution.full_well_e:.0f} electrons in {sheet.bit_depth} bits spans"
            f" {has:.1f} dB even without any read noise: {figure.db:g} dB is above full well over"
            " noise.",
            "dynamic_range_db", figure.db, f"up to {has:.1f} dB",
            "a range beyond that is a wide one (--dynamic-range-kind wide), or takes more bits"
            " (--bit-depth)",
        )  # fmt: skip
    if noise > READ_NOISE_LARGEST_E:
        raise _contradiction(
            f"{figure.db:g} dB would mean a read noise of {noise:.0f} electrons.",
            "dynamic_range_db", figure.db, f"a read noise up to {READ_NOISE_LARGEST_E:g} electrons",
        )  # fmt: skip
    solution.read_noise_e = noise
    solution.origin["read_noise_e"] = SOLVED
    solution.why["read_noise_e"] = _why("read-noise-by-range")


def _check_ratio(sheet: Datasheet, solution: Solution) -> None:
    """A signal-to-noise ratio beside a full well that is given must agree with it."""
    figure = sheet.snr
    if figure is None or figure.measured_on == "picture-reduced" or sheet.full_well_e is None:
        return
    has = _ratio_db(sheet, solution, solution.full_well_e)
    if figure.db > has + DIGITS_DB:
        raise _contradiction(
            f"A full well of {solution.full_well_e:.0f} electrons gives {has:.1f} dB at that level"
            f" and gain by shot noise, not {figure.db:g} dB.",
            "snr_db", figure.db, f"up to {has:.1f} dB",
            "noise reduction was on (--snr-measured-on picture-reduced), or it holds more",
        )  # fmt: skip
    if figure.db < has - 3.0:
        values = {"has_db": has, "stated_db": figure.db}
        solution.cautions.append(Message("datasheet-caution.ratio-by-well", values))


def _why(key: str) -> Message:
    return Message(f"datasheet-why.{key}")


def _contradiction(
    problem: str, key: str, given: object, allowed: str, fix: str | None = None
) -> InputError:
    return InputError(
        f"The datasheet contradicts itself or physics. {problem}",
        argument=key, given=given, allowed=allowed, fix=fix,
    )  # fmt: skip
