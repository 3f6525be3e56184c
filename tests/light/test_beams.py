from __future__ import annotations

import numpy as np
import pytest

from simulator.errors import InputError
from simulator.light.beams import (
    beam_exponent,
    beam_flux,
    headlamp_intensity_cd,
    point_irradiance,
    relative_intensity,
)


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("beam_deg", "exponent"),
    [
        (120.0, 1.0),  # cos 60 = 1/2
        (90.0, 2.0),  # cos 45 = 2^-1/2
    ],
)
def test_beam_exponent(beam_deg, exponent):
    assert beam_exponent(beam_deg) == pytest.approx(exponent, rel=1e-12)


@pytest.mark.invariant
@pytest.mark.parametrize("beam_deg", [2.0, 15.0, 60.0, 110.0, 170.0])
def test_half_intensity_falls_at_half_the_beam(beam_deg):
    cosine = np.cos(np.radians(beam_deg / 2.0))
    assert relative_intensity(cosine, beam_exponent(beam_deg)) == pytest.approx(0.5)


@pytest.mark.invariant
@pytest.mark.parametrize("beam_deg", [10.0, 60.0, 120.0])
def test_flux_is_the_integral_of_intensity(beam_deg):
    exponent = beam_exponent(beam_deg)
    theta = np.linspace(0.0, np.pi / 2.0, 200_001)
    value = relative_intensity(np.cos(theta), exponent) * 2.0 * np.pi * np.sin(theta)
    integral = np.sum(0.5 * (value[1:] + value[:-1])) * (theta[1] - theta[0])
    assert beam_flux(7.0, exponent) == pytest.approx(7.0 * integral, rel=1e-6)


@pytest.mark.invariant
@pytest.mark.parametrize("beam_deg", [0.0, 180.0, -3.0, float("nan")])
def test_beam_exponent_refuses(beam_deg):
    with pytest.raises(InputError):
        beam_exponent(beam_deg)


@pytest.mark.by_hand
def test_point_irradiance():
    lamp, down = np.array([0.0, 0.0, 4.0]), np.array([0.0, 0.0, -2.0])
    up = np.array([0.0, 0.0, 3.0])
    points = np.array([[0.0, 0.0, 0.0], [3.0, 0.0, 0.0], [0.0, 0.0, 5.0]])
    lit = point_irradiance(lamp, down, 900.0, 1.0, points, up)
    # under the lamp 900/16; at 3 m aside d = 5, both cosines .8: 900 x .64/25; above: nothing
    assert lit == pytest.approx([56.25, 23.04, 0.0])
    turned_away = point_irradiance(lamp, down, 900.0, 1.0, points[:1], -up)
    assert turned_away == pytest.approx([0.0])


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("mode", "peak", "flux_low", "flux_high"),
    [("dipped", 15e3, 400.0, 1000.0), ("main", 40e3, 1000.0, 2500.0)],
)
def test_headlamp_peak_and_flux(mode, peak, flux_low, flux_high):
    h, v = np.meshgrid(np.arange(-89.0, 89.0, 0.1), np.arange(-60.0, 60.0, 0.1))
    intensity = headlamp_intensity_cd(h, v, mode)
    assert intensity.max() == pytest.approx(peak, rel=0.01)
    flux = float(np.sum(intensity * np.cos(np.radians(v)))) * np.radians(0.1) ** 2
    # flux of real headlamps in lumens, from memory
    assert flux_low < flux < flux_high
    at = np.unravel_index(intensity.argmax(), intensity.shape)
    assert abs(h[at]) < 2.0
    assert -1.5 < v[at] < 0.1


@pytest.mark.invariant
def test_dipped_headlamp_has_a_cut_off():
    assert headlamp_intensity_cd(0.0, 1.0, "dipped") == pytest.approx(300.0, rel=0.1)
    rising = headlamp_intensity_cd(0.0, np.linspace(20.0, -0.6, 400), "dipped")
    assert np.all(np.diff(rising) > 0.0)
    # the shoulder lights further up on the right than on the left
    assert headlamp_intensity_cd(3.0, -0.1, "dipped") > 10 * headlamp_intensity_cd(
        -3.0, -0.1, "dipped"
    )


@pytest.mark.invariant
def test_nothing_behind_a_headlamp_and_no_other_mode():
    assert headlamp_intensity_cd(180.0, 0.0, "main") == 0.0
    with pytest.raises(InputError):
        headlamp_intensity_cd(0.0, 0.0, "fog")  # type: ignore[arg-type]
