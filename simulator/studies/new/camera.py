"""A camera profile from datasheet figures, and what is known of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from simulator.camera.load import Camera
from simulator.errors import FileFormatError, InputError
from simulator.studies.datasheet.figures import Datasheet, read_datasheet
from simulator.studies.datasheet.left_open import figure_signal
from simulator.studies.datasheet.optics import linear_range_db
from simulator.studies.datasheet.solve import (
    ASSUMED,
    GIVEN,
    SOLVED,
    Solution,
    camera_table,
    solve,
)
from simulator.units import db_to_ratio, ratio_to_db

TOLERANCE = {GIVEN: 0.15, SOLVED: 0.3, ASSUMED: 0.5}
"""Relative tolerance by where a number comes from (assumed, kept wide on purpose)."""
GAIN_TOLERANCE_DB = {GIVEN: 1.0, SOLVED: 4.0, ASSUMED: 6.0}
LARGEST_RATIO = 64.0
"""Largest ratio of two exposures next to each other that a profile may have."""


@dataclass(frozen=True)
class NewCamera:
    """A profile and what is known of it."""

    camera: Camera
    sheet: Datasheet
    """What was given."""
    solution: Solution
    """What follows from it."""
    table: Mapping[str, Any]
    """The profile with tolerances, as its file gives it."""
    at_minimum: tuple[float, float] | None
    """Electrons and signal to noise [dB] of one raw pixel at the minimum illumination."""


def new_camera(given: Mapping[str, Any]) -> NewCamera:
    """Profile from datasheet figures by key, as `datasheet_figures.read_datasheet` takes them.

    Raises
    ------
    InputError
        For a figure without its conditions, a value that is not possible, or figures that
        contradict each other or physics.
    """
    sheet = read_datasheet(given)
    try:
        solution = solve(sheet)
        table = _table(sheet, solution)
        camera = Camera.from_dict(table, name="new camera")
    except FileFormatError as error:  # of the profile that is being made: there is no file yet
        key = (error.key or "lens").split(".")[-1]
        raise InputError(
            error.problem, argument=key, given=error.given or sheet.lens,
            allowed=error.allowed, fix="give another --lens, --focal-length-mm or --f-number",
        ) from None  # fmt: skip
    seen = figure_signal(sheet, solution.transmittance_scale, _bare(camera, solution))
    return NewCamera(camera, sheet, solution, table, seen)


def _round(value: float) -> float:
    """Four significant digits: more would pretend knowledge."""
    return float(f"{value:.4g}")


def _toleranced(value: float, origin: str, absolute: float | None = None) -> dict[str, Any]:
    tolerance = TOLERANCE[origin] * value if absolute is None else absolute
    return {
        "value": _round(value),
        "tolerance": float(f"{tolerance:.2g}"),
        "source": "assumed" if origin == ASSUMED else "datasheet",
    }


def _table(sheet: Datasheet, solution: Solution) -> dict[str, Any]:
    """The profile with tolerances, without comments."""
    table = camera_table(sheet, solution)
    sensor, lens, exposure = table["sensor"], table["lens"], table["exposure"]
    origin = solution.origin
    by_type = sheet.pitch_from == "format"
    sensor["pixel_pitch_um"] = _toleranced(
        sheet.pixel_pitch_um, GIVEN, (0.03 if by_type else 0.01) * sheet.pixel_pitch_um
    )
    sensor["full_well_e"] = _toleranced(solution.full_well_e, origin["full_well_e"])
    sensor["read_noise_e"] = _toleranced(solution.read_noise_e, origin["read_noise_e"])
    if solution.transmittance_scale != 1.0:
        bare = Camera.from_dict(table, name="new camera").model.lens
        for key in ("transmittance", "transmittance_infrared"):
            value = min(1.0, getattr(bare, key) * solution.transmittance_scale)
            lens[key] = _toleranced(value, SOLVED)
    exposure["shutter_max_s"] = _round(exposure["shutter_max_s"])
    exposure["gain_max_db"] = _toleranced(
        solution.gain_max_db, origin["gain_max_db"], GAIN_TOLERANCE_DB[origin["gain_max_db"]]
    )
    slow = sheet.minimum.shutter_s if sheet.minimum is not None else 0.0
    if slow > 1.05 / sheet.frame_rate_hz:
        exposure["slow_shutter_max_s"] = _round(slow)
    wide = _wide_range(sheet, solution)
    if wide:
        table["wide_range"] = wide
    table["day_night"] = {"mode": "auto"}
    table["processing"] = {"tone": "bt709", "frame_rate_hz": sheet.frame_rate_hz}
    return table


def _wide_range(sheet: Datasheet, solution: Solution) -> dict[str, Any]:
    """Fewest exposures that stretch the linear range to the claim: each adds 20 log10(ratio)."""
    figure = sheet.dynamic_range
    if figure is None or figure.kind != "wide":
        return {}
    table = camera_table(sheet, solution)
    model = Camera.from_dict(table, name="new camera").model
    more = figure.db - linear_range_db(model.sensor, model.exposure.shutter_max_s)
    if more <= ratio_to_db(2.0):
        return {"method": "off", "claimed_db": figure.db}
    steps = min(3, max(1, math.ceil(more / ratio_to_db(LARGEST_RATIO))))
    ratio = min(LARGEST_RATIO, db_to_ratio(more / steps))
    return {
        "method": "exposures",
        "exposures": steps + 1,
        "ratio": _toleranced(ratio, ASSUMED),
        "claimed_db": figure.db,
    }


def _bare(camera: Camera, solution: Solution) -> Any:
    """The model with the lens file's transmittance, to which the scale belongs."""
    lens = camera.model.lens
    if solution.transmittance_scale == 1.0:
        return camera.model
    return camera.model.model_copy(
        update={
            "lens": lens.model_copy(
                update={
                    key: getattr(lens, key) / solution.transmittance_scale
                    for key in ("transmittance", "transmittance_infrared")
                }
            )
        }
    )
