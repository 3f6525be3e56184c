"""Natural light of a place and hour: sun, moon, sky, night sky and the glow of a town.

Total illuminances come from the polynomials of USNO Circular 171, their split into beam and sky
and their spectra from ASTM G173-03 (`sky_spectra`), cloud from Kasten & Czeplak.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from simulator.domain import require
from simulator.errors import InputError
from simulator.light import sun_moon
from simulator.light.sky_spectra import (
    direct_share,
    mixed,
    moon_spectra,
    sky_spectrum,
    sun_spectrum,
)
from simulator.light.spectra import Spectrum, spectrum
from simulator.units import FloatArray

SMALLEST_SHARE = 1e-4
"""Parts below this share of the total are left out, night sky at noon for one."""


@dataclass(frozen=True)
class NaturalPart:
    """One part of the natural light.

    Attributes
    ----------
    name
        "sun", "sky", "moon", "moonlit sky", "night sky" or "skyglow".
    kind
        "sky" from all over the sky, "beam" from one direction.
    spectrum
        On the basis of 1 lx.
    illuminance_lux
        That of level ground for a sky, and that of a plane facing it for a beam [lx].
    altitude_deg, bearing_deg
        Where a beam comes from [deg].

    Examples
    --------
    >>> sun = NaturalPart("sun", "beam", sun_spectrum(30.0), 80_000.0, altitude_deg=30.0)
    >>> round(sun.level_lux)
    40000
    """

    name: str
    kind: Literal["sky", "beam"]
    spectrum: Spectrum
    illuminance_lux: float
    altitude_deg: float = 90.0
    bearing_deg: float = 0.0

    @property
    def level_lux(self) -> float:
        """Illuminance of level ground [lx]."""
        if self.kind == "sky":
            return self.illuminance_lux
        return self.illuminance_lux * float(np.sin(np.radians(self.altitude_deg)))


@dataclass(frozen=True)
class NaturalState:
    """Sky at one moment: where sun and moon stand, and every part of the light.

    Attributes
    ----------
    sun_altitude_deg, sun_bearing_deg
        Where the sun stands [deg].
    moon_altitude_deg, moon_bearing_deg
        Where the moon stands [deg]; None for the altitude without a moon.
    moon_phase_deg
        Phase angle [deg], 0 at full moon, 180 at new moon.
    cloud_cover
        Covered share of the sky, 0 to 1.
    parts
        The parts of the light, those under `SMALLEST_SHARE` left out.

    Examples
    --------
    >>> noon = sky_state(60.0)
    >>> [part.name for part in noon.parts], round(noon.illuminance_lux, -3)
    (['sun', 'sky'], 103000.0)
    """

    sun_altitude_deg: float
    sun_bearing_deg: float
    moon_altitude_deg: float | None
    moon_bearing_deg: float
    moon_phase_deg: float
    cloud_cover: float
    parts: tuple[NaturalPart, ...]

    @property
    def illuminance_lux(self) -> float:
        """Illuminance of level ground by all parts [lx]."""
        return sum(part.level_lux for part in self.parts)

    @property
    def spectrum(self) -> Spectrum:
        """Spectrum of all that falls on level ground, scaled to 1 lx."""
        return mixed("natural light", [(p.spectrum, p.level_lux) for p in self.parts])


def sky_state(
    sun_altitude_deg: float,
    sun_bearing_deg: float = 0.0,
    *,
    moon_altitude_deg: float | None = None,
    moon_bearing_deg: float = 0.0,
    moon_phase_deg: float = 0.0,
    moon_parallax_deg: float = sun_moon.MEAN_MOON_PARALLAX_DEG,
    cloud_cover: float = 0.0,
    skyglow_lux: float = 0.0,
    skyglow: Spectrum | None = None,
) -> NaturalState:
    """Natural light from the places of sun and moon.

    Under cloud the light of sun and moon is that of the clear sky times `cloud_factor`, their beam
    times the uncovered share of the sky, and the rest comes from the sky: the mean while clouds
    pass, not one moment with the sun behind a cloud or not.

    Parameters
    ----------
    sun_altitude_deg
        Altitude of the sun without refraction [deg], -90 to 90.
    sun_bearing_deg
        Bearing of the sun [deg] from any zero.
    moon_altitude_deg
        Altitude of the moon without refraction [deg], -90 to 90; without a moon, None.
    moon_bearing_deg
        Bearing of the moon [deg] from the same zero.
    moon_phase_deg
        0 full moon, 90 half, 180 new moon [deg].
    moon_parallax_deg
        Horizontal parallax [deg], above 0.
    cloud_cover
        Covered share of the sky, 0 to 1.
    skyglow_lux
        Illuminance of level ground by the glow of a town, as it is under this sky [lx], 0 or more.
    skyglow
        Its spectrum, on the basis of 1 lx.

    Returns
    -------
    NaturalState
        Every part of the light.

    Raises
    ------
    InputError
        For an altitude, cloud cover, parallax or skyglow out of range, or skyglow without a
        spectrum.

    References
    ----------
    USNO Circular 171 for the totals, ASTM G173-03 for beam, sky and spectra, Kasten & Czeplak 1980
    for cloud, as `sun_illuminance_lux`, `direct_power` and `cloud_factor` name them.

    Examples
    --------
    >>> night = sky_state(-20.0, moon_altitude_deg=40.0)
    >>> [part.name for part in night.parts]
    ['sky', 'moon', 'moonlit sky', 'night sky']
    >>> round(night.illuminance_lux, 2)
    0.14
    """
    require("skyglow_lux", skyglow_lux, least=0.0, unit="lx")
    if not 0.0 <= cloud_cover <= 1.0:
        raise InputError("the cloud cover is out of range", given=cloud_cover, allowed="0 to 1")
    if skyglow_lux > 0.0 and (skyglow is None or skyglow.basis != "lux"):
        raise InputError("skyglow needs a spectrum that is given for 1 lx", given=skyglow)
    factor = float(sun_moon.cloud_factor(cloud_cover))
    open_share = 1.0 - cloud_cover
    parts: list[NaturalPart] = []

    def add(name: str, kind: Literal["sky", "beam"], spec: Spectrum, lux: float,
            altitude: float = 90.0, bearing: float = 0.0) -> None:  # fmt: skip
        parts.append(NaturalPart(name, kind, spec, lux, altitude, bearing))

    clear = float(sun_moon.sun_illuminance_lux(sun_altitude_deg))
    beam = clear * direct_share(sun_altitude_deg) * open_share
    if beam > 0.0:
        facing = beam / float(np.sin(np.radians(sun_altitude_deg)))
        add("sun", "beam", sun_spectrum(sun_altitude_deg), facing, sun_altitude_deg,
            sun_bearing_deg)  # fmt: skip
    sky = clear * factor - beam
    uncovered = clear * (1.0 - direct_share(sun_altitude_deg)) * open_share
    clouds = max(0.0, 1.0 - uncovered / sky)
    add("sky", "sky", sky_spectrum(sun_altitude_deg, clouds), sky)
    if moon_altitude_deg is not None:
        clear = float(
            sun_moon.moon_illuminance_lux(moon_altitude_deg, moon_phase_deg, moon_parallax_deg)
        )
        beam = clear * direct_share(moon_altitude_deg) * open_share
        moon, moonlit = moon_spectra(moon_altitude_deg)
        if beam > 0.0:
            facing = beam / float(np.sin(np.radians(moon_altitude_deg)))
            add("moon", "beam", moon, facing, moon_altitude_deg, moon_bearing_deg)
        add("moonlit sky", "sky", moonlit, clear * factor - beam)
    night = float(sun_moon.night_sky_illuminance_lux(cloud_cover))
    add("night sky", "sky", spectrum("night-sky"), night)
    if skyglow is not None:
        add("skyglow", "sky", skyglow, skyglow_lux)
    least = SMALLEST_SHARE * sum(part.level_lux for part in parts)
    return NaturalState(
        sun_altitude_deg,
        sun_bearing_deg,
        moon_altitude_deg,
        moon_bearing_deg,
        moon_phase_deg,
        cloud_cover,
        tuple(part for part in parts if part.level_lux > least),
    )


def natural_light(
    when: dt.datetime,
    latitude_deg: float,
    longitude_deg: float,
    *,
    cloud_cover: float = 0.0,
    skyglow_lux: float = 0.0,
    skyglow: Spectrum | None = None,
) -> NaturalState:
    """Natural light of a place at one time; bearings clockwise from north.

    Parameters
    ----------
    when
        Time that knows its offset from universal time.
    latitude_deg, longitude_deg
        Place [deg], -90 to 90 and -180 to 180, north and east positive.
    cloud_cover, skyglow_lux, skyglow
        As for `sky_state`.

    Returns
    -------
    NaturalState
        Every part of the light.

    Raises
    ------
    InputError
        For a time without offset, or a value out of range.

    References
    ----------
    USNO Circular 171 for the totals, ASTM G173-03 for beam, sky and spectra, Kasten & Czeplak 1980
    for cloud, as `sun_illuminance_lux`, `direct_power` and `cloud_factor` name them.

    Examples
    --------
    >>> noon = dt.datetime(2026, 6, 21, 12, tzinfo=dt.UTC)
    >>> round(natural_light(noon, 52.5, 13.4).illuminance_lux, -3)
    102000.0
    """
    at = sun_moon.sky_position([when], latitude_deg, longitude_deg)
    return sky_state(
        float(at.sun_altitude_deg[0]),
        float(at.sun_bearing_deg[0]),
        moon_altitude_deg=float(at.moon_altitude_deg[0]),
        moon_bearing_deg=float(at.moon_bearing_deg[0]),
        moon_phase_deg=float(at.moon_phase_deg[0]),
        moon_parallax_deg=float(at.moon_parallax_deg[0]),
        cloud_cover=cloud_cover,
        skyglow_lux=skyglow_lux,
        skyglow=skyglow,
    )


def natural_illuminance_lux(
    when: Sequence[dt.datetime],
    latitude_deg: float,
    longitude_deg: float,
    *,
    cloud_cover: FloatArray | float = 0.0,
    skyglow_lux: float = 0.0,
) -> FloatArray:
    """Illuminance of level ground at many times of a place.

    The total that `natural_light` gives, without spectra; a year of hours takes a few seconds.

    Parameters
    ----------
    when
        Times that know their offset from universal time.
    latitude_deg, longitude_deg
        As for `natural_light`.
    cloud_cover
        Covered share of the sky, 0 to 1, one or one a time.
    skyglow_lux
        Glow of a town [lx], 0 or more.

    Returns
    -------
    numpy.ndarray
        Illuminance [lx], shape (times,).

    Raises
    ------
    InputError
        For a time without offset, or a value out of range.

    References
    ----------
    USNO Circular 171 for sun and moon, Kasten & Czeplak 1980 for cloud, as `sun_illuminance_lux`,
    `moon_illuminance_lux` and `cloud_factor` name them.

    Examples
    --------
    >>> noon = dt.datetime(2026, 6, 21, 12, tzinfo=dt.UTC)
    >>> natural_illuminance_lux([noon, noon], 52.5, 13.4, cloud_cover=[0.0, 1.0]).round(-3).tolist()
    [102000.0, 26000.0]
    """
    require("skyglow_lux", skyglow_lux, least=0.0, unit="lx")
    cover = np.asarray(cloud_cover, dtype=np.float64)
    if not np.all((cover >= 0.0) & (cover <= 1.0)):
        raise InputError("the cloud cover is out of range", given=cloud_cover, allowed="0 to 1")
    at = sun_moon.sky_position(when, latitude_deg, longitude_deg)
    sun = sun_moon.sun_illuminance_lux(at.sun_altitude_deg)
    moon = sun_moon.moon_illuminance_lux(
        at.moon_altitude_deg, at.moon_phase_deg, at.moon_parallax_deg
    )
    night = sun_moon.night_sky_illuminance_lux(cover)
    return np.asarray((sun + moon) * sun_moon.cloud_factor(cover) + night + skyglow_lux)
