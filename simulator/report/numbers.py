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


SMALL_WATTS = 0.01
"""Below this, watts are told in thousandths."""


def with_unit(value: float, unit: str) -> str:
    """Three significant digits with their unit; small watts, also per steradian or square metre, in
    milliwatts."""
    if unit.startswith("W") and 0.0 < abs(value) < SMALL_WATTS:
        return f"{three_digits(1000.0 * value)} m{unit}"
    return f"{three_digits(value)} {unit}"


NOTHING_LEFT_DB = -40.0
"""Signal to noise below which a picture holds nothing of the target (chosen by us) [dB]."""


def snr_text(snr_db: float) -> str:
    """A ratio of signal to noise; "none left" where it is too small to mean anything."""
    return f"{snr_db:.1f} dB" if snr_db > NOTHING_LEFT_DB else "none left"
