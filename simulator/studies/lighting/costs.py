"""What a lamp draws and costs over its hours, and how place and prices are given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from simulator.errors import InputError
from simulator.light.darkness import Darkness
from simulator.validation import nearest


def energy_kwh(power_w: float, hours: float) -> float:
    """Electric energy P t [kWh]."""
    return power_w * hours / 1000.0


@dataclass(frozen=True)
class Cost:
    """What one way costs; None where a price is missing."""

    price: float | None
    energy_kwh_per_year: float
    energy_per_year: float | None
    whole_life: float | None


def cost_of(
    name: str,
    power_w: float,
    hours_per_year: float,
    *,
    years: float,
    prices: Mapping[str, float],
    price_per_kwh: float | None,
) -> Cost:
    """Price plus energy over some years, with the user's own prices and no interest.

    A way that draws no power of its own needs no price of energy.
    """
    kwh = energy_kwh(power_w, hours_per_year)
    price = prices.get(name)
    per_year = 0.0 if power_w == 0.0 else None
    if power_w > 0.0 and price_per_kwh is not None:
        per_year = kwh * price_per_kwh
    whole = None if price is None or per_year is None else price + years * per_year
    return Cost(price, kwh, per_year, whole)


def parse_price(text: str) -> tuple[str, float]:
    """Name and amount of `NAME=AMOUNT`.

    Raises
    ------
    InputError
        For anything else.
    """
    name, _, amount = text.partition("=")
    try:
        value = float(amount)
    except ValueError:
        value = np.nan
    if not name.strip() or not 0.0 <= value < np.inf:
        raise InputError(
            "This is not a price.",
            argument="price",
            given=text,
            allowed="NAME=AMOUNT, the amount from 0 upwards in your currency",
            fix="write it as infrared-850-medium=140",
        )
    return name.strip(), value


@dataclass(frozen=True)
class Money:
    """What the user says of hours and prices; nothing is made up for what is missing."""

    dark: Darkness | None = None
    years: float = 10.0
    prices: Mapping[str, float] = field(default_factory=dict)
    price_per_kwh: float | None = None
    passes_per_year: float | None = None
    """How often the task comes up in the dark hours of a year."""

    def check(self, names: Sequence[str]) -> None:
        """Refuse prices of what the study does not hold.

        Raises
        ------
        InputError
            For such a name.
        """
        known = [*names, MISSED]
        for name in self.prices:
            if name not in known:
                hints = nearest(name, known, count=3)
                raise InputError(
                    "There is nothing of this name to have a price.",
                    argument="price",
                    given=name,
                    allowed="one of " + ", ".join(known),
                    fix=f"did you mean {' or '.join(hints)}?" if hints else "check the name",
                )


MISSED = "missed"
"""Name of the price of one task that failed."""
LEAST_GAIN = 0.005
"""A gain of probability below this cannot be separated from noise."""
