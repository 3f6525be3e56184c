"""Laws that hold whatever the numbers, tried on numbers that hypothesis chooses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from simulator import Camera, Scene
from simulator.camera.lens import defocus_blur_m, lens_factor
from simulator.camera.sensor import expose
from simulator.camera.sensor_readout import readout, without_temporal_noise
from simulator.camera.tone import encode_tone
from simulator.files import bundled_names
from simulator.light import photometric_types, webs
from simulator.light.beams import beam_exponent, beam_flux
from simulator.light.photometry import illuminance_lux
from simulator.light.spectra import blackbody_power
from simulator.scene.build import build_world

FEW = settings(max_examples=40, deadline=None, derandomize=True)
POSITIVE = st.floats(1e-3, 1e6)


@pytest.mark.invariant
@FEW
@given(st.floats(0.5, 64.0), st.floats(0.0, 2.0), st.floats(1.0, 4.0))
def test_a_lens_makes_no_light(f_number: float, m: float, closed: float) -> None:
    """The image of a plane of luminance L gets at most the pi L that the plane itself gives off:
    1 / (4 F^2 (1 + m)^2) <= 1 from F = 0.5 on, the limit of any lens in air."""
    share = float(lens_factor(f_number, m)) / 4.0
    assert 0.0 < share <= 1.0
    assert float(lens_factor(closed * f_number, m)) / 4.0 <= share


@pytest.mark.invariant
@FEW
@given(POSITIVE, st.floats(2.0, 160.0), st.floats(1.0, 100.0))
def test_flux_scales_with_intensity(intensity: float, beam_deg: float, factor: float) -> None:
    n = beam_exponent(beam_deg)
    assert beam_flux(factor * intensity, n) == pytest.approx(factor * beam_flux(intensity, n))
    assert beam_flux(intensity, n) <= 4.0 * math.pi * intensity * (1.0 + 1e-9)


@pytest.mark.invariant
@FEW
@given(st.floats(1000.0, 20_000.0), st.floats(1.0, 1e4))
def test_illuminance_is_linear_in_power(kelvin: float, factor: float) -> None:
    power = blackbody_power(kelvin)
    assert illuminance_lux(factor * power) == pytest.approx(factor * illuminance_lux(power))


@pytest.mark.invariant
@FEW
@given(
    st.sampled_from(bundled_names("cameras")), st.floats(0.1, 1e7), st.floats(0.0, 1e7),
    st.floats(1e-5, 0.1), st.integers(0, 1000),
)  # fmt: skip
def test_more_light_never_lowers_the_signal(
    name: str, rate: float, more: float, shutter_s: float, seed: int
) -> None:
    """Without temporal noise no pixel's digital number falls, whatever its fixed pattern and gain,
    also where it saturates; nor does the level that the tone curve makes of it."""
    sensor = without_temporal_noise(Camera.load(name).model.sensor)
    share = np.random.default_rng(seed).random((8, 12, 3)).astype(np.float32)
    numbers = [
        expose(
            light, shutter_s, sensor, readout(sensor, 12.0), seed=seed, photon_noise=False
        ).astype(int)
        for light in (rate * share, rate * share + more * share[::-1])
    ]
    assert np.all(numbers[1] >= numbers[0])
    linear = np.sort(share.ravel().astype(float))
    assert np.all(np.diff(encode_tone(linear, "bt709")) >= 0.0)


@pytest.mark.invariant
@FEW
@given(st.floats(2.0, 100.0), st.floats(0.2, 1000.0), st.floats(1.0, 16.0), st.floats(1.1, 4.0))
def test_a_closed_iris_never_blurs_more(
    focal_mm: float, distance_m: float, f_number: float, closed: float
) -> None:
    f, focus = focal_mm * 1e-3, 10.0
    wide = defocus_blur_m(f, f_number, focus, distance_m)
    assert defocus_blur_m(f, closed * f_number, focus, distance_m) <= wide
    assert defocus_blur_m(f, f_number, focus, focus) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.invariant
@FEW
@given(st.floats(0.0, 360.0), st.floats(0.0, 89.9))
def test_types_a_and_b_name_each_direction_once(c_deg: float, gamma_deg: float) -> None:
    """Both give back the direction that they were made from."""
    g, c = math.radians(gamma_deg), math.radians(c_deg)
    ray = np.array([math.sin(g) * math.cos(c), math.cos(g), math.sin(g) * math.sin(c)])
    for kind in "AB":
        h, v = (
            math.radians(float(x))
            for x in photometric_types.horizontal_vertical(
                kind, np.array(c_deg), np.array(gamma_deg)
            )
        )
        back = (
            [math.cos(v) * math.sin(h), math.cos(v) * math.cos(h), math.sin(v)]
            if kind == "A"
            else [math.sin(h), math.cos(h) * math.cos(v), math.cos(h) * math.sin(v)]
        )
        assert back == pytest.approx(ray, abs=1e-9)


@pytest.mark.invariant
@FEW
@given(st.floats(5.0, 160.0))
def test_a_round_beam_looks_alike_from_every_side(beam_deg: float) -> None:
    web = webs.flat_beam(beam_deg)
    assert np.array_equal(web, web[:, ::-1])
    assert np.ptp(web, axis=1).max() == 0.0


@pytest.mark.invariant
@settings(max_examples=8, deadline=None, derandomize=True)
@given(st.randoms(use_true_random=False))
def test_the_order_of_entries_changes_nothing(dice: object) -> None:
    table = Scene.load("car-park-led").table()
    world = build_world(Scene.from_dict(table).model)
    for name in ("lamp", "surface", "target"):
        if isinstance(table.get(name), list):
            dice.shuffle(table[name])  # type: ignore[attr-defined]
    other = build_world(Scene.from_dict(table).model)
    assert sorted(card.name for card in world.cards) == sorted(card.name for card in other.cards)
    lights = {
        light.name: tuple(light.position_m) for light in world.lights if light.kind == "point"
    }
    assert lights == {
        light.name: tuple(light.position_m) for light in other.lights if light.kind == "point"
    }
