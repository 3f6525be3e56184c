"""What limits the task: every impairment removed in turn, left in alone, and its share of the loss.

For each impairment i two questions are asked of the true model, by Monte Carlo:

    without_i   how surely is the task done if i alone is removed?
    only_i      how surely is it done if i alone is left and all others are removed?

A single cause shows in the first, several causes that each suffice to spoil the picture only in the
second. The share of the loss laid to i is its Shapley value (Shapley 1953): with v(S) the
probability with the impairments S removed, the mean over orders in which all are removed one after
another of what removing i adds to those before it,

    share_i = mean over orders [v(before i and i) - v(before i)]

so that the shares add up to v(all) - v(none), the whole loss. Orders are drawn in pairs, each with
its reverse (antithetic; Mitchell et al. 2022, from memory), and every impairment comes first
in one and last in another, so that without_i and only_i are always among what is averaged. Within
one order the probability is looked for by halving: where a longer part of the order has the same
probability at both ends, it is taken to have it in between. Impairments that change nothing, first
or last, are moved together as one, unless much falls to them. Coalitions other than the reported
ones are judged by a quick look (`sight`). Rows are sorted by share; of shares that are the same to
a hundredth, the impairment comes first that takes the least to be changed (`Impairment.ease`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from simulator.camera.auto_exposure import State
from simulator.camera.in_scene import CameraInScene
from simulator.judge.impairments import IMPAIRMENTS, of_task, without
from simulator.judge.removal import Situation, view_of
from simulator.judge.result import Limit
from simulator.judge.sight import Sight
from simulator.judge.target import JudgedTarget

TRIALS = (16, 48)
"""Where the first agree all or none, the rest is not run: only the ranking hangs on it."""
CERTAIN = 0.01
"""Where a quick look leaves no more doubt than this, the reader itself is not asked."""
SAME = 0.03
"""Probabilities this close are taken as the same along one order."""
IDLE_SHARE = 0.1
"""If more than this falls to impairments that change nothing alone, they are moved one by one."""
LOOKS = 30
"""After so many coalitions no new order is begun."""
MOST_ORDERS = 48

SPOILED_BELOW = 0.5
"""An impairment spoils the picture alone if it leaves less than this."""
LEAST_SHARE = 0.02
"""Limits that explain less of the loss are not worth a word."""


class Coalitions:
    """Probabilities with sets of impairments removed, each asked once."""

    def __init__(self, sight: Sight, start: Situation, probability: float) -> None:
        self._sight, self._start = sight, start
        self.known: dict[frozenset[str], float] = {frozenset(): probability}
        self.ideal: float | None = None
        """Probability with every impairment removed, once limits were sought."""

    def probability(self, removed: frozenset[str]) -> float | None:
        """By Monte Carlo where a quick look is not certain; None if none of them is there."""
        if removed not in self.known:
            value = self._repeated(removed, screened=self._sight.estimates_itself)
            if value is None:
                return None
            self.known[removed] = value
        return self.known[removed]

    def by_trials(self, removed: frozenset[str]) -> float:
        """By Monte Carlo, whatever is known; as things are if none of them is there."""
        value = self._repeated(removed)
        return self.known[frozenset()] if value is None else value

    def _repeated(self, removed: frozenset[str], screened: bool = False) -> float | None:
        """By Monte Carlo, asked anew; None if none of them is there.

        If it is screened, what a quick look is certain of is left at that.
        """
        freed = without(self._sight, self._start, removed)
        if freed is None:
            return None
        view = view_of(self._sight, freed)
        if screened:
            value = self._sight.quick(freed.in_scene, freed.state, freed.target, view)
            if not CERTAIN < value < 1.0 - CERTAIN:
                return value
        return self._sight.by_trials(freed.in_scene, freed.state, freed.target, view, TRIALS)

    def quick(self, removed: frozenset[str]) -> float:
        """By a quick look, if it is not known better."""
        if removed not in self.known:
            freed = without(self._sight, self._start, removed)
            self.known[removed] = (
                self.known[frozenset()]
                if freed is None
                else self._sight.quick(
                    freed.in_scene, freed.state, freed.target, view_of(self._sight, freed)
                )
            )
        return self.known[removed]


def find_limits(
    in_scene: CameraInScene,
    state: State,
    target: JudgedTarget,
    probability: float,
    *,
    sight: Sight,
    asked: Coalitions | None = None,
) -> list[Limit]:
    """Impairments, the one with the largest share of the loss first.

    An impairment that is not there (nothing moves, pixels are ample) keeps the probability as it
    is when removed.

    Parameters
    ----------
    in_scene, state
        The camera as it exposed; with a codec the state holds its quantiser.
    target
        As `sight.find` gives it.
    probability
        Of the task, as things are.
    sight
        Its view without tags, where it has one, is used again.
    asked
        Where probabilities of the same situation are kept; made here if not given.
    """
    asked = asked or Coalitions(sight, Situation(in_scene, state, target), probability)
    factors = [record.name for record in of_task(sight.task)]
    removed = {factor: asked.probability(frozenset([factor])) for factor in factors}
    there = [factor for factor in factors if removed[factor] is not None]
    everything = frozenset(there)
    ideal = asked.probability(everything) if there else probability
    assert ideal is not None
    asked.ideal = ideal
    only: dict[str, float] = {}
    for factor in there:
        value = asked.probability(everything - {factor})
        only[factor] = probability if value is None else value
    idle = tuple(
        factor
        for factor in there
        if max(abs(asked.known[frozenset([factor])] - probability), abs(ideal - only[factor]))
        < SAME
    )
    rng = np.random.default_rng(sight.seed)
    players = [(factor,) for factor in there if factor not in idle] + ([idle] if idle else [])
    shapley = shapley_shares(players, asked.quick, rng)
    if len(idle) > 1 and abs(shapley[idle]) > IDLE_SHARE:
        shapley = shapley_shares([(factor,) for factor in there], asked.quick, rng)
    shares = {f: value / len(group) for group, value in shapley.items() for f in group}
    rows = []
    for factor in factors:
        alone = removed[factor]
        rows.append(
            Limit(
                factor=factor,
                probability_without=probability if alone is None else alone,
                probability_only=only.get(factor, ideal),
                share=shares.get(factor, 0.0),
            )
        )
    return sorted(rows, key=lambda row: (-round(row.share, 2), IMPAIRMENTS[row.factor].ease))


def limit_rows(limits: Sequence[Limit], probability: float) -> list[Limit]:
    """Limits with what it means that an impairment is removed.

    Parameters
    ----------
    probability
        Of the task, as things are.
    """
    rows = []
    for limit in limits:
        record = IMPAIRMENTS[limit.factor]
        meaning = record.meaning
        if (
            record.meaning_if_worse is not None
            and limit.probability_without < probability - LEAST_SHARE
        ):
            meaning = f"{meaning}; {record.meaning_if_worse}"
        rows.append(limit.model_copy(update={"meaning": meaning}))
    return rows


Group = tuple[str, ...]


def shapley_shares(
    players: Sequence[Group], value: Callable[[frozenset[str]], float], rng: np.random.Generator
) -> dict[Group, float]:
    """Share of each group, adding up to what removing all of them gains.

    Orders are rotations of a shuffled order and of its reverse, so that each group comes first and
    last equally often; no new order is begun after `LOOKS` coalitions.

    Parameters
    ----------
    players
        Groups of impairments, each removed together.
    value
        Probability with a set of impairments removed.
    rng
        Draws the orders.

    Returns
    -------
    dict
        Share by group.

    References
    ----------
    Shapley 1953; antithetic orders after Mitchell et al. 2022 (from memory).

    Examples
    --------
    >>> import numpy as np
    >>> both = lambda removed: 1.0 if {"blur", "noise"} <= removed else 0.0
    >>> players = [("blur",), ("noise",)]
    >>> list(shapley_shares(players, both, np.random.default_rng(0)).values())
    [0.5, 0.5]
    """
    total = dict.fromkeys(players, 0.0)
    n, orders = len(players), 0
    known: dict[frozenset[str], float] = {}

    def asked(groups: Sequence[Group]) -> float:
        key = frozenset(name for group in groups for name in group)
        if key not in known:
            known[key] = value(key)
        return known[key]

    while n and orders < MOST_ORDERS and (orders == 0 or len(known) < min(LOOKS, 2**n)):
        shuffled = [players[i] for i in rng.permutation(n)]
        for turn in range(n):
            order = shuffled[turn:] + shuffled[:turn]
            for one in (order, order[::-1]):
                for player, gain in zip(one, _gains(one, asked), strict=True):
                    total[player] += gain
            orders += 2
    return {player: gain / max(orders, 1) for player, gain in total.items()}


def _gains(order: Sequence[Group], asked: Callable[[Sequence[Group]], float]) -> list[float]:
    """What each adds when all are removed in an order; between equal ends nothing is asked."""
    values = {0: asked([]), len(order): asked(order)}
    # halves yet to be looked at: a function that calls itself would hold all that is asked of
    # in a ring
    halves = [(0, len(order))]
    while halves:
        low, high = halves.pop()
        if high - low < 2:
            continue
        if abs(values[high] - values[low]) < SAME:
            for k in range(low + 1, high):
                values[k] = values[low] + (values[high] - values[low]) * (k - low) / (high - low)
            continue
        middle = (low + high) // 2
        values[middle] = asked(order[:middle])
        halves += [(middle, high), (low, middle)]
    return [values[k + 1] - values[k] for k in range(len(order))]
