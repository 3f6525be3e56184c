"""Flicker of lamps on the mains: light that swings at twice the mains frequency.

light(t) = 1 + depth cos(2 pi 2 f t + phase), the first harmonic only. Real waves are more pointed
(discharge lamps) or chopped (dimmed LEDs); a camera that averages over a good part of a cycle sees
little of that.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from simulator.units import FloatArray

DEPTH_BY_KIND: Final[dict[str, float]] = {
    "filament": 0.10,
    "fluorescent-magnetic": 0.35,
    "fluorescent-electronic": 0.03,
    "high-pressure-sodium": 0.90,
    "low-pressure-sodium": 0.80,
    "mercury": 0.80,
    "metal-halide": 0.50,
    "led-steady": 0.0,
    "led-good": 0.05,
    "led-simple": 0.40,
}
"""Modulation depth (max - min)/(max + min) by kind of lamp and what drives it, all assumed.

From memory of percent-flicker tables in lighting handbooks: filament 5-15, fluorescent on a
magnetic ballast 25-45, high-pressure sodium on a magnetic ballast up to 95, metal halide 35-60,
mercury 70-90 percent. LED: nothing on direct current, a few percent on a driver with enough
storage, 30-100 percent on a plain rectifier (common practice, no source)."""

_BY_SPECTRUM: Final = (
    ("cie-a", "filament"),
    ("filament", "filament"),
    ("fluorescent", "fluorescent-magnetic"),
    ("high-pressure-sodium", "high-pressure-sodium"),
    ("low-pressure-sodium", "low-pressure-sodium"),
    ("mercury", "mercury"),
    ("metal-halide", "metal-halide"),
    ("led", "led-good"),
)


def usual_depth(spectrum_name: str) -> float:
    """Modulation depth that is usual for a lamp of this spectrum; 0 where nothing is known."""
    for start, kind in _BY_SPECTRUM:
        if spectrum_name.startswith(start):
            return DEPTH_BY_KIND[kind]
    return 0.0


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
        Mains frequency f [Hz]; the light swings at 2 f.
    phase_deg
        Phase of the light at time 0 [deg].
    start_s, shutter_s
        Begin t0 and length T of the exposure [s]; give each row its own begin for a rolling
        shutter.

    Returns
    -------
    Factor on the light, broadcast shape.
    """
    light_hz = 2.0 * np.asarray(mains_hz, dtype=np.float64)
    middle = np.asarray(start_s) + np.asarray(shutter_s) / 2.0
    swing = np.sinc(light_hz * shutter_s) * np.cos(
        2.0 * np.pi * light_hz * middle + np.radians(phase_deg)
    )
    return np.asarray(1.0 + depth * swing)
