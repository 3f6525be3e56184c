from __future__ import annotations

import numpy as np
import pytest

from simulator.errors import InputError, NameNotFoundError, NoLightError
from simulator.light.photometry import illuminance_lux, luminous_efficacy, photon_irradiance
from simulator.light.spectra import (
    blackbody_power,
    filtered,
    gaussian_emitter,
    spectrum,
    spectrum_names,
)
from simulator.units import LIGHT_SPEED_M_S, PLANCK_J_S, WAVELENGTH_NM


@pytest.mark.invariant
@pytest.mark.parametrize("name", spectrum_names())
def test_each_spectrum_is_one_lux(name):
    light = spectrum(name)
    assert light.basis == "lux"
    assert illuminance_lux(light.power) == pytest.approx(1.0, rel=1e-12)
    assert np.all(light.power >= 0.0)
    assert not light.power.flags.writeable


@pytest.mark.invariant
def test_night_cameras_see_the_right_lamps():
    """Near infrared for each lux: filament and night sky much, sun some, LED nearly none."""

    def infrared(name):
        return float(photon_irradiance(spectrum(name).power, 780, 1000))

    assert infrared("night-sky") > infrared("moonlight") > infrared("daylight")
    assert infrared("cie-a") > 3.0 * infrared("g173-global")
    assert infrared("led-4000k") < 1e-3 * infrared("high-pressure-sodium")
    assert infrared("high-pressure-sodium") < 0.5 * infrared("daylight")


@pytest.mark.by_hand
def test_sodium_doublet_carries_its_stated_share():
    power = spectrum("high-pressure-sodium").power
    assert power[401:].sum() / power[:401].sum() == pytest.approx(0.16, rel=2e-3)


@pytest.mark.invariant
@pytest.mark.parametrize(("centre", "width"), [(850.0, 35.0), (940.0, 50.0), (405.0, 1.0)])
def test_gaussian_emitter(centre, width):
    light = gaussian_emitter(centre, width)
    assert light.basis == "w_m2"
    assert light.power.sum() == pytest.approx(1.0, rel=1e-12)
    assert WAVELENGTH_NM[light.power.argmax()] == centre


@pytest.mark.by_hand
def test_gaussian_emitter_is_half_at_half_its_bandwidth():
    power = gaussian_emitter(850.0, 40.0).power
    assert power[870 - 380] / power[850 - 380] == pytest.approx(0.5, rel=1e-12)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("centre", "width"), [(300.0, 30.0), (1200.0, 30.0), (850.0, 0.0), (float("nan"), 30.0)]
)
def test_gaussian_emitter_refuses(centre, width):
    with pytest.raises(InputError):
        gaussian_emitter(centre, width)


@pytest.mark.by_hand
def test_planck_at_one_wavelength():
    # 550 nm, 3000 K: hc/(lambda k T) = 8.7198; 2 pi h c^2 / lambda^5 = 7.4344e15 W/m3;
    # x exp(-8.7198) = 1.6331e-4 -> 1.2143e12 W/m3 = 1214 W m-2 nm-1
    assert blackbody_power(3000.0)[550 - 380] == pytest.approx(1214.0, rel=2e-3)


@pytest.mark.invariant
@pytest.mark.parametrize("kelvin", [0.0, -5.0, float("nan"), float("inf")])
def test_planck_refuses(kelvin):
    with pytest.raises(InputError):
        blackbody_power(kelvin)


@pytest.mark.invariant
def test_planck_stays_finite_when_cold():
    assert np.all(np.isfinite(blackbody_power(3.0)))


@pytest.mark.invariant
def test_filtered_keeps_the_basis_and_is_not_scaled_again():
    light = spectrum("cie-a")
    bounced = filtered(light, np.full(721, 0.3), "from the ground")
    assert bounced.basis == "lux"
    assert bounced.name == "from the ground"
    assert illuminance_lux(bounced.power) == pytest.approx(0.3)
    with pytest.raises(InputError):
        filtered(light, np.ones(7), "wrong")


@pytest.mark.invariant
def test_unknown_spectrum_tells_the_nearest():
    with pytest.raises(NameNotFoundError, match="moonlight") as caught:
        spectrum("moonlite")
    assert "did you mean" in str(caught.value)


@pytest.mark.by_hand
def test_photons_of_one_watt():
    # 1 W/m2 at 1000 nm: lambda / (h c) = 5.0341e18 photons
    power = (WAVELENGTH_NM == 1000.0).astype(float)
    expected = 1e-6 / (PLANCK_J_S * LIGHT_SPEED_M_S)
    assert photon_irradiance(power) == pytest.approx(expected, rel=1e-12)
    assert expected == pytest.approx(5.0341e18, rel=1e-4)
    assert photon_irradiance(power, 380, 999) == 0.0
    assert photon_irradiance(power, 900, 1000) + photon_irradiance(
        power, 1000, 1100
    ) == pytest.approx(expected, rel=1e-12)


@pytest.mark.invariant
def test_photometry_accepts_stacks():
    stack = np.ones((2, 3, 721)) * np.arange(1, 4)[None, :, None]
    assert illuminance_lux(stack).shape == (2, 3)
    assert photon_irradiance(stack).shape == (2, 3)
    assert luminous_efficacy(stack) == pytest.approx(
        np.full((2, 3), luminous_efficacy(stack[0, 0]))
    )
    with pytest.raises(NoLightError):
        luminous_efficacy(np.zeros(721))
