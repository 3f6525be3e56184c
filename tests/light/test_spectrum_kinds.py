"""Kinds of spectra: every bundled one is of one kind, and a new kind is found wherever named."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from typer.testing import CliRunner

from simulator.app.cli import app
from simulator.errors import InputError, NameNotFoundError
from simulator.light.photometry import illuminance_lux
from simulator.light.spectra import Spectrum, gaussian_emitter, spectrum_names
from simulator.light.spectrum_kinds import (
    SPECTRUM_KINDS,
    SpectrumKind,
    kind_of,
    lamp_spectrum,
    sky_name,
    usual_depth,
)
from simulator.registry import RecordError
from simulator.scene.build import build_world


def _laser(name: str) -> Spectrum:
    """One line of visible light, scaled to 1 lx."""
    power = gaussian_emitter(float(name.removeprefix("laser-").removesuffix("nm")), 1.0).power
    return Spectrum(name, "lux", power / float(illuminance_lux(power)))


LASER = SpectrumKind(
    name="laser",
    form="laser-<nm>nm",
    help="a laser of a wavelength",
    match=lambda text: text.startswith("laser-"),
    make=_laser,
    flicker_depth=0.25,
)


@pytest.fixture
def laser():
    with SPECTRUM_KINDS.with_record(LASER):
        yield LASER


def lamp(spectrum):
    return {
        "name": "gate", "spectrum": spectrum, "intensity_cd": 50.0,
        "position_m": [0.0, 10.0, 4.0], "aim_m": [0.0, 18.0, 0.0],
    }  # fmt: skip


@pytest.mark.invariant
def test_every_bundled_spectrum_is_of_one_kind():
    for name in spectrum_names():
        assert [kind.name for kind in SPECTRUM_KINDS if kind.match(name)] == [kind_of(name).name]
        if name not in ("g173-direct", "g173-extraterrestrial"):
            assert lamp_spectrum(name).name == name
    assert all(0.0 <= kind.flicker_depth <= 1.0 for kind in SPECTRUM_KINDS)


@pytest.mark.by_hand
def test_usual_depths():
    # order as in lighting handbooks' percent-flicker tables (from memory)
    lamps = ["moonlight", "led-4000k", "filament-2700k", "fluorescent-4000k", "metal-halide",
             "low-pressure-sodium", "high-pressure-sodium"]  # fmt: skip
    depths = [usual_depth(name) for name in lamps]
    assert depths == sorted(depths) and depths[0] == 0.0
    assert usual_depth("cie-a") == usual_depth("filament-2700k")
    assert usual_depth("wavelength_nm,power\n500,1\n510,1\n") == 0.0


@pytest.mark.by_hand
def test_skies_have_names_and_lamps_have_none():
    assert sky_name("g173-global") == "daylight" and sky_name("night-sky") == "night sky"
    assert sky_name("fluorescent-4000k") is None


@pytest.mark.invariant
def test_a_new_kind_lights_a_scene(laser, make_scene):
    scene = make_scene(lamp=[lamp("laser-532nm")])
    light = next(light for light in build_world(scene).lights if light.name == "gate")
    assert light.flicker_depth == 0.25
    assert 380 + int(np.argmax(light.spectrum.power)) == 532


@pytest.mark.invariant
def test_a_new_kind_is_told_by_schema_list_and_errors(laser, make_scene):
    schema = CliRunner().invoke(app, ["schema", "scene"]).output
    told = json.loads(schema)["$defs"]["Lamp"]["properties"]["spectrum"]
    assert "laser-<nm>nm for a laser of a wavelength" in told["description"]
    assert "led-4000k" in told["examples"]
    assert "laser-<nm>nm" in CliRunner().invoke(app, ["list"]).output
    with pytest.raises(NameNotFoundError, match="laser-<nm>nm"):
        lamp_spectrum("lazer")


@pytest.mark.invariant
def test_without_the_kind_the_name_is_refused_with_its_key(make_scene):
    with pytest.raises(InputError) as caught:
        build_world(make_scene(lamp=[lamp("laser-532nm")]))
    assert caught.value.key == "lamp.gate.spectrum"


@pytest.mark.by_hand
@pytest.mark.parametrize("field", ["form", "help", "match", "make", "flicker_depth"])
def test_a_kind_that_is_not_whole_is_refused(field):
    empty = "" if field in ("form", "help") else None
    with pytest.raises(RecordError, match=f"'laser' lacks its {field}"):
        SPECTRUM_KINDS.enter(replace(LASER, **{field: empty}))
