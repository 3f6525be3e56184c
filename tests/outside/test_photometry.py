"""Photometry against published values and against colour-science and pvlib.

Values marked "computed once" were computed from colour-science 0.4.7 or pvlib 0.16.1 outside this
project and written down; the others are recomputed here by the other library.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.constants import Stefan_Boltzmann

from simulator.camera.colour_matrix import D65_WHITE_XYZ, XYZ_TO_BT709, chart_linear_rgb
from simulator.camera.response import coefficients
from simulator.light.beams import headlamp_intensity_cd
from simulator.light.photometry import (
    illuminance_lux,
    luminous_efficiency,
    photon_irradiance,
)
from simulator.light.spectra import blackbody_power, spectrum
from simulator.scene.materials import material
from simulator.units import WAVELENGTH_NM, photon_energy_j

pytestmark = pytest.mark.outside


def line_at(wavelength_nm: float) -> np.ndarray:
    return (wavelength_nm == WAVELENGTH_NM).astype(float)


def test_photons_per_lux_at_555_nm():
    # SI definition of the candela: 683 lm/W at the peak of V; 1/(683 h nu) = 4.091e15
    line = line_at(555.0)
    per_lux = photon_irradiance(line) / illuminance_lux(line)
    assert per_lux == pytest.approx(4.091e15, rel=3e-4)


@pytest.mark.parametrize(
    ("name", "lo_nm", "hi_nm", "photons"),
    [
        # computed once with colour-science 0.4.7
        ("cie-a", 380, 780, 2.1005e16),
        ("cie-a", 400, 700, 1.198e16),
        ("cie-d65", 380, 780, 1.3887e16),
        ("cie-d65", 400, 700, 1.085e16),
        ("daylight", 380, 780, 1.3887e16),
        ("led-4000k", 380, 780, 8.968e15),
        ("high-pressure-sodium", 380, 780, 7.583e15),
        # Planck's law at 2856 K
        ("cie-a", 780, 1000, 3.678e16),
        # computed once from ASTM G173-03 in pvlib 0.16.1
        ("g173-global", 400, 700, 1.088e16),
        ("g173-global", 780, 1000, 6.965e15),
    ],
)
def test_photons_per_lux_of_lamps(name, lo_nm, hi_nm, photons):
    found = photon_irradiance(spectrum(name).power, lo_nm, hi_nm)
    assert found == pytest.approx(photons, rel=2e-3)


@pytest.mark.parametrize(
    ("name", "table"),
    [("cie-a", "A"), ("led-3000k", "LED-B2"), ("led-4000k", "LED-B3"), ("led-5000k", "LED-B4"),
     ("fluorescent-4000k", "FL11"), ("daylight", "D65"), ("high-pressure-sodium", "HP1")],
)  # fmt: skip
def test_visible_shape_against_colour_science(name, table):
    import colour

    sd = colour.SDS_ILLUMINANTS[table]
    wavelength = np.arange(380.0, 781.0, 5.0)
    ours = spectrum(name).power[(wavelength - 380.0).astype(int)]
    theirs = np.array([sd[w] for w in wavelength])
    # the luminous flux integrated by the other library, on its own grid
    one_lux = theirs / colour.luminous_flux(sd)
    assert ours == pytest.approx(one_lux, rel=5e-3, abs=1e-9)


def test_luminous_efficiency_against_colour_science():
    from colour.colorimetry import SDS_LEFS_PHOTOPIC

    table = SDS_LEFS_PHOTOPIC["CIE 1924 Photopic Standard Observer"]
    theirs = np.array([table[w] for w in range(380, 781)])
    assert luminous_efficiency()[:401] == pytest.approx(theirs, rel=1e-5, abs=1e-12)
    assert luminous_efficiency()[555 - 380] == 1.0  # CIE 1924: peak at 555 nm


@pytest.mark.parametrize(
    ("kelvin", "luminance"), [(2042.0, 5.986e5), (2856.0, 1.9750e7), (5772.0, 1.8437e9)]
)
def test_blackbody_luminance(kelvin, luminance):
    # computed once, Planck x V(lambda); 2042 K is near the platinum point, about 6.0e5 cd/m2
    found = illuminance_lux(blackbody_power(kelvin)) / np.pi
    assert found == pytest.approx(luminance, rel=1e-3)


@pytest.mark.parametrize(("kelvin", "efficacy"), [(2856.0, 16.45), (5772.0, 92.03)])
def test_blackbody_efficacy(kelvin, efficacy):
    # computed once; the whole power comes from the Stefan-Boltzmann law, not from our grid
    found = illuminance_lux(blackbody_power(kelvin)) / (Stefan_Boltzmann * kelvin**4)
    assert found == pytest.approx(efficacy, rel=1e-3)


def test_planck_against_colour_science():
    import colour

    radiance = colour.colorimetry.planck_law(WAVELENGTH_NM * 1e-9, 3000.0) * 1e-9
    # that library rounds c2 to 1.4388e-2 m K, which moves the blue end by 2e-4
    assert blackbody_power(3000.0) / np.pi == pytest.approx(radiance, rel=3e-4)


def test_sunlight_against_pvlib():
    from pvlib.spectrum import get_reference_spectra

    table = get_reference_spectra()["global"]
    absolute = np.interp(WAVELENGTH_NM, table.index.to_numpy(), table.to_numpy())
    # ASTM G173-03 global: 109 495 lx (computed once from the whole table)
    assert illuminance_lux(absolute) == pytest.approx(109_495.0, rel=1e-3)
    assert spectrum("g173-global").power * 109_495.0 == pytest.approx(absolute, rel=2e-3)


def test_daylight_near_infrared_has_the_level_of_sunlight():
    # ASTM G173-03 global: 850 nm over 560 nm .606, 940 nm over 560 nm .320 (pvlib). The daylight
    # of a 6500 K phase is bluer than that sun, so its infrared may be weaker: factor 1.35.
    power = spectrum("daylight").power
    for wavelength, ratio in ((850, 0.606), (940, 0.320)):
        found = power[wavelength - 380] / power[560 - 380]
        assert ratio / 1.35 < found < ratio * 1.1


@pytest.mark.parametrize(
    ("name", "efficacy", "tolerance"),
    [
        # lm per W in 380-780 nm, computed once with colour-science
        ("cie-a", 156.2, 0.005),
        ("cie-d65", 205.2, 0.005),
        ("high-pressure-sodium", 395.1, 0.005),
        ("mercury", 341.1, 0.005),
        ("metal-halide", 296.9, 0.005),
        # that table smears the line over 5 nm, ours does not
        ("low-pressure-sodium", 516.9, 0.02),
        # LED-B1 ... B5: 305 to 319
        ("led-3000k", 312.0, 0.025),
        ("led-4000k", 312.0, 0.025),
        ("led-5000k", 312.0, 0.025),
    ],
)
def test_efficacy_of_visible_radiation(name, efficacy, tolerance):
    visible = np.where(WAVELENGTH_NM <= 780.0, spectrum(name).power, 0.0)
    assert illuminance_lux(visible) / visible.sum() == pytest.approx(efficacy, rel=tolerance)


@pytest.mark.parametrize(("f_number", "lux"), [(1.2, 0.1172), (1.4, 0.0861), (2.0, 0.0422)])
def test_image_plane_illuminance(f_number, lux):
    # textbook: E' = rho E T / (4 F^2); 1 lx, rho .75, T .9. The electron rate of a sensor with
    # quantum efficiency 1 is turned back into lux through the photon energy at 555 nm.
    line = line_at(555.0)
    area_m2 = 4e-12
    rate = coefficients(
        line / illuminance_lux(line), np.full(721, 0.75), np.full(721, 0.9), area_m2
    )
    image_lux = rate.item() / (area_m2 * f_number**2) * photon_energy_j(555.0) * 683.0
    assert image_lux == pytest.approx(lux, rel=1e-3)


@pytest.mark.filterwarnings("ignore:Aligning")
def test_chart_colours_against_colour_science():
    import colour

    d65 = colour.SDS_ILLUMINANTS["D65"]
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    expected = [
        XYZ_TO_BT709 @ (colour.sd_to_XYZ(region, observer, d65, method="Integration") / 100.0)
        for region in colour.SDS_COLOURCHECKERS["cc_ohta"].values()
    ]
    assert chart_linear_rgb(spectrum("cie-d65").power) == pytest.approx(
        np.array(expected), abs=2e-3
    )
    # ITU-R BT.709: its white is D65
    assert pytest.approx(np.ones(3), abs=2e-3) == XYZ_TO_BT709 @ D65_WHITE_XYZ


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        # mean of 100 people, NIST J. Res. 122.026
        ("skin-mean", (0.252, 0.316, 0.557, 0.603, 0.532)),
        # subset of the ECOSTRESS spectral library
        ("grass", (0.041, 0.110, 0.053, 0.497, 0.507)),
        ("leaves", (0.059, 0.109, 0.051, 0.549, 0.548)),
        ("asphalt", (0.054, 0.072, 0.088, 0.110, 0.117)),
        ("concrete", (0.263, 0.331, 0.360, 0.364, 0.356)),
        ("snow", (0.992, 0.990, 0.978, 0.938, 0.901)),
    ],
)
def test_published_reflectance(name, expected):
    at = np.array([450, 550, 650, 850, 940]) - 380
    assert material(name).reflectance[at] == pytest.approx(expected, abs=1e-6)


def test_galvanised_steel_is_grey():
    """Dull zinc: luminous reflectance .3 to .5 without a hue (roofing tables, from memory)."""
    zinc = material("steel-galvanised").reflectance
    weight = luminous_efficiency()
    assert 0.3 <= zinc @ weight / weight.sum() <= 0.5
    visible = zinc[420 - 380 : 700 - 380]
    assert visible.max() / visible.min() < 1.15


def test_headlamp_within_the_limits_of_the_regulation():
    """UN R112 class B: 75R and main beam seen as 12 lx and 48 lx at 25 m, the rest from memory."""

    def dipped(h: float, v: float) -> float:
        return float(headlamp_intensity_cd(h, v, "dipped"))

    assert dipped(1.15, -0.57) >= 12.0 * 25.0**2  # 75R, on the road 75 m ahead
    assert dipped(0.0, -0.86) >= 5_100.0  # 50V
    assert dipped(-9.0, -1.72) >= 1_250.0  # 25L
    assert dipped(9.0, -1.72) >= 1_250.0  # 25R
    assert dipped(-3.43, 0.57) <= 350.0  # B50L, eyes of oncoming drivers
    assert dipped(0.0, 0.0) <= 625.0  # HV
    assert dipped(-8.0, 4.0) <= 625.0  # zone III
    assert 48.0 * 25.0**2 <= headlamp_intensity_cd(0.0, 0.0, "main") <= 215_000.0
