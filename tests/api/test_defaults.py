"""The same in Python as on the command line, with the same defaults."""

from __future__ import annotations

import inspect

import pytest
import typer.main

import simulator
from simulator.app.cli import app
from simulator.studies.calendar.sky import DUSK_LUX
from simulator.studies.light_levels.study import LEVELS_LUX

NAMES = {
    "lighting": {
        "beam_deg": "beam", "at_m": "lamp_at", "aim_m": "aim", "emitter_width_m": "emitter_width",
        "other_cameras": "others", "dark_below_deg": "dark_below", "prices": "price",
    },
    "calendar": {
        "bearing_deg": "bearing", "cloud_cover": "cloud", "skyglow_lux": "skyglow",
        "lamps": "lamp", "trials": None,
    },
    "predict": {"cameras": "others", "progress": None, "answered": None, "counted": None},
    "compare": {"variants": "variant"},
    "specify": {
        "gain_cap_db": "gain_cap", "prices": "price", "answered": None, "year": None,
    },
    "survey": {"reach": None, "keep": None},
    "sweep": {"keep": None, "changes": "sets"},
    "light_levels": {},
    "lesson": {"changes": "sets", "trials": None},
    "film": {},
}  # fmt: skip
"""Parameters that the command calls otherwise, or does not have (None)."""
UNSAID = {("calendar", "dusk_lux"): DUSK_LUX, ("light_levels", "lux"): LEVELS_LUX}
"""Defaults that the command fills in only when it runs, so that its help comes at once."""
HANDLED = {"progress", "scene", "camera", "scenes", "cameras", "name", "site", "over", "place"}
"""Given by arguments, or by the command itself."""


def _options(name):
    commands = typer.main.get_command(app).commands
    return {p.name: p for p in commands[name.replace("_", "-")].params}


def _same(a, b):
    return (a or None) == (b or None) or a == b


@pytest.mark.invariant
@pytest.mark.parametrize(
    "name",
    [
        "predict",
        "compare",
        "sweep",
        "lighting",
        "specify",
        "calendar",
        "survey",
        "lesson",
        "measure",
        "light_levels",
        "budget",
    ],
)
def test_a_function_has_the_defaults_of_its_command(name):
    options, names = _options(name.replace("_", "-")), NAMES.get(name, {})
    compared = 0
    for parameter in inspect.signature(getattr(simulator, name)).parameters.values():
        told = names.get(parameter.name, parameter.name)
        if told is None or (parameter.name in HANDLED and told == parameter.name):
            continue
        assert told in options, f"{name} --{told}"
        if parameter.default is not inspect.Parameter.empty:
            default = UNSAID.get((name, told), options[told].default)
            assert _same(parameter.default, default), (parameter.name, parameter.default, default)
            compared += 1
    assert compared >= 1


@pytest.mark.invariant
@pytest.mark.parametrize(
    "name",
    [
        "predict",
        "compare",
        "sweep",
        "lighting",
        "specify",
        "calendar",
        "survey",
        "lesson",
        "light_levels",
        "budget",
    ],
)
def test_a_command_has_no_option_that_its_function_lacks(name):
    own = {
        "sets", "at", "place", "timezone", "out", "as_json", "raw", "pdf", "frames", "before",
        "start_s", "help",
        *({"camera"} if name == "specify" else ()),
    }  # fmt: skip
    told = NAMES.get(name, {})
    known = {told.get(p, p) or p for p in inspect.signature(getattr(simulator, name)).parameters}
    assert set(_options(name)) - own - known == set()
