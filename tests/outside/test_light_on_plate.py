"""From lamp to electrons on surfaces, plates and lamp faces, by chains of hand formulas.

Sources: inverse square and cosine law; L = R_A E_perp / cos(nu) (CIE 54.2); E_image =
rho E T cos^4 / (4 F^2 (1 + m)^2) (camera equation); ISO 9358 for the veiling glare index.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator.camera.light_field import Light, frame_light
from simulator.camera.small_picture import meter_light
from simulator.camera.stray_light import add_glare, stray_share, veiling_glare
from simulator.light.beams import headlamp_intensity_cd
from simulator.light.photometry import luminous_efficiency
from simulator.light.spectra import gaussian_emitter, spectrum
from simulator.scene.emitters import add_emitters
from simulator.scene.geometry import Card, facing_normal
from simulator.scene.kernels.irradiance import incident
from simulator.scene.kernels.light_map import no_map
from simulator.scene.kernels.radiance import Sampling, trace_layer
from simulator.scene.materials import material, sheeting
from simulator.units import WAVELENGTH_NM

HC = 6.62607015e-34 * 299_792_458.0


def electrons(in_scene, mode, power, irradiance_scale=1.0):
    """Electrons/s in each channel of one pixel for this irradiance on it [W m^-2 nm^-1]."""
    area = (in_scene.camera.sensor.pixel_pitch_um * 1e-6) ** 2
    photons = power * irradiance_scale * area * (WAVELENGTH_NM * 1e-9) / HC
    return (in_scene.response(mode) / _lens_t(in_scene)) @ photons


def _lens_t(in_scene):
    lens = in_scene.camera.lens
    return np.interp(
        WAVELENGTH_NM, [650.0, 850.0], [lens.transmittance, lens.transmittance_infrared]
    )


def image_of(in_scene, mode, radiance, xy):
    """Electrons/s of a pixel that sees a spectral radiance [W m^-2 sr^-1 nm^-1] at a place."""
    lens = in_scene.camera.lens
    s, f = in_scene.focus_m, lens.focal_length_mm * 1e-3
    v = 1.0 / (1.0 / f - 1.0 / s)
    off = np.hypot(xy[0] - 160.0, xy[1] - 90.0) * in_scene.camera.sensor.pixel_pitch_um * 1e-6
    cos4 = np.cos(np.arctan(off / v)) ** 4
    edge = (
        1.0
        - (1.0 - lens.relative_illumination_corner)
        * (off / (lens.image_circle_mm * 1e-3 / 2.0)) ** 2
    )
    irradiance = (
        np.pi * radiance * _lens_t(in_scene) * cos4 / (4.0 * lens.f_number**2 * (v / f) ** 2)
    )
    return electrons(in_scene, mode, irradiance) * edge


def seen(in_scene, mode, point, group=0, *, bounced=True):
    """What the renderer gives at the picture of a world point, and where that is."""
    lights = in_scene.lights(mode)
    if not bounced:
        lights = lights._replace(light_map=no_map())
    xy = in_scene.view.project(np.asarray(point, float))[0]
    at = Sampling(xy[0] - 5e-4, xy[1] - 5e-4, 1e-3, 1, 1)
    layer = trace_layer(at, in_scene.packed_scene, lights, in_scene.packed_view, mode=group, fine=1)
    return layer.rate[0, 0].astype(np.float64), xy


LAMP = {
    "name": "lamp",
    "spectrum": "led-4000k",
    "intensity_cd": 800.0,
    "beam_deg": 40.0,
    "position_m": [0.25, 0.0, 1.1],
    "aim_m": [0.6, 18.0, 1.0],
}


def _angles(lamp, point, normal, eye):
    """E_perp without intensity, and observation, entrance and viewing cosines."""
    to_lamp, to_eye = np.asarray(lamp) - point, eye - point
    d = np.linalg.norm(to_lamp)
    to_lamp, to_eye = to_lamp / d, to_eye / np.linalg.norm(to_eye)
    return d, to_lamp, np.degrees(np.arccos(to_lamp @ to_eye)), to_lamp @ normal, to_eye @ normal


@pytest.mark.by_hand
@pytest.mark.parametrize("facing_deg", [0.0, 25.0])
def test_plate_under_a_lamp_beside_the_lens(make_in_scene, make_scene, facing_deg):
    scene = make_scene(lamp=[LAMP], plate={"facing_deg": facing_deg, "sheeting": "type-i"})
    in_scene = make_in_scene(scene)
    card = in_scene.world.cards[0]
    point = card.point_m(0.5, 0.01)  # on the white beside the last character, inside the border
    d, to_lamp, observation, entrance_cos, view_cos = _angles(
        LAMP["position_m"], point, card.normal, np.array([0.0, 0.0, 1.0])
    )
    axis = np.array(LAMP["aim_m"]) - LAMP["position_m"]
    beam = np.log(0.5) / np.log(np.cos(np.radians(20.0)))
    intensity = 800.0 * (-to_lamp @ axis / np.linalg.norm(axis)) ** beam
    e_perpendicular = intensity / d**2
    r_a = float(sheeting("type-i").coefficient(observation, np.degrees(np.arccos(entrance_cos))))
    white = material("plate-white").reflectance
    v = luminous_efficiency()
    tint = white / (white @ v / v.sum())
    per_lux = spectrum("led-4000k").power
    radiance = per_lux * e_perpendicular * (r_a / view_cos * tint + white * entrance_cos / np.pi)
    found, xy = seen(in_scene, "day", point)
    # the kernel reads R_A from a table of .05 by 2 degrees
    assert found == pytest.approx(image_of(in_scene, "day", radiance, xy), rel=0.01)
    assert r_a / view_cos > 20.0 * 0.7 / np.pi  # the plate does retroreflect here


@pytest.mark.by_hand
def test_plate_under_infrared(make_in_scene, make_scene):
    light = {
        "name": "infrared",
        "wavelength_nm": 850.0,
        "radiant_intensity_w_per_sr": 5.0,
        "beam_deg": 30.0,
        "beside_camera_m": [-0.4, 0.0, 0.2],
        "aim_m": [0.0, 18.0, 1.0],
    }
    in_scene = make_in_scene(make_scene(illuminator=[light], plate={"sheeting": "type-i"}))
    card = in_scene.world.cards[0]
    point = card.point_m(0.5, 0.01)
    d, to_lamp, observation, entrance_cos, view_cos = _angles(
        [-0.4, 0.0, 1.2], point, card.normal, np.array([0.0, 0.0, 1.0])
    )
    axis = np.array([0.4, 18.0, -0.2])
    beam = np.log(0.5) / np.log(np.cos(np.radians(15.0)))
    e = 5.0 * (-to_lamp @ axis / np.linalg.norm(axis)) ** beam / d**2
    r_a = float(sheeting("type-i").coefficient(observation, np.degrees(np.arccos(entrance_cos))))
    white = material("plate-white").reflectance
    v = luminous_efficiency()
    tint = white / (white @ v / v.sum())
    power = gaussian_emitter(850.0, 35.0).power
    radiance = power * e * (r_a / view_cos * tint + white * entrance_cos / np.pi)
    found, xy = seen(in_scene, "night", point)
    assert found == pytest.approx(image_of(in_scene, "night", radiance, xy), rel=0.01)
    # with the filter in, next to nothing
    by_day, _ = seen(in_scene, "day", point)
    assert np.all(by_day < 0.01 * found)


@pytest.mark.outside
def test_published_gain_of_sheeting_over_a_wall(make_in_scene, make_scene):
    # L = R_A E_perp against a Lambertian .8: 275 times for R_A 70 (table, computed once), plus the
    # plate's own diffuse part; lamp at observation .2 degrees, entrance 4 degrees
    offset = 18.0 * np.tan(np.radians(0.2))
    lamp = {**LAMP, "position_m": [offset, 0.0, 1.0], "aim_m": [0.0, 18.0, 1.0]}
    plate = {"facing_deg": 4.0 - np.degrees(np.arctan(offset / 18.0)), "sheeting": "type-i"}
    in_scene = make_in_scene(make_scene(lamp=[lamp], plate=plate))
    card = in_scene.world.cards[0]
    point = card.point_m(0.26, 0.008)
    sheet, _ = seen(in_scene, "day", point)
    bare = make_in_scene(make_scene(lamp=[lamp], plate={**plate, "sheeting": "none"}))
    diffuse, _ = seen(bare, "day", point)
    white = material("plate-white").reflectance
    v = luminous_efficiency()
    rho = white @ v / v.sum()
    ratio = (sheet - diffuse)[1] / diffuse[1] * rho / 0.8
    assert ratio == pytest.approx(275.0, rel=0.03)


def _wall(**more):
    return {"name": "wall", "kind": "wall", "material": "white-90", "width_m": 30.0,
            "height_m": 9.0, "position_m": [0.0, 20.0, 0.0], **more}  # fmt: skip


def _aside():
    """The plate moved out of the way."""
    return {"position_m": [12.0, 19.0, 1.0]}


@pytest.mark.by_hand
@pytest.mark.parametrize("distance_m", [2.0, 4.0, 8.0])
def test_inverse_square_and_cosine_on_a_wall(make_in_scene, make_scene, distance_m):
    lamp = {**LAMP, "position_m": [0.0, 20.0 - distance_m, 1.6], "aim_m": [0.0, 20.0, 1.6],
            "beam_deg": 120.0}  # fmt: skip
    in_scene = make_in_scene(make_scene(lamp=[lamp], surface=[_wall()], plate=_aside()))
    white = material("white-90").reflectance
    for x in (0.0, 0.3, -0.5):
        point = np.array([x, 20.0, 0.8])
        d2 = distance_m**2 + x * x + 0.64
        # a beam of 120 degrees is Lambertian: I cos, and cos again on the wall
        e = 800.0 * distance_m**2 / d2**2
        found, xy = seen(in_scene, "day", point, bounced=False)
        wanted = image_of(in_scene, "day", spectrum("led-4000k").power * e * white / np.pi, xy)
        assert found == pytest.approx(wanted, rel=1e-4)
        # what the ground throws on the wall comes on top
        assert np.all(found < seen(in_scene, "day", point)[0])


@pytest.mark.by_hand
@pytest.mark.parametrize("beam", ["dipped", "main"])
def test_headlight_on_a_wall(make_in_scene, make_scene, beam):
    # a car faces a wall beside the camera's view; its own lamps light it after the beam table
    car = {"name": "car", "kind": "vehicle-front", "position_m": [0.0, 10.0, 0.0],
           "facing_deg": 180.0, "headlights": beam}  # fmt: skip
    scene = make_scene(
        target=[car],
        surface=[_wall(position_m=[0.0, 30.0, 0.0])],
        plate=_aside(),
        station={"height_m": 6.0, "aim_m": [0.0, 30.0, 1.0]},
    )
    in_scene = make_in_scene(scene)
    lamps = [light for light in in_scene.world.lights if light.kind == "point"]
    assert len(lamps) == 2
    white = material("white-90").reflectance
    for point in ([0.0, 30.0, 0.5], [1.0, 30.0, 0.3], [-0.6, 30.0, 1.4], [0.8, 30.0, 0.75]):
        e = 0.0
        for lamp in lamps:
            ahead = np.array(point) - lamp.position_m
            d = np.linalg.norm(ahead)
            # the driver looks along +y, so right is +x
            h = np.degrees(np.arctan2(ahead[0], ahead[1]))
            v = np.degrees(np.arcsin(ahead[2] / d))
            e += float(headlamp_intensity_cd(h, v, beam)) / d**2 * ahead[1] / d
        found, xy = seen(in_scene, "day", np.array(point), bounced=False)
        wanted = image_of(in_scene, "day", spectrum("led-5000k").power * e * white / np.pi, xy)
        # the kernel reads a table, which rounds the cut-off of a dipped beam off a little
        assert found == pytest.approx(wanted, rel=0.03)


@pytest.mark.by_hand
def test_dipped_beam_rises_towards_the_kerb_of_right_hand_traffic(make_in_scene, make_scene):
    # towards the camera the driver's right is the picture's left
    car = {"name": "car", "kind": "vehicle-front", "position_m": [0.0, 20.0, 0.0],
           "headlights": "dipped"}  # fmt: skip
    in_scene = make_in_scene(make_scene(target=[car], plate=_aside()))
    light = next(x for x in in_scene.world.lights if x.kind == "point")
    from simulator.scene.kernels.beams import beam_intensity

    packed = in_scene.lights("day")
    index = in_scene.world.lights.index(light)

    def towards(right_deg: float) -> float:
        a, v = np.radians(right_deg), np.radians(-0.1)
        u = np.array([-np.sin(a) * np.cos(v), -np.cos(a) * np.cos(v), np.sin(v)])
        return beam_intensity(index, u[0], u[1], u[2], packed)

    assert towards(3.0) > 5.0 * towards(-3.0)
    assert towards(3.0) == pytest.approx(float(headlamp_intensity_cd(3.0, -0.1, "dipped")), rel=0.1)


@pytest.mark.by_hand
@pytest.mark.parametrize("diameter_m", [0.01, 0.3])
@pytest.mark.parametrize("place", [(0.0, 18.0, 1.0), (0.3, 15.0, 1.1)])
def test_lamp_face_sends_what_enters_the_pupil(make_in_scene, make_scene, place, diameter_m):
    # I/d^2 on the pupil of diameter f/F, seen under cos(theta), through T and QE, is all there is;
    # the lamp stands in the dark over a far, black ground
    lamp = {**LAMP, "position_m": list(place), "aim_m": [0.0, 0.0, 1.0], "beam_deg": 120.0,
            "diameter_m": diameter_m, "intensity_cd": 50.0}  # fmt: skip
    in_scene = make_in_scene(make_scene(lamp=[lamp], plate=_aside()))
    dark = make_in_scene(make_scene(lamp=[{**lamp, "diameter_m": 0.05}], plate=_aside()))
    dark = replace(dark, world=replace(dark.world, emitters=[]))
    picture = _bare(in_scene) - _bare(dark)
    found = picture.reshape(-1, 3).sum(axis=0)
    lens = in_scene.camera.lens
    offset = np.array([0.0, 0.0, 1.0]) - place
    d = np.linalg.norm(offset)
    intensity = 50.0 * (offset @ (np.array([0.0, 0.0, 1.0]) - place)) / d / d
    theta_cos = place[1] / d
    pupil = np.pi / 4.0 * (lens.focal_length_mm * 1e-3 / lens.f_number) ** 2
    power = spectrum("led-4000k").power * (intensity / d**2 * theta_cos * pupil)
    area = (in_scene.camera.sensor.pixel_pitch_um * 1e-6) ** 2
    xy = in_scene.view.project(np.array(place))[0]
    off = np.hypot(xy[0] - 160.0, xy[1] - 90.0) * in_scene.camera.sensor.pixel_pitch_um * 1e-6
    edge = (
        1.0
        - (1.0 - lens.relative_illumination_corner)
        * (off / (lens.image_circle_mm * 1e-3 / 2.0)) ** 2
    )
    wanted = electrons(in_scene, "day", power * _lens_t(in_scene) / area) * edge
    assert found == pytest.approx(wanted, rel=1e-3)


def _bare(in_scene):
    """Rate of the whole picture without lens blur and glare, of a scene that stands still."""
    at = Sampling(0.0, 0.0, 1.0, 180, 320)
    lights, view = in_scene.lights("day"), in_scene.packed_view
    layer = trace_layer(at, in_scene.packed_scene, lights, view, mode=0)
    rate = layer.rate
    add_emitters(rate, layer.depth, at, in_scene.world, in_scene.view, view, lights)
    return rate.astype(np.float64)


@pytest.mark.invariant
def test_lens_blur_keeps_the_light(make_in_scene, make_scene, make_camera):
    lamp = {**LAMP, "position_m": [0.0, 18.0, 1.0], "aim_m": [0.0, 0.0, 1.0]}
    scene = make_scene(lamp=[lamp], plate=_aside())
    in_scene = make_in_scene(scene, make_camera(lens={"glare_index": 0.0}))
    sharp = _bare(in_scene).sum()
    assert frame_light(in_scene, "day", 0.01).rate.sum(dtype=np.float64) == pytest.approx(
        sharp, rel=1e-3
    )


@pytest.mark.by_hand
def test_lamp_face_has_the_luminance_of_its_intensity(make_in_scene, make_scene):
    # a round face of 0.4 m with 500 cd has L = I/(pi D^2/4); it is read in its middle
    lamp = {**LAMP, "position_m": [0.0, 18.0, 1.0], "aim_m": [0.0, 0.0, 1.0], "diameter_m": 0.4,
            "intensity_cd": 500.0}  # fmt: skip
    in_scene = make_in_scene(make_scene(lamp=[lamp], plate=_aside()))
    luminance = 500.0 / (np.pi * 0.4**2 / 4.0)
    wanted = image_of(in_scene, "day", spectrum("led-4000k").power * luminance, (160.0, 90.0))
    # the lamp lights nothing behind itself, so only its face is in the middle
    assert _bare(in_scene)[90, 160] == pytest.approx(wanted, rel=0.01)


@pytest.mark.invariant
@pytest.mark.parametrize("facing_deg", [0.0, 50.0])
@pytest.mark.parametrize("tilt_deg", [-60.0, 0.0, 35.0, 90.0])
def test_white_furnace(make_in_scene, make_scene, facing_deg, tilt_deg):
    # Under a uniform sky over ground of reflectance one, a white surface turned anyhow gets E and
    # is as bright as the sky: the furnace test, rate = coefficient x E.
    in_scene = make_in_scene(make_scene(natural_light={"illuminance_lux": 7.0}, plate=_aside()))
    world = in_scene.world
    lights = [
        replace(light, spectrum=spectrum("daylight")) if light.kind == "bounce" else light
        for light in world.lights
    ]
    normal = facing_normal(facing_deg, tilt_deg)
    across = np.array([np.cos(np.radians(facing_deg)), np.sin(np.radians(facing_deg)), 0.0])
    down = np.cross(across, normal)
    middle = np.array([0.0, 18.0, 0.5])
    card = Card("white", middle - across / 2 - down / 2, across, down, 1.0, 1.0,
                np.zeros((1, 1), np.uint8))  # fmt: skip
    white = replace(in_scene, world=replace(world, lights=lights, cards=[card], ground_material=0))
    sky = image_of(white, "day", spectrum("daylight").power * 7.0 / np.pi, (160.0, 90.0))
    for point in (middle + 0.3 * across, middle - 0.3 * down, [0.0, 25.0, 0.0], [0.0, 18.0, 3.0]):
        found, xy = seen(white, "day", point)
        wanted = image_of(white, "day", spectrum("daylight").power * 7.0 / np.pi, xy)
        assert found == pytest.approx(wanted, rel=1e-5)
    assert np.all(sky > 0.0)


@pytest.mark.invariant
def test_sun_on_level_ground(make_in_scene, make_scene):
    # sun and sky together give the stated illuminance on level ground, whatever the sun's height
    for altitude in (10.0, 45.0, 80.0):
        natural = {"illuminance_lux": 20_000.0, "sun_share": 0.7, "sun_altitude_deg": altitude}
        in_scene = make_in_scene(
            make_scene(
                natural_light=natural,
                surface=[{"name": "ground", "kind": "ground", "material": "grey-18"}],
                plate=_aside(),
            )
        )
        found, xy = seen(in_scene, "day", [0.0, 16.0, 0.0])
        rho = material("grey-18").reflectance
        radiance = spectrum("daylight").power * 20_000.0 * rho / np.pi
        assert found == pytest.approx(image_of(in_scene, "day", radiance, xy), rel=1e-4)


@pytest.mark.outside
@pytest.mark.parametrize("index", [0.01, 0.03, 0.2])
@pytest.mark.parametrize("size", [(640, 360), (480, 480)])
def test_veiling_glare_index(index, size):
    """ISO 9358, integral method: a black disc in an extended bright field reads the index.

    Its diameter is a tenth of the picture's diagonal (from memory). The standard's index is that
    reading over the field's; here the whole picture is made, and the disc read in its middle.
    """
    wide, high = size
    y, x = np.mgrid[:high, :wide] + 0.5
    rate = np.full((high, wide, 3), 1000.0, np.float32)
    radius = 0.05 * np.hypot(wide, high)
    rate[np.hypot(x - wide / 2, y - high / 2) < radius] = 0.0
    out = add_glare(rate, veiling_glare(rate), stray_share(index, wide, high), (0, 0), size)
    assert out[high // 2, wide // 2, 1] / out[5, 5, 1] == pytest.approx(index, rel=0.04)
    # a smaller patch reads more: it misses less light of its own
    rate[:] = 1000.0
    rate[high // 2 - 2 : high // 2 + 2, wide // 2 - 2 : wide // 2 + 2] = 0.0
    small = add_glare(rate, veiling_glare(rate), stray_share(index, wide, high), (0, 0), size)
    assert small[high // 2, wide // 2, 1] / small[5, 5, 1] > 1.1 * index
    assert small[20, 20, 1] == pytest.approx(1000.0, rel=1e-3)


@pytest.mark.invariant
def test_glare_conserves_light():
    rate = np.random.default_rng(1).gamma(0.2, 500.0, (360, 640, 3)).astype(np.float32)
    rate[100:110, 300:312] += 1e5
    out = add_glare(rate, veiling_glare(rate), 0.1, (0, 0), (640, 360))
    before, after = rate.sum(dtype=np.float64), out.sum(dtype=np.float64)
    assert after == pytest.approx(before, rel=5e-3)
    assert np.all(out >= 0.0)


@pytest.mark.invariant
def test_glare_of_a_patch_is_that_of_the_whole():
    rate = np.random.default_rng(2).gamma(0.2, 500.0, (360, 640, 3)).astype(np.float32)
    stray_light = veiling_glare(rate)
    whole = add_glare(rate, stray_light, 0.1, (0, 0), (640, 360))
    cut = np.ascontiguousarray(rate[101:201, 37:187])
    region = add_glare(cut, stray_light, 0.1, (37, 101), (640, 360))
    # OpenCV's remap keeps 5 bits of the place between samples
    assert region == pytest.approx(
        whole[101:201, 37:187], abs=0.02 * 0.1 * float(stray_light.max())
    )


@pytest.mark.by_hand
def test_glare_of_the_camera_is_on_its_picture(make_in_scene, make_scene):
    lamp = {**LAMP, "position_m": [0.0, 18.0, 1.0], "aim_m": [0.0, 0.0, 1.0], "intensity_cd": 5e4}
    in_scene = make_in_scene(make_scene(lamp=[lamp], plate=_aside()))
    light: Light = frame_light(in_scene, "day", 0.01)
    # far from the lamp there is nothing but its stray light: share x veil
    share = in_scene.stray_share
    bare = _bare(in_scene)
    assert light.rate[10, 20] - (1.0 - share) * bare[10, 20] == pytest.approx(
        share * light.stray_light[1, 2], rel=0.1
    )


@pytest.mark.by_hand
def test_estimated_illuminance_of_a_grey_scene(make_in_scene, make_scene, make_camera):
    # A camera reckons its light from an 18 percent scene in daylight; a grey wall under a uniform
    # sky, half of it over the horizon, gets half the level illuminance plus a share of what ground
    # sends that has lost a part of the sky itself to the wall
    from simulator.camera.day_night import estimated_illuminance

    scene = make_scene(
        natural_light={"illuminance_lux": 12.0},
        surface=[
            _wall(material="grey-18", width_m=90.0, height_m=60.0, position_m=[0.0, 20.0, -20.0]),
            {"name": "ground", "kind": "ground", "material": "grey-18"},
        ],
        plate=_aside(),
        station={"height_m": 4.0, "aim_m": [0.0, 20.0, 4.0]},
    )
    in_scene = make_in_scene(scene, make_camera(lens={"relative_illumination_corner": 1.0}))
    middle = np.array([[0.0, 20.0, 4.0]])
    packed, field = in_scene.lights("day"), in_scene.light_field
    units = incident(middle, np.array([0.0, -1.0, 0.0]), in_scene.packed_scene, packed,
                     field=field)[0]  # fmt: skip
    on_wall = float(units @ np.where(packed.kind == 1, 0.18, 1.0))
    assert 12.0 * 0.5 * 1.09 < on_wall < 12.0 * 0.5 * 1.18
    found = estimated_illuminance(in_scene, meter_light(in_scene, "day"))
    # cos^4 costs half a percent at the corner of this narrow view
    assert found == pytest.approx(on_wall, rel=0.01)
