"""Every bundled file loads, and what it names exists."""

from __future__ import annotations

import math
import re
import tomllib
from typing import Any

import pytest

from simulator import data
from simulator.camera.load import Camera, LensFile
from simulator.files import bundled_names, find, read_toml, split_tolerances, validate
from simulator.light.spectra import spectrum_names
from simulator.scene.load import LightFile, Scene
from simulator.scene.materials import material_names, sheeting_names
from simulator.scene.model import Plate, VehicleFront
from simulator.scene.targets.plate import design_names
from simulator.studies.new.answers import QUESTIONS
from simulator.studies.new.scene import Answers


@pytest.mark.invariant
@pytest.mark.parametrize("name", bundled_names("scenes"))
def test_scene_loads_and_its_names_exist(name: str) -> None:
    scene = Scene.load(name)
    model = scene.model
    spectra = [model.natural_light.spectrum, *(lamp.spectrum for lamp in model.lamp)]
    vehicles = [t for t in model.target if isinstance(t, VehicleFront)]
    spectra += [vehicle.headlight_spectrum for vehicle in vehicles]
    assert set(spectra) <= set(spectrum_names())
    surfaces = {s.material for s in model.surface if hasattr(s, "material")}
    materials = surfaces | {v.paint for v in vehicles}
    assert materials <= set(material_names())
    for plate in (t for t in model.target if isinstance(t, Plate)):
        assert plate.design in design_names()
        assert plate.sheeting in {None, "none", *sheeting_names()}
    assert tomllib.loads(scene.to_toml()) == scene.table()
    again = Scene.from_toml(scene.to_toml())
    assert (again.model, again.tolerances) == (model, scene.tolerances)
    assert list(again.tolerances) == list(scene.tolerances)
    assert again == scene and again.content_hash == scene.content_hash


@pytest.mark.invariant
def test_plates_have_a_pattern_that_no_country_issues() -> None:
    """Letters and digits in turn, four and three of them: see DEVELOPERS.md for the reasons."""
    texts = {
        target.text
        for name in bundled_names("scenes")
        for target in Scene.load(name).model.target
        if isinstance(target, Plate)
    }
    texts |= {Answers().text, QUESTIONS["text"].usual}
    assert len(texts) > 8
    assert [t for t in texts if not re.fullmatch(r"([A-Z][0-9]){2} [A-Z][0-9][A-Z]", t)] == []


@pytest.mark.invariant
@pytest.mark.parametrize("name", bundled_names("cameras"))
def test_camera_loads_and_its_lens_covers_the_sensor(name: str) -> None:
    camera = Camera.load(name)
    sensor, lens = camera.model.sensor, camera.model.lens
    assert sensor.quantum_efficiency in data.names("quantum_efficiency")
    diagonal_mm = math.hypot(sensor.width_px, sensor.height_px) * sensor.pixel_pitch_um / 1e3
    assert diagonal_mm <= lens.image_circle_mm
    again = Camera.from_toml(camera.to_toml())
    assert (again.model, again.tolerances) == (camera.model, camera.tolerances)
    assert list(again.tolerances) == list(camera.tolerances)
    assert again == camera and again.content_hash == camera.content_hash
    assert {"sensor.read_noise_e", "lens.transmittance"} <= set(camera.tolerances)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("kind", "name", "model"),
    [("lenses", name, LensFile) for name in bundled_names("lenses")]
    + [("lights", name, LightFile) for name in bundled_names("lights")],
)
def test_profile_is_sound_by_itself(kind: Any, name: str, model: Any) -> None:
    path = find(kind, name)
    plain, tolerances = split_tolerances(read_toml(path), path)
    validate(model, plain, path)
    assert tolerances


@pytest.mark.by_hand
def test_f_number_not_written_is_the_fastest_at_that_focal_length() -> None:
    # varifocal-5-50 opens to f/1.5 at 5 mm and f/1.9 at 50 mm: 1.5 + 0.4 (22 - 5) / 45 at 22 mm
    camera = Camera.load("plate-2mp-infrared")
    assert "f_number" not in read_toml(camera.file)["lens"]
    assert camera.model.lens.f_number == pytest.approx(1.5 + 0.4 * 17.0 / 45.0)


@pytest.mark.by_hand
def test_fixed_lens_sets_its_own_focal_length() -> None:
    assert Camera.load("fixed-4mp-small-pixel").model.lens.focal_length_mm == 4.0


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("name", "beam_deg", "optical_w"),
    [
        ("infrared-850-medium", 30.0, 2.4),
        ("infrared-850-long", 12.0, 5.0),
        ("infrared-940-medium", 30.0, 2.4),
    ],
)
def test_radiant_intensity_agrees_with_the_power_its_comment_names(
    name: str, beam_deg: float, optical_w: float
) -> None:
    # I = I0 cos^m, half at half the beam angle; flux = 2 pi I0 / (m + 1)
    plain, _ = split_tolerances(read_toml(find("lights", name)))
    exponent = math.log(0.5) / math.log(math.cos(math.radians(beam_deg / 2.0)))
    flux = 2.0 * math.pi * plain["radiant_intensity_w_per_sr"] / (exponent + 1.0)
    assert plain["beam_deg"] == beam_deg
    assert flux == pytest.approx(optical_w, rel=0.05)
    assert flux < 0.5 * plain["electrical_power_w"]
