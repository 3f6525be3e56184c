from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.colour_matrix import adapted_rgb
from simulator.camera.white_balance import colour_path, grey_gains, locus, neutral_gains
from simulator.light.spectra import blackbody_power, spectrum
from simulator.units import WAVELENGTH_NM


def wall(in_scene, power, reflectance=None):
    """A metered picture of an even surface under a light."""
    surface = np.ones_like(WAVELENGTH_NM) if reflectance is None else reflectance
    electrons = (in_scene.response("day") * power * surface * WAVELENGTH_NM).sum(axis=1)
    return np.broadcast_to((electrons / electrons[1] * 1000.0).astype(np.float32), (9, 16, 3))


def balanced(in_scene, picture):
    """Balanced red and blue over green."""
    mean = picture.reshape(-1, 3).mean(axis=0) * colour_path(in_scene, picture, "day").balance
    return mean[[0, 2]] / mean[1]


@pytest.mark.invariant
@pytest.mark.parametrize("kelvin", [2600.0, 3000.0, 4500.0, 6500.0, 9500.0])
def test_grey_is_grey_within_the_limits(make_in_scene, kelvin):
    in_scene = make_in_scene()
    assert balanced(in_scene, wall(in_scene, blackbody_power(kelvin))) == pytest.approx(
        [1.0, 1.0], abs=0.01
    )


@pytest.mark.by_hand
def test_light_beyond_the_limits_keeps_the_rest_of_its_colour(make_in_scene, make_camera):
    camera = make_camera(processing={"white_balance_low_k": 3000.0, "white_balance_high_k": 7000.0})
    in_scene = make_in_scene(camera=camera)
    response = in_scene.response("day")
    for outside_k, limit_k in ((2000.0, 3000.0), (15_000.0, 7000.0)):
        # the gains of the limit act on the light of the outside
        left = neutral_gains(response, limit_k) / neutral_gains(response, outside_k)
        assert balanced(in_scene, wall(in_scene, blackbody_power(outside_k))) == pytest.approx(
            left, rel=0.02
        )
    red, blue = balanced(in_scene, wall(in_scene, blackbody_power(2000.0)))
    assert red > 1.2 and blue < 0.75


@pytest.mark.invariant
def test_sodium_stays_yellow_and_shade_a_little_blue(make_in_scene):
    in_scene = make_in_scene()
    _, blue = balanced(in_scene, wall(in_scene, spectrum("low-pressure-sodium").power))
    assert blue < 0.3
    _, blue = balanced(in_scene, wall(in_scene, spectrum("high-pressure-sodium").power))
    assert blue < 0.9
    red, blue = balanced(in_scene, wall(in_scene, blackbody_power(20_000.0)))
    assert 1.05 < blue < 1.4 and red < 0.98


@pytest.mark.invariant
def test_a_large_coloured_thing_pulls_less_than_in_a_plain_grey_world(make_in_scene):
    in_scene = make_in_scene()
    power = blackbody_power(5000.0)
    red_paint = np.where(WAVELENGTH_NM > 600.0, 0.7, 0.05)
    picture = np.array(wall(in_scene, power))
    picture[:, :9] = wall(in_scene, power, red_paint)[:, :9] * 0.3
    allowed = locus(in_scene.response("day"), 2500.0, 10_000.0)
    wanted = neutral_gains(in_scene.response("day"), 5000.0)
    mean = picture.reshape(-1, 3).mean(axis=0)
    plain = np.abs(np.log(mean[1] / mean[[0, 2]] / wanted))
    weighted = np.abs(np.log(grey_gains(picture, allowed) / wanted))
    assert np.all(weighted < 0.5 * plain)


@pytest.mark.invariant
def test_matrix_follows_the_light(make_in_scene):
    in_scene = make_in_scene()
    matrices = [
        colour_path(in_scene, wall(in_scene, power), "day").matrix
        for power in (blackbody_power(2856.0), blackbody_power(4000.0), spectrum("daylight").power)
    ]
    _, daylight = in_scene.daylight_colour
    assert matrices[2] == pytest.approx(daylight, abs=0.02)
    for matrix in matrices:
        assert matrix.sum(axis=1) == pytest.approx(np.ones(3))  # grey stays grey
    between = (matrices[1] - matrices[2]) / (matrices[0] - matrices[2])
    assert np.all((between > 0.0) & (between < 1.0))


@pytest.mark.invariant
def test_fixed_balance_is_that_of_daylight(make_in_scene, make_camera):
    in_scene = make_in_scene(camera=make_camera(processing={"white_balance": "daylight"}))
    tungsten = colour_path(in_scene, wall(in_scene, blackbody_power(2856.0)), "day")
    balance, matrix = in_scene.daylight_colour
    assert tungsten.balance == pytest.approx(balance / balance.min())
    assert np.array_equal(tungsten.matrix, matrix)
    night = colour_path(in_scene, wall(in_scene, blackbody_power(2856.0)), "night")
    assert night.mono and night.balance.min() == 1.0


@pytest.mark.outside
@pytest.mark.parametrize("lamp", ["high-pressure-sodium", "low-pressure-sodium"])
@pytest.mark.parametrize("surface", [0.1, 0.9])
def test_sodium_light_is_amber_on_asphalt_and_snow(make_in_scene, lamp, surface):
    """Hue of the lamp to an eye adapted to the warmest white of the camera (Bradford, CIE 1931).

    High pressure: linear BT.709 (1.45, .86, .39); the ground was olive, red and green alike.
    """
    in_scene = make_in_scene()
    power = spectrum(lamp).power
    seen = wall(in_scene, power, np.full(721, surface))
    path = colour_path(in_scene, seen, "day")
    red, green, blue = path.matrix @ (path.balance * seen[0, 0])
    low_k = in_scene.camera.processing.white_balance_low_k
    wanted = adapted_rgb(spectrum("high-pressure-sodium").power, blackbody_power(low_k))
    assert red / green == pytest.approx(wanted[0] / wanted[1], rel=0.1)
    assert blue < 0.6 * green
    assert blue > 0.0 or lamp.startswith("low")  # a single line lies beyond the display's colours


@pytest.mark.invariant
@pytest.mark.parametrize(
    "lamp",
    [
        "led-2700k",
        "led-3000k",
        "led-4000k",
        "cie-a",
        "mercury",
        "metal-halide",
        "fluorescent-4000k",
        "filament-2700k",
    ],
)
def test_no_other_lamp_is_taken_for_sodium(make_in_scene, lamp):
    in_scene = make_in_scene()
    path = colour_path(in_scene, wall(in_scene, spectrum(lamp).power), "day")
    assert path.matrix.sum(axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=1e-6)
