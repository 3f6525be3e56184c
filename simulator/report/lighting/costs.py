"""What lamps cost and what they avoid, in words."""

from __future__ import annotations

from simulator.report.wording import three_digits
from simulator.studies.lighting.costs import MISSED, Cost, cost_of
from simulator.studies.lighting.study import Lighting, Way

LEAST_GAIN = 0.005
"""A gain of probability below this is none that could be told from noise."""


def cost(found: Lighting, way: Way) -> Cost:
    """What a way costs, by the user's prices or the price in its profile."""
    money = found.money
    prices = dict(money.prices)
    name = way.bought or way.name
    if way.price is not None:
        prices.setdefault(name, way.price)
    hours = money.dark.yearly_h if money.dark is not None else 0.0
    return cost_of(
        name, way.power_w, hours, years=money.years, prices=prices,
        price_per_kwh=money.price_per_kwh,
    )  # fmt: skip


def avoided(found: Lighting) -> str:
    """What the lamp avoids, in tasks and, only with the user's own prices, in money."""
    gain = found.search.fresh.probability - found.before.judged.probability
    if gain < LEAST_GAIN:
        return "The lamp avoids no failed task here."
    count = round(100 * gain)
    text = (
        f"What the lamp avoids: {count} failed task{'' if count == 1 else 's'} of 100 at an hour"
        " like this one"
    )
    money, per_year = found.money, found.money.passes_per_year
    if per_year is None:
        return f"{text}. How many a year: give --passes-per-year N."
    yearly_count = gain * per_year
    text += f", some {three_digits(yearly_count)} of {three_digits(per_year)} a year"
    price = money.prices.get(MISSED)
    if price is None:
        return f"{text}. What one of them costs you only you know: --price {MISSED}=AMOUNT."
    own = cost(found, found.sized)
    if own.price is None or own.energy_per_year is None or money.dark is None:
        need = ([] if money.dark is not None else ["--place LAT,LON"]) + list(own.missing)
        worth = three_digits(yearly_count * price)
        return f"{text}, worth {worth}. A payback needs: {', '.join(need)}."
    yearly = yearly_count * price - own.energy_per_year
    if yearly <= 0.0:
        return f"{text}, worth less than the energy: the lamp does not pay for itself."
    return (
        f"{text}, worth {three_digits(yearly_count * price)} by your own figure; less the energy,"
        f" the lamp's price of {three_digits(own.price)} is made up for in"
        f" {time_words(own.price / yearly)}, if all of these passes find light and weather as here."
    )


def time_words(years: float) -> str:
    """A time in the unit that suits it."""
    if years < 2.0 / 12.0:
        days = max(1.0, 365.25 * years)
        return f"{days:.0f} day{'' if days < 1.5 else 's'}"
    return f"{12.0 * years:.0f} months" if years < 2.0 else f"{three_digits(years)} years"


def missing(found: Lighting) -> list[str]:
    """What the user must say before costs can be told."""
    need = [] if found.money.dark is not None else ["--place LAT,LON (hours of darkness)"]
    for way in (found.sized, *found.ways):
        need += [m for m in cost(found, way).missing if m not in need]
    return need


def need_words(need: list[str]) -> str:
    """What must still be said, all prices by name together."""
    start, end = "--price ", "=AMOUNT"
    names = [n.removeprefix(start).removesuffix(end) for n in need if n.startswith(start)]
    rest = [n for n in need if not n.startswith(start)]
    if names:
        rest.append(f"--price NAME=AMOUNT for {', '.join(names)}")
    return "; ".join(rest)
