"""The exposure control as it works: a loop over frames, each one setting the next."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.camera.exposure import SLACK, ExposureState, Levers, allocate, limit_reached
from simulator.camera.metering import metered_level, metering_weights
from simulator.camera.model import Exposure
from simulator.units import FloatArray, Image, db_to_ratio, ratio_to_db

LEAST_LEVEL = 1.0 / 4096.0
"""Level below which the loop sees no difference any more: one step of 12 bits (assumed)."""
WITHIN_DB = 1.0
"""Distance from where it ends at which exposure counts as settled [dB] (assumed)."""

SignalAt = Callable[[float, float], Image]
"""Metered signal (rows, columns) [e-/s] at the open iris, of an exposure with its middle at a
moment [s] and of a length [s]."""


@dataclass(frozen=True)
class ExposurePath:
    """Exposure frame by frame; all arrays (n,)."""

    time_s: FloatArray
    """Middle of each exposure, the first at 0 [s]."""
    shutter_s: FloatArray
    gain_db: FloatArray
    f_number: FloatArray
    accumulated: NDArray[np.int64]
    level: FloatArray
    """Level that the control metered of the frame, as a share of white."""
    product_s: FloatArray
    """Shutter x gain x light through the iris over that through the open one [s]."""
    limited_by: tuple[str, ...]
    """Lever that holds the exposure off the target in each frame, or "nothing" while the loop is at
    rest or on its way."""
    target_level: float
    hysteresis_db: float

    @property
    def error_db(self) -> FloatArray:
        """Wanted over metered level [dB]; positive asks for more exposure."""
        level = np.maximum(self.level, LEAST_LEVEL)
        return np.asarray(20.0 * np.log10(self.target_level / level))

    def settling_s(self, within_db: float = WITHIN_DB) -> float | None:
        """Time after which exposure stays within so much of its last value [s].

        None if the last tenth of the path is still not within it, that is if it does not settle
        in the time that was followed.
        """
        off = np.abs(20.0 * np.log10(self.product_s / self.product_s[-1])) > within_db
        late = np.flatnonzero(off)
        if late.size == 0:
            return 0.0
        if late[-1] >= math.floor(0.9 * len(off)):
            return None
        return float(self.time_s[late[-1] + 1])


def levers_of(exposure: ExposureState) -> Levers:
    """The levers of a settled exposure, to start a path from."""
    return Levers(
        exposure.shutter_s,
        db_to_ratio(exposure.gain_db),
        (exposure.f_number_open / exposure.f_number) ** 2,
        exposure.accumulated,
    )


def exposure_path(
    settings: Exposure,
    signal_at: SignalAt,
    full_well_e: float,
    f_number_open: float,
    *,
    start: Levers,
    frame_rate_hz: float,
    frames: int,
) -> ExposurePath:
    """Exposure frame by frame from any start.

    Frame n is metered once it is read out and sets frame n + 1, which is the loop's one frame of
    delay: with the error e = 20 log10(target / level) [dB] the product of shutter, gain and iris
    is multiplied by 10^(step_share e / 20) if |e| exceeds the hysteresis, within the reach of
    the levers. While no pixel is white the error falls geometrically, e_n = (1 - step_share)^n e_0.
    White pixels hide how bright they are, so that a picture far too bright recovers more slowly.
    Iris and gain follow as fast as the shutter; a motor iris is slower.

    Parameters
    ----------
    start
        Levers of the first frame.
    frame_rate_hz
        Rate of single frames [Hz]; frames that are added up take their multiple.
    frames
        Number of (added-up) frames to follow.
    """
    darkest = allocate(settings, 1e-12, f_number_open).product_s
    longest = allocate(settings, 1e12, f_number_open).product_s
    levers, product, time = start, start.product_s, 0.0
    shape: tuple[int, int] | None = None
    weights = np.zeros((0, 0))
    rows: list[tuple[float, Levers, float]] = []
    reasons: list[str] = []
    for _ in range(frames):
        signal = signal_at(time, levers.shutter_s)
        if shape != signal.shape:
            shape = (signal.shape[0], signal.shape[1])
            weights = metering_weights(shape, settings.metering, settings.window)
        level = metered_level(settings.metering, levers.product_s, signal, weights, full_well_e)
        rows.append((time, levers, level))
        error = ratio_to_db(settings.target_level / max(level, LEAST_LEVEL))
        at_end = (
            levers.product_s >= longest * (1.0 - SLACK)
            if error > 0.0
            else levers.product_s <= darkest * (1.0 + SLACK)
        )
        wanted = levers.product_s * db_to_ratio(error)
        reasons.append(limit_reached(settings, levers, wanted) if at_end else "nothing")
        time += levers.accumulated / frame_rate_hz
        if abs(error) > settings.hysteresis_db:
            product *= db_to_ratio(settings.step_share * error)
            product = float(np.clip(product, darkest, longest))
            levers = allocate(settings, product, f_number_open)
    every = [levers for _, levers, _ in rows]
    return ExposurePath(
        np.array([time for time, _, _ in rows]),
        np.array([levers.shutter_s for levers in every]),
        np.array([ratio_to_db(levers.gain) for levers in every]),
        np.array([f_number_open / math.sqrt(levers.iris_share) for levers in every]),
        np.array([levers.accumulated for levers in every]),
        np.array([level for _, _, level in rows]),
        np.array([levers.product_s for levers in every]),
        tuple(reasons),
        settings.target_level,
        settings.hysteresis_db,
    )
