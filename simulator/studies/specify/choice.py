"""Which of the solved families become ways: cheapest, least visible, most reserve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from simulator.studies.specify.families import Solved
from simulator.studies.specify.result import ROLES, Ask, Role, parts_of

COST_OF = {"camera": 4.0, "lens": 1.5, "mount": 2.0}
LAMP_COST, LAMP_COST_PER_W = 1.0, 0.03
"""What a part weighs where the user gave no prices: a lamp by its power (assumed; no currency)."""
SEEN = {"settings": 0, "nearer": 1, "infrared-940": 1, "infrared-850": 2, "white": 4}
"""How much people see of a way: nothing, nothing that glows, a faint red glow, a bright lamp."""


@dataclass(frozen=True)
class Chosen:
    """A solved design and what it is best at."""

    roles: tuple[Role, ...]
    solved: Solved


def chosen_ways(solved: Sequence[Solved], ask: Ask) -> list[Chosen]:
    """Up to three ways that differ, the cheapest first; those above the budget are left out."""
    within = [one for one in solved if within_budget(one, ask)]
    if any(one.design.moves and one.family.startswith("infrared") for one in within):
        # a white lamp beside the camera shines into the eyes of those who come towards it
        within = [one for one in within if one.family != "white"]
    if not within:
        return []
    cheapest = min(within, key=lambda one: cost(one, ask))
    picks: dict[Role, Solved] = {"cheapest": cheapest}
    hidden = min(within, key=lambda one: (seen(one), cost(one, ask)))
    if hidden is not cheapest:
        picks["least visible"] = hidden
    roomy = [one for one in map(with_room, within) if within_budget(one, ask)]
    best = max(roomy, key=lambda one: (_room(one), -cost(one, ask)))
    other = max((cheapest, hidden), key=lambda one: one.light_reserve)
    picks["most reserve"] = best if _room(best) >= MORE_ROOM * _room(other) else other
    grouped: dict[int, list[Role]] = {}
    for role in ROLES:
        if role in picks:
            same = next((i for i in grouped if picks_equal(picks, grouped[i][0], role)), None)
            grouped.setdefault(len(grouped) if same is None else same, []).append(role)
    out = [Chosen(tuple(roles), picks[roles[0]]) for roles in grouped.values()]
    if hidden is cheapest:
        roles = {*out[0].roles, "least visible"}
        out[0] = Chosen(tuple(role for role in ROLES if role in roles), out[0].solved)
    return out


MOST_ROOM = 30.0
"""Reserve in light beyond which more is worth nothing (chosen by us)."""


MORE_ROOM = 1.5
"""Reserve in light over that of the other ways from which on a way of its own is worth showing:
less is within the steps of the search (chosen by us)."""


def _room(solved: Solved) -> float:
    return min(solved.light_reserve, MOST_ROOM)


def picks_equal(picks: dict[Role, Solved], one: Role, other: Role) -> bool:
    """Whether two roles fall to the same design."""
    return picks[one].design == picks[other].design


def with_room(solved: Solved) -> Solved:
    """The same with the lamp that leaves more room, if there is one."""
    if solved.roomiest is None or solved.window is None:
        return solved
    return replace(
        solved, design=solved.design.with_lamp(solved.roomiest), roomiest=None,
        light_reserve=solved.roomiest.least_guaranteed / solved.window.least,
    )  # fmt: skip


def cost(solved: Solved, ask: Ask) -> float:
    """Sum of the user's prices; what has none weighs as `COST_OF` has it, in tenths of the dearest
    price given, so that known and unknown prices stand side by side."""
    prices = ask.prices or {}
    scale = max(prices.values(), default=4.0) / 4.0
    total = 0.0
    for part in parts_of(solved.design, prices):
        if part.price is not None:
            total += part.price
        elif part.kind == "lamp" and solved.design.lamp is not None:
            total += scale * (LAMP_COST + LAMP_COST_PER_W * solved.design.lamp.lamp.power_w)
        else:
            total += scale * COST_OF[part.kind]
    return total


def within_budget(solved: Solved, ask: Ask) -> bool:
    """Whether what has a price stays within the budget."""
    if ask.budget is None:
        return True
    priced = [part.price for part in parts_of(solved.design, ask.prices or {})]
    return sum(price or 0.0 for price in priced) <= ask.budget


def seen(solved: Solved) -> int:
    """How much people see of it."""
    lamp = solved.design.lamp
    return SEEN["settings" if lamp is None else lamp.lamp.kind_name]
