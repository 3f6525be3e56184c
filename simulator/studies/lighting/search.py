"""The least intensity that serves, where more light may serve worse again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from simulator.judge.result import Word
from simulator.studies.quick import Quick

Judge = Callable[[Sequence[float], bool], list[Quick]]
"""Judges intensities; the second argument asks for fresh noise and twice the repetitions."""
PER_DECADE = 2
ROUNDS = 3
STEP = 10**0.1
"""Step of the safety search, 1 dB of light."""
STEPS = 8


@dataclass(frozen=True)
class Search:
    """What was tried and found.

    `points` holds intensity and judgement, rising. `least` is the smallest intensity found whose
    probability reaches the target, None if none does. From there the task succeeds without a gap
    among the tried ones up to `upper`; `upper_fails` is the next one that was tried and failed,
    None where the search ended before one did. `chosen` is the first step of 1 dB from `least`
    which fresh noise finds legible for sure, else the best of those that reach the target on
    fresh noise; `fresh` is what it found there. Where fresh noise bears none out, there is no
    `least`.
    """

    points: tuple[tuple[float, Quick], ...]
    least: float | None
    upper: float | None
    upper_fails: float | None
    chosen: float
    fresh: Quick

    @property
    def verdict(self) -> Word:
        """Verdict with fresh noise at the chosen intensity."""
        return self.fresh.verdict  # type: ignore[return-value]


def _between(low: float, high: float) -> list[float]:
    return [low * (high / low) ** (k / 3.0) for k in (1, 2)]


def search(judge: Judge, first: float, last: float, wanted: float) -> Search:
    """Find the least intensity by a grid of half decades and thirds of its gaps.

    A grid comes first because the probability may fall again: a plate that throws the light back
    washes out. A window narrower than a grid step is found only if the best point leads to it.

    Parameters
    ----------
    judge
        Judges several intensities at once.
    first, last
        Range of the search, in the unit of the intensity.
    wanted
        Probability that is wanted.
    """
    judged: dict[float, Quick] = {}

    def ask(values: Sequence[float]) -> None:
        new = [v for v in values if v not in judged]
        judged.update(zip(new, judge(new, False), strict=True))

    def passes(value: float) -> bool:
        return judged[value].probability >= wanted

    count = round(PER_DECADE * np.log10(last / first)) + 1
    ask([float(v) for v in np.geomspace(first, last, count)])
    order = sorted(judged)
    if not any(passes(v) for v in order):
        best = max(range(len(order)), key=lambda i: judged[order[i]].probability)
        for a, b in ((best - 1, best), (best, best + 1)):
            if a >= 0 and b < len(order):
                ask(_between(order[a], order[b]))
        order = sorted(judged)
    start = next((i for i, v in enumerate(order) if passes(v)), None)
    if start is None:
        chosen = max(order, key=lambda v: judged[v].probability)
        fresh = judge([chosen], True)[0]
        return Search(_sorted(judged), None, None, None, chosen, fresh)
    least = order[start]
    low = order[start - 1] if start > 0 else None
    for _ in range(ROUNDS if low is not None else 0):
        assert low is not None
        tries = _between(low, least)
        ask(tries)
        hit = next((i for i, v in enumerate(tries) if passes(v)), None)
        low, least = (tries[-1], least) if hit is None else ([low, *tries][hit], tries[hit])
    order = sorted(judged)
    upper, fails = _end(order, order.index(least), passes)
    if fails is not None:
        ask(_between(upper, fails))
        order = sorted(judged)
        upper, fails = _end(order, order.index(least), passes)
    ways: list[tuple[float, Quick]] = []
    for k in range(STEPS + 1):
        value = least * STEP**k
        if ways and value > (last if fails is None else upper):
            break
        ways.append((value, judge([value], True)[0]))
        if ways[-1][1].probability_low >= wanted:
            break
    reach = [way for way in ways if way[1].probability >= wanted]
    chosen, fresh = max(reach or ways, key=lambda way: (way[1].probability_low, -way[0]))
    if not reach:
        return Search(_sorted(judged), None, None, None, chosen, fresh)
    return Search(_sorted(judged), least, upper, fails, chosen, fresh)


def _end(
    order: Sequence[float], start: int, passes: Callable[[float], bool]
) -> tuple[float, float | None]:
    """Last of the run of passing values that begins at `start`, and the value that ends it."""
    end = start
    while end + 1 < len(order) and passes(order[end + 1]):
        end += 1
    return order[end], order[end + 1] if end + 1 < len(order) else None


def _sorted(judged: dict[float, Quick]) -> tuple[tuple[float, Quick], ...]:
    return tuple(sorted(judged.items()))
