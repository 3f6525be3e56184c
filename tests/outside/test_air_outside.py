"""Air against published values and independent integration."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import scipy.integrate
import scipy.special
from pydantic import ValidationError

from simulator.camera.light_field import frame_light
from simulator.scene.air import (
    air_at,
    extinction_per_m,
    lamp_glow,
    phase_function,
    rain_extinction_per_m,
)
from simulator.scene.model_air import AirModel


@pytest.mark.outside
@pytest.mark.parametrize(
    ("visibility_m", "contrast"), [(100.0, 0.141), (200.0, 0.376), (1000.0, 0.822)]
)
def test_contrast_over_fifty_metres(visibility_m, contrast):
    # Koschmieder with sigma = 3.912 / V (AMS Glossary of Meteorology, "visual range"): at 50 m
    air = air_at(AirModel(visibility_m=visibility_m), 550.0)
    assert np.exp(-air.extinction_per_m * 50.0) == pytest.approx(contrast, abs=5e-4)
    # and by definition 2 % are left at the visibility itself
    assert np.exp(-air.extinction_per_m * visibility_m) == pytest.approx(0.02, rel=1e-3)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("visibility_m", "contrast"), [(100.0, 0.141), (200.0, 0.376), (1000.0, 0.822)]
)
def test_contrast_of_a_dark_target_through_the_camera(
    make_in_scene, make_scene, make_camera, visibility_m, contrast
):
    """Koschmieder's black target before the horizon, with the numbers above, in electrons.

    A wall in front of an even sky, seen at 50 m by a lens without glare; contrast |T - S| / S of
    target and sky against what it is in clear air. The sky is that of the same pixels without the
    wall, so that the lens falls off alike.
    """
    wall = {"name": "wall", "kind": "wall", "material": "paint-black",
            "position_m": [0.0, 50.0, -8.0], "width_m": 8.0, "height_m": 20.0}  # fmt: skip
    camera = make_camera(lens={"glare_index": 0.0})

    def middle(surface, **tables):
        in_scene = make_in_scene(
            make_scene(
                natural_light={"illuminance_lux": 100.0, "spectrum": "daylight"}, surface=surface,
                station={"height_m": 1.0, "aim_m": [0.0, 50.0, 6.0]}, **tables,
            ),
            camera,
        )  # fmt: skip
        rate = frame_light(in_scene, "day", 0.001).rate
        return float(rate[85:95, 155:165, 1].mean())

    def seen(**tables):
        target, sky = middle([wall], **tables), middle([], **tables)
        return abs(target - sky) / sky

    clear = seen()
    assert clear > 0.9
    slant = float(np.hypot(50.0, 5.0))
    # the way is a little longer than 50 m
    told = contrast ** (slant / 50.0)
    assert seen(air={"visibility_m": visibility_m}) / clear == pytest.approx(told, abs=1e-3)


@pytest.mark.outside
def test_phase_function_sends_everything_somewhere():
    # normalisation, by an independent integration over the sphere
    whole, _ = scipy.integrate.quad(
        lambda c: 2.0 * np.pi * float(phase_function(c)), -1.0, 1.0, epsabs=1e-10
    )
    assert whole == pytest.approx(1.0, abs=1e-8)


@pytest.mark.outside
def test_straight_back_as_clouds_scatter():
    # lidar ratio 18.8 +- 0.8 sr of water clouds (O'Connor, Illingworth and Hogan, J. Atmos.
    # Oceanic Technol. 21, 777, 2004; from memory): 1 / p(180 deg) without absorption
    assert 1.0 / float(phase_function(-1.0)) == pytest.approx(18.8, rel=0.1)


@pytest.mark.outside
def test_mean_cosine_of_fog_droplets():
    # asymmetry of water droplets much larger than the wavelength, g = 0.75 to 0.87 (Hansen and
    # Travis, Space Sci. Rev. 16, 527, 1974; from memory)
    g, _ = scipy.integrate.quad(lambda c: 2.0 * np.pi * c * float(phase_function(c)), -1.0, 1.0)
    assert 0.74 < g < 0.87


@pytest.mark.outside
def test_backscatter_of_a_light_at_the_lens(make_in_scene, make_scene):
    """A light at the lens itself has a closed form.

    I sigma p(pi) integral of exp(-2 sigma a) / a^2 da = [E2(2 sigma n) / n - E2(2 sigma f) / f],
    E2 by scipy.
    """
    light = {"name": "ring", "wavelength_nm": 850.0, "radiant_intensity_w_per_sr": 5.0,
             "beam_deg": 30.0, "beside_camera_m": [0.0, 0.0, 0.0],
             "aim_m": [0.0, 18.0, 1.0]}  # fmt: skip
    in_scene = make_in_scene(make_scene(illuminator=[light], air={"visibility_m": 80.0}))
    lights = in_scene.lights("night")
    ends = np.geomspace(0.1, 50.0, 26)
    middle = (np.array([160.0]), np.array([90.0]))
    glow = lamp_glow(*middle, ends, in_scene.air("night"), in_scene.packed_view, lights)[0, 0, :, 1]
    sigma = extinction_per_m(80.0, 850.0)

    def part(a):
        return scipy.special.expn(2, 2.0 * sigma * a) / a

    luminance = 5.0 * sigma * float(phase_function(-1.0)) * (part(0.1) - part(ends))
    place = list(lights.kind).index(3)
    wanted = np.pi * luminance * lights.coefficient[place, 0, 1]
    assert glow == pytest.approx(wanted, rel=5e-3)


@pytest.mark.outside
@pytest.mark.parametrize("beam_deg", [8.0, 90.0])
@pytest.mark.parametrize("aside_m", [0.2, 1.0, 5.0])
def test_glow_of_a_lamp_beside_the_ray(make_in_scene, make_scene, aside_m, beam_deg):
    """Against scipy's adaptive integration along the ray, within 1 % and 0.2 % of the whole."""
    lamp = {"name": "lamp", "spectrum": "led-4000k", "intensity_cd": 700.0, "beam_deg": beam_deg,
            "position_m": [aside_m, 18.0, 1.0], "aim_m": [0.0, 9.0, 1.0]}  # fmt: skip
    in_scene = make_in_scene(make_scene(lamp=[lamp], air={"visibility_m": 120.0}))
    lights = in_scene.lights("day")
    ends = np.array([0.1, 5.0, 12.0, 17.0, 18.5, 30.0, 200.0])
    middle = (np.array([160.0]), np.array([90.0]))
    glow = lamp_glow(*middle, ends, in_scene.air("day"), in_scene.packed_view, lights)[0, 0, :, 1]
    sigma, place = 3.912 / 120.0, np.array(lamp["position_m"])
    axis = np.array(lamp["aim_m"]) - place
    axis /= np.linalg.norm(axis)
    exponent = np.log(0.5) / np.log(np.cos(np.radians(beam_deg / 2.0)))

    def strength(a):
        to = np.array([0.0, a, 1.0]) - place
        d = np.linalg.norm(to)
        cosine = max(0.0, float(axis @ to) / d)
        # onwards from the lamp to the point, then back along -y
        phase = float(phase_function(-to[1] / d))
        return 700.0 * cosine**exponent / d**2 * np.exp(-sigma * (a + d)) * sigma * phase

    steps = [
        scipy.integrate.quad(strength, a, b, points=[18.0] if a < 18.0 < b else None, limit=400)[0]
        for a, b in itertools.pairwise(ends)
    ]
    number = list(lights.kind).index(3)
    wanted = np.pi * np.cumsum(steps) * lights.coefficient[number, 0, 1]
    assert glow[1:] == pytest.approx(wanted, rel=0.01, abs=2e-3 * float(wanted[-1]))


@pytest.mark.outside
@pytest.mark.parametrize("rain_mm_per_h", [1.0, 5.0, 12.5, 25.0, 50.0, 100.0])
def test_rain_lies_between_once_and_twice_the_shadow_of_its_drops(rain_mm_per_h):
    """Marshall and Palmer 1948 (from memory): N(D) = 8000 exp(-4.1 R^-0.21 D) per m3 and mm.

    The drops' shadow is the integral of pi D^2 / 4; extinction of large drops is twice that, half
    of it light diffracted by less than a milliradian.
    """
    d = np.linspace(0.0, 12.0, 12001)
    drops = 8000.0 * np.exp(-4.1 * rain_mm_per_h**-0.21 * d)
    shadow = np.trapezoid(np.pi / 4.0 * (d * 1e-3) ** 2 * drops, d)
    assert shadow < rain_extinction_per_m(rain_mm_per_h) < 2.0 * shadow


@pytest.mark.by_hand
def test_rain_of_25_mm_per_h():
    """1.076 x 25^0.67 = 9.30 dB/km, over 4.343 dB: 2.14 per km; 50 m leave 0.8984."""
    air = air_at(AirModel(rain_mm_per_h=25.0), 850.0)
    assert air.extinction_per_m == pytest.approx(2.141e-3, rel=1e-3)
    assert np.exp(-air.extinction_per_m * 50.0) == pytest.approx(0.8984, rel=1e-3)
    both = air_at(AirModel(rain_mm_per_h=25.0, visibility_m=1000.0, kind="fog"), 850.0)
    assert both.extinction_per_m == pytest.approx(2.141e-3 + 3.912e-3, rel=1e-3)
    with pytest.raises(ValidationError, match=r"visibility_m or rain_mm_per_h"):
        AirModel()
