"""Who lights a point: inverse square, cosine and view factors by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from simulator.camera.load import Camera
from simulator.judge.lighting import contributions, totals
from simulator.light.photometry import luminous_efficiency
from simulator.scene.load import Scene
from simulator.scene.materials import material
from simulator.studies.survey.site import survey_site

pytestmark = pytest.mark.by_hand

FRONT = np.array([0.0, -1.0, 0.0])
POINT = np.array([0.0, 18.0, 1.0])
LAMP = {
    "name": "lamp",
    "spectrum": "led-4000k",
    "intensity_cd": 800.0,
    "beam_deg": 60.0,
    "position_m": [0.0, 8.0, 1.0],
    "aim_m": [0.0, 18.0, 1.0],
}
INFRARED = {
    "name": "infrared",
    "wavelength_nm": 850.0,
    "radiant_intensity_w_per_sr": 5.0,
    "beam_deg": 30.0,
    "position_m": [0.0, 8.0, 1.0],
    "aim_m": [0.0, 18.0, 1.0],
}


def rows_of(in_scene, mode="day", point=POINT, normal=FRONT, material_=0):
    """What every light gives, of lamps and the sun what comes straight from them."""
    field = in_scene.light_field
    sent = field.sent.copy()
    sent[:, [in_scene.world.lights[i].kind == "point" for i in field.slots.light]] = 0.0
    in_scene.__dict__["light_field"] = replace(field, sent=sent)
    return {
        row.name: row
        for row in contributions(in_scene, mode, np.asarray(point), np.asarray(normal), material_)
    }


def test_inverse_square_on_the_axis(make_in_scene, make_scene):
    in_scene = make_in_scene(make_scene(lamp=[LAMP]))
    near = rows_of(in_scene)["lamp"]
    far = rows_of(in_scene, point=[0.0, 28.0, 1.0])["lamp"]
    assert near.illuminance_lux == pytest.approx(800.0 / 10.0**2, rel=1e-5)
    assert far.illuminance_lux == pytest.approx(near.illuminance_lux / 4.0, rel=1e-5)
    assert far.electrons_per_s == pytest.approx(near.electrons_per_s / 4.0, rel=1e-5)
    assert near.irradiance_w_m2 is None


def test_air_between_lamp_and_target_takes_its_share(make_in_scene, make_scene):
    """10 m of fog of 60 m visibility leave exp(-3.912/60 x 10) = 0.5210 (Koschmieder)."""
    fog = {"visibility_m": 60.0, "kind": "fog"}
    in_scene = make_in_scene(make_scene(lamp=[LAMP], illuminator=[INFRARED], air=fog))
    rows = rows_of(in_scene, "night")
    assert rows["lamp"].illuminance_lux == pytest.approx(8.0 * 0.52100, rel=1e-4)
    assert rows["infrared"].irradiance_w_m2 == pytest.approx(0.05 * 0.52100, rel=1e-4)
    clear = rows_of(make_in_scene(make_scene(lamp=[LAMP])), "night")["lamp"]
    assert rows["lamp"].electrons_per_s == pytest.approx(0.521 * clear.electrons_per_s, rel=1e-3)


def test_haze_takes_less_of_infrared_than_of_visible_light(make_scene):
    """V = 2 km: q = 0.66, so 850 nm loses (850/550)^-0.66 = 0.7502 as much per metre as green."""
    far = {"position_m": [0.0, -482.0, 1.0]}
    scene = make_scene(
        lamp=[{**LAMP, **far}],
        illuminator=[{**INFRARED, **far, "bandwidth_nm": 1.0}],
        air={"visibility_m": 2000.0},
    )
    raw = scene.model_dump(exclude_none=True, exclude_defaults=True)
    site = survey_site(Scene.from_dict(raw), Camera.load("fixed-2mp-lowlight"))
    rows = {row.name: row for row in site.rows}
    sigma = 3.912 / 2000.0
    assert rows["lamp"].distance_m == pytest.approx(500.0, abs=0.01)
    lamp_left = rows["lamp"].illuminance_lux / (800.0 / rows["lamp"].distance_m ** 2)
    infrared_left = rows["infrared"].irradiance_w_m2 / (5.0 / rows["infrared"].distance_m ** 2)
    assert math.log(lamp_left) == pytest.approx(-sigma * 500.0, rel=2e-3)
    assert math.log(infrared_left) == pytest.approx(-sigma * 500.0 * 0.7502, rel=2e-3)


def test_cosine_of_the_plane(make_in_scene, make_scene):
    in_scene = make_in_scene(make_scene(lamp=[LAMP]))
    for degrees in (0.0, 30.0, 60.0, 85.0, 95.0):
        a = math.radians(degrees)
        row = rows_of(in_scene, normal=[math.sin(a), -math.cos(a), 0.0])["lamp"]
        assert row.illuminance_lux == pytest.approx(8.0 * max(0.0, math.cos(a)), rel=1e-5, abs=1e-9)


def test_half_intensity_at_the_edge_of_the_beam(make_in_scene, make_scene):
    in_scene = make_in_scene(make_scene(illuminator=[INFRARED]))
    a = math.radians(15.0)
    point = [10.0 * math.sin(a), 8.0 + 10.0 * math.cos(a), 1.0]
    towards = [-math.sin(a), -math.cos(a), 0.0]
    row = rows_of(in_scene, "night", point, towards)["infrared"]
    assert row.irradiance_w_m2 == pytest.approx(0.5 * 5.0 / 100.0, rel=1e-5)
    assert row.illuminance_lux is None


def test_sky_and_bounce_by_view_factors(make_in_scene, make_scene):
    ground = {"name": "yard", "kind": "ground", "material": "grey-18"}
    scene = make_scene(natural_light={"illuminance_lux": 40.0}, surface=[ground])
    in_scene = make_in_scene(scene)
    for normal, sky, bounce in (
        ([0.0, 0.0, 1.0], 1.0, 0.0),
        ([0.0, -1.0, 0.0], 0.5, 0.5),
        ([0.0, 0.0, -1.0], 0.0, 1.0),
        ([0.0, -math.cos(math.radians(30)), math.sin(math.radians(30))], 0.75, 0.25),
    ):
        rows = list(rows_of(in_scene, normal=normal).values())
        kinds = {in_scene.world.lights[row.light].kind: row for row in rows}
        # shares of directions are 32-bit floats
        assert kinds["sky"].illuminance_lux == pytest.approx(40.0 * sky, rel=1e-6, abs=1e-9)
        # the bounce counts times the ground's luminous reflectance under that light
        r, v = material("grey-18").reflectance, luminous_efficiency()
        power = in_scene.world.lights[kinds["sky"].light].spectrum.power
        rho = float((r * v) @ power / (v @ power))
        assert 0.1 < rho < 0.3
        assert kinds["bounce"].illuminance_lux == pytest.approx(
            40.0 * rho * bounce, rel=1e-4, abs=1e-9
        )
        lux, infrared = totals(rows)
        assert lux == pytest.approx(40.0 * (sky + rho * bounce), rel=1e-4)
        assert infrared == 0.0


def test_sun_by_its_altitude(make_in_scene, make_scene):
    scene = make_scene(
        natural_light={
            "illuminance_lux": 50_000.0,
            "sun_share": 0.8,
            "sun_altitude_deg": 30.0,
            "sun_azimuth_deg": 180.0,  # behind the camera, straight onto the plate
        }
    )
    rows = list(rows_of(make_in_scene(scene)).values())
    # .8 x 50 000 lx on the ground are 80 000 lx square to the rays, 69 282 lx upright
    amounts = sorted(row.illuminance_lux for row in rows)
    assert amounts[-1] == pytest.approx(0.8 * 50_000 / 0.5 * math.cos(math.radians(30)), rel=1e-5)
    # and half of the sky's 10 000 lx
    sky = next(row for row in rows if 0.0 < row.illuminance_lux < 20_000)
    assert sky.illuminance_lux == pytest.approx(0.5 * 0.2 * 50_000, rel=1e-5)


def test_sums_by_basis(make_in_scene, make_scene):
    scene = make_scene(lamp=[LAMP, {**LAMP, "name": "other"}], illuminator=[INFRARED])
    in_scene = make_in_scene(scene)
    rows = list(rows_of(in_scene, "night").values())
    lux, infrared = totals(rows)
    assert lux == pytest.approx(16.0, rel=1e-5)
    assert infrared == pytest.approx(0.05, rel=1e-5)
    assert totals([]) == (0.0, 0.0)


@pytest.mark.invariant
def test_a_lamp_that_is_off_gives_nothing(make_in_scene, make_scene):
    in_scene = make_in_scene(make_scene(lamp=[{**LAMP, "on": False}, {**LAMP, "name": "other"}]))
    assert sum(row.illuminance_lux for row in rows_of(in_scene).values()) == pytest.approx(
        8.0, rel=1e-5
    )


@pytest.mark.invariant
def test_rates_agree_with_the_picture(make_judged, make_camera):
    """The rate of a diffuse white plate is what the tracer draws on its axis, by another way."""
    sharp = make_camera(lens={"aberration_sigma_um": 0.0, "glare_index": 0.0})
    made = make_judged(camera=sharp, ideal=True, lux=100.0, plate={"sheeting": "none"})
    world = made.in_scene.world
    white = int(made.target.card.texture[10, 10])
    rows = contributions(made.in_scene, made.state.mode, made.target.card.centre_m, FRONT, white)
    total = sum(row.electrons_per_s for row in rows)
    assert world.materials[white].name == "plate-white"
    corner = made.target.corners_px[0] - np.asarray(made.origin)
    # half a character below the upper left corner, right of the border: paper
    x, y = int(corner[0]) + 4, int(corner[1]) + 10
    assert made.rate[y, x, 1] == pytest.approx(total, rel=0.02)
