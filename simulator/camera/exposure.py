"""Exposure as it comes to rest: iris, shutter, gain and added frames, each within its limits.

As light falls the levers are spent in one order. `priority = "shutter"`: the shutter lengthens, an
automatic iris opens, gain rises. `priority = "gain"`: the iris opens at the shortest shutter, gain
rises, then the shutter lengthens. Both end with whole frames added up (slow shutter).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from simulator.camera.metering import (
    metered_level,
    metering_weights,
    wanted_product,
)
from simulator.camera.model import Exposure
from simulator.domain import require
from simulator.units import Image, db_to_ratio, ratio_to_db

SLACK = 0.01
"""A product this close to the wanted one counts as reached."""


@dataclass(frozen=True)
class Levers:
    """How a product of shutter, gain and iris is made.

    `shutter_s` is all the time light is gathered, `accumulated` frames together; `iris_share` the
    light through the iris over that through the open lens, (F_open / F)^2.
    """

    shutter_s: float
    gain: float
    iris_share: float
    accumulated: int

    @property
    def product_s(self) -> float:
        """Shutter x gain x iris share [s]: what counts for the level."""
        return self.shutter_s * self.gain * self.iris_share


@dataclass(frozen=True)
class ExposureState:
    """What the automatic settled on.

    Attributes
    ----------
    shutter_s
        Time during which light is gathered, all added frames together [s].
    gain_db
        Gain over that at which the full well makes white, 20 log10 [dB].
    metering
        Metering pattern.
    limited_by
        "nothing", "fixed settings", or the lever that came to its end: "shortest shutter",
        "smallest iris", "widest iris", "longest shutter", "largest gain", "slowest accumulation".
    level
        Metered linear level that results, as a share of white.
    wanted_product_s
        Shutter x gain that would have given the wanted level with the iris open [s].
    f_number
        F-number at which the picture is taken.
    f_number_open
        F-number of the open iris, at which the light was metered.
    accumulated
        Frames that are added up to make one.

    Examples
    --------
    In the dark the shutter comes to its end, and then the gain:

    >>> settings = Exposure(shutter_min_s=1e-4, shutter_max_s=0.02, gain_max_db=30.0)
    >>> state = settle(settings, np.full((9, 16), 10.0), 10_000.0, 1.4)
    >>> state.shutter_s, round(state.gain_db), state.limited_by
    (0.02, 30, 'largest gain')
    """

    shutter_s: float
    gain_db: float
    metering: str
    limited_by: str
    level: float
    wanted_product_s: float
    f_number: float
    f_number_open: float
    accumulated: int = 1


def half_period_s(settings: Exposure) -> float | None:
    """Time after which the light of a lamp on the mains repeats, 1 / (2 f) [s]."""
    hz = settings.flicker_safe_hz
    return None if hz is None else 1.0 / (2.0 * hz)


def longest_shutter_s(settings: Exposure) -> float:
    """Longest shutter of one frame: the largest flicker-safe one, if there is one.

    A shutter of n / (2 f) sees whole half periods of the mains at f and so no flicker.

    Parameters
    ----------
    settings
        Limits of the shutter, and the mains frequency whose flicker it avoids.

    Returns
    -------
    float
        Shutter [s].

    References
    ----------
    Lamps on the mains flicker at twice its frequency (common knowledge, no source).

    Examples
    --------
    >>> settings = Exposure(
    ...     shutter_min_s=1e-4, shutter_max_s=0.04, gain_max_db=30.0, flicker_safe_hz=60
    ... )
    >>> round(longest_shutter_s(settings), 5)  # four half periods
    0.03333
    """
    half = half_period_s(settings)
    count = 0 if half is None else math.floor(settings.shutter_max_s / half + 1e-9)
    if half is None or count < 1 or count * half < settings.shutter_min_s:
        return settings.shutter_max_s
    return count * half


def _safe(settings: Exposure, shutter_s: float, up: bool) -> float:
    """The flicker-safe shutter next below or above: n / (2 f), or any below one half period."""
    half = half_period_s(settings)
    longest = longest_shutter_s(settings)
    if half is None or shutter_s < half * (1.0 - 1e-9) or longest < half * (1.0 - 1e-9):
        return shutter_s
    count = shutter_s / half
    count = math.ceil(count - 1e-9) if up else math.floor(count + 1e-9)
    safe = count * half
    return min(safe, longest) if safe >= settings.shutter_min_s else shutter_s


def allocate(settings: Exposure, product_s: float, f_number_open: float) -> Levers:
    """Levers for a wanted product of shutter, gain and iris share [s], or the nearest possible.

    A shutter of n / (2 f) sees whole half periods of the mains and so no flicker; what lies between
    two such steps is made up by iris and gain. Where they cannot, the shutter is free.
    """
    closed = 1.0
    if settings.iris == "automatic":
        closed = min(1.0, (f_number_open / settings.f_number_max) ** 2)
    low = 1.0 if settings.gain_db is None else db_to_ratio(settings.gain_db)
    high = db_to_ratio(settings.gain_max_db) if settings.gain_db is None else low
    shortest, longest = settings.shutter_min_s, longest_shutter_s(settings)
    if settings.shutter_s is not None:
        shortest = longest = settings.shutter_s

    def filled(shutter_s: float) -> Levers:
        """Iris, then gain, for the rest that a shutter leaves."""
        iris = float(np.clip(product_s / (shutter_s * low), closed, 1.0))
        gain = float(np.clip(product_s / (shutter_s * iris), low, high))
        return Levers(shutter_s, gain, iris, 1)

    by_gain = settings.priority == "gain"
    most = filled(shortest)
    rest = most.iris_share * most.gain if by_gain else closed * low
    free = float(np.clip(product_s / rest, shortest, longest))
    shutter = free if settings.shutter_s is not None else _safe(settings, free, up=by_gain)
    levers = filled(shutter)
    missed = abs(levers.product_s / product_s - 1.0) > 1e-6
    if missed and shortest < free < longest:
        levers = filled(free)
    return _added_up(settings, levers, product_s, low, high)


def most_frames(settings: Exposure) -> int:
    """Frames that may be added up once everything else is spent."""
    if settings.slow_shutter_max_s is None or settings.shutter_s is not None:
        return 1
    return max(1, math.floor(settings.slow_shutter_max_s / longest_shutter_s(settings) + 1e-9))


def _added_up(
    settings: Exposure, levers: Levers, product_s: float, low: float, high: float
) -> Levers:
    """Whole frames added where shutter and gain do not suffice; the gain takes up the rest."""
    lacking = product_s / levers.product_s
    most = most_frames(settings)
    if lacking <= 1.0 + 1e-9 or most == 1:
        return levers
    wanted = math.ceil(lacking - 1e-9) if high > low else round(min(lacking, float(most)))
    count = int(np.clip(wanted, 1, most))
    shutter = levers.shutter_s * count
    gain = float(np.clip(product_s / (shutter * levers.iris_share), low, high))
    return Levers(shutter, gain, levers.iris_share, count)


def limit_reached(settings: Exposure, levers: Levers, wanted_s: float) -> str:
    """Name of the lever that came to its end before the wanted product was reached."""
    iris, gain = settings.iris == "automatic", settings.gain_db is None
    shutter = settings.shutter_s is None
    if not (iris or gain or shutter):
        return "fixed settings"
    most = most_frames(settings)
    if levers.product_s > wanted_s * (1.0 + SLACK) and levers.accumulated == 1:
        if shutter:
            return "shortest shutter"
        return "smallest iris" if iris else "fixed settings"
    if levers.product_s < wanted_s * (1.0 - SLACK) and levers.accumulated == most:
        if most > 1:
            return "slowest accumulation"
        last = [("largest gain", gain), ("longest shutter", shutter), ("widest iris", iris)]
        if settings.priority == "gain":
            last = [last[1], last[0], last[2]]
        return next(name for name, free in last if free)
    return "nothing"


def settle(
    settings: Exposure, signal: Image, full_well_e: float, f_number_open: float
) -> ExposureState:
    """Iris, shutter, gain and added frames at which the loop comes to rest.

    Parameters
    ----------
    settings
        Limits, target level and metering.
    signal
        Light of the metered picture with the iris open (rows, columns) [e-/s per pixel].
    full_well_e
        Charge that makes white at a gain of 0 dB, above 0 [e-].
    f_number_open
        F-number of the open iris, above 0.

    Returns
    -------
    ExposureState
        Where every lever stands, and which one came to its end.

    Raises
    ------
    InputError
        For a full well or f-number of 0 or less.

    References
    ----------
    Order of the levers: common practice, no source. Gain in decibels as in EMVA 1288.

    Examples
    --------
    >>> settings = Exposure(shutter_min_s=1e-4, shutter_max_s=0.02, gain_max_db=30.0)
    >>> state = settle(settings, np.full((9, 16), 45_000.0), 10_000.0, 1.4)
    >>> state.shutter_s, round(state.gain_db, 2), state.limited_by
    (0.02, 6.02, 'nothing')
    """
    require("full_well_e", full_well_e, above=0.0, unit="e-")
    require("f_number_open", f_number_open, above=0.0)
    product = wanted_product(settings, signal, full_well_e)
    levers = allocate(settings, product, f_number_open)
    weights = metering_weights(
        (signal.shape[0], signal.shape[1]), settings.metering, settings.window
    )
    return state_of(
        settings,
        levers,
        f_number_open,
        product,
        metered_level(settings.metering, levers.product_s, signal, weights, full_well_e),
    )


def state_of(
    settings: Exposure, levers: Levers, f_number_open: float, wanted_s: float, level: float
) -> ExposureState:
    """Levers as they stand in the results."""
    return ExposureState(
        levers.shutter_s,
        ratio_to_db(levers.gain),
        settings.metering,
        limit_reached(settings, levers, wanted_s),
        level,
        wanted_s,
        f_number_open if levers.iris_share == 1.0 else f_number_open / math.sqrt(levers.iris_share),
        f_number_open,
        levers.accumulated,
    )
