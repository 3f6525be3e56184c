"""Natural light against published values, pvlib and astropy.

Values marked "computed once" were computed with astropy 8.0.2 outside this project and written
down; pvlib is asked here. "From memory" marks values nobody looked up, with wide tolerances.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from simulator.camera.colour_matrix import colour_matching_functions
from simulator.light.natural import natural_light, sky_state
from simulator.light.photometry import illuminance_lux
from simulator.light.sky_spectra import clear_sky_power, direct_power, direct_share, sky_spectrum
from simulator.light.spectra import spectrum
from simulator.light.sun_moon import (
    air_mass,
    cloud_factor,
    moon_illuminance_lux,
    night_sky_illuminance_lux,
    sky_position,
    sun_illuminance_lux,
)
from simulator.studies.new.lights import LIGHTS
from simulator.units import WAVELENGTH_NM

pytestmark = pytest.mark.outside


def utc(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("altitude_deg", "lux", "tolerance"),
    [
        # the polynomials of USNO Circular 171, worked out once
        (90.0, 128_800.0, 2e-3), (60.0, 103_100.0, 2e-3), (30.0, 46_300.0, 2e-3),
        (10.0, 11_120.0, 2e-3), (0.0, 759.0, 2e-3), (-8.0, 0.348, 2e-3), (-15.0, 0.0020, 0.02),
        # published: end of civil twilight 3.4 lx, of nautical twilight .008 lx
        (-6.0, 3.4, 0.01), (-12.0, 0.008, 0.02),
    ],
)  # fmt: skip
def test_sun_illuminance(altitude_deg, lux, tolerance):
    assert sun_illuminance_lux(altitude_deg) == pytest.approx(lux, rel=tolerance)


@pytest.mark.parametrize("altitude_deg", [5.0, 10.0, 20.0, 35.0, 50.0, 70.0, 90.0])
def test_sun_against_the_atmosphere_formula_of_the_same_circular(altitude_deg):
    # Circular 171, listing of its pocket-computer program (seen in public code that follows it):
    # E = 133 775 lx x atmosphere; both fits of the circular differ by up to 12 percent
    h = np.radians(altitude_deg)
    x = 753.66156
    s = np.arcsin(x * np.cos(h) / (x + 1.0))
    m = x * (np.cos(s) - np.sin(h)) + np.cos(s)
    share = np.exp(-0.21 * m) * np.sin(h)
    share += 0.0289 * np.exp(-0.042 * m) * (1.0 + (altitude_deg + 90.0) * np.sin(h) / 57.29577951)
    assert sun_illuminance_lux(altitude_deg) == pytest.approx(133_775.0 * share, rel=0.12)


def test_certification_case_of_the_circular():
    # Circular 171, table A, as quoted in public tests that follow it: 18 December 1986 21:00 UT,
    # 135.8 W, 23.4 S: sun at 90 deg and 123 786 lx; moon at -62 deg, bearing 282, 94 percent lit
    at = sky_position([utc("1986-12-18T21:00")], -23.4, -135.8)
    assert at.sun_altitude_deg[0] == pytest.approx(90.0, abs=0.5)
    assert sun_illuminance_lux(at.sun_altitude_deg)[0] == pytest.approx(123_786.0, rel=0.06)
    assert at.moon_altitude_deg[0] == pytest.approx(-62.0, abs=0.7)
    assert at.moon_bearing_deg[0] == pytest.approx(282.0, abs=1.0)
    lit = 50.0 * (1.0 + np.cos(np.radians(at.moon_phase_deg[0])))
    assert lit == pytest.approx(94.0, abs=1.0)


@pytest.mark.parametrize(
    ("altitude_deg", "phase_deg", "lux", "tolerance"),
    [
        # the polynomials of Circular 171, worked out once
        (90.0, 0.0, 0.269, 3e-3), (90.0, 90.0, 0.0319, 3e-3), (30.0, 0.0, 0.0977, 3e-3),
        # Wikipedia, Orders of magnitude (illuminance): full moon .25 lx
        (90.0, 0.0, 0.25, 0.15),
        # the same gives .01 lx for a quarter moon, Krisciunas & Schaefer 1991 eq. 20 .0285
        (90.0, 90.0, 0.0285, 0.3), (45.0, 90.0, 0.01, 2.0),
    ],
)  # fmt: skip
def test_moon_illuminance(altitude_deg, phase_deg, lux, tolerance):
    assert moon_illuminance_lux(altitude_deg, phase_deg) == pytest.approx(lux, rel=tolerance)


def test_published_levels_of_day_and_night():
    # Wikipedia, Orders of magnitude (illuminance)
    assert 100_000 < sky_state(65.0).illuminance_lux < 120_000  # bright sun
    assert 10_000 < sky_state(60.0, cloud_cover=1.0).illuminance_lux < 27_000  # overcast midday
    assert 250 < sky_state(-0.8).illuminance_lux < 640  # clear sunset 400
    assert 2e-4 < night_sky_illuminance_lux() < 2e-3  # starlight without and with airglow
    assert night_sky_illuminance_lux(1.0) == pytest.approx(1e-4)  # overcast starlight
    # shade under blue sky 20 000: what is left without the beam
    shade = next(p for p in sky_state(60.0).parts if p.name == "sky")
    assert 10_000 < shade.illuminance_lux < 25_000


def test_cloud_stays_within_the_divisors_of_the_circular():
    # Circular 171: 1 below 70 percent cover, 2 and 3 for thin and average clouds, 10 for dark ones
    assert cloud_factor(0.5) > 0.9
    assert 1.0 / 10.0 < cloud_factor(1.0) < 1.0 / 2.0


@pytest.mark.parametrize(
    ("time", "latitude", "longitude", "moon_alt", "moon_az", "phase", "sun_alt", "sun_az"),
    [
        # computed once with astropy 8.0.2: its own ephemeris, seen from the place, no refraction
        ("2024-01-25T22:00", 51.5, 0.0, 49.56, 121.70, 5.10, -48.35, 309.04),
        ("2023-08-15T12:00", -33.9, 18.4, 28.56, 332.67, 169.02, 39.32, 338.15),
        ("2021-05-19T20:30", 40.0, -75.0, 44.94, 109.26, 89.20, 40.46, 262.51),
        ("2025-03-06T03:15", 60.2, 25.0, -3.83, 352.67, 96.97, -14.26, 76.05),
        ("2019-07-16T18:00", -23.5, -46.6, -28.58, 133.72, 1.76, 29.41, 314.45),
        ("2022-12-01T16:00", 35.7, 139.7, -8.91, 267.66, 76.45, -66.06, 60.77),
    ],
)
def test_positions_against_astropy(
    time, latitude, longitude, moon_alt, moon_az, phase, sun_alt, sun_az
):
    at = sky_position([utc(time)], latitude, longitude)
    assert at.moon_altitude_deg[0] == pytest.approx(moon_alt, abs=0.1)
    assert at.moon_bearing_deg[0] == pytest.approx(moon_az, abs=0.1)
    assert at.moon_phase_deg[0] == pytest.approx(phase, abs=0.1)
    assert at.sun_altitude_deg[0] == pytest.approx(sun_alt, abs=0.05)
    assert at.sun_bearing_deg[0] == pytest.approx(sun_az, abs=0.05)


def test_sun_against_pvlib():
    import pandas
    from pvlib.solarposition import get_solarposition

    rng = np.random.default_rng(5)
    for latitude, longitude in ((52.5, 13.4), (-34.6, -58.4), (1.3, 103.8), (69.6, 19.0)):
        times = [utc("2020-01-01") + dt.timedelta(days=d) for d in rng.uniform(0, 3650, 12)]
        theirs = get_solarposition(pandas.DatetimeIndex(times), latitude, longitude)
        ours = sky_position(times, latitude, longitude)
        assert ours.sun_altitude_deg == pytest.approx(theirs["elevation"].to_numpy(), abs=0.05)
        apart = np.radians(ours.sun_bearing_deg - theirs["azimuth"].to_numpy())
        apart = apart * np.cos(np.radians(ours.sun_altitude_deg))
        assert np.abs(np.degrees(np.sin(apart))).max() < 0.1


@pytest.mark.parametrize(
    ("time", "phase_deg"),
    [
        # eclipses, from memory: the moon is new or full to a degree or two
        ("1999-08-11T11:05", 180.0), ("2017-08-21T18:25", 180.0), ("2024-04-08T18:20", 180.0),
        ("2018-07-27T20:22", 0.0), ("2022-05-16T04:12", 0.0), ("2025-03-14T06:59", 0.0),
    ],
)  # fmt: skip
def test_moon_phase_at_eclipses(time, phase_deg):
    found = sky_position([utc(time)], 0.0, 0.0).moon_phase_deg[0]
    assert found == pytest.approx(phase_deg, abs=1.7)


def test_air_mass_against_pvlib():
    from pvlib.atmosphere import get_relative_airmass

    altitude = np.array([90.0, 60.0, 30.0, 10.0, 3.0, 0.0])
    theirs = get_relative_airmass(90.0 - altitude, model="kastenyoung1989")
    assert air_mass(altitude) == pytest.approx(theirs, rel=1e-6)
    assert air_mass(0.0) == pytest.approx(37.9, abs=0.1)  # Kasten & Young 1989


def test_lux_of_g173():
    # ASTM G173-03 in pvlib 0.16.1, worked out once: direct 97 143 lx, extraterrestrial 133 101 lx
    m15 = float(np.degrees(np.arcsin(1.0 / 1.5)))
    assert illuminance_lux(direct_power(m15)) == pytest.approx(97_143.0, rel=2e-3)
    from pvlib.spectrum import get_reference_spectra

    table = get_reference_spectra()
    direct = np.interp(WAVELENGTH_NM, table.index.to_numpy(), table["direct"].to_numpy())
    assert direct_power(m15) == pytest.approx(direct, rel=0.01)
    sky = np.interp(WAVELENGTH_NM, table.index.to_numpy(), table["global"].to_numpy()) - direct
    # less the light of the ground before the tilted surface
    share = clear_sky_power(m15) / sky
    assert share.min() > 0.4
    assert share.max() < 1.0


@pytest.mark.parametrize("altitude_deg", [10.0, 20.0, 40.0, 60.0, 80.0])
def test_direct_share_against_a_clear_sky_of_pvlib(altitude_deg):
    from pvlib.clearsky import simplified_solis

    # simplified Solis, clean rural air. Its shares are of power, and light is scattered more than
    # the infrared: ours is lower, by .2 at most
    sky = simplified_solis(altitude_deg, aod700=0.1, precipitable_water=1.5)
    theirs = 1.0 - float(sky["dhi"]) / float(sky["ghi"])
    assert theirs - 0.2 < direct_share(altitude_deg) < theirs + 0.05


def test_direct_beam_against_spectrl2():
    from pvlib.spectrum import spectrl2

    # Bird's simple spectral model at another air mass
    m = float(air_mass(20.0))
    theirs = spectrl2(
        apparent_zenith=70.0, aoi=70.0, surface_tilt=0.0, ground_albedo=0.2,
        surface_pressure=101_325.0, relative_airmass=m, precipitable_water=1.4, ozone=0.34,
        aerosol_turbidity_500nm=0.084, dayofyear=94,
    )  # fmt: skip
    wavelength = np.ravel(theirs["wavelength"])

    def bands(power: np.ndarray) -> np.ndarray:
        """Means over 40 nm from 410 to 850 nm, for theirs is coarse; no strong water band in it."""
        return power[30:470].reshape(11, 40).mean(axis=1)

    dni = np.interp(WAVELENGTH_NM, wavelength, np.ravel(theirs["dni"]))
    assert bands(direct_power(20.0)) == pytest.approx(bands(dni), rel=0.1)
    # the sky likewise, with up to 40 percent more infrared here
    sky = np.interp(WAVELENGTH_NM, wavelength, np.ravel(theirs["dhi"]))
    assert bands(clear_sky_power(20.0)) == pytest.approx(bands(sky), rel=0.4)


@pytest.mark.parametrize(
    ("altitude_deg", "low_k", "high_k"),
    [
        # colour of skylight, from memory: blue sky 9 000 to 30 000 K and more; the light of late
        # civil and nautical twilight is bluer than 9 000 K
        (40.0, 9_000.0, 40_000.0),
        (-6.0, 9_000.0, 40_000.0),
    ],
)
def test_colour_of_the_sky(altitude_deg, low_k, high_k):
    import colour

    power = sky_spectrum(altitude_deg).power
    sd = colour.SpectralDistribution(dict(zip(WAVELENGTH_NM[:401], power[:401], strict=True)))
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    xyz = colour.sd_to_XYZ(sd, cmfs.copy().align(sd.shape), method="Integration")
    kelvin = colour.xy_to_CCT(colour.XYZ_to_xy(xyz), method="Hernandez 1999")
    assert low_k < kelvin < high_k


def test_a_known_sunset_and_summer_night():
    # sunset in Greenwich on 20 March 2025 at 18:13 UTC (almanac, from memory): some 400 lx
    state = natural_light(utc("2025-03-20T18:13"), 51.48, 0.0)
    assert state.sun_altitude_deg == pytest.approx(-0.83, abs=0.4)
    assert 250 < state.illuminance_lux < 700
    # no astronomical night at 60 N in June
    assert natural_light(utc("2025-06-21T22:30"), 60.0, 15.0).illuminance_lux > 1.0


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        # Wikipedia, Orders of magnitude (illuminance): overcast midday 10 000 to 25 000 lx, clear
        # sunset 400 lx, full moon .25 lx, starlight with airglow .002 lx
        ("overcast-noon", 10_000.0, 25_000.0),
        ("sunset", 350.0, 500.0),
        ("full-moon", 0.25, 0.25),
        ("starlight", 0.002, 0.002),
        # end of civil twilight, published: 3.4 lx
        ("civil-dusk", 3.4, 3.4),
        # EN 12464-1, from memory: 500 lx for reading and writing, 100 lx for corridors
        ("workplace", 500.0, 500.0),
        ("corridor", 100.0, 100.0),
        # between the two above: no published value
        ("town-night", 0.002, 0.25),
    ],
)
def test_named_lights_of_a_new_scene(name, low, high):
    assert low <= LIGHTS[name].lux <= high


def test_named_lights_of_a_new_scene_agree_with_the_sun():
    # USNO Circular 171 by its polynomials: 464 lx with the upper limb on the horizon, 3.41 lx at -6
    assert LIGHTS["sunset"].lux == pytest.approx(sun_illuminance_lux(-0.8), rel=0.02)
    assert LIGHTS["civil-dusk"].lux == pytest.approx(sun_illuminance_lux(-6.0), rel=0.02)


@pytest.mark.outside
def test_near_infrared_of_daylight_is_that_of_sun_and_sky_of_its_colour():
    """CIE D65 is bluer than ASTM G173-03 global, so it has less near infrared for a lux.

    D65 holds more sky: the mixture of G173's direct sun and sky that has D65's correlated colour
    temperature (McCamy 1992) has .83 of the near infrared that G173 global has for a lux. Joined
    where both agree for a lux, at 560 nm, the red of D65 itself would be lost.
    """
    functions = colour_matching_functions()
    near = WAVELENGTH_NM > 780.0

    def one_lux(power):
        return power / float(illuminance_lux(power))

    def kelvin(power):
        x, y = (functions @ power)[:2] / (functions @ power).sum()
        n = (x - 0.3320) / (y - 0.1858)
        return -449.0 * n**3 + 3525.0 * n**2 - 6823.3 * n + 5520.33

    whole, daylight = (one_lux(spectrum(name).power) for name in ("g173-global", "daylight"))
    sun = one_lux(spectrum("g173-direct").power)
    sky = one_lux(clear_sky_power(np.degrees(np.arcsin(1.0 / 1.5))))
    shares = np.linspace(0.0, 1.0, 101)
    colours = np.array([kelvin(s * sky + (1.0 - s) * sun) for s in shares])
    share = float(np.interp(6504.0, colours, shares))
    mixed = share * sky + (1.0 - share) * sun
    assert mixed[near].sum() / whole[near].sum() == pytest.approx(0.83, abs=0.01)
    assert daylight[near].sum() == pytest.approx(mixed[near].sum(), rel=0.01)
    red = (WAVELENGTH_NM >= 700.0) & (WAVELENGTH_NM < 780.0)
    assert daylight[red].sum() == pytest.approx(mixed[red].sum(), rel=0.03)
