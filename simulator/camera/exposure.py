"""Automatic exposure: shutter first, then gain, closed on the rendered picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.camera.model import Exposure
from simulator.units import FloatArray, Image, db_to_ratio, ratio_to_db

MIN_PRODUCT, MAX_PRODUCT = 1e-9, 1e9


@dataclass(frozen=True)
class ExposureState:
    """What the automatic settled on."""

    shutter_s: float
    gain_db: float
    metering: str
    limited_by: str
    """"nothing", "shortest shutter", "largest gain" or "fixed settings"."""
    level: float
    """Mean linear level that results, as a share of white."""
    wanted_product_s: float
    """Shutter times gain that would have given the wanted level [s]."""


def metering_weights(shape: tuple[int, int], pattern: str) -> FloatArray:
    """Weights (rows, columns) of a metering pattern, sum one.

    "average" weighs all alike; "centre" is a Gaussian of a quarter of the picture's size.
    """
    rows, columns = shape
    if pattern == "average":
        weights = np.ones(shape)
    else:
        y = (np.arange(rows) + 0.5) / rows - 0.5
        x = (np.arange(columns) + 0.5) / columns - 0.5
        weights = np.exp(-(x[None, :] ** 2 + y[:, None] ** 2) / (2 * 0.25**2))
    return np.asarray(weights / weights.sum())


def level_at(product_s: float, signal: Image, weights: FloatArray, full_well_e: float) -> float:
    """Weighted mean level, each pixel cut at white, for shutter x gain [s].

    `signal` holds electrons per second (rows, columns); white is the full well divided by the gain,
    so that shutter and gain act as one product on the level.
    """
    return float(np.sum(weights * np.minimum(signal * (product_s / full_well_e), 1.0)))


def settle(settings: Exposure, signal: Image, full_well_e: float) -> ExposureState:
    """Shutter and gain at which the loop comes to rest.

    Finds the product shutter x gain whose level is the wanted one (the level grows with it, so
    bisection on its logarithm converges), then spends it on the shutter first and the rest on gain,
    within the limits. A picture that can never reach the level, because too much of it is dark,
    ends at the largest gain.
    """
    weights = metering_weights((signal.shape[0], signal.shape[1]), settings.metering)

    def level(product_s: float) -> float:
        return level_at(product_s, signal, weights, full_well_e)

    low, high = np.log(MIN_PRODUCT), np.log(MAX_PRODUCT)
    for _ in range(60):
        middle = (low + high) / 2.0
        if level(float(np.exp(middle))) < settings.target_level:
            low = middle
        else:
            high = middle
    product = float(np.exp(high))
    gain_max = db_to_ratio(settings.gain_max_db)
    fixed_gain = None if settings.gain_db is None else db_to_ratio(settings.gain_db)
    if settings.shutter_s is not None:
        shutter = settings.shutter_s
    else:
        wanted = product if fixed_gain is None else product / fixed_gain
        shutter = float(np.clip(wanted, settings.shutter_min_s, settings.shutter_max_s))
    gain = (
        fixed_gain if fixed_gain is not None else float(np.clip(product / shutter, 1.0, gain_max))
    )
    reached = shutter * gain
    if settings.shutter_s is not None and fixed_gain is not None:
        limited = "fixed settings"
    elif reached > product * 1.01:
        limited = "shortest shutter" if settings.shutter_s is None else "fixed settings"
    elif reached < product * 0.99:
        limited = "largest gain" if fixed_gain is None else "fixed settings"
    else:
        limited = "nothing"
    return ExposureState(
        shutter, ratio_to_db(gain), settings.metering, limited, level(reached), product
    )
