"""Several levers together, where none serves alone.

Pairs, then triples of levers that could at best serve, by the probability with all that they mend
removed (`ideal`), stand in the order of effort; other pairs come last. Each is climbed one
lever at a time by quick looks, also where the probability is still next to nothing, until it serves
or no step of any lever gains; then every lever is taken back as far as it goes, the dearest first,
and the result is proved by Monte Carlo on a fresh seed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import combinations

from simulator.studies.levers import LIGHTS, MOUNTING, SETTINGS, Lever, Step
from simulator.studies.looks import Looks

Choice = tuple[Lever, Step]
Ideal = Callable[[frozenset[str]], float]

MOST_TOGETHER = 3
WANTED_ROWS = 2
"""Combinations that serve before the search ends."""
ROUNDS = 2
WEIGHTS = (1.0, 2.0, 3.0, 5.0, 9.0)
"""What a lever of each class of effort weighs (assumed)."""
LOOSE_LAMP = 1.5
SPOILS = frozenset({"clipping"})
"""What a lamp beside the camera brings with it."""


def together(
    looks: Looks,
    levers: Sequence[Lever],
    best: Mapping[str, tuple[str, ...]],
    ideal: Ideal | None,
    kept: int,
) -> Iterator[tuple[list[Choice], float]]:
    """Combinations that serve with their proved probability, until enough or out of looks.

    Parameters
    ----------
    levers
        Those that do not serve alone.
    best
        The sets of the best step of each.
    ideal
        Probability with impairments removed; None if it is not known.
    kept
        Looks that are left for others.
    """
    served: list[set[str]] = []
    for chosen in _ordered(levers, ideal, looks.aim):
        if looks.left <= kept or len(served) >= WANTED_ROWS:
            return
        names = {lever.name for lever in chosen}
        if any(names > other for other in served):
            continue
        at = [_start(lever, best) for lever in chosen]
        at, chance = _climb(looks, chosen, at, kept)
        if chance < looks.aim:
            continue
        at = _taken_back(looks, chosen, at)
        choices = [(lever, lever.steps[i]) for lever, i in zip(chosen, at, strict=True)]
        proof = looks.proved(_sets(chosen, at))
        if looks.serves(proof):
            served.append(names)
            yield choices, proof


def _ordered(
    levers: Sequence[Lever], ideal: Ideal | None, aim: float
) -> Iterator[tuple[Lever, ...]]:
    """Pairs, then triples that could serve, by weight; last the other pairs, the best first."""
    others: list[tuple[float, tuple[Lever, ...]]] = []
    for n in range(2, MOST_TOGETHER + 1):
        able: list[tuple[float, tuple[Lever, ...]]] = []
        for group in combinations(levers, n):
            if not _fit(group):
                continue
            acts = frozenset[str]().union(*(lever.mends for lever in group))
            could = 1.0 if ideal is None else ideal(acts)
            if could >= aim:
                able.append((_weight(group), group))
            elif n == 2:
                others.append((-could, group))
        yield from (group for _, group in sorted(able, key=lambda row: row[0]))
    yield from (group for _, group in sorted(others, key=lambda row: row[0]))


def _weight(group: Sequence[Lever]) -> float:
    """Effort of levers together; a lamp that nothing keeps from washing the target out comes after
    one that is kept."""
    weight = sum(WEIGHTS[lever.effort] for lever in group)
    lamp = any(lever.effort == LIGHTS for lever in group)
    return weight + (LOOSE_LAMP if lamp and not any(v.helps & SPOILS for v in group) else 0.0)


def _fit(group: Sequence[Lever]) -> bool:
    """Whether levers set different keys, with at most one lamp and one other mount."""
    keys: set[str] = set()
    for lever in group:
        own = {text.split("=")[0] for step in lever.steps for text in step.sets}
        if own & keys:
            return False
        keys |= own
    efforts = [lever.effort for lever in group]
    return efforts.count(LIGHTS) <= 1 and efforts.count(MOUNTING) <= 1


def _start(lever: Lever, best: Mapping[str, tuple[str, ...]]) -> int:
    """Where a climb begins: a setting at its best, all else in the middle."""
    if lever.effort == SETTINGS:
        sets = best.get(lever.name)
        for i, step in enumerate(lever.steps):
            if step.sets == sets:
                return i
    return len(lever.steps) // 2


def _sets(levers: Sequence[Lever], at: Sequence[int]) -> tuple[str, ...]:
    return tuple(t for lever, i in zip(levers, at, strict=True) for t in lever.steps[i].sets)


def _climb(
    looks: Looks, levers: Sequence[Lever], at: list[int], kept: int
) -> tuple[list[int], float]:
    """Steps of each lever that no other step of a single lever betters, and the probability."""
    chance = looks.look(_sets(levers, at))
    for _ in range(ROUNDS):
        before = list(at)
        for k, lever in enumerate(levers):
            for i in range(len(lever.steps)):
                if chance >= looks.aim or looks.left <= kept:
                    return at, chance
                trial = [*at[:k], i, *at[k + 1 :]]
                found = looks.look(_sets(levers, trial))
                if found > chance:
                    at, chance = trial, found
        if at == before:
            break
    return at, chance


def _taken_back(looks: Looks, levers: Sequence[Lever], at: list[int]) -> list[int]:
    """The least step of each lever that still serves, the dearest lever first."""
    for k in sorted(range(len(levers)), key=lambda k: -levers[k].effort):
        for i in range(at[k]):
            trial = [*at[:k], i, *at[k + 1 :]]
            if looks.look(_sets(levers, trial)) >= looks.aim:
                at = trial
                break
    return at
