"""Sun and lamps in and beside the picture: the disc of the sun, and the stray light they throw."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.camera.light_field import frame_light
from simulator.camera.small_picture import meter_light, small_stray_light
from simulator.camera.stray_light import GLARE_SCALES, source_stray_light, veiling_glare
from simulator.scene.emitters import SUN_DIAMETER_DEG


def sunny(make_scene, azimuth_deg=0.0, altitude_deg=1.0, **tables):
    return make_scene(
        natural_light={
            "illuminance_lux": 2000.0,
            "sun_share": 0.5,
            "sun_altitude_deg": altitude_deg,
            "sun_azimuth_deg": azimuth_deg % 360.0,
        },
        **tables,
    )


@pytest.mark.by_hand
def test_the_sun_is_a_disc_of_its_own_luminance(make_in_scene, make_scene, make_camera):
    """E = 1000 lx / sin 1 deg over a disc of 0.53 deg: L = E / (pi sin^2(0.265 deg)).

    A perfect diffuser under E_d has L = E_d / pi and the rate c0 E_d, so the disc's is pi c0 L.
    """
    sharp = make_camera(lens={"aberration_sigma_um": 0.0, "glare_index": 0.0})
    in_scene = make_in_scene(sunny(make_scene), sharp)
    lights = in_scene.lights("day")
    sun = next(i for i, light in enumerate(in_scene.world.lights) if light.kind == "sun")
    e = 1000.0 / math.sin(math.radians(1.0))
    half = math.radians(SUN_DIAMETER_DEG / 2.0)
    luminance = e / (math.pi * math.sin(half) ** 2)
    rate = frame_light(in_scene, "day", 0.001).rate[:, :, 1]
    # one degree up of the axis, which is level
    y = round(90.0 - in_scene.view.focal_px * math.tan(math.radians(1.0)))
    assert rate[y, 160] == pytest.approx(
        math.pi * luminance * float(lights.coefficient[sun, 0, 1]), rel=0.01
    )
    across = float((rate[y] > 0.5 * rate[y, 160]).sum())
    assert across == pytest.approx(2.0 * in_scene.view.focal_px * math.tan(half), abs=1.5)


@pytest.mark.invariant
def test_a_card_before_the_sun_hides_it(make_in_scene, make_scene, make_camera):
    plain = make_camera(lens={"glare_index": 0.0})
    wall = {
        "name": "wall", "kind": "wall", "material": "concrete",
        "position_m": [0.0, 40.0, 0.0], "width_m": 20.0, "height_m": 5.0,
    }  # fmt: skip
    seen = frame_light(make_in_scene(sunny(make_scene), plain), "day", 0.001).rate
    behind = frame_light(make_in_scene(sunny(make_scene, surface=[wall]), plain), "day", 0.001)
    assert seen.max() > 1e4 * behind.rate.max()
    assert (
        small_stray_light(make_in_scene(sunny(make_scene, surface=[wall])), "day").max()
        < seen.max() / 1e4
    )


@pytest.mark.invariant
def test_stray_light_falls_evenly_as_the_sun_leaves_the_picture(make_in_scene, make_scene):
    """The picture's edge lies at 2.2 degrees; nothing jumps there."""
    edge = math.degrees(math.atan(160.0 / make_in_scene().view.focal_px))
    half = SUN_DIAMETER_DEG / 2.0
    azimuths = np.concatenate([
        [0.0, edge / 2.0], np.arange(edge - 2 * half, edge + 2.5 * half, half / 6.0), [4.0, 6.0]
    ])  # fmt: skip
    stray_lights = [
        small_stray_light(make_in_scene(sunny(make_scene, float(a))), "day")[:, :, 1]
        for a in azimuths
    ]
    level = np.array([float(stray_light.mean()) for stray_light in stray_lights])
    ratio = level[1:] / level[:-1]
    assert np.all(ratio < 1.0)
    # two thirds of the stray light stay near the image; they leave as the disc passes the edge
    assert ratio[2:-2].min() > 0.8
    inside, touching = level[0], float(np.interp(edge + half, azimuths, level))
    assert 0.15 * inside < touching < 0.4 * inside
    # at the end little but the light of the sky is left
    assert level[-1] < 0.02 * inside


@pytest.mark.invariant
def test_a_lamp_beside_the_picture_throws_light_unless_it_is_hidden(make_in_scene, make_scene):
    lamp = {
        "name": "lamp", "spectrum": "led-4000k", "intensity_cd": 5000.0, "beam_deg": 120.0,
        "position_m": [1.0, 18.0, 1.0], "aim_m": [0.0, 0.0, 1.0], "flicker_depth": 0.0,
    }  # fmt: skip
    screen = {
        "name": "screen", "kind": "wall", "material": "paint-black",
        "position_m": [0.75, 12.0, 0.0], "width_m": 0.4, "height_m": 3.0,
    }  # fmt: skip
    dark = small_stray_light(make_in_scene(make_scene(lamp=[{**lamp, "on": False}])), "night")
    bare = small_stray_light(make_in_scene(make_scene(lamp=[lamp])), "night")
    hidden = small_stray_light(make_in_scene(make_scene(lamp=[lamp], surface=[screen])), "night")
    assert bare[:, -1].mean() > 2.0 * bare[:, 0].mean()
    assert bare.mean() > 50.0 * hidden.mean()
    assert dark.max() < bare.min()


@pytest.mark.invariant
def test_a_source_and_its_mirror_images_are_what_the_picture_s_veil_makes():
    """Two ways to one spread: blurring a picture with mirrored edges, and summing Gaussians."""
    wide, high, size = 320, 180, 4
    picture = np.zeros((high, wide, 3), np.float32)
    picture[60:64, 100:104] = 1.0
    blurred = veiling_glare(picture, size)
    x, y = 102.0, 62.0
    places = np.array([
        (a + 2 * i * wide, b + 2 * j * high)
        for i in range(-2, 3) for j in range(-2, 3) for a in (x, -x) for b in (y, -y)
    ])  # fmt: skip
    n = len(places)
    summed = source_stray_light(places, np.zeros(n), np.full((n, 3), 16.0), (wide, high), (45, 80))
    assert summed.sum() == pytest.approx(blurred.sum(), rel=0.01)
    assert np.abs(summed - blurred).max() < 0.12 * blurred.max()
    assert np.median(np.abs(summed / blurred - 1.0)) < 0.06


@pytest.mark.by_hand
def test_light_of_a_source_in_the_middle_of_a_wide_picture():
    """With sigma = 0.25 width, erf(0.5 / 0.25 / sqrt 2) = 0.9545 of it stays within the width."""
    stray_light = source_stray_light(
        np.array([[500.0, 500.0]]), np.zeros(1), np.ones((1, 3)), (1000, 1000), (50, 50)
    )
    kept = sum(w * math.erf(0.5 / share / math.sqrt(2.0)) ** 2 for share, w in GLARE_SCALES)
    assert kept == pytest.approx(0.57 * 0.9545**2 + 0.43, abs=1e-4)
    assert float(stray_light[:, :, 0].sum()) * 20.0**2 == pytest.approx(kept, rel=1e-4)


@pytest.mark.invariant
def test_the_meter_sees_stray_light(make_in_scene, make_scene, make_camera):
    scene = sunny(make_scene, 0.0)
    clean = meter_light(make_in_scene(scene, make_camera(lens={"glare_index": 0.0})), "day")
    veiled = meter_light(make_in_scene(scene, make_camera(lens={"glare_index": 0.02})), "day")
    assert np.median(veiled) > 2.0 * np.median(clean)
