"""Several levers together, where none serves alone.

Pairs and triples of levers stand in the order of effort. What could not serve even at best, by the
probability with all that they remove gone (`ideal`), comes later; what holds a part that came near
comes sooner. Each is climbed one lever at a time by quick looks, also where the probability is
still next to nothing, until it serves or no step of any lever gains; then every lever is taken back
as far as it goes, the dearest first, and the result is proved by Monte Carlo on a fresh seed. If
nothing serves, the best that was found is told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

from simulator.judge.impairments import from_lamps
from simulator.studies.remedies.evaluator import Evaluator
from simulator.studies.remedies.lever import Effort, Lever, Step

Choice = tuple[Lever, Step]


class Remembered(NamedTuple):
    """The best of a lever alone: the texts that set it and the probability."""

    sets: tuple[str, ...]
    probability: float


Ideal = Callable[[frozenset[str]], float]

MOST_TOGETHER = 3
WANTED_ROWS = 2
"""Combinations that serve before the search ends."""
ROUNDS = 2
SLACK = 0.5
"""What another combination may weigh more than one that serves."""
LEAST_GAIN = 0.05
"""What a group must add to its best lever alone to be worth a third one."""
WEIGHTS = (1.0, 2.0, 3.0, 4.0, 9.0)
"""What a lever of each class of effort weighs (assumed)."""
FIRST_WEIGHT = 0.0
"""What one weighs that the trade begins with: a shutter held for what moves (assumed)."""
LACK_WEIGHT, NEAR_WEIGHT, IDLE_WEIGHT = 6.0, 8.0, 7.0
"""What it weighs that a group could not serve at all, that a part of it serves for sure, and that
two of it do nothing for each other (assumed)."""
LOOSE_LAMP = 1.5


def together(
    evaluator: Evaluator,
    levers: Sequence[Lever],
    best: Mapping[str, Remembered],
    ideal: Ideal | None,
    kept: int,
) -> Iterator[tuple[list[Choice], float, bool]]:
    """Combinations, their probability and whether they serve, until enough or out of looks.

    Parameters
    ----------
    levers
        Those that do not serve alone.
    best
        What the best step of each reached.
    ideal
        Probability with impairments removed; None if it is not known.
    kept
        Looks that are left for others.
    """
    served: list[frozenset[str]] = []
    idle: list[frozenset[str]] = []
    miss: tuple[list[Choice], float] | None = None
    reached = {frozenset([name]): row.probability for name, row in best.items()}
    waiting = _weighed(levers, ideal, evaluator.aim)

    def effort(item: tuple[float, tuple[Lever, ...]]) -> float:
        weight, group = item
        names = frozenset(lever.name for lever in group)
        near = max((p for known, p in reached.items() if known < names), default=0.0)
        spoiled = any(pair < names for pair in idle)
        return weight - NEAR_WEIGHT * near + IDLE_WEIGHT * spoiled

    while waiting and evaluator.left > kept and len(served) < WANTED_ROWS:
        item = min((one for one in waiting if _in_turn(one[1], waiting)), key=effort)
        waiting.remove(item)
        chosen = item[1]
        names = frozenset(lever.name for lever in chosen)
        if any(names > other for other in served):
            continue
        at, chance = _climb(evaluator, chosen, [_start(lever, best) for lever in chosen], kept)
        reached[names] = chance
        if chance < evaluator.aim:
            alone = max((best[v.name].probability for v in chosen if v.name in best), default=0.0)
            if chance < alone + LEAST_GAIN:
                idle.append(names)
            elif miss is None or chance > miss[1]:
                miss = _choices(chosen, at), chance
            continue
        chosen, at = _without_idle(evaluator, chosen, at)
        at = _taken_back(evaluator, chosen, at)
        proof = evaluator.proof(_sets(chosen, at))
        if evaluator.serves(proof):
            served.append(frozenset(lever.name for lever in chosen))
            # another way is worth telling if it takes no more
            most = _weight(chosen) + SLACK
            waiting = [(w, group) for w, group in waiting if _weight(group) <= most]
            reached.clear()
            yield _choices(chosen, at), proof, True
        elif miss is None or proof > miss[1]:
            miss = _choices(chosen, at), proof
    if not served and miss is not None:
        yield miss[0], min(miss[1], evaluator.wanted), False


def _in_turn(group: tuple[Lever, ...], waiting: Sequence[tuple[float, tuple[Lever, ...]]]) -> bool:
    """Whether the lightest pair of three was tried: what two do needs no third."""
    if len(group) < MOST_TOGETHER:
        return True
    lightest = min(combinations(group, 2), key=_weight)
    return all(other != lightest for _, other in waiting)


def _choices(levers: Sequence[Lever], at: Sequence[int]) -> list[Choice]:
    return [(lever, lever.steps[i]) for lever, i in zip(levers, at, strict=True)]


def _weighed(
    levers: Sequence[Lever], ideal: Ideal | None, aim: float
) -> list[tuple[float, tuple[Lever, ...]]]:
    """Pairs and triples with their effort; what could not serve at best counts as more."""
    could: dict[frozenset[str], float] = {}
    rows = []
    for n in range(2, MOST_TOGETHER + 1):
        for group in combinations(levers, n):
            if not _fit(group):
                continue
            acts = frozenset[str]().union(*(lever.removes for lever in group))
            if acts not in could:
                # what serves with less fixed works with more
                less = (value for known, value in could.items() if known < acts)
                most = max(less, default=0.0)
                could[acts] = 1.0 if ideal is None else most if most >= aim else ideal(acts)
            lack = max(0.0, 1.0 - could[acts] / aim)
            rows.append((_weight(group) + LACK_WEIGHT * lack, group))
    return rows


def _weight(group: Sequence[Lever]) -> float:
    """Effort of levers together; a lamp that nothing keeps from washing the target out comes after
    one that is kept."""
    weight = sum(FIRST_WEIGHT if v.kind.first else WEIGHTS[v.effort] for v in group)
    lamp = any(lever.effort == Effort.LAMP for lever in group)
    return weight + (LOOSE_LAMP if lamp and not any(v.helps & from_lamps() for v in group) else 0.0)


def _fit(group: Sequence[Lever]) -> bool:
    """Whether levers set different keys, with at most one lamp and one other mount."""
    keys: set[str] = set()
    for lever in group:
        own = {text.split("=")[0] for step in lever.steps for text in step.sets}
        if own & keys:
            return False
        keys |= own
    efforts = [lever.effort for lever in group]
    return efforts.count(Effort.LAMP) <= 1 and efforts.count(Effort.MOUNTING) <= 1


def _start(lever: Lever, best: Mapping[str, Remembered]) -> int:
    """Where a climb begins: a setting at its best, all else in the middle."""
    if lever.effort == Effort.SETTING:
        known = best.get(lever.name)
        for i, step in enumerate(lever.steps):
            if known is not None and step.sets == known.sets:
                return i
    return len(lever.steps) // 2


def _sets(levers: Sequence[Lever], at: Sequence[int]) -> tuple[str, ...]:
    return tuple(t for lever, i in zip(levers, at, strict=True) for t in lever.steps[i].sets)


def _climb(
    evaluator: Evaluator, levers: Sequence[Lever], at: list[int], kept: int
) -> tuple[list[int], float]:
    """Steps of each lever that no other step of a single lever betters, and the probability."""
    chance = evaluator.look(_sets(levers, at))
    for _ in range(ROUNDS):
        before = list(at)
        for k, lever in enumerate(levers):
            for i in range(len(lever.steps)):
                if chance >= evaluator.aim or evaluator.left <= kept:
                    return at, chance
                trial = [*at[:k], i, *at[k + 1 :]]
                reached = evaluator.look(_sets(levers, trial))
                if reached > chance:
                    at, chance = trial, reached
        if at == before:
            break
    return at, chance


def _without_idle(
    evaluator: Evaluator, levers: Sequence[Lever], at: list[int]
) -> tuple[tuple[Lever, ...], list[int]]:
    """The levers without those that are not needed, the dearest asked first; two are left."""
    kept = list(zip(levers, at, strict=True))
    for item in sorted(kept, key=lambda item: -item[0].effort):
        rest = [other for other in kept if other is not item]
        if len(rest) >= 2 and evaluator.look(_sets(*zip(*rest, strict=True))) >= evaluator.aim:
            kept = rest
    return tuple(lever for lever, _ in kept), [i for _, i in kept]


def _taken_back(evaluator: Evaluator, levers: Sequence[Lever], at: list[int]) -> list[int]:
    """The least step of each lever that still serves, the dearest lever first."""
    for k in sorted(range(len(levers)), key=lambda k: -levers[k].effort):
        for i in range(at[k]):
            trial = [*at[:k], i, *at[k + 1 :]]
            if evaluator.look(_sets(levers, trial)) >= evaluator.aim:
                at = trial
                break
    return at
