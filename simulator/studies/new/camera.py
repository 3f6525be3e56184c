"""A commented camera profile from datasheet figures, and a table of what is known of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from simulator.camera.load import Camera
from simulator.errors import FileFormatError, InputError
from simulator.studies.datasheet.figures import Datasheet, read_datasheet
from simulator.studies.datasheet.optics import linear_range_db
from simulator.studies.datasheet.solve import (
    ASSUMED,
    GIVEN,
    SOLVED,
    UNKNOWABLE,
    Solution,
    camera_table,
    solve,
)
from simulator.studies.datasheet.words import figure_signal
from simulator.toml_text import to_toml
from simulator.units import db_to_ratio, ratio_to_db

TOLERANCE = {GIVEN: 0.15, SOLVED: 0.3, ASSUMED: 0.5}
"""Relative tolerance by where a number comes from (assumed, kept wide on purpose)."""
GAIN_TOLERANCE_DB = {GIVEN: 1.0, SOLVED: 4.0, ASSUMED: 6.0}
LARGEST_RATIO = 64.0
"""Largest ratio of two exposures next to each other that a profile may have."""


class Row(NamedTuple):
    """One line of the table: given, solved, assumed or unknowable; what; how much; why."""

    kind: str
    name: str
    value: str
    why: str


@dataclass(frozen=True)
class NewCamera:
    """A profile and what is known of it."""

    text: str
    rows: list[Row]
    cautions: list[str]
    camera: Camera


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
        found = solve(sheet)
        table = _table(sheet, found)
        text = _text(sheet, found, table)
        camera = Camera.from_toml(text, name="new camera")
    except FileFormatError as error:  # of the profile that is being made: there is no file yet
        key = (error.key or "lens").split(".")[-1]
        raise InputError(
            error.problem, argument=key, given=error.given or sheet.lens,
            allowed=error.allowed, fix="give another --lens, --focal-length-mm or --f-number",
        ) from None  # fmt: skip
    return NewCamera(text, _rows(sheet, found, camera), found.cautions, camera)


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


def _table(sheet: Datasheet, found: Solution) -> dict[str, Any]:
    """The profile with tolerances, without comments."""
    table = camera_table(sheet, found)
    sensor, lens, exposure = table["sensor"], table["lens"], table["exposure"]
    origin = found.origin
    by_type = sheet.pitch_from == "format"
    sensor["pixel_pitch_um"] = _toleranced(
        sheet.pixel_pitch_um, GIVEN, (0.03 if by_type else 0.01) * sheet.pixel_pitch_um
    )
    sensor["full_well_e"] = _toleranced(found.full_well_e, origin["full_well_e"])
    sensor["read_noise_e"] = _toleranced(found.read_noise_e, origin["read_noise_e"])
    if found.transmittance_scale != 1.0:
        bare = Camera.from_dict(table, name="new camera").model.lens
        for key in ("transmittance", "transmittance_infrared"):
            value = min(1.0, getattr(bare, key) * found.transmittance_scale)
            lens[key] = _toleranced(value, SOLVED)
    exposure["shutter_max_s"] = _round(exposure["shutter_max_s"])
    exposure["gain_max_db"] = _toleranced(
        found.gain_max_db, origin["gain_max_db"], GAIN_TOLERANCE_DB[origin["gain_max_db"]]
    )
    slow = sheet.minimum.shutter_s if sheet.minimum is not None else 0.0
    if slow > 1.05 / sheet.frame_rate_hz:
        exposure["slow_shutter_max_s"] = _round(slow)
    wide = _wide_range(sheet, found)
    if wide:
        table["wide_range"] = wide
    table["day_night"] = {"mode": "auto"}
    table["processing"] = {"tone": "bt709", "frame_rate_hz": sheet.frame_rate_hz}
    return table


def _wide_range(sheet: Datasheet, found: Solution) -> dict[str, Any]:
    """Fewest exposures that stretch the linear range to the claim: each adds 20 log10(ratio)."""
    figure = sheet.dynamic_range
    if figure is None or figure.kind != "wide":
        return {}
    table = camera_table(sheet, found)
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


_COMMENTS = {
    "sensor": "# The sensor. `solved` numbers give the datasheet's figures back; their tolerances"
    " are wide,\n# since one figure cannot tell its causes apart.",
    "lens": "# How the lens is set; the rest comes from the lens file.",
    "exposure": "# Shutter first, then gain.",
    "wide_range": "# Fewest exposures that stretch the linear range to what is claimed (assumed).",
    "day_night": "# No figure tells when the filter moves: the usual thresholds.",
    "processing": "# No figure tells the processing: the usual strengths.",
}


def _text(sheet: Datasheet, found: Solution, table: Mapping[str, Any]) -> str:
    lines = ["# Written from datasheet figures; what they were:"]
    lines += [f"#   {row.name}: {row.value}" for row in _given(sheet)]
    lines += ["# What they cannot tell:"]
    lines += [f"#   {what}: {why}" for what, why in found.unknowable]
    if found.cautions:
        lines += ["# Beware:"] + [f"#   {text}" for text in found.cautions]
    parts = ["\n".join(lines), to_toml({k: v for k, v in table.items() if k in ("title", "mount")})]
    for name, part in table.items():
        if isinstance(part, Mapping):
            comments = [_COMMENTS[name], *_reasons(name, found)]
            parts.append("\n".join(comments) + "\n" + to_toml({name: part}))
    return "\n".join(parts)


def _reasons(name: str, found: Solution) -> list[str]:
    keys = {
        "sensor": ("quantum_efficiency", "full_well_e", "read_noise_e"),
        "lens": ("transmittance",),
        "exposure": ("gain_max_db",),
    }.get(name, ())
    out = []
    for key in keys:
        if key == "transmittance" and found.transmittance_scale != 1.0:
            out.append(
                "# transmittance: solved; it carries what of the sensitivity the table of quantum"
                " efficiency\n# does not, only their product is known"
            )
        elif key in found.origin:
            why = found.why.get(key) if found.origin[key] == SOLVED else None
            out.append(f"# {key}: {found.origin[key]}" + (f", {why}" if why else ""))
    return out


def _given(sheet: Datasheet) -> list[Row]:
    rows = [
        Row(GIVEN, "pixels", f"{sheet.width_px} x {sheet.height_px}", ""),
        Row(
            GIVEN if sheet.pitch_from == "pitch" else SOLVED,
            "pixel pitch",
            f"{sheet.pixel_pitch_um:.3g} um",
            "" if sheet.pitch_from == "pitch" else "diagonal by the sensor's type, over its pixels",
        ),
    ]
    if sheet.minimum is not None:
        m = sheet.minimum
        gain = "largest gain" if m.gain_db is None else f"{m.gain_db:g} dB"
        rows.append(
            Row(
                GIVEN,
                "minimum illumination",
                f"{m.lux:g} lx at f/{m.f_number:g}, {m.shutter_s:.4g} s, {gain}, level"
                f" {100 * m.level:g} %, reflectance {m.reflectance:g}, {m.picture}, {m.light}",
                "",
            )
        )
    if sheet.snr is not None:
        s = sheet.snr
        rows.append(
            Row(
                GIVEN,
                "signal to noise",
                f"{s.db:g} dB at level {100 * s.level:g} %, {s.gain_db:g} dB, on {s.measured_on}",
                "not used: noise reduction was on" if s.measured_on == "picture-reduced" else "",
            )
        )
    if sheet.dynamic_range is not None:
        d = sheet.dynamic_range
        rows.append(Row(GIVEN, "dynamic range", f"{d.db:g} dB, {d.kind}", ""))
    return rows


def _rows(sheet: Datasheet, found: Solution, camera: Camera) -> list[Row]:
    """The table: given, then solved, then assumed, then what cannot be known."""
    origin, why = found.origin, found.why
    rows = _given(sheet)
    rows += [
        Row(
            origin["quantum_efficiency"],
            "quantum efficiency",
            found.table,
            why.get("quantum_efficiency", ""),
        ),
        Row(
            origin["full_well_e"],
            "full well",
            f"{found.full_well_e:.0f} e-",
            why.get("full_well_e", "by pixel pitch" if origin["full_well_e"] == ASSUMED else ""),
        ),
        Row(
            origin["read_noise_e"],
            "read noise",
            f"{found.read_noise_e:.2g} e-",
            why.get("read_noise_e", "by kind" if origin["read_noise_e"] == ASSUMED else ""),
        ),
        Row(
            origin["gain_max_db"],
            "largest gain",
            f"{found.gain_max_db:.3g} dB",
            why.get("gain_max_db", "by kind" if origin["gain_max_db"] == ASSUMED else ""),
        ),
    ]
    lens = camera.model.lens
    if found.transmittance_scale != 1.0:
        rows.append(
            Row(SOLVED, "lens transmittance", f"{lens.transmittance:.2g}", "with the efficiency")
        )
    seen = figure_signal(sheet, found.transmittance_scale, _bare(camera, found))
    if seen is not None:
        rows.append(
            Row(
                SOLVED,
                "at its least light",
                f"{seen[0]:.3g} e-, {seen[1]:.1f} dB",
                "one raw pixel of the strongest channel",
            )
        )
    rows.append(
        Row(ASSUMED, "lens", f"{sheet.lens}, {lens.focal_length_mm:g} mm f/{lens.f_number:.2g}", "")
    )
    rows += [Row(UNKNOWABLE, what, why, "") for what, why in found.unknowable]
    order = [GIVEN, SOLVED, ASSUMED, UNKNOWABLE]
    return sorted(rows, key=lambda row: order.index(row.kind))


def _bare(camera: Camera, found: Solution) -> Any:
    """The model with the lens file's transmittance, to which the scale belongs."""
    lens = camera.model.lens
    if found.transmittance_scale == 1.0:
        return camera.model
    return camera.model.model_copy(
        update={
            "lens": lens.model_copy(
                update={
                    key: getattr(lens, key) / found.transmittance_scale
                    for key in ("transmittance", "transmittance_infrared")
                }
            )
        }
    )
