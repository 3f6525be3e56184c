from __future__ import annotations

import numpy as np
import pytest

from simulator.errors import FileFormatError, NameNotFoundError
from simulator.light.lamp_spectra import WHITE_LEDS, spectrum_of_text, white_led
from simulator.light.photometry import illuminance_lux
from simulator.light.spectra import spectrum
from simulator.light.spectrum_kinds import lamp_spectrum
from simulator.units import WAVELENGTH_NM


@pytest.mark.invariant
@pytest.mark.parametrize("kelvin", [2200.0, 2500.0, 3500.0, 4500.0, 6000.0, 6600.0])
def test_white_led_of_any_temperature_is_one_lux(kelvin):
    led = white_led(kelvin)
    assert illuminance_lux(led.power) == pytest.approx(1.0)
    assert np.all(led.power >= 0.0)
    assert not led.power[WAVELENGTH_NM > 780.0].any()


@pytest.mark.by_hand
def test_white_led_meets_its_tables():
    for kelvin, name in WHITE_LEDS:
        assert white_led(kelvin).power == pytest.approx(spectrum(name).power, rel=1e-9)
    # the middle in reciprocal temperature holds half of each
    middle = 2.0 / (1.0 / 4103.0 + 1.0 / 5109.0)
    half = 0.5 * (spectrum("led-4000k").power + spectrum("led-5000k").power)
    assert white_led(middle).power == pytest.approx(half)


@pytest.mark.invariant
def test_names():
    assert lamp_spectrum("led-4000k") is spectrum("led-4000k")
    assert lamp_spectrum("led-3500k").name == "led-3500k"
    assert lamp_spectrum("filament-2700k").basis == "lux"
    with pytest.raises(FileFormatError, match="out of range"):
        lamp_spectrum("led-9000k")
    with pytest.raises(NameNotFoundError, match="mercury"):
        lamp_spectrum("mercurry")


@pytest.mark.by_hand
def test_spectrum_of_a_csv(tmp_path):
    text = "# a lamp of mine\nwavelength_nm,power\n500,0\n510, 2\n520,0\n"
    made = spectrum_of_text(text)
    assert illuminance_lux(made.power) == pytest.approx(1.0)
    ratio = made.power[505 - 380] / made.power[510 - 380]
    assert ratio == pytest.approx(0.5)
    assert made.power[WAVELENGTH_NM > 520.0].sum() == 0.0
    path = tmp_path / "mine.csv"
    path.write_text(text)
    assert lamp_spectrum(str(path)).power == pytest.approx(made.power)
    assert lamp_spectrum(text).power == pytest.approx(made.power)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "two rows"),
        ("nm,power\n500,1\n510,1\n", "Line 1: the first line"),
        ("wavelength_nm,a,b\n500,1,1\n", "Line 1: the first line"),
        ("wavelength_nm,power\n500,1\n", "two rows"),
        ("wavelength_nm,power\n500,1\n510\n", "Line 3: a row must be two numbers"),
        ("wavelength_nm,power\n500,1\n510,x\n", "Line 3: a row must be two numbers"),
        ("wavelength_nm,power\n500,1\n500,1\n", "Line 3: the wavelength must rise"),
        ("wavelength_nm,power\n500,1\n510,-1\n", "Line 3: a power must be from 0"),
        ("wavelength_nm,power\n500,1\n510,inf\n", "Line 3: a row must be two numbers"),
        ("wavelength_nm,power\n900,1\n1000,1\n", "no visible light"),
    ],
)
def test_bad_csv_is_told_with_its_line(text, message):
    with pytest.raises(FileFormatError, match=message) as caught:
        spectrum_of_text(text, "mine.csv")
    assert caught.value.file == "mine.csv"
