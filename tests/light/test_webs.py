from __future__ import annotations

import numpy as np
import pytest

from simulator.errors import InputError
from simulator.light import webs


@pytest.mark.by_hand
def test_flux_of_shapes_known_in_closed_form():
    c = np.array([0.0, 360.0])
    gamma = np.arange(0.0, 180.1, 0.5)
    even = np.full((len(gamma), 2), 7.0)
    assert webs.flux(gamma, c, even) == pytest.approx(4.0 * np.pi * 7.0, rel=1e-12)
    half = gamma[gamma <= 90.0]
    face = np.repeat(np.cos(np.radians(half))[:, None], 2, axis=1)
    assert webs.flux(half, c, face) == pytest.approx(np.pi, rel=1e-4)
    # a cone of 20 degrees around the axis: 2 pi (1 - cos 20)
    cone = webs.flux(np.array([0.0, 20.0]), c, np.ones((2, 2)))
    assert cone == pytest.approx(2.0 * np.pi * (1.0 - np.cos(np.radians(20.0))), rel=1e-12)


@pytest.mark.invariant
@pytest.mark.parametrize("beam_deg", [4.0, 12.0, 60.0, 120.0])
def test_flat_beam(beam_deg):
    web = webs.flat_beam(beam_deg)
    assert (web.shape, web.dtype, web.flags.c_contiguous) == (webs.WEB_SHAPE, np.float32, True)
    half = beam_deg / 2.0
    assert webs.web_intensity(web, [0.0, half, 90.5], 33.0) == pytest.approx([1.0, 0.5, 0.0],
                                                                         abs=2e-3)  # fmt: skip
    assert webs.web_intensity(web, 0.7 * half, 0.0) > 0.98
    assert webs.web_intensity(web, 1.3 * half, 0.0) < 0.03
    # nearly the flux of a sharp cone
    sharp = 2.0 * np.pi * (1.0 - np.cos(np.radians(half)))
    assert webs.flux(webs.GAMMA_DEG, webs.C_DEG, web.astype(float)) == pytest.approx(
        sharp, rel=0.03
    )


@pytest.mark.invariant
@pytest.mark.parametrize("beam_deg", [3.0, 171.0, float("nan")])
def test_flat_beam_refuses(beam_deg):
    with pytest.raises(InputError):
        webs.flat_beam(beam_deg)


@pytest.mark.by_hand
def test_web_intensity_is_bilinear_and_goes_around():
    gamma, c = np.meshgrid(webs.GAMMA_DEG, webs.C_DEG, indexing="ij")
    web = (gamma + 0.01 * np.minimum(c, 360.0 - c)).astype(np.float32)
    found = webs.web_intensity(web, [10.2, 180.0, 90.0], [41.0, 720.0, -41.0])
    assert found == pytest.approx([10.61, 180.0, 90.41], rel=1e-6)


@pytest.mark.by_hand
def test_directions_about_a_lamp_that_looks_down():
    # seen from above C runs counterclockwise: C = 0 along +x, 90 along +y, away from the camera
    down, right = np.array([0.0, 0.0, -1.0]), np.array([1.0, 0.0, 0.0])
    assert webs.reference_direction(down, 90.0) == pytest.approx(right)
    rays = np.array([[2.0, 0.0, 0.0], [0.0, 3.0, 0.0], [0.0, -1.0, -1.0], [0.0, 0.0, -4.0]])
    gamma, c = webs.directions(rays, down, right)
    assert gamma == pytest.approx([90.0, 90.0, 45.0, 0.0])
    assert c[:3] == pytest.approx([0.0, 90.0, 270.0])


@pytest.mark.invariant
def test_reference_is_square_to_a_tilted_axis():
    axis = np.array([0.3, 0.8, -0.5]) / np.linalg.norm([0.3, 0.8, -0.5])
    for azimuth in (0.0, 90.0, 211.0):
        reference = webs.reference_direction(axis, azimuth)
        assert reference @ axis == pytest.approx(0.0, abs=1e-12)
        assert np.linalg.norm(reference) == pytest.approx(1.0)
    with pytest.raises(InputError):
        webs.reference_direction(np.array([0.0, 1.0, 0.0]), 180.0)
