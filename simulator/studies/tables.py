"""Results as plain tables and as labelled arrays, for pandas, xarray, CSV and NetCDF.

Arrays follow the CF conventions: names without dots, units as UDUNITS reads them, a long name each.
Decibels are 20 log10 of a ratio of amplitudes, which UDUNITS writes "0.05 lg(re 1)".
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from simulator.judge.named_figures import FIGURES
from simulator.studies.key_units import split_unit, unit_of
from simulator.studies.provenance import versions

if TYPE_CHECKING:
    from xarray import Dataset

    from simulator.studies.calendar.study import Calendar
    from simulator.studies.compare import Comparison
    from simulator.studies.light_levels.views import LightLevelViews
    from simulator.studies.survey.study import Survey
    from simulator.studies.sweep import Swept

Row = dict[str, Any]
CONVENTIONS = "CF-1.11"
CF_UNITS = {
    "": "1", "1": "1", "dB": "0.05 lg(re 1)", "px": "1", "px/m": "m-1", "e⁻": "count",
    "e⁻/s": "count s-1", "lx": "lx", "lm": "lm", "cd": "cd", "cd/m²": "cd m-2", "W": "W",
    "W/sr": "W sr-1", "W/m²": "W m-2", "m": "m", "mm": "mm", "µm": "um", "nm": "nm", "s": "s",
    "µs": "us", "Hz": "Hz", "K": "K", "°": "degree", "°C": "degC", "km/h": "km h-1",
    "mm/h": "mm h-1", "kbit/s": "kbit s-1", "in a million": "1e-6", "levels of 255": "1",
    "levels": "1", "L*": "1", "ΔE₀₀": "1", "%": "percent",
}  # fmt: skip
"""Units as UDUNITS reads them, by how this package writes them."""
PROBABILITIES = ("probability", "probability_low", "probability_high")
TEXTS = {
    "verdict": "verdict in one word",
    "mode": "day or night mode of the camera",
    "limited_by": "the end of its range at which the exposure control stopped",
}
"""Columns of words, and what they hold."""


_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What begins a formula in a spreadsheet."""


def harmless(cell: Any) -> Any:
    """A cell that no spreadsheet takes for a formula: a text that begins like one gets a "'".

    Examples
    --------
    >>> harmless("=1+1"), harmless("gate"), harmless(-3.5)
    ("'=1+1", 'gate', -3.5)

    References
    ----------
    OWASP, "CSV Injection": = + - @, tab and carriage return at the beginning (from memory).
    """
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell


def plain_name(key: str) -> str:
    """A dotted key as a name that pandas, xarray and NetCDF take.

    Examples
    --------
    >>> plain_name("lamp.gate lamp.intensity_cd")
    'lamp_gate_lamp_intensity_cd'
    """
    name = re.sub(r"[^A-Za-z0-9]+", "_", key).strip("_")
    return name if name[:1].isalpha() else f"x_{name}"


def plain_decimal(value: Any) -> str:
    """A value as CSV holds it: numbers without exponents, nothing for None.

    Examples
    --------
    >>> plain_decimal(1e-05), plain_decimal(250.0), plain_decimal(None), plain_decimal(True)
    ('0.00001', '250', '', 'true')
    """
    if value is None:
        return ""
    if isinstance(value, bool | np.bool_):
        return "true" if value else "false"
    if isinstance(value, float | np.floating):
        return "" if np.isnan(value) else np.format_float_positional(value, trim="-")
    return value.isoformat() if isinstance(value, datetime) else str(value)


def write_csv(path: Path, rows: Sequence[Mapping[str, Any]]) -> None:
    """Write rows as CSV, numbers as plain decimals; columns in the order of the first row."""
    with path.open("w", newline="", encoding="utf-8") as file:
        out = csv.writer(file)
        names = list(rows[0]) if rows else []
        out.writerow(map(harmless, names))
        out.writerows([_cell(row[name]) for name in names] for row in rows)


def _cell(value: Any) -> str:
    return str(harmless(value)) if isinstance(value, str) else plain_decimal(value)


def write_netcdf(path: Path, data: Dataset) -> None:
    """Write a dataset as NetCDF (classic format)."""
    data.to_netcdf(path, engine="scipy")


class Attributes(NamedTuple):
    """What a variable is, as CF wants it said."""

    units: str
    long_name: str


WANTED = Attributes("1", "probability that is asked for")


def figure_attributes(name: str) -> Attributes:
    """Unit and meaning of a figure of the verdict, by the last part of its key."""
    if name == "trials":
        return Attributes("1", "repetitions that were judged")
    figure = next(f for f in FIGURES if f.name == name)
    return Attributes(CF_UNITS[figure.quantity.unit], figure.meaning)


def key_attributes(key: str) -> Attributes:
    """Unit and meaning of a dotted key of scene or camera."""
    name, unit = split_unit(key)[0], unit_of(key)
    owner = " ".join(key.split(".")[:-1]).replace("_", " ")
    return Attributes(CF_UNITS[unit], f"{name.replace('_', ' ')} of {owner}" if owner else name)


def new_dataset(
    variables: Mapping[str, tuple[Sequence[str], Any, Attributes | None]],
    coordinates: Mapping[str, tuple[Sequence[str], Any, Mapping[str, str]]],
    about: Mapping[str, Any],
) -> Dataset:
    """A dataset after the CF conventions.

    Parameters
    ----------
    variables, coordinates
        Dimensions, values and what they are, by name; words have no unit.
    about
        Attributes of the whole; what is None is left out.
    """
    import xarray  # noqa: PLC0415  takes a while

    def attributes(name: str, what: Attributes | None) -> dict[str, str]:
        return {"long_name": TEXTS[name]} if what is None else dict(what._asdict())

    program = f"nightproof {versions()['nightproof']}"
    data = xarray.Dataset(
        {
            name: (dims, values, attributes(name, w))
            for name, (dims, values, w) in variables.items()
        },
        {name: (dims, values, dict(a)) for name, (dims, values, a) in coordinates.items()},
        {
            "Conventions": CONVENTIONS,
            **{key: value for key, value in about.items() if value is not None},
            "source": program,
            "history": f"written by {program}",
        },
    )
    for name in coordinates:
        data[name].encoding["_FillValue"] = None  # CF: a coordinate lacks no value
    return data


def comparison_dataset(comparison: Comparison) -> Dataset:
    """A comparison by scene and camera."""
    dims = ["scene", "camera"]
    scenes = [scene.name for scene in comparison.scenes]
    cameras = [camera.name for camera in comparison.cameras]
    verdicts = [[comparison.results[s, c].verdict for c in cameras] for s in scenes]
    variables: dict[str, Any] = {
        name: (dims, np.array([[getattr(v, name) for v in row] for row in verdicts]), what)
        for name, what in (
            *((n, figure_attributes(n)) for n in PROBABILITIES),
            ("trials", figure_attributes("trials")),
            ("verdict", None),
        )
    }
    wanted = np.array([scene.model.task.wanted_probability for scene in comparison.scenes])
    variables["wanted_probability"] = (["scene"], wanted, WANTED)
    labels: dict[str, Any] = {
        "scene": (["scene"], np.array(scenes), {"long_name": "scene"}),
        "camera": (["camera"], np.array(cameras), {"long_name": "camera"}),
    }
    return new_dataset(
        variables, labels, {"title": "cameras side by side", "seed": comparison.seed}
    )


def sweep_table(swept: Swept) -> list[Row]:
    """One row for every point of a sweep, the last axis fastest."""
    axes = swept.plan.axes
    return [
        {
            **{plain_name(a.key): a.values[i] for a, i in zip(axes, index, strict=True)},
            **row,
        }
        for index, row in sorted(swept.rows.items())
    ]


def sweep_dataset(swept: Swept) -> Dataset:
    """A sweep with a dimension for every key that is swept."""
    plan = swept.plan
    dims = [plain_name(axis.key) for axis in plan.axes]
    words = ("verdict", "mode")
    names = [name for name in next(iter(swept.rows.values())) if name not in words]
    variables: dict[str, Any] = {
        name: (dims, swept.array(name), figure_attributes(name)) for name in names
    }
    variables["trials"] = (dims, swept.array("trials").astype(np.int32), *variables["trials"][2:])
    for name in words:
        texts = np.empty(plan.shape, dtype=object)
        for index, row in swept.rows.items():
            texts[index] = row[name]
        variables[name] = (dims, texts.astype(str), None)
    coordinates = {}
    for axis, dim in zip(plan.axes, dims, strict=True):
        what = key_attributes(axis.key)
        values = np.array(axis.values, dtype=None if axis.numeric else str)
        about = what._asdict() if axis.numeric else {"long_name": what.long_name}
        coordinates[dim] = ([dim], values, about)
    about = {
        "title": swept.title,
        "scene": plan.scene_name,
        "camera": plan.camera_name,
        "set": " ".join(plan.sets) or None,
        "seed": plan.seed,
        "wanted_probability": swept.wanted,
    }
    return new_dataset(variables, coordinates, about)


def calendar_table(calendar: Calendar) -> list[Row]:
    """One row for every hour of the year, by the clock of its place."""
    judged = calendar.nodes | calendar.checks
    sky = calendar.sky
    lamps = [f"on_{plain_name(name)}" for name in calendar.lamp_names]
    return [
        {
            "middle_of_hour": when,
            "probability": float(calendar.probability[i]),
            "probability_low": float(calendar.probability_low[i]),
            "probability_high": float(calendar.probability_high[i]),
            "judged": i in judged,
            "sun_altitude_deg": float(sky.at.sun_altitude_deg[i]),
            "moon_altitude_deg": float(sky.at.moon_altitude_deg[i]),
            "natural_light_lux": float(sky.level_lux[i]),
            **{name: bool(on) for name, on in zip(lamps, calendar.lamps[i], strict=True)},
        }
        for i, when in enumerate(sky.when)
    ]


def calendar_dataset(calendar: Calendar) -> Dataset:
    """A year by universal time; lamps along a dimension of their own."""
    sky, place = calendar.sky, calendar.place
    judged = np.zeros(len(sky.when), np.int8)
    judged[[*calendar.nodes, *calendar.checks]] = 1
    utc = [when.astimezone(UTC).replace(tzinfo=None) for when in sky.when]
    hour = ["time"]
    variables: dict[str, Any] = {
        name: (hour, getattr(calendar, name), figure_attributes(name)) for name in PROBABILITIES
    }
    variables |= {
        "judged": (hour, judged, Attributes("1", "1 where judged, 0 where interpolated")),
        "sun_altitude_deg": (
            hour, sky.at.sun_altitude_deg, Attributes("degree", "altitude of the sun"),
        ),
        "moon_altitude_deg": (
            hour, sky.at.moon_altitude_deg, Attributes("degree", "altitude of the moon"),
        ),
        "natural_light_lux": (
            hour, sky.level_lux, Attributes("lx", "natural illuminance of level ground"),
        ),
    }  # fmt: skip
    lamps: dict[str, Any] = {}
    if calendar.lamp_names:
        what = Attributes("1", "1 where the lamp is on, 0 where it is off")
        variables["lamp_on"] = (["lamp", "time"], calendar.lamps.T.astype(np.int8), what)
        lamps["lamp"] = (["lamp"], np.array(calendar.lamp_names), {"long_name": "lamp"})
    data = new_dataset(
        variables,
        {
            **lamps,
            "time": (
                hour, np.array(utc, "datetime64[ns]"),
                {
                    "standard_name": "time", "long_name": "middle of the hour",
                    "units_metadata": "leap_seconds: none",
                },
            ),
            "latitude": (
                [], place.latitude_deg, {"standard_name": "latitude", "units": "degrees_north"},
            ),
            "longitude": (
                [], place.longitude_deg, {"standard_name": "longitude", "units": "degrees_east"},
            ),
        },
        {
            "title": f"{calendar.scene.model.title}, {place.year}",
            "scene": calendar.scene.name,
            "camera": calendar.camera.name,
            "seed": calendar.seed,
            "wanted_probability": calendar.wanted,
        },
    )  # fmt: skip
    data["sun_altitude_deg"].attrs["standard_name"] = "solar_elevation_angle"
    data["time"].encoding.update(units=f"days since {place.year}-01-01", dtype="float64")
    return data


HOURS = ("worst", "typical")


def survey_table(survey: Survey) -> list[Row]:
    """One row for every position and hour, the greatest risk first."""
    return [
        {
            "position": row.position.name,
            "hour": hour,
            "task": row.scene.model.task.name,
            "wanted_probability": row.wanted,
            **getattr(row, hour),
            "price": row.position.price,
            "x_m": row.position.x_m,
            "y_m": row.position.y_m,
            "bearing_deg": row.position.bearing_deg,
        }
        for row in survey.rows
        for hour in HOURS
    ]


def survey_dataset(survey: Survey) -> Dataset:
    """A survey by position and hour."""
    dims = ["position", "hour"]
    variables: dict[str, Any] = {}
    for name, first in survey.rows[0].worst.items():
        values = np.array([[getattr(row, hour)[name] for hour in HOURS] for row in survey.rows])
        texts = isinstance(first, str)
        variables[name] = (dims, values, None if texts else figure_attributes(name))
    wanted = np.array([row.wanted for row in survey.rows])
    variables["wanted_probability"] = (["position"], wanted, WANTED)
    place = [row.position for row in survey.rows]
    where = {
        "x_m": ("m", "place on the plan, to the right"),
        "y_m": ("m", "place on the plan, upwards"),
        "bearing_deg": ("degree", "where the y axis of the scene points on the plan"),
    }
    coordinates: dict[str, Any] = {
        "position": (["position"], np.array([p.name for p in place]), {"long_name": "position"}),
        "hour": (["hour"], np.array(HOURS), {"long_name": "hour that is judged"}),
    }
    for name, (unit, meaning) in where.items():
        values = np.array([getattr(p, name) for p in place])
        coordinates[name] = (["position"], values, {"units": unit, "long_name": meaning})
    about = {"title": survey.site.title, "site": survey.name, "seed": survey.seed}
    return new_dataset(variables, coordinates, about)


def light_levels_dataset(views: LightLevelViews) -> Dataset:
    """Light levels by camera and illuminance, the brightest first."""
    dims = ["camera", "illuminance_lux"]
    names = [camera.name for camera in views.cameras]
    own = {
        "chroma": Attributes("1", "distance of the picture's mean colour from grey, C*ab"),
        "trail_frames": Attributes("1", "frames that temporal noise reduction drags a mover"),
    }
    rows = [[views.views[name, lux].row() for lux in views.levels_lux] for name in names]
    variables: dict[str, Any] = {}
    for name in rows[0][0]:
        if name not in dims:
            values = np.array([[row[name] for row in by_lux] for by_lux in rows])
            what = None if name in TEXTS else own.get(name) or figure_attributes(name)
            variables[name] = (dims, values, what)
    light = {"units": "lx", "long_name": "illuminance on the target"}
    coordinates: dict[str, Any] = {
        "camera": (["camera"], np.array(names), {"long_name": "camera"}),
        "illuminance_lux": (["illuminance_lux"], np.array(views.levels_lux), light),
    }
    about = {
        "title": views.scene.model.title,
        "scene": views.scene.name,
        "seed": views.seed,
        "wanted_probability": views.scene.model.task.wanted_probability,
    }
    return new_dataset(variables, coordinates, about)
