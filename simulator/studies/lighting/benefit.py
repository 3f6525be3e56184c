"""What lamps cost and what they avoid, as messages."""

from __future__ import annotations

from typing import Any

from simulator.messages import Message
from simulator.studies.lighting.costs import LEAST_GAIN, MISSED, Cost, cost_of, energy_kwh
from simulator.studies.lighting.findings import needed, reliable
from simulator.studies.lighting.study import Lighting, Way


def cost(lighting: Lighting, way: Way) -> Cost:
    """What a way costs, by the user's prices or the price in its profile."""
    money = lighting.money
    prices = dict(money.prices)
    name = way.bought or way.name
    if way.price is not None:
        prices.setdefault(name, way.price)
    hours = money.dark.yearly_h if money.dark is not None else 0.0
    return cost_of(
        name, way.power_w, hours, years=money.years, prices=prices,
        price_per_kwh=money.price_per_kwh,
    )  # fmt: skip


def not_given(lighting: Lighting) -> dict[str, Any]:
    """What the user has not given and costs need: place, price of energy, and prices of `names`."""
    costs = {w.bought or w.name: cost(lighting, w) for w in (lighting.sized, *lighting.ways)}
    return {
        "place": lighting.money.dark is not None,
        "energy": all(c.energy_per_year is not None for c in costs.values()),
        "names": tuple(name for name, c in costs.items() if c.price is None),
    }


def incomplete(lighting: Lighting) -> bool:
    """Whether anything that costs need was not given."""
    missing = not_given(lighting)
    return not (missing["place"] and missing["energy"]) or bool(missing["names"])


def cheapest(lighting: Lighting) -> list[Message]:
    """The way that costs least of those that work, or what costs need."""
    if not needed(lighting):
        return []  # what is not needed need not be priced
    works = [lighting.sized, *(w for w in lighting.ways if reliable(w))]
    totals = {w.name: cost(lighting, w).whole_life for w in works}
    known = {name: total for name, total in totals.items() if total is not None}
    if lighting.money.dark is not None and len(known) == len(totals):
        name = min(known, key=lambda n: known[n])
        return [Message.of(
            "lighting-change.cheapest", years=lighting.money.years, name=name, total=known[name]
        )]  # fmt: skip
    return (
        [Message("lighting-change.not-counted", not_given(lighting))]
        if incomplete(lighting)
        else []
    )


def energy(lighting: Lighting) -> list[Message]:
    """Energy of the sized lamp over the dark hours of a year."""
    dark = lighting.money.dark
    if dark is None:
        return []
    return [Message.of(
        "lighting-benefit.energy", hours=dark.yearly_h, below_deg=dark.below_deg,
        power_w=lighting.power_w, energy_kwh=energy_kwh(lighting.power_w, dark.yearly_h)
    )]  # fmt: skip


def benefit(lighting: Lighting) -> list[Message]:
    """What the lamp avoids, in tasks and, only with the user's own prices, in money."""
    gain = lighting.search.fresh.probability - lighting.before.judged.probability
    if gain < LEAST_GAIN:
        return [Message("lighting-benefit.none")]
    out = [Message.of("lighting-benefit.more-succeed", gain=gain)]
    money, passes = lighting.money, lighting.money.passes_per_year
    if passes is None:
        return out
    out.append(Message.of("lighting-benefit.yearly", count=gain * passes, passes=passes))
    price = money.prices.get(MISSED)
    if price is None:
        return out
    worth = gain * passes * price
    out.append(Message.of("lighting-benefit.worth", worth=worth))
    own = cost(lighting, lighting.sized)
    if own.price is None or own.energy_per_year is None or money.dark is None:
        return out
    yearly = worth - own.energy_per_year
    if yearly <= 0.0:
        return [*out, Message("lighting-benefit.no-payback")]
    return [*out, Message.of("lighting-benefit.payback", price=own.price, years=own.price / yearly)]
