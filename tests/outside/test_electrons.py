"""Electrons in one pixel, worked through by hand from published photon numbers."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.response import coefficients, mean_wavelength_nm
from simulator.light.spectra import gaussian_emitter, spectrum
from simulator.units import MAX_LUMINOUS_EFFICACY_LM_W, WAVELENGTH_NM

PIXEL_M = 2.9e-6
SHUTTER_S = 0.04


def electrons(power, reflectance, response, f_number):
    rate = coefficients(power, np.full(721, reflectance), response, PIXEL_M**2)
    return rate.item() * SHUTTER_S / f_number**2


@pytest.mark.outside
def test_visible_line_at_555_nm():
    # 1 lx on a target of reflectance .5 through T .9 at F/1.6:
    #   image plane      .5 x .9 / (4 x 1.6^2)            = .043945 lx
    #   photon flux      .043945 x 4.091e15               = 1.7978e14 /s/m2   (1/(683 h nu))
    #   on 2.9 um pixel  x 8.41e-12 m2 x .04 s            = 60.48 photons
    #   QE .6                                             = 36.29 electrons
    line = (WAVELENGTH_NM == 555.0) / MAX_LUMINOUS_EFFICACY_LM_W
    assert electrons(line, 0.5, np.full(721, 0.9 * 0.6), 1.6) == pytest.approx(36.29, rel=1e-3)


@pytest.mark.outside
def test_filament_lamp():
    # CIE A gives 1.198e16 photons/s/m2/lx in 400-700 nm (colour-science 0.4.7, computed once).
    # 1 lx, reflectance .18, T .85, F/2, QE .5 inside 400-700 nm and nothing outside:
    #   .18 x .85 / 16 = .0095625;  x 1.198e16 x 8.41e-12 x .04 x .5 = 19.27 electrons
    window = np.where((WAVELENGTH_NM >= 400.0) & (WAVELENGTH_NM <= 700.0), 0.85 * 0.5, 0.0)
    found = electrons(spectrum("cie-a").power, 0.18, window, 2.0)
    # the window holds both end samples whole, the published integral holds half of each
    assert found == pytest.approx(19.27, rel=5e-3)


@pytest.mark.outside
def test_near_infrared_by_the_formula_of_emva_1288():
    # EMVA 1288: photons = 50.34 A[um2] t[ms] lambda[um] E[uW/cm2] on the image plane.
    # 2 W/m2 at 850 nm on asphalt .11, T .7, F/1.6, QE .2:
    #   image plane  2 x .11 x .7 / (4 x 1.6^2) = .0150391 W/m2 = 1.50391 uW/cm2
    #   photons      50.34 x 8.41 x 40 x .85 x 1.50391 = 21 648
    #   electrons    x .2 = 4 329.5
    light = gaussian_emitter(850.0, 35.0)
    assert light.power.sum() == pytest.approx(1.0, rel=1e-9)
    found = 2.0 * electrons(light.power, 0.11, np.full(721, 0.7 * 0.2), 1.6)
    assert found == pytest.approx(4329.5, rel=1e-3)


@pytest.mark.by_hand
def test_mean_wavelength_of_a_narrow_emitter():
    # electrons go with photons, E x lambda: the mean of a Gaussian moves by sigma^2 / lambda0
    sigma = 35.0 / np.sqrt(8.0 * np.log(2.0))
    flat = np.ones(721)
    found = mean_wavelength_nm(gaussian_emitter(850.0, 35.0).power, flat, flat)
    assert found == pytest.approx(850.0 + sigma**2 / 850.0, abs=0.01)
