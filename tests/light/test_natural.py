from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from simulator.errors import InputError
from simulator.light.natural import natural_illuminance_lux, natural_light, sky_state
from simulator.light.photometry import illuminance_lux
from simulator.light.sky_spectra import direct_share, moon_spectra, sky_spectrum, sun_spectrum
from simulator.light.spectra import spectrum
from simulator.light.sun_moon import cloud_factor, moon_illuminance_lux, sun_illuminance_lux

NOON = dt.datetime(2025, 6, 21, 12, tzinfo=dt.UTC)


@pytest.mark.invariant
@pytest.mark.parametrize("altitude_deg", [85.0, 45.0, 12.0, 3.0, 0.5, -3.0, -9.0, -40.0])
@pytest.mark.parametrize("cover", [0.0, 0.4, 0.9, 1.0])
def test_parts_add_up_to_the_whole(altitude_deg, cover):
    glow = spectrum("high-pressure-sodium")
    state = sky_state(
        altitude_deg, moon_altitude_deg=30.0, moon_phase_deg=20.0, cloud_cover=cover,
        skyglow_lux=0.02, skyglow=glow,
    )  # fmt: skip
    total = sun_illuminance_lux(altitude_deg) + moon_illuminance_lux(30.0, 20.0)
    total = total * cloud_factor(cover) + 0.02
    # the night sky, at most 8e-4 lx, comes on top; parts below 1e-4 of the whole are left out
    assert 0.0 <= state.illuminance_lux - total * (1 - 4e-4) < 8.01e-4 + 5e-4 * total
    assert illuminance_lux(state.spectrum.power) == pytest.approx(1.0)
    for part in state.parts:
        assert part.level_lux > 0.0
        assert illuminance_lux(part.spectrum.power) == pytest.approx(1.0)


@pytest.mark.invariant
def test_which_parts_there_are():
    names = [part.name for part in sky_state(40.0).parts]
    assert names == ["sun", "sky"]
    assert [part.name for part in sky_state(40.0, cloud_cover=1.0).parts] == ["sky"]
    night = sky_state(-40.0, moon_altitude_deg=40.0, skyglow_lux=0.01, skyglow=spectrum("cie-a"))
    assert [part.name for part in night.parts] == ["moon", "moonlit sky", "night sky", "skyglow"]
    assert [part.name for part in sky_state(-40.0, moon_altitude_deg=-5.0).parts] == ["night sky"]


@pytest.mark.invariant
def test_light_changes_without_steps():
    altitude = np.arange(-30.0, 90.0, 0.05)
    lux = [sky_state(float(a)).illuminance_lux for a in altitude]
    steps = np.diff(np.log10(lux))
    assert np.abs(steps).max() < 0.03
    assert steps.min() > -2e-3  # it only grows with the altitude
    share = np.array([direct_share(float(a)) for a in altitude])
    assert np.all(np.diff(share) > -1e-9)


@pytest.mark.invariant
def test_low_sun_is_red_and_its_sky_blue():
    def blue_to_red(power: np.ndarray) -> float:
        return float(power[450 - 380] / power[650 - 380])

    suns = [blue_to_red(sun_spectrum(a).power) for a in (60.0, 20.0, 5.0, 1.0)]
    assert np.all(np.diff(suns) < 0.0)
    assert blue_to_red(sky_spectrum(40.0).power) > 1.5 * suns[0]
    assert blue_to_red(sky_spectrum(-8.0).power) > blue_to_red(spectrum("daylight").power)
    overcast = sky_spectrum(40.0, 1.0).power
    assert overcast == pytest.approx(spectrum("daylight").power)
    moon, moonlit = moon_spectra(40.0)
    assert blue_to_red(moon.power) < blue_to_red(sun_spectrum(40.0).power)  # the moon is reddish
    assert blue_to_red(moonlit.power) > blue_to_red(moon.power)


@pytest.mark.invariant
def test_every_spectrum_reaches_into_the_near_infrared():
    for altitude in (60.0, 5.0, -3.0, -10.0):
        state = sky_state(altitude, moon_altitude_deg=20.0)
        for part in state.parts:
            assert part.spectrum.power[850 - 380] > 0.0


@pytest.mark.invariant
def test_many_times_agree_with_one():
    times = [NOON + dt.timedelta(hours=h) for h in range(0, 24, 3)]
    many = natural_illuminance_lux(times, 50.0, 8.0, cloud_cover=0.3, skyglow_lux=0.01)
    glow = spectrum("led-4000k")
    one = [
        natural_light(t, 50.0, 8.0, cloud_cover=0.3, skyglow_lux=0.01, skyglow=glow).illuminance_lux
        for t in times
    ]
    assert many == pytest.approx(one, rel=5e-4)


@pytest.mark.invariant
def test_bad_values_are_refused():
    with pytest.raises(InputError, match="offset"):
        natural_light(NOON.replace(tzinfo=None), 50.0, 8.0)
    with pytest.raises(InputError, match="not on earth"):
        natural_light(NOON, 91.0, 8.0)
    with pytest.raises(InputError, match="cloud cover"):
        sky_state(10.0, cloud_cover=1.1)
    with pytest.raises(InputError, match="cloud cover"):
        natural_illuminance_lux([NOON], 50.0, 8.0, cloud_cover=-0.1)
    with pytest.raises(InputError, match="skyglow"):
        sky_state(10.0, skyglow_lux=1.0)
    with pytest.raises(InputError, match="altitude"):
        sky_state(91.0)
    with pytest.raises(InputError, match="altitude"):
        sky_state(float("nan"))


@pytest.mark.invariant
@pytest.mark.parametrize("latitude", [-90.0, 0.0, 90.0])
def test_poles_and_equator(latitude):
    state = natural_light(NOON, latitude, 0.0)
    assert np.isfinite(state.illuminance_lux)
