"""Infrared and the eye, against published limits and a case worked by hand.

Sources beside each check; "from memory" marks limits of IEC 62471:2006 whose text was not seen.
"""

from __future__ import annotations

import numpy as np
import pytest

from simulator.errors import InputError
from simulator.light.beams import beam_exponent, point_irradiance
from simulator.light.eye_safety import (
    assess_infrared,
    axial_irradiance_w_m2,
    cornea_limit_w_m2,
    cornea_time_s,
    hazard_distance_m,
    retina_weight,
)


@pytest.mark.outside
@pytest.mark.parametrize(("seconds", "limit"), [(7.0, 4183.0), (10.0, 3201.0), (100.0, 569.0)])
def test_cornea_limits(seconds, limit):
    """18 000 t^-0.75: 4183 W/m2 at 7 s is a published value; the others are computed from it."""
    assert float(cornea_limit_w_m2(seconds)) == pytest.approx(limit, rel=1e-3)


@pytest.mark.outside
def test_cornea_limit_of_long_exposures():
    """100 W/m2 beyond 1000 s (IEC 62471:2006, from memory)."""
    assert float(cornea_limit_w_m2(1001.0)) == 100.0
    assert np.isinf(cornea_time_s(99.9))


@pytest.mark.outside
@pytest.mark.parametrize(("nm", "weight"), [(700.0, 1.0), (850.0, 0.501), (940.0, 0.331)])
def test_retina_weights(nm, weight):
    """R(lambda) = 10^((700 - lambda)/500) (IEC 62471:2006, from memory)."""
    assert float(retina_weight(nm)) == pytest.approx(weight, abs=5e-4)


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("metres", "irradiance"), [(0.2, 125.0), (0.5, 20.0), (1.0, 5.0), (3.0, 0.556)]
)
def test_irradiance_at_distance(metres, irradiance):
    """5 W/sr by the inverse square, worked by hand; the renderer's beam must agree on its axis."""
    assert float(axial_irradiance_w_m2(5.0, metres)) == pytest.approx(irradiance, rel=1e-3)
    rendered = point_irradiance(
        np.zeros(3), np.array([0.0, 1.0, 0.0]), 5.0, beam_exponent(30.0),
        np.array([0.0, metres, 0.0]), np.array([0.0, -1.0, 0.0]),
    )  # fmt: skip
    assert float(rendered) == pytest.approx(irradiance, rel=1e-3)


@pytest.mark.outside
def test_the_worked_case():
    """850 nm, 5 W/sr, face of 50 x 50 mm, at 200 mm: 125 W/m2 fails exempt, is allowed for 755 s
    and so is risk group 1; L = 2000, alpha 0.1, weighted 1002, limit 60 000 W/m2/sr (worked by hand
    from the limits of IEC 62471:2006). The band of the emitter moves R by about 1 percent."""
    found = assess_infrared(5.0, emitter_width_m=0.05, wavelength_nm=850.0)
    assert found.irradiance_w_m2 == pytest.approx(125.0)
    assert found.allowed_s == pytest.approx(755.0, abs=1.0)
    assert found.radiance_w_m2_sr == pytest.approx(2000.0)
    assert found.angle_rad == pytest.approx(0.1)
    assert found.weighted_radiance_w_m2_sr == pytest.approx(1002.0, rel=0.01)
    assert found.retina_limit_w_m2_sr == pytest.approx(60_000.0)
    assert found.group == "risk group 1"
    assert found.hazard_distance_m == pytest.approx(np.sqrt(5.0 / 100.0))


@pytest.mark.outside
def test_retina_limit_of_a_small_source():
    """6000/0.011 = 545 455 W/m2/sr, published as 545.5 mW/mm2/sr."""
    found = assess_infrared(1.0, emitter_width_m=0.001, wavelength_nm=850.0)
    assert found.retina_limit_w_m2_sr == pytest.approx(545_455.0, rel=1e-5)
    # 1 W/sr over 2.2 x 2.2 mm, the smallest that counts at 200 mm, not over 1 x 1 mm
    assert found.radiance_w_m2_sr == pytest.approx(1.0 / 0.0022**2)


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("intensity", "group"),
    # at 200 mm E = 25 I: 100, 569 and 3201 W/m2 are reached by 4.0, 22.8 and 128 W/sr
    [(3.99, "exempt"), (4.01, "risk group 1"), (22.7, "risk group 1"), (22.8, "risk group 2"),
     (128.0, "risk group 2"), (128.2, "beyond risk group 2")],
)  # fmt: skip
def test_groups(intensity, group):
    assert assess_infrared(intensity, emitter_width_m=0.12, wavelength_nm=940.0).group == group


@pytest.mark.by_hand
def test_a_tiny_bright_emitter_fails_by_the_retina():
    """6 W/sr from a millimetre: L = 1.24e6, weighted about 6.2e5 > 5.45e5 W/m2/sr."""
    assert assess_infrared(6.0, emitter_width_m=1e-3, wavelength_nm=850.0).group == (
        "beyond risk group 2"
    )


@pytest.mark.invariant
def test_time_and_limit_are_inverse():
    t = np.array([1.0, 10.0, 300.0, 900.0])
    np.testing.assert_allclose(cornea_time_s(cornea_limit_w_m2(t)), t)
    i = np.array([0.1, 1.0, 50.0])
    np.testing.assert_allclose(axial_irradiance_w_m2(i, hazard_distance_m(i)), 100.0)


@pytest.mark.invariant
def test_what_can_be_seen_is_refused():
    with pytest.raises(InputError):
        assess_infrared(5.0, emitter_width_m=0.05, wavelength_nm=730.0)
    with pytest.raises(InputError):
        retina_weight(450.0)
