"""With which others an impairment must be fixed, where fixing it alone does not help."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from simulator.judge.limits import LEAST_SHARE, Coalitions, Limit

HELPS = 0.05
"""A gain in probability of less than this is told as none (chosen by us)."""
MOST_LIMITS = 5
"""Limits, the first ones, among which company is sought."""


@dataclass(frozen=True)
class Together:
    """The other impairments, the first limits first, and the probability with all of them gone."""

    factors: tuple[str, ...]
    probability: float


def fixed_together(
    limits: Sequence[Limit], probability: float, asked: Coalitions
) -> dict[str, Together]:
    """The fewest other limits with which a limit must be fixed so that fixing it counts.

    Of impairments with a share, the probability v(S) with those of S removed is asked. Limit i
    counts in company S where v(S and i) is at least `HELPS` above the probability as it is and
    above v(S). One other is sought first, then two, those with which most is reached; else all
    others, from which those are left out again, the least limit first, without which i counts
    still.

    Parameters
    ----------
    limits
        As `limits.find_limits` gives them.
    probability
        Of the task, as things are.
    asked
        Where coalitions of the same situation are kept.

    Returns
    -------
    By factor; nothing for a limit that helps alone, or that counts in no company of the others.
    """
    main = [row.factor for row in limits if row.share > LEAST_SHARE]
    company_of = main[:MOST_LIMITS]
    alone = {row.factor: row.probability_without for row in limits}
    out: dict[str, Together] = {}
    for factor in main:
        if alone[factor] >= probability + HELPS:
            continue
        others = [name for name in company_of if name != factor]
        company = _company(factor, others, probability, asked)
        together = asked.by_trials(frozenset({factor, *company})) if company else 0.0
        if together >= probability + HELPS:
            out[factor] = Together(company, together)
    return out


def _company(
    factor: str, others: Sequence[str], probability: float, asked: Coalitions
) -> tuple[str, ...]:
    def reached(company: Sequence[str]) -> float | None:
        """Probability with the company and the factor fixed; None if the factor adds nothing."""
        both = asked.quick(frozenset({factor, *company}))
        least = max(probability, asked.quick(frozenset(company))) + HELPS
        return both if both >= least else None

    for size in (1, 2):
        values = {
            company: value
            for company in combinations(others, size)
            if (value := reached(company)) is not None
        }
        if values:
            return max(values, key=lambda company: values[company])
    kept = list(others)
    if len(kept) < 3 or reached(kept) is None:
        return ()
    for name in reversed(others):
        fewer = [one for one in kept if one != name]
        if len(fewer) > 2 and reached(fewer) is not None:
            kept = fewer
    return tuple(kept)
