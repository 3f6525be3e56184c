from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest
from pydantic import ValidationError

from simulator.errors import FileFormatError, InputError
from simulator.files import bundled_names, find, read_toml, split_tolerances
from simulator.light import webs
from simulator.light.beams import beam_flux
from simulator.light.natural import natural_light
from simulator.light.photometry import illuminance_lux, luminous_efficacy
from simulator.light.spectra import spectrum
from simulator.light.spectrum_kinds import SPECTRUM_KINDS
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.scene.model_light import Illuminator, Lamp, NaturalLight

IES = Path(__file__).parents[1] / "light" / "data" / "side-2019.ies"
LAMP = {
    "name": "lamp",
    "spectrum": "led-4000k",
    "position_m": [0.0, 10.0, 4.0],
    "aim_m": [0.0, 10.0, 0.0],
}
LIGHT = {"name": "light", "position_m": [0.0, 0.0, 3.0], "aim_m": [0.0, 18.0, 0.5]}
DATE = {"date": "2025-06-21", "time": "14:30", "latitude_deg": 50.0, "longitude_deg": 8.5}


def natural_scene(make_scene, **keys):
    keys.setdefault("illuminance_lux", None)
    return make_scene(natural_light=keys)


def lit(make_scene, lamp=None, illuminator=None):
    tables = {}
    if lamp is not None:
        tables["lamp"] = [{**LAMP, **lamp}]
    if illuminator is not None:
        tables["illuminator"] = [{**LIGHT, **illuminator}]
    return build_world(make_scene(**tables)).lights[-1]


@pytest.mark.by_hand
def test_sun_by_date_stands_where_the_camera_sees_it(make_scene):
    keys = {**DATE, "utc_offset_h": 2.0}
    state = natural_light(NaturalLight(**keys).local_time(), 50.0, 8.5)
    # north: bearing from +y towards +x; a camera that looks east has the sun further to its left
    for turn in (0.0, 90.0, -30.0):
        scene = natural_scene(make_scene, **keys, camera_bearing_deg=turn)
        sun = next(x for x in build_world(scene).lights if x.kind == "sun")
        azimuth = np.degrees(np.arctan2(sun.direction[0], sun.direction[1]))
        assert np.sin(np.radians(azimuth + turn - state.sun_bearing_deg)) == pytest.approx(
            0.0, abs=1e-9
        )
        assert np.degrees(np.arcsin(sun.direction[2])) == pytest.approx(state.sun_altitude_deg)


@pytest.mark.invariant
@pytest.mark.parametrize(
    "keys",
    [
        {**DATE, "cloud_cover": 0.4},
        {"sun_altitude_deg": 12.0},
        {"sun_altitude_deg": -9.0, "moon_altitude_deg": 30.0, "skyglow_lux": 0.03},
        {"sun_altitude_deg": -40.0, "moon_altitude_deg": 50.0, "moon_phase_deg": 60.0},
    ],
)
def test_the_ground_throws_back_all_that_falls_on_it(make_scene, keys):
    world = build_world(natural_scene(make_scene, **keys))
    lux, power = 0.0, np.zeros(721)
    for light in world.lights:
        if light.kind in ("sky", "sun"):
            level = light.illuminance_lux * (1.0 if light.kind == "sky" else light.direction[2])
            lux += level
            power += level * light.spectrum.power
    (bounce,) = [light for light in world.lights if light.kind == "bounce"]
    assert bounce.illuminance_lux == pytest.approx(lux)
    reflectance = world.materials[world.ground_material].reflectance
    assert bounce.illuminance_lux * bounce.spectrum.power == pytest.approx(power * reflectance)
    assert illuminance_lux(power) == pytest.approx(lux)


@pytest.mark.invariant
def test_assumptions_tell_what_was_found(make_scene):
    told = build_world(natural_scene(make_scene, **DATE, cloud_cover=0.5)).assumptions
    by_id = {message.id: message.values for message in told}
    assert by_id["assumption.sun-and-moon"]["by_date"] is True
    assert by_id["assumption.local-time"] == {"offset_h": 1.0}
    assert by_id["assumption.cloud"]["cover"] == 0.5
    assert "assumption.camera-faces-north" in by_id
    dark = natural_scene(make_scene, sun_altitude_deg=-30.0, moon_altitude_deg=20.0,
                         moon_phase_deg=90.0)  # fmt: skip
    (said,) = [m for m in build_world(dark).assumptions if m.id == "assumption.sun-and-moon"]
    assert said.values["moon_lit"] == pytest.approx(0.5)
    told = build_world(make_scene(natural_light={"illuminance_lux": 5.0})).assumptions
    assert not any(m.id == "assumption.sun-and-moon" for m in told)


@pytest.mark.by_hand
def test_local_time():
    assert NaturalLight(**DATE).local_time().isoformat() == "2025-06-21T14:30:00+01:00"
    half = NaturalLight(**{**DATE, "time": "9:05:00", "utc_offset_h": 5.5})
    assert half.local_time().isoformat() == "2025-06-21T09:05:00+05:30"
    toml = tomllib.loads("date = 2025-06-21\ntime = 14:30:00")
    assert NaturalLight(**{**DATE, **toml}).local_time() == NaturalLight(**DATE).local_time()


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("keys", "message"),
    [
        ({}, "exactly one of"),
        ({"illuminance_lux": 1.0, **DATE}, "exclude each other"),
        ({"sun_altitude_deg": 1.0, **DATE}, "exclude each other"),
        ({"moon_phase_deg": 1.0, **DATE}, "exclude each other"),
        ({"spectrum": "cie-a", **DATE}, "exclude each other"),
        ({"date": "2025-06-21"}, "time is missing"),
        ({"camera_bearing_deg": 90.0, "sun_altitude_deg": 3.0}, "date is missing"),
        ({**DATE, "date": "2025-06-31"}, "date: there is no such day"),
        ({**DATE, "time": "24:10"}, "time: there is no such time"),
        ({**DATE, "date": "0001-01-01"}, "date: the year must be"),
        ({"illuminance_lux": 1.0, "cloud_cover": 0.5}, "exclude each other"),
        ({"illuminance_lux": 1.0, "skyglow_lux": 0.5}, "exclude each other"),
        ({"illuminance_lux": 1.0, "sun_altitude_deg": 0.5}, "sun_altitude_deg must be 1"),
        ({"sun_altitude_deg": -9.0, "moon_phase_deg": 3.0}, "needs moon_altitude_deg"),
        ({"sun_altitude_deg": 9.0, "sun_share": 0.3}, "goes with illuminance_lux"),
    ],
)
def test_natural_light_is_told_in_one_way(keys, message):
    with pytest.raises(ValidationError, match=message):
        NaturalLight(**keys)


@pytest.mark.by_hand
def test_lamp_by_lumens_and_dimmed(make_scene):
    # a Lambertian lamp (120 degrees) of 1000 lm has 1000/pi cd; 40 percent of it
    light = lit(make_scene, {"luminous_flux_lm": 1000.0, "dimming": 0.4})
    assert (light.beam, light.exponent) == ("cosine-power", pytest.approx(1.0))
    assert light.intensity_cd == pytest.approx(400.0 / np.pi)


@pytest.mark.by_hand
def test_lamp_by_photometric_file(make_scene):
    light = lit(make_scene, {"photometry": IES.read_text(), "dimming": 0.5})
    assert (light.beam, light.beam_factor) == ("web", 0.5)
    assert light.web.shape == webs.WEB_SHAPE
    assert light.web.dtype == np.float32
    # the lamp looks straight down; C = 0 to the camera's right, C = 90 away from the camera
    assert light.reference == pytest.approx([1.0, 0.0, 0.0])
    rays = np.array([[1.0, 0.0, -1.0], [0.0, 1.0, -1.0], [-1.0, 0.0, -1.0]])
    gamma, c = webs.directions(rays, light.direction, light.reference)
    # 100 cd + 1 cd a degree of C
    assert webs.web_intensity(light.web, gamma, c) == pytest.approx([100.0, 190.0, 280.0])
    # leant by 45 degrees the file gives 90 percent
    leant = {"photometry": IES.read_text(), "aim_m": [0.0, 14.0, 0.0]}
    assert lit(make_scene, leant).beam_factor == pytest.approx(0.9)


@pytest.mark.invariant
def test_flicker_of_a_lamp(make_scene):
    told = {"intensity_cd": 1.0, "flicker_depth": 0.3, "mains_hz": 60, "phase_deg": 120.0}
    light = lit(make_scene, told)
    assert (light.flicker_depth, light.flicker_hz, light.flicker_phase_deg) == (0.3, 120.0, 120.0)
    sodium = lit(make_scene, {"intensity_cd": 1.0, "spectrum": "high-pressure-sodium"})
    assert sodium.flicker_depth == SPECTRUM_KINDS["high-pressure sodium"].flicker_depth
    infrared = lit(make_scene, None, {"wavelength_nm": 850.0, "beam_deg": 30.0,
                                      "radiant_intensity_w_per_sr": 1.0})  # fmt: skip
    assert infrared.flicker_depth == 0.0


@pytest.mark.invariant
@pytest.mark.parametrize("shape", ["cosine", "flat"])
@pytest.mark.parametrize(
    ("keys", "flux"),
    [
        ({"wavelength_nm": 850.0, "electrical_power_w": 12.0, "efficiency": 0.25}, 3.0),
        ({"spectrum": "led-4000k", "luminous_flux_lm": 3000.0}, 3000.0),
        (
            {"spectrum": "led-4000k", "electrical_power_w": 10.0, "efficiency": 0.3},
            3.0 * luminous_efficacy(spectrum("led-4000k").power),
        ),
    ],
)
def test_beam_holds_the_flux(make_scene, shape, keys, flux):
    light = lit(make_scene, None, {**keys, "beam_deg": 40.0, "beam_shape": shape})
    if shape == "cosine":
        assert beam_flux(light.strength, light.exponent) == pytest.approx(flux)
    else:
        assert light.web.max() == 1.0
        assert light.reference @ light.direction == pytest.approx(0.0, abs=1e-12)
        found = webs.flux(webs.GAMMA_DEG, webs.C_DEG, light.web.astype(float)) * light.strength
        assert found == pytest.approx(flux)


@pytest.mark.by_hand
def test_intensities_are_taken_as_written(make_scene):
    white = lit(make_scene, None, {"spectrum": "led-3500k", "intensity_cd": 700.0,
                                   "beam_deg": 40.0, "dimming": 0.5})  # fmt: skip
    assert (white.intensity_cd, white.spectrum.basis) == (350.0, "lux")
    infrared = lit(make_scene, None, {"wavelength_nm": 850.0, "beam_deg": 30.0,
                                      "radiant_intensity_w_per_sr": 8.0})  # fmt: skip
    assert (infrared.radiant_intensity_w_per_sr, infrared.spectrum.basis) == (8.0, "w_m2")


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("model", "keys", "message"),
    [
        (Lamp, {}, "exactly one of intensity_cd"),
        (Lamp, {"intensity_cd": 1.0, "luminous_flux_lm": 1.0}, "exactly one of intensity_cd"),
        (Lamp, {"photometry": "x.ies", "beam_deg": 20.0}, "beam_deg and photometry"),
        (Lamp, {"intensity_cd": 1.0, "aim_m": [0.0, 10.0, 4.0]}, "aim_m must differ"),
        (Illuminator, {"intensity_cd": 1.0}, "exactly one of wavelength_nm and spectrum"),
        (Illuminator, {"wavelength_nm": 850.0}, "exactly one of radiant"),
        (Illuminator, {"wavelength_nm": 850.0, "efficiency": 0.2}, "needs electrical_power_w"),
        (Illuminator, {"wavelength_nm": 850.0, "intensity_cd": 2.0}, "goes with a spectrum"),
        (
            Illuminator,
            {"spectrum": "cie-a", "radiant_intensity_w_per_sr": 2.0},
            "goes with wavelength_nm",
        ),
        (
            Illuminator,
            {"spectrum": "cie-a", "intensity_cd": 2.0, "beam_shape": "flat", "beam_deg": 2.0},
            "beam_deg must be 4",
        ),
    ],
)
def test_lights_are_told_in_one_way(model, keys, message):
    base = LAMP if model is Lamp else {**LIGHT, "beam_deg": 30.0}
    with pytest.raises(ValidationError, match=message):
        model.model_validate({**base, **keys})


@pytest.mark.invariant
@pytest.mark.parametrize("name", bundled_names("lights"))
def test_each_light_profile_makes_a_light(make_scene, name):
    plain, _ = split_tolerances(read_toml(find("lights", name)))
    light = lit(make_scene, None, {**plain, "name": "light"})
    assert light.strength > 0.0
    exponent_or_web = light.web if light.beam == "web" else None
    flux = beam_flux(light.strength, light.exponent) if exponent_or_web is None else (
        light.strength * webs.flux(webs.GAMMA_DEG, webs.C_DEG, light.web.astype(float))
    )  # fmt: skip
    watt = flux if light.spectrum.basis == "w_m2" else flux / luminous_efficacy(
        light.spectrum.power
    )  # fmt: skip
    assert 0.1 < watt / plain["electrical_power_w"] < 0.5


SCENE = """
title = "test"
[natural_light]
date = 2025-11-25
time = "17:45"
latitude_deg = 50.0
longitude_deg = 8.5
skyglow_lux = 0.02
[station]
height_m = 3.0
aim_m = [0.0, 18.0, 0.5]
[[lamp]]
name = "pole"
spectrum = "mine.csv"
photometry = "pole.ies"
position_m = [0.0, 15.0, 6.0]
aim_m = [0.0, 15.0, 0.0]
[[target]]
name = "plate"
kind = "plate"
text = "A1B2 X3Y"
position_m = [0.0, 18.0, 0.5]
[task]
target = "plate"
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "scene.toml").write_text(SCENE)
    (tmp_path / "pole.ies").write_text(IES.read_text())
    (tmp_path / "mine.csv").write_text("wavelength_nm,power\n400,0\n550,1\n700,0\n")
    return tmp_path


@pytest.mark.invariant
def test_a_scene_takes_in_the_files_beside_it(folder):
    scene = Scene.load(folder / "scene.toml")
    light = next(x for x in build_world(scene.model).lights if x.name == "pole")
    assert light.beam == "web"
    assert light.spectrum.power.argmax() == 550 - 380
    # the copy a result keeps needs neither file
    again = Scene.from_toml(scene.to_toml(), folder=folder / "else")
    assert again.model == scene.model


@pytest.mark.invariant
def test_faults_in_those_files_name_the_file(folder):
    (folder / "pole.ies").write_text(IES.read_text().replace("TILT=INCLUDE", "TILT=a/x.tlt"))
    with pytest.raises(FileFormatError, match="beside the photometric file") as caught:
        Scene.load(folder / "scene.toml")
    assert caught.value.file.endswith("pole.ies")
    (folder / "pole.ies").unlink()
    with pytest.raises(InputError, match="no such photometric file") as caught:
        Scene.load(folder / "scene.toml")
    assert caught.value.key == "lamp.pole.photometry"
    assert caught.value.given == "pole.ies"


@pytest.mark.invariant
def test_faults_found_while_building_tell_their_key(make_scene):
    with pytest.raises(FileFormatError) as caught:
        lit(make_scene, {"intensity_cd": 1.0, "spectrum": "led-400k"})
    assert caught.value.key == "lamp.lamp.spectrum"
    with pytest.raises(FileFormatError) as caught:
        lit(make_scene, {"photometry": IES.read_text(), "aim_m": [9.0, 10.0, 4.0]})
    assert caught.value.key == "lamp.lamp.c0_azimuth_deg"
    dark = natural_scene(make_scene, sun_altitude_deg=-9.0, skyglow_lux=0.1,
                         skyglow_spectrum="led-40k")  # fmt: skip
    with pytest.raises(FileFormatError) as caught:
        build_world(dark)
    assert caught.value.key == "natural_light.skyglow_spectrum"


@pytest.mark.by_hand
def test_a_floodlight_of_type_b_has_its_right_to_the_right_of_its_beam(make_scene) -> None:
    """Whichever way it looks: towards the camera its right is the camera's left."""
    text = (
        "IES:LM-63-2019\nTILT=NONE\n1 -1 1 3 3 2 2 0.1 0.1 0.1\n1 1 50\n"
        "-90 0 90\n-90 0 90\n0 0 0\n0 0 0\n900 900 900\n"
    )
    for ahead in (1.0, -1.0):
        place = [0.0, 14.0, 3.0]
        light = lit(
            make_scene, {"photometry": text, "position_m": place, "aim_m": [0.0, 14.0 + ahead, 3.0]}
        )
        right = np.array([ahead, 0.0, 0.0])
        rays = np.array([right, -right]) + 1e-6 * light.direction
        gamma, c = webs.directions(rays, light.direction, light.reference)
        assert webs.web_intensity(light.web, gamma, c) == pytest.approx([900.0, 0.0], abs=0.5)
