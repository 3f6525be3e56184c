"""Flicker of lamps on the mains: light that swings at twice the mains frequency.

light(t) = 1 + depth cos(2 pi 2 f t + phase), the first harmonic only. Real waves are more pointed
(discharge lamps) or chopped (dimmed LEDs); a camera that averages over a good part of a cycle sees
little of that.
"""

from __future__ import annotations

import numpy as np

from simulator.domain import require
from simulator.units import FloatArray


def mean_over_exposure(
    depth: FloatArray | float,
    mains_hz: FloatArray | float,
    phase_deg: FloatArray | float,
    start_s: FloatArray | float,
    shutter_s: FloatArray | float,
) -> FloatArray:
    """Mean light during an exposure over the mean of all time.

    1 + depth sinc(2 f T) cos(2 pi 2 f (t0 + T/2) + phase) with sinc x = sin(pi x)/(pi x), the
    mean of light(t) from t0 to t0 + T. It is 1 for a shutter of any number of whole half cycles.

    Parameters
    ----------
    depth
        Modulation depth, 0 to 1.
    mains_hz
        Mains frequency f [Hz], 0 or more; the light swings at 2 f.
    phase_deg
        Phase of the light at time 0 [deg].
    start_s, shutter_s
        Begin t0 and length T of the exposure [s], T not below 0; give each row its own begin for a
        rolling shutter. All shapes broadcast.

    Returns
    -------
    numpy.ndarray
        Factor on the light, broadcast shape.

    Raises
    ------
    InputError
        For a depth, frequency or shutter out of range.

    References
    ----------
    Integral of the first harmonic over the exposure, in closed form.

    Examples
    --------
    >>> import numpy as np
    >>> mean_over_exposure(0.9, 50.0, 0.0, 0.0, np.array([0.01, 0.002])).round(2).tolist()
    [1.0, 1.68]
    """
    require("depth", depth, least=0.0, most=1.0)
    require("mains_hz", mains_hz, least=0.0, unit="Hz")
    require("shutter_s", shutter_s, least=0.0, unit="s")
    light_hz = 2.0 * np.asarray(mains_hz, dtype=np.float64)
    middle = np.asarray(start_s) + np.asarray(shutter_s) / 2.0
    swing = np.sinc(light_hz * shutter_s) * np.cos(
        2.0 * np.pi * light_hz * middle + np.radians(phase_deg)
    )
    return np.asarray(1.0 + depth * swing)
