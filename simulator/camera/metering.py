"""What the exposure control looks at: patterns of weights over a small picture, and its level."""

from __future__ import annotations

import numpy as np

from simulator.camera.model import Exposure
from simulator.domain import require
from simulator.units import FloatArray, Image

CENTRE_SIGMA = 0.25
"""Spread of centre metering as a share of the picture each way (assumed)."""
BACKLIGHT_SHARE = 0.8
"""Weight of the window under backlight compensation; the rest shares what is left (assumed)."""
MIDDLE = (0.375, 0.375, 0.625, 0.625)
"""Window of spot metering where none is given: left, top, right, bottom (assumed)."""
MIDDLE_BELOW = (0.3, 0.4, 0.7, 1.0)
"""The same of backlight compensation: the middle of the lower part, where people stand before a
door or window (assumed)."""
HIGHLIGHT_SHARE_MAX = 0.2
"""Most of the picture's weight that highlight suppression leaves out (assumed): lamps and
their halo are small; a picture that is white over more than this is simply too bright."""


def metering_weights(
    shape: tuple[int, int],
    pattern: str,
    window: tuple[float, float, float, float] | None = None,
) -> FloatArray:
    """Weights of a metering pattern over the picture.

    "average" and "highlight" weigh all alike; "centre" is a Gaussian of a quarter of the picture's
    size; "spot" sees the window alone; "backlight" gives the window `BACKLIGHT_SHARE` of the weight
    and what lies around it the rest. A pixel counts as part of the window by the share of its area
    inside, so that a window smaller than a pixel still has weight.

    Parameters
    ----------
    shape
        Rows and columns of the metered picture, 1 or more.
    pattern
        "average", "centre", "spot", "backlight" or "highlight".
    window
        Left, top, right, bottom as shares of the picture, 0 to 1; without it `MIDDLE`, under
        backlight compensation `MIDDLE_BELOW`.

    Returns
    -------
    numpy.ndarray
        Weights (rows, columns), sum one.

    Raises
    ------
    InputError
        For a picture without pixels or a window that leaves the picture.

    References
    ----------
    No standard fixes these patterns; the shares are assumed by us.

    Examples
    --------
    >>> metering_weights((2, 2), "backlight", (0.0, 0.0, 0.5, 0.5)).round(3).tolist()
    [[0.8, 0.067], [0.067, 0.067]]
    """
    require("shape", shape, least=1.0)
    window = window or (MIDDLE_BELOW if pattern == "backlight" else MIDDLE)
    require("window", window, least=0.0, most=1.0)
    rows, columns = shape
    if pattern in {"average", "highlight"}:
        weights = np.ones(shape)
    elif pattern == "centre":
        y = (np.arange(rows) + 0.5) / rows - 0.5
        x = (np.arange(columns) + 0.5) / columns - 0.5
        weights = np.exp(-(x[None, :] ** 2 + y[:, None] ** 2) / (2 * CENTRE_SIGMA**2))
    else:
        x0, y0, x1, y1 = window
        inside = np.outer(_covered(rows, y0, y1), _covered(columns, x0, x1))
        weights = inside / inside.sum()
        outside = 1.0 - inside
        if pattern == "backlight" and outside.sum() > 0.0:
            around = outside / outside.sum()
            weights = BACKLIGHT_SHARE * weights + (1.0 - BACKLIGHT_SHARE) * around
    return np.asarray(weights / weights.sum())


def _covered(count: int, start: float, end: float) -> FloatArray:
    """Share (count,) of each of `count` equal parts of the unit line that lies in an interval."""
    edges = np.linspace(0.0, 1.0, count + 1)
    overlap = np.minimum(edges[1:], end) - np.maximum(edges[:-1], start)
    return np.asarray(np.clip(overlap * count, 0.0, 1.0))


def level_at(product_s: float, signal: Image, weights: FloatArray, full_well_e: float) -> float:
    """Weighted mean level, each pixel cut at white, for shutter x gain [s].

    `signal` holds electrons per second (rows, columns); white is the full well divided by the gain,
    so that shutter and gain act as one product on the level.
    """
    return float(np.sum(weights * np.minimum(signal * (product_s / full_well_e), 1.0)))


def left_out(product_s: float, signal: Image, weights: FloatArray, full_well_e: float) -> float:
    """Share of the weight that is white at shutter x gain [s], at most `HIGHLIGHT_SHARE_MAX`."""
    white = float(np.sum(weights[signal * (product_s / full_well_e) >= 1.0]))
    return min(white, HIGHLIGHT_SHARE_MAX)


def metered_level(
    pattern: str, product_s: float, signal: Image, weights: FloatArray, full_well_e: float
) -> float:
    """Level that the control sees of a frame.

    Highlight suppression leaves out what is white in the frame, so that headlights do not darken
    the plate between them: with a share m of the weight left out, level = (mean - m) / (1 - m).
    Backlight compensation takes the darker of window and whole picture, so that it never exposes
    less than average metering would, even with a bright window in its place. Highlight suppression
    is one of the two meanings the trade gives the word: bright lights are masked from metering
    and the rest keeps its level. (The other, darkening the picture until the lights themselves
    show detail, is spot metering on the lamp.)

    Parameters
    ----------
    pattern
        Metering pattern; only "highlight" differs from the rest here.
    product_s
        Shutter x gain of the frame, 0 or more [s].
    signal
        Light of the metered picture (rows, columns) [e-/s per pixel].
    weights
        Weights of the pattern (rows, columns), see `metering_weights`.
    full_well_e
        Charge that makes white at a gain of 0 dB, above 0 [e-].

    Returns
    -------
    float
        Linear level, as a share of white.

    Raises
    ------
    InputError
        For a product below 0 or a full well of 0 or less.

    References
    ----------
    Weighted mean of the linear picture, cut at white (common practice, no source).

    Examples
    --------
    >>> signal = np.array([[90_000.0, 5e6]])  # a lamp beside a grey wall
    >>> weights = metering_weights((1, 2), "average")
    >>> round(metered_level("average", 0.02, signal, weights, 10_000.0), 2)
    0.59
    >>> round(metered_level("highlight", 0.02, signal, weights, 10_000.0), 2)
    0.49
    """
    require("product_s", product_s, least=0.0, unit="s")
    require("full_well_e", full_well_e, above=0.0, unit="e-")
    level = level_at(product_s, signal, weights, full_well_e)
    if pattern == "backlight":
        return min(level, level_at(product_s, signal, _even(signal), full_well_e))
    if pattern != "highlight":
        return level
    out = left_out(product_s, signal, weights, full_well_e)
    return (level - out) / (1.0 - out)


def _even(signal: Image) -> FloatArray:
    """Weights of the whole picture."""
    return np.full(signal.shape[:2], 1.0 / (signal.shape[0] * signal.shape[1]))


LEAST_PRODUCT_S, MOST_PRODUCT_S = 1e-9, 1e9


def wanted_product(settings: Exposure, signal: Image, full_well_e: float) -> float:
    """Shutter x gain at which the metered level is the wanted one.

    The mean level grows with the product, so bisection on its logarithm converges. Under highlight
    suppression it is the least such product: each turn leaves out what was white in the turn before
    and asks for target (1 - m) + m of the whole; the share m only grows, and is limited, so that
    the turns end. A picture that is too dark in too many places ends at `MOST_PRODUCT_S`.

    Parameters
    ----------
    settings
        Target level, metering pattern and window.
    signal
        Light of the metered picture (rows, columns) [e-/s per pixel].
    full_well_e
        Charge that makes white at a gain of 0 dB, above 0 [e-].

    Returns
    -------
    float
        Shutter times amplitude gain [s].

    Raises
    ------
    InputError
        For a full well of 0 or less.

    References
    ----------
    Closed-loop exposure at rest (common practice, no source).

    Examples
    --------
    18 % of 10 000 electrons at 45 000 a second take 40 ms:

    >>> settings = Exposure(
    ...     shutter_min_s=1e-4, shutter_max_s=0.02, gain_max_db=30.0, target_level=0.18
    ... )
    >>> round(wanted_product(settings, np.full((9, 16), 45_000.0), 10_000.0), 6)
    0.04
    """
    require("full_well_e", full_well_e, above=0.0, unit="e-")
    weights = metering_weights(
        (signal.shape[0], signal.shape[1]), settings.metering, settings.window
    )
    out = 0.0
    while True:
        target = settings.target_level * (1.0 - out) + out
        product = _product_for(target, signal, weights, full_well_e)
        if settings.metering == "backlight":
            whole = _product_for(target, signal, _even(signal), full_well_e)
            return max(product, whole)
        if settings.metering != "highlight":
            return product
        more = left_out(product, signal, weights, full_well_e)
        if more <= out + 1e-12:
            return product
        out = more


def _product_for(target: float, signal: Image, weights: FloatArray, full_well_e: float) -> float:
    low, high = np.log(LEAST_PRODUCT_S), np.log(MOST_PRODUCT_S)
    for _ in range(60):
        middle = (low + high) / 2.0
        if level_at(float(np.exp(middle)), signal, weights, full_well_e) < target:
            low = middle
        else:
            high = middle
    return float(np.exp(high))
