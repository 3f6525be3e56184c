"""Air by hand: extinction, phase function, the veil of lamps, limits."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from pydantic import ValidationError

from simulator.camera.light_field import frame_light
from simulator.camera.region import region_light
from simulator.camera.region_plan import RegionPlan
from simulator.camera.small_picture import meter_light
from simulator.scene.air import Air, air_at, lamp_glow, sky_airlight, wavelength_exponent
from simulator.scene.emitters import add_emitters
from simulator.scene.kernels.radiance import Sampling
from simulator.scene.model_air import AirModel

WALL = {
    "name": "wall",
    "kind": "wall",
    "material": "concrete",
    "position_m": [0.0, 40.0, -3.0],
    "width_m": 16.0,
    "height_m": 9.0,
}
INFRARED = {
    "name": "ring",
    "wavelength_nm": 850.0,
    "radiant_intensity_w_per_sr": 5.0,
    "beam_deg": 30.0,
    "beside_camera_m": [0.1, 0.0, 0.0],
    "aim_m": [0.0, 18.0, 1.0],
}
LAMP = {
    "name": "lamp",
    "spectrum": "led-4000k",
    "intensity_cd": 500.0,
    "beam_deg": 60.0,
    "position_m": [0.6, 25.0, 1.3],
    "aim_m": [0.0, 0.0, 1.0],
    "flicker_depth": 0.0,
}
FOG = {"visibility_m": 60.0, "kind": "fog"}


@pytest.mark.by_hand
def test_fog_takes_every_wavelength_alike():
    fog = AirModel(visibility_m=2000.0, kind="fog")
    assert air_at(fog, 850.0).extinction_per_m == pytest.approx(3.912 / 2000.0)
    haze = AirModel(visibility_m=2000.0)
    share = air_at(haze, 850.0).extinction_per_m / air_at(haze, 550.0).extinction_per_m
    assert share == pytest.approx((850.0 / 550.0) ** -0.66)
    thick = AirModel(visibility_m=300.0)
    assert air_at(thick, 940.0).extinction_per_m == pytest.approx(3.912 / 300.0)


@pytest.mark.invariant
def test_exponent_grows_without_steps_up_to_six_kilometres():
    at = np.array([wavelength_exponent(v) for v in np.linspace(10.0, 6001.0, 5000)])
    assert np.all(np.diff(at) >= 0.0)
    assert np.diff(at).max() < 2e-3


@pytest.mark.invariant
@pytest.mark.parametrize("given", [9.0, 100_001.0, float("nan"), float("inf")])
def test_visibility_out_of_range_is_refused(given):
    with pytest.raises(ValidationError):
        AirModel(visibility_m=given)


@pytest.mark.invariant
def test_the_air_is_told(make_in_scene, make_scene):
    told = make_in_scene(make_scene(air={"visibility_m": 120.0})).world.assumptions
    (said,) = [m for m in told if m.id == "assumption.air"]
    assert said.values == {"kind": "haze", "visibility_m": 120.0, "rain_mm_per_h": 0.0}
    clear = make_in_scene(make_scene()).world.assumptions
    assert not any(m.id == "assumption.air" for m in clear)


@pytest.mark.invariant
@pytest.mark.parametrize("mode", ["day", "night"])
def test_far_visibility_is_clear_air(make_in_scene, make_scene, mode):
    scene = make_scene(
        natural_light={"illuminance_lux": 0.5}, surface=[WALL], lamp=[LAMP], illuminator=[INFRARED]
    )
    clear = make_in_scene(scene)
    hazy = replace(
        clear,
        world=replace(clear.world, air=AirModel.model_construct(visibility_m=1e12, kind="haze")),
    )
    here, there = frame_light(clear, mode, 0.01).rate, frame_light(hazy, mode, 0.01).rate
    assert there == pytest.approx(here, rel=1e-5, abs=1e-5 * float(here.mean()))
    assert meter_light(hazy, mode) == pytest.approx(meter_light(clear, mode), rel=1e-4)


@pytest.mark.invariant
def test_an_even_white_world_under_an_even_sky_stays_even(make_in_scene, make_scene):
    """In a furnace air neither adds nor takes light: what it takes it gives back as airlight."""
    wall = {**WALL, "material": "concrete", "width_m": 100.0, "height_m": 60.0}
    wall["position_m"] = [0.0, 18.5, -20.0]
    scene = make_scene(natural_light={"illuminance_lux": 10.0}, surface=[wall])
    in_scene = make_in_scene(scene)
    world = in_scene.world
    # every surface as bright as the sky: level light of unit reflectance from above and below
    white = replace(world.materials[0])
    shiny = replace(world, materials=[white] * len(world.materials))
    lights = [
        replace(light, spectrum=world.lights[0].spectrum) if light.kind == "bounce" else light
        for light in world.lights
    ]
    furnace = replace(shiny, lights=lights)
    clear = frame_light(replace(in_scene, world=furnace), "day", 0.01).rate
    foggy = replace(furnace, air=AirModel(visibility_m=30.0))
    seen = frame_light(replace(in_scene, world=foggy), "day", 0.01).rate
    assert seen == pytest.approx(clear, rel=1e-4)


@pytest.mark.invariant
def test_the_veil_falls_as_the_illuminator_moves_away(make_in_scene, make_scene):
    """Air alone: the sky is looked at, which takes nothing but the glow."""
    levels = []
    for aside in (0.1, 0.5, 2.0, 6.0):
        light = {**INFRARED, "beside_camera_m": [aside, 0.0, 0.0]}
        scene = make_scene(illuminator=[light], air=FOG, station={"aim_m": [0.0, 18.0, 6.0]})
        rate = meter_light(make_in_scene(scene), "night")
        levels.append(float(rate[: rate.shape[0] // 2].mean()))
    assert levels[0] > 0.0
    assert all(a > 1.5 * b for a, b in itertools.pairwise(levels))


@pytest.mark.invariant
def test_more_air_more_veil(make_in_scene, make_scene):
    def glow(visibility_m: float) -> float:
        scene = make_scene(illuminator=[INFRARED], air={"visibility_m": visibility_m})
        in_scene = make_in_scene(scene)
        at = (np.array([160.0]), np.array([90.0]), np.array([0.1, 18.0]))
        found = lamp_glow(
            *at, in_scene.air("night"), in_scene.packed_view, in_scene.lights("night")
        )
        return float(found[0, 0, 1, 1])

    # while the air is thin the veil grows as the extinction does
    assert glow(10_000.0) / glow(20_000.0) == pytest.approx(
        air_at(AirModel(visibility_m=10_000.0), 850.0).extinction_per_m
        / air_at(AirModel(visibility_m=20_000.0), 850.0).extinction_per_m,
        rel=0.02,
    )
    assert glow(100.0) > 5.0 * glow(1000.0)


@pytest.mark.by_hand
def test_a_lamp_face_loses_by_its_distance(make_in_scene, make_scene):
    in_scene = make_in_scene(make_scene(lamp=[LAMP], air=FOG))
    lights = in_scene.lights("day")
    total = []
    for seen in (lights, lights._replace(extinction=0.0)):
        rate = np.zeros((180, 320, 3), np.float32)
        depth = np.full((180, 320), np.inf, np.float32)
        grid = Sampling(0.0, 0.0, 1.0, 180, 320)
        world, view, packed = in_scene.world, in_scene.view, in_scene.packed_view
        add_emitters(rate, depth, grid, world, view, packed, seen)
        total.append(float(rate.sum()))
    d = float(np.linalg.norm(np.array(LAMP["position_m"]) - in_scene.view.position_m))
    assert total[0] / total[1] == pytest.approx(np.exp(-3.912 / 60.0 * d), rel=1e-4)


@pytest.mark.invariant
def test_a_lamp_wears_a_halo(make_in_scene, make_scene):
    lamp = {**LAMP, "position_m": [0.0, 18.0, 1.6], "diameter_m": 0.02}
    scene = make_scene(lamp=[lamp], air={"visibility_m": 100.0})
    in_scene = make_in_scene(scene)
    place, _ = in_scene.view.project(np.array(lamp["position_m"]))
    row, columns = float(place[1]), place[0] + np.array([4.0, 8.0, 16.0, 32.0])
    far = np.array([0.1, 17.0, 19.0, 400.0])
    glow = lamp_glow(columns, np.array([row]), far, in_scene.air("day"), in_scene.packed_view,
                     in_scene.lights("day"))[0, :, -1, 1]  # fmt: skip
    # about inversely as the distance from the lamp, and faster for the phase function
    falls = glow[:-1] / glow[1:]
    assert np.all(falls > 1.9)
    assert np.all(falls < 3.5)
    whole = lamp_glow(columns[:1], np.array([row]), far, in_scene.air("day"), in_scene.packed_view,
                      in_scene.lights("day"))[0, 0, :, 1]  # fmt: skip
    # light comes on its way to the camera: nearly nothing from behind the lamp
    assert whole[3] - whole[2] < 0.1 * whole[3]


@pytest.mark.invariant
def test_patch_agrees_with_the_picture_in_fog(make_in_scene, make_scene):
    near = {**WALL, "position_m": [0.0, 18.6, -3.0]}
    scene = make_scene(
        natural_light={"illuminance_lux": 2.0}, surface=[near], illuminator=[INFRARED], air=FOG
    )
    in_scene = make_in_scene(scene)
    point = in_scene.world.cards[in_scene.world.plates["plate"]].centre_m
    box = (70, 40, 250, 140)
    for mode in ("day", "night"):
        light = frame_light(in_scene, mode, 0.01)
        plan = RegionPlan(box, 24, 4, point, 550.0)
        region = region_light(in_scene, mode, 0.01, plan, light.stray_light)
        whole = light.rate[40:140, 70:250]
        assert float(region.mean()) == pytest.approx(float(whole.mean()), rel=0.01)
        corner = np.s_[:20, :20]
        assert region[corner] == pytest.approx(whole[corner], rel=0.01)


@pytest.mark.by_hand
def test_night_air_is_that_of_the_infrared_light(make_in_scene, make_scene):
    haze = {"visibility_m": 5000.0}
    in_scene = make_in_scene(make_scene(illuminator=[INFRARED], air=haze))
    wanted = air_at(AirModel(visibility_m=5000.0), 850.0).extinction_per_m
    assert in_scene.air("night").extinction_per_m == pytest.approx(wanted, rel=0.01)
    assert in_scene.air("day").extinction_per_m == pytest.approx(3.912 / 5000.0)
    assert in_scene.lights("night").extinction == in_scene.air("night").extinction_per_m
    assert make_in_scene(make_scene()).air("night") is None
    # in the dark there is no wavelength to take
    assert isinstance(make_in_scene(make_scene(air=haze)).air("night"), Air)


@pytest.mark.by_hand
def test_airlight_is_the_sky(make_in_scene, make_scene):
    in_scene = make_in_scene(make_scene(natural_light={"illuminance_lux": 3.0}))
    lights = in_scene.lights("day")
    assert sky_airlight(lights) == pytest.approx(3.0 * lights.coefficient[0, 0], rel=1e-6)
