"""Numbers as people write them."""

from __future__ import annotations

import math


def three_digits(value: float) -> str:
    """Three significant digits without exponents above a thousandth: 33 000, 24.8, 0.0107.

    Thousands are parted by a thin gap's width, here a plain space.
    """
    if value == 0.0 or not math.isfinite(value):
        return f"{value:g}"
    if abs(value) < 1e-3:
        return f"{value:.3g}"
    places = 2 - math.floor(math.log10(abs(value)))
    rounded = round(value, places)
    if places <= 0:
        return f"{rounded:,.0f}".replace(",", " ")
    return f"{rounded:.{places}f}".rstrip("0").rstrip(".")
