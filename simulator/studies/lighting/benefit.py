"""What lamps cost and what they avoid, as messages."""

from __future__ import annotations

from typing import Any

from simulator.messages import Message
from simulator.studies.lighting.costs import LEAST_GAIN, MISSED, Cost, cost_of, energy_kwh
from simulator.studies.lighting.findings import needed, reliable
from simulator.studies.lighting.study import Lighting, Way


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


def not_given(found: Lighting) -> dict[str, Any]:
    """What the user has not given and costs need: place, price of energy, and prices of `names`."""
    costs = {w.bought or w.name: cost(found, w) for w in (found.sized, *found.ways)}
    return {
        "place": found.money.dark is not None,
        "energy": all(c.energy_per_year is not None for c in costs.values()),
        "names": tuple(name for name, c in costs.items() if c.price is None),
    }


def incomplete(found: Lighting) -> bool:
    """Whether anything that costs need was not given."""
    missing = not_given(found)
    return not (missing["place"] and missing["energy"]) or bool(missing["names"])


def cheapest(found: Lighting) -> list[Message]:
    """The way that costs least of those that work, or what costs need."""
    if not needed(found):
        return []  # what is not needed need not be priced
    works = [found.sized, *(w for w in found.ways if reliable(w))]
    totals = {w.name: cost(found, w).whole_life for w in works}
    known = {name: total for name, total in totals.items() if total is not None}
    if found.money.dark is not None and len(known) == len(totals):
        name = min(known, key=lambda n: known[n])
        return [Message.of(
            "lighting-change.cheapest", years=found.money.years, name=name, total=known[name]
        )]  # fmt: skip
    return [Message("lighting-change.not-counted", not_given(found))] if incomplete(found) else []


def energy(found: Lighting) -> list[Message]:
    """Energy of the sized lamp over the dark hours of a year."""
    dark = found.money.dark
    if dark is None:
        return []
    return [Message.of(
        "lighting-benefit.energy", hours=dark.yearly_h, below_deg=dark.below_deg,
        power_w=found.power_w, energy_kwh=energy_kwh(found.power_w, dark.yearly_h)
    )]  # fmt: skip


def benefit(found: Lighting) -> list[Message]:
    """What the lamp avoids, in tasks and, only with the user's own prices, in money."""
    gain = found.search.fresh.probability - found.before.judged.probability
    if gain < LEAST_GAIN:
        return [Message("lighting-benefit.none")]
    out = [Message.of("lighting-benefit.more-succeed", gain=gain)]
    money, passes = found.money, found.money.passes_per_year
    if passes is None:
        return out
    out.append(Message.of("lighting-benefit.yearly", count=gain * passes, passes=passes))
    price = money.prices.get(MISSED)
    if price is None:
        return out
    worth = gain * passes * price
    out.append(Message.of("lighting-benefit.worth", worth=worth))
    own = cost(found, found.sized)
    if own.price is None or own.energy_per_year is None or money.dark is None:
        return out
    yearly = worth - own.energy_per_year
    if yearly <= 0.0:
        return [*out, Message("lighting-benefit.no-payback")]
    return [*out, Message.of("lighting-benefit.payback", price=own.price, years=own.price / yearly)]
