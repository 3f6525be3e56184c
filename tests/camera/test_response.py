from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.response import (
    coefficients,
    infrared_cut_filter,
    lens_transmittance,
    mean_wavelength_nm,
    quantum_efficiency,
    quantum_efficiency_names,
)
from simulator.errors import NameNotFoundError, NoLightError
from simulator.light.spectra import gaussian_emitter, spectrum
from simulator.scene.materials import material
from simulator.units import WAVELENGTH_NM


def at(wavelength_nm: int) -> int:
    return wavelength_nm - 380


@pytest.mark.invariant
@pytest.mark.parametrize("name", quantum_efficiency_names())
def test_quantum_efficiency_is_physical(name):
    red, green, blue = channels = quantum_efficiency(name)
    assert channels.shape == (3, 721)
    assert np.all((channels >= 0.0) & (channels < 1.0))
    assert blue[at(450)] > 3 * max(red[at(450)], green[at(450)])
    assert green[at(540)] > 3 * max(red[at(540)], blue[at(540)])
    assert red[at(620)] > 3 * max(green[at(620)], blue[at(620)])
    # dyes are clear in the near infrared: channels within 10 percent from 850 nm on
    assert np.all(channels[:, at(850) :].min(axis=0) > 0.9 * channels[:, at(850) :].max(axis=0))


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        # ordinary and enhanced silicon at 850 nm, from memory, less some 5-10 percent of filter
        ("cmos-standard", 0.14, 0.25),
        ("cmos-near-infrared-enhanced", 0.27, 0.45),
        ("cmos-small-pixel", 0.13, 0.25),
        ("ccd-analogue", 0.05, 0.15),
    ],
)
def test_quantum_efficiency_at_850_nm(name, low, high):
    assert np.all(quantum_efficiency(name)[:, at(850)] > low)
    assert np.all(quantum_efficiency(name)[:, at(850)] < high)


@pytest.mark.invariant
def test_unknown_quantum_efficiency_tells_the_nearest():
    with pytest.raises(NameNotFoundError, match="cmos-standard"):
        quantum_efficiency("cmos-standart")


@pytest.mark.invariant
def test_infrared_cut_filter():
    filter_ = infrared_cut_filter()
    assert np.all(filter_[at(440) : at(630)] > 0.94)
    half = WAVELENGTH_NM[np.nonzero(filter_ > 0.5)[0][-1]]
    assert 650.0 < half < 670.0
    assert np.all(filter_[at(721) :] < 0.01)


@pytest.mark.by_hand
def test_lens_transmittance():
    lens = lens_transmittance(0.9, 0.7)
    assert lens[[at(380), at(650), at(750), at(850), at(1100)]] == pytest.approx(
        [0.9, 0.9, 0.8, 0.7, 0.7]
    )


@pytest.mark.invariant
def test_coefficients_are_the_integral_for_each_triple():
    lights = np.stack([spectrum("cie-a").power, gaussian_emitter(850.0, 35.0).power])
    surfaces = np.stack([material(n).reflectance for n in ("asphalt", "grass", "white-90")])
    response = quantum_efficiency("cmos-standard") * lens_transmittance(0.9, 0.7)
    table = coefficients(lights, surfaces, response, 8.41e-12)
    assert table.shape == (2, 3, 3)
    energy = 6.62607015e-34 * 299792458.0 / (WAVELENGTH_NM * 1e-9)
    one = 8.41e-12 / 4.0 * np.sum(lights[1] * surfaces[2] * response[0] / energy)
    assert table[1, 2, 0] == pytest.approx(one, rel=1e-12)


@pytest.mark.invariant
def test_filter_takes_the_infrared_lamp_away():
    light = gaussian_emitter(850.0, 35.0).power
    response = quantum_efficiency("cmos-near-infrared-enhanced")
    white = material("white-90").reflectance
    without = coefficients(light, white, response, 1e-11)
    behind = coefficients(light, white, response * infrared_cut_filter(), 1e-11)
    assert np.all(behind < 0.01 * without)


@pytest.mark.invariant
def test_mean_wavelength():
    flat = np.ones(721)
    line = (WAVELENGTH_NM == 600.0).astype(float)
    assert mean_wavelength_nm(line, flat, flat) == pytest.approx(600.0)
    channels = quantum_efficiency("cmos-standard") * infrared_cut_filter()
    red, green, blue = mean_wavelength_nm(spectrum("daylight").power, flat, channels)
    assert red > green > blue
    with pytest.raises(NoLightError):
        mean_wavelength_nm(line, 0.0 * flat, flat)
