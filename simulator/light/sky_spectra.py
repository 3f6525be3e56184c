"""Spectra of sun, sky, cloud and moon by altitude, from the ASTM G173-03 tables.

With T the transmission of G173's air at 1.5 air masses, the direct sun at m air masses is
E_ET T^(m/1.5) (Beer-Lambert: exact for one wavelength, so good outside the water bands, which
saturate). The clear sky's own light is G173's global minus direct minus what the ground throws
on its tilted surface, times (1 - T^(m/1.5)) / (1 - T): what m air masses scatter over what 1.5 do.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from simulator import data
from simulator.domain import require
from simulator.light.photometry import illuminance_lux
from simulator.light.spectra import Spectrum, _frozen, spectrum
from simulator.light.sun_moon import air_mass
from simulator.units import WAVELENGTH_NM, FloatArray

G173_AIR_MASS: Final = 1.5
LOW_SKY_DEG: Final = 10.0
"""Altitude below which the colour of the clear sky is held, for the sky overhead is lit by sun
that has crossed less air than the beam to the ground (assumed)."""
TWILIGHT_FROM_DEG: Final = 2.0
TWILIGHT_TO_DEG: Final = -6.0
"""Between these altitudes the sky's spectrum fades to that of twilight (assumed)."""
_TILT_DEG = 37.0
# Light sandy soil, the ground of G173: wavelength [nm] and reflectance, from memory, +-20 percent.
_SOIL = np.array(
    [(380.0, 0.12), (500.0, 0.19), (600.0, 0.26), (700.0, 0.30), (800.0, 0.33), (1100.0, 0.39)]
)


@lru_cache
def _g173(column: str) -> FloatArray:
    """A G173 spectrum [W m^-2 nm^-1] on the grid."""
    table = data.read_table("spectra", f"g173-{column}")
    power = table.on_grid("relative_power") * float(table.header["full_scale_w_m2_nm"])
    power.setflags(write=False)
    return power


@lru_cache
def _transmission() -> FloatArray:
    return np.asarray(_g173("direct") / _g173("extraterrestrial"))


@lru_cache
def _g173_sky() -> FloatArray:
    """Light of the sky alone at 1.5 air masses [W m^-2 nm^-1].

    The surface of G173 is tilted by 37 degrees, so it sees the ground with the view factor
    (1 - cos 37 deg)/2 = 0.10; in the near infrared that is a third of all that is not direct.
    """
    rest = _g173("global") - _g173("direct")
    soil = np.interp(WAVELENGTH_NM, *_SOIL.T)
    view = 0.5 * (1.0 - np.cos(np.radians(_TILT_DEG)))
    ground = view * soil * (_g173("direct") / G173_AIR_MASS + rest)
    return np.asarray(rest - ground)


def direct_power(altitude_deg: float) -> FloatArray:
    """Spectral irradiance of the direct sun on a plane facing it.

    E_ET T^(m/1.5) with m by `air_mass`.

    Parameters
    ----------
    altitude_deg
        Altitude of the sun [deg], -90 to 90; below 0 as at the horizon.

    Returns
    -------
    numpy.ndarray
        Spectral irradiance [W m^-2 nm^-1], shape (721,).

    Raises
    ------
    InputError
        For an altitude out of range.

    References
    ----------
    ASTM G173-03 for E_ET and T; Beer-Lambert law; Kasten & Young 1989 for the air mass.

    Examples
    --------
    >>> from simulator.light import illuminance_lux
    >>> round(float(illuminance_lux(direct_power(41.8))), -3)
    97000.0
    """
    m = float(air_mass(altitude_deg))
    return np.asarray(_g173("extraterrestrial") * _transmission() ** (m / G173_AIR_MASS))


def clear_sky_power(altitude_deg: float) -> FloatArray:
    """Spectral irradiance of level ground by the clear sky alone.

    E_sky (1 - T^(m/1.5)) / (1 - T) x sin h / sin(41.8 deg), with the light E_sky that G173's tilted
    surface has from the sky standing for that of level ground. Within some 40 percent of Bird's
    simple spectral model; the total is set by `sun_illuminance_lux` anyway.

    Parameters
    ----------
    altitude_deg
        Altitude h of the sun [deg], above 0, up to 90.

    Returns
    -------
    numpy.ndarray
        Spectral irradiance [W m^-2 nm^-1], shape (721,).

    Raises
    ------
    InputError
        For a sun that is not above the horizon.

    References
    ----------
    ASTM G173-03 for T and, less what its tilted surface has from the ground, for E_sky.

    Examples
    --------
    >>> power = clear_sky_power(60.0)
    >>> bool(power[450 - 380] > 2 * power[850 - 380])  # blue
    True
    """
    require("altitude_deg", altitude_deg, above=0.0, most=90.0, unit="deg")
    t = _transmission()
    m = float(air_mass(altitude_deg))
    scattered = (1.0 - t ** (m / G173_AIR_MASS)) / (1.0 - t)
    height = np.sin(np.radians(altitude_deg)) * G173_AIR_MASS  # sin 41.8 deg = 1/1.5
    return np.asarray(_g173_sky() * scattered * height)


def direct_share(altitude_deg: float) -> float:
    """Share of the clear-sky illuminance of level ground that comes straight from the sun.

    Direct x sin h over direct x sin h plus sky, both in lux by `direct_power` and
    `clear_sky_power`; the total itself is left to the illuminance polynomials. 0 below the horizon.

    Parameters
    ----------
    altitude_deg
        Altitude h of the sun [deg], -90 to 90.

    Returns
    -------
    float
        Share, 0 to 1.

    Raises
    ------
    InputError
        For an altitude out of range.

    References
    ----------
    ASTM G173-03, as `direct_power` and `clear_sky_power` take it to other air masses.

    Examples
    --------
    >>> round(direct_share(30.0), 2), direct_share(-1.0)
    (0.81, 0.0)
    """
    require("altitude_deg", altitude_deg, least=-90.0, most=90.0, unit="deg")
    if altitude_deg <= 0.0:
        return 0.0
    beam = float(illuminance_lux(direct_power(altitude_deg))) * np.sin(np.radians(altitude_deg))
    sky = float(illuminance_lux(clear_sky_power(altitude_deg)))
    return float(beam / (beam + sky))


def sun_spectrum(altitude_deg: float) -> Spectrum:
    """Direct sun at an altitude, scaled to 1 lx.

    Parameters
    ----------
    altitude_deg
        Altitude of the sun [deg], -90 to 90; below 0 as at the horizon.

    Returns
    -------
    Spectrum
        On the basis of 1 lx.

    Raises
    ------
    InputError
        For an altitude out of range.

    References
    ----------
    As `direct_power`.

    Examples
    --------
    >>> low, high = sun_spectrum(10.0).power, sun_spectrum(60.0).power
    >>> bool(low[650 - 380] / low[450 - 380] > 2 * high[650 - 380] / high[450 - 380])  # redder
    True
    """
    return _one_lux("direct sun", direct_power(altitude_deg))


def sky_spectrum(altitude_deg: float, cloud_share: float = 0.0) -> Spectrum:
    """Light of the sky with the sun at an altitude, scaled to 1 lx.

    Clear parts by `clear_sky_power`, clouds as daylight (sun and sky together); both fade to the
    `twilight` spectrum as the sun sinks from 2 to -6 degrees (assumed).

    Parameters
    ----------
    altitude_deg
        Altitude of the sun [deg], -90 to 90.
    cloud_share
        Share of the sky's illuminance that comes from clouds, 0 to 1.

    Returns
    -------
    Spectrum
        On the basis of 1 lx.

    Raises
    ------
    InputError
        For an altitude or share out of range.

    References
    ----------
    As `clear_sky_power`; the sources of `daylight` and `twilight` stand in the heads of their
    tables.

    Examples
    --------
    >>> clear, overcast = sky_spectrum(60.0).power, sky_spectrum(60.0, 1.0).power
    >>> bool(clear[450 - 380] > overcast[450 - 380])  # bluer
    True
    """
    require("altitude_deg", altitude_deg, least=-90.0, most=90.0, unit="deg")
    require("cloud_share", cloud_share, least=0.0, most=1.0)
    clear = _one_lux("clear sky", clear_sky_power(max(altitude_deg, LOW_SKY_DEG)))
    day = mixed("sky", [(clear, 1.0 - cloud_share), (spectrum("daylight"), cloud_share)])
    span = TWILIGHT_FROM_DEG - TWILIGHT_TO_DEG
    dusk = float(np.clip((TWILIGHT_FROM_DEG - altitude_deg) / span, 0.0, 1.0))
    return mixed("sky", [(day, 1.0 - dusk), (spectrum("twilight"), dusk)])


@lru_cache
def _moon_reflectance() -> FloatArray:
    """Relative reflectance of the moon, out of `moonlight`, which is G173 global times it."""
    return np.asarray(spectrum("moonlight").power / spectrum("g173-global").power)


def moon_spectra(altitude_deg: float) -> tuple[Spectrum, Spectrum]:
    """Direct moon and moonlit clear sky, each scaled to 1 lx.

    As of the sun, times the reflectance of the moon that stands in the `moonlight` table.

    Parameters
    ----------
    altitude_deg
        Altitude of the moon [deg], -90 to 90; below 0 as at the horizon.

    Returns
    -------
    tuple of Spectrum
        Direct moon and moonlit sky, on the basis of 1 lx.

    Raises
    ------
    InputError
        For an altitude out of range.

    References
    ----------
    As `direct_power` and `clear_sky_power`; the source of the moon's reflectance stands in the head
    of the `moonlight` table.

    Examples
    --------
    >>> moon, sky = moon_spectra(30.0)
    >>> moon.name, sky.name, moon.basis
    ('direct moon', 'moonlit sky', 'lux')
    """
    moon = _one_lux("direct moon", direct_power(altitude_deg) * _moon_reflectance())
    sky = clear_sky_power(max(altitude_deg, LOW_SKY_DEG)) * _moon_reflectance()
    return moon, _one_lux("moonlit sky", sky)


def mixed(name: str, parts: list[tuple[Spectrum, float]]) -> Spectrum:
    """Spectrum of 1 lx made of several, each given with its illuminance or share, not all 0."""
    total = sum(share for _, share in parts)
    power = sum((part.power * (share / total) for part, share in parts), np.zeros(721))
    return _frozen(name, "lux", np.asarray(power))


def _one_lux(name: str, power: FloatArray) -> Spectrum:
    return _frozen(name, "lux", power / float(illuminance_lux(power)))
