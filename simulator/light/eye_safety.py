"""Infrared and the eye: the quantities of IEC 62471 by which a lamp is put into a risk group.

An estimate for planning, from intensity, spectrum and size of the emitter. It never takes the place
of the maker's classification, which rests on measurement, nor of a competent person.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from simulator.domain import require
from simulator.errors import InputError
from simulator.light.spectra import gaussian_emitter
from simulator.units import WAVELENGTH_NM, FloatArray

CORNEA_LONG_W_M2: Final = 100.0
"""Irradiance of the eye (780-3000 nm) for more than 1000 s, IEC 62471:2006 (from memory)."""
ASSESSED_AT_M: Final = 0.2
"""Distance at which lamps that are not for general lighting are classified, IEC 62471:2006 (from
memory)."""
WEAK_FROM_NM: Final = 780.0
"""From this wavelength on a lamp is taken as no stimulus to look away (assumed; the standard asks
for less than 10 cd/m2)."""
_ALPHA_LEAST, _ALPHA_MOST = 0.011, 0.1
_RETINA_WEAK = 6000.0
_GROUPS: Final = (("exempt", 1000.0), ("risk group 1", 100.0), ("risk group 2", 10.0))
"""Groups and the exposures that each must bear [s], IEC 62471:2006 (from memory)."""
Group = Literal["exempt", "risk group 1", "risk group 2", "beyond risk group 2"]


def cornea_limit_w_m2(seconds: FloatArray | float) -> FloatArray:
    """Greatest infrared irradiance of cornea and lens, 780-3000 nm.

    18 000 t^-0.75 up to 1000 s, 100 beyond.

    Parameters
    ----------
    seconds
        Length t of the exposure [s], above 0, any shape.

    Returns
    -------
    numpy.ndarray
        Irradiance [W/m2], same shape.

    Raises
    ------
    InputError
        For an exposure that is not above 0.

    References
    ----------
    IEC 62471:2006, 4.3.7 (the form as published, the last value from memory).

    Examples
    --------
    >>> cornea_limit_w_m2([10.0, 100.0, 2000.0]).round(1).tolist()
    [3200.9, 569.2, 100.0]
    """
    t = np.asarray(seconds, dtype=np.float64)
    if not np.all(t > 0.0):
        raise InputError("an exposure must be longer than 0", given=seconds, allowed="above 0 s")
    return np.where(t > 1000.0, CORNEA_LONG_W_M2, 18_000.0 * t**-0.75)


def cornea_time_s(irradiance_w_m2: FloatArray | float) -> FloatArray:
    """Longest exposure of cornea and lens; infinite up to 100 W/m2.

    (18 000/E)^(4/3), the inverse of `cornea_limit_w_m2`. Between 100 and 101.2 W/m2, where its two
    pieces do not meet, 1000 s.

    Parameters
    ----------
    irradiance_w_m2
        Infrared irradiance E, 780-3000 nm [W/m2], 0 or more, any shape.

    Returns
    -------
    numpy.ndarray
        Time [s], same shape.

    Raises
    ------
    InputError
        For an irradiance below 0.

    References
    ----------
    IEC 62471:2006, 4.3.7, solved for the time.

    Examples
    --------
    >>> cornea_time_s([50.0, 1000.0]).round(1).tolist()
    [inf, 47.2]
    """
    require("irradiance_w_m2", irradiance_w_m2, least=0.0, unit="W/m2")
    e = np.asarray(irradiance_w_m2, dtype=np.float64)
    with np.errstate(divide="ignore"):
        t = np.minimum((18_000.0 / np.maximum(e, 0.0)) ** (4.0 / 3.0), 1000.0)
    return np.where(e <= CORNEA_LONG_W_M2, np.inf, t)


def axial_irradiance_w_m2(
    intensity_w_per_sr: FloatArray | float, distance_m: FloatArray | float
) -> FloatArray:
    """Irradiance on the axis of a lamp, E = I/d^2.

    Nearer than some five widths of the emitter this says too much, which is the safe side.

    Parameters
    ----------
    intensity_w_per_sr
        Radiant intensity I on the axis [W/sr], 0 or more.
    distance_m
        Distance d from the lamp [m], above 0; shapes broadcast.

    Returns
    -------
    numpy.ndarray
        Irradiance [W/m2], broadcast shape.

    Raises
    ------
    InputError
        For an intensity below 0 or a distance that is not above 0.

    References
    ----------
    Inverse square law; the five widths are common practice, no source.

    Examples
    --------
    >>> axial_irradiance_w_m2(5.0, [0.2, 2.0]).round(2).tolist()
    [125.0, 1.25]
    """
    require("intensity_w_per_sr", intensity_w_per_sr, least=0.0, unit="W/sr")
    require("distance_m", distance_m, above=0.0, unit="m")
    return np.asarray(intensity_w_per_sr, float) / np.asarray(distance_m, float) ** 2


def hazard_distance_m(
    intensity_w_per_sr: FloatArray | float, limit_w_m2: float = CORNEA_LONG_W_M2
) -> FloatArray:
    """Distance on the axis within which an irradiance is exceeded, sqrt(I/E).

    Parameters
    ----------
    intensity_w_per_sr
        Radiant intensity I on the axis [W/sr], 0 or more, any shape.
    limit_w_m2
        Irradiance E [W/m2], above 0; that of the cornea for more than 1000 s unless given.

    Returns
    -------
    numpy.ndarray
        Distance [m], shape of the intensity.

    Raises
    ------
    InputError
        For an intensity below 0 or a limit that is not above 0.

    References
    ----------
    Inverse square law; hazard distance as of IEC 62471:2006 (from memory).

    Examples
    --------
    >>> float(hazard_distance_m(4.0))
    0.2
    """
    require("intensity_w_per_sr", intensity_w_per_sr, least=0.0, unit="W/sr")
    require("limit_w_m2", limit_w_m2, above=0.0, unit="W/m2")
    return np.sqrt(np.asarray(intensity_w_per_sr, float) / limit_w_m2)


def retina_weight(wavelength_nm: FloatArray | float) -> FloatArray:
    """Burn hazard weighting R(lambda) from 500 to 1150 nm.

    1 to 700 nm, 10^((700 - lambda)/500) to 1050 nm, 0.2 beyond. Shorter waves, which weigh more,
    are not for this function.

    Parameters
    ----------
    wavelength_nm
        Wavelength lambda [nm], 500 to 1150, any shape.

    Returns
    -------
    numpy.ndarray
        Weight R, same shape.

    Raises
    ------
    InputError
        For a wavelength out of range.

    References
    ----------
    IEC 62471:2006, table 4.2 (from memory).

    Examples
    --------
    >>> retina_weight([600.0, 850.0, 1100.0]).round(2).tolist()
    [1.0, 0.5, 0.2]
    """
    nm = np.asarray(wavelength_nm, dtype=np.float64)
    if not np.all((nm >= 500.0) & (nm <= 1150.0)):
        raise InputError("a wavelength is out of range", given=wavelength_nm, allowed="500-1150 nm")
    return np.where(nm > 1050.0, 0.2, np.minimum(1.0, 10.0 ** ((700.0 - nm) / 500.0)))


@dataclass(frozen=True)
class EyeSafety:
    """Quantities of one infrared lamp, and the group that they point to.

    Attributes
    ----------
    intensity_w_per_sr
        Radiant intensity on the axis [W/sr].
    assessed_at_m
        Distance at which it is assessed [m].
    irradiance_w_m2
        Irradiance on the axis at that distance [W/m2].
    allowed_s
        Longest exposure of the cornea there [s]; infinite if there is no limit.
    hazard_distance_m
        Within it, on the axis, the limit for more than 1000 s is exceeded [m].
    radiance_w_m2_sr
        Mean over the emitter [W/m2/sr].
    weighted_radiance_w_m2_sr
        The same by R(lambda), 780-1100 nm [W/m2/sr].
    angle_rad
        Angle that the emitter fills, between 0.011 and 0.1 [rad].
    retina_limit_w_m2_sr
        Limit of the weighted radiance [W/m2/sr].
    group
        Risk group that these point to: "exempt", "risk group 1", "risk group 2" or "beyond risk
        group 2".

    Examples
    --------
    >>> lamp = assess_infrared(5.0, emitter_width_m=0.02, wavelength_nm=850.0)
    >>> lamp.group, round(lamp.weighted_radiance_w_m2_sr / lamp.retina_limit_w_m2_sr, 2)
    ('risk group 1', 0.1)
    """

    intensity_w_per_sr: float
    assessed_at_m: float
    irradiance_w_m2: float
    allowed_s: float
    hazard_distance_m: float
    radiance_w_m2_sr: float
    weighted_radiance_w_m2_sr: float
    angle_rad: float
    retina_limit_w_m2_sr: float
    group: Group


def assess_infrared(
    intensity_w_per_sr: float,
    *,
    emitter_width_m: float,
    wavelength_nm: float,
    bandwidth_nm: float = 35.0,
    distance_m: float = ASSESSED_AT_M,
) -> EyeSafety:
    """Estimate the risk group of a steady infrared lamp as a weak visual stimulus.

    Cornea: E = I/d^2 against `cornea_limit_w_m2` for the exposure of each group. Retina: sum of L
    R(lambda) against 6000/alpha W/m2/sr, 780-1400 nm, for more than 10 s, with the radiance of a
    square even emitter and never averaged over less than 0.011 rad. A lens that makes a smaller
    part of the face shine is worse than this says.

    Parameters
    ----------
    intensity_w_per_sr
        Radiant intensity on the axis [W/sr], above 0.
    emitter_width_m
        Width of the square shining face [m], above 0.
    wavelength_nm
        Peak wavelength [nm], 780 to 1100.
    bandwidth_nm
        Full width at half maximum [nm], 1 to 1000.
    distance_m
        Where it is assessed [m], above 0; 0.2 m by the standard.

    Returns
    -------
    EyeSafety
        The quantities and the group.

    Raises
    ------
    InputError
        For a lamp whose peak can be seen or lies outside the range, or numbers that are not above
        0.

    References
    ----------
    IEC 62471:2006, 4.3.6 and 4.3.7 (from memory).

    Examples
    --------
    >>> lamp = assess_infrared(5.0, emitter_width_m=0.02, wavelength_nm=850.0)
    >>> lamp.group, round(lamp.hazard_distance_m, 2)
    ('risk group 1', 0.22)
    """
    if wavelength_nm < WEAK_FROM_NM:
        raise InputError(
            "this estimate is for infrared lamps",
            given=wavelength_nm,
            allowed=f"{WEAK_FROM_NM:g} nm or more",
        )
    if min(intensity_w_per_sr, emitter_width_m, distance_m) <= 0.0:
        raise InputError("intensity, width and distance must be above 0")
    e = float(axial_irradiance_w_m2(intensity_w_per_sr, distance_m))
    seen = max(emitter_width_m, _ALPHA_LEAST * distance_m)
    radiance = intensity_w_per_sr / seen**2
    band = WAVELENGTH_NM >= WEAK_FROM_NM
    power = gaussian_emitter(wavelength_nm, bandwidth_nm).power[band]
    weight = float(power @ retina_weight(WAVELENGTH_NM[band]) / power.sum())
    alpha = float(np.clip(emitter_width_m / distance_m, _ALPHA_LEAST, _ALPHA_MOST))
    limit = _RETINA_WEAK / alpha
    group: Group = "beyond risk group 2"
    if radiance * weight <= limit:
        for name, seconds in _GROUPS:
            most = CORNEA_LONG_W_M2 if name == "exempt" else float(cornea_limit_w_m2(seconds))
            if e <= most:
                group = name  # type: ignore[assignment]
                break
    return EyeSafety(
        intensity_w_per_sr, distance_m, e, float(cornea_time_s(e)),
        float(hazard_distance_m(intensity_w_per_sr)), radiance, radiance * weight, alpha, limit,
        group,
    )  # fmt: skip
