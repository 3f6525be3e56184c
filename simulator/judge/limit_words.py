"""What limits a task, in words: what mending one impairment brings, alone or with which others."""

from __future__ import annotations

from collections.abc import Sequence

from simulator.judge.result import Limit, Verdict
from simulator.judge.together import HELPS
from simulator.judge.words import listed, main_limits

BY_CHANCE = 0.02
"""Probabilities this close are told as the same."""


def fix_words(row: Limit, probability: float) -> str:
    """What mending one impairment brings.

    Parameters
    ----------
    probability
        Of the task, as things are.
    """
    alone = row.probability_without
    if alone >= probability + HELPS:
        return f"mending it alone brings P from {probability:.2f} to {alone:.2f}"
    if alone < probability - HELPS:
        text = f"mending it alone makes it worse, P from {probability:.2f} to {alone:.2f}"
    elif alone > probability + BY_CHANCE:
        text = f"mending it alone helps little, P from {probability:.2f} to {alone:.2f}"
    else:
        text = f"mending it alone does not help, P stays {alone:.2f}"
    others = row.together_with
    if not others:
        return text if alone > probability + BY_CHANCE else f"{text}; it adds to others only"
    return f"{text}; mend it together with {listed(others)}: P {row.probability_together:.2f}"


def plain_fix(row: Limit, probability: float) -> str:
    """What mending one impairment brings, in pictures of a hundred, as a sentence."""

    def of_100(value: float | None) -> str:
        return f"{100.0 * (value or 0.0):.0f} of 100 pictures"

    alone, others = row.probability_without, row.together_with
    if alone >= probability + HELPS:
        return f"With that alone mended it would succeed in {of_100(alone)}."
    head = (
        "Mending that alone would make it worse"
        if alone < probability - HELPS
        else "Mending that alone would hardly help"
    )
    if not others:
        return f"{head}."
    return (
        f"{head}; mended together with {listed(others)} it would succeed in"
        f" {of_100(row.probability_together)}."
    )


def left_words(row: Limit) -> str:
    """What is left of the probability where all else is mended but this."""
    return f"with all else mended and this left, P {row.probability_only:.2f}"


def share_words(row: Limit) -> str:
    """The share of the loss, as pictures in a hundred."""
    return f"{100.0 * row.share:.0f} of 100 pictures"


def shares_listed(rows: Sequence[Limit]) -> str:
    """Limits with their shares in pictures of a hundred, without more words."""
    return ", ".join(f"{row.factor} {100.0 * row.share:.0f}" for row in rows)


def limit_line(row: Limit, probability: float) -> str:
    """One limit for those who sign: its share, what mending brings, and what it does alone."""
    return (
        f"{row.factor}, takes {share_words(row)}: {fix_words(row, probability)}; {left_words(row)}"
    )


def share_explained(verdict: Verdict) -> str | None:
    """What the shares are, once; None where nothing limits."""
    if not main_limits(verdict):
        return None
    best = verdict.probability_all_fixed
    loss = (
        ""
        if best is None
        else f" P is {verdict.probability:.2f} as it is, {best:.2f} with all of them mended."
    )
    return (
        "A limit takes so many of 100 pictures: what mending it adds to P, the probability,"
        f" averaged over every order of mending (Shapley value).{loss}"
    )


def helpers(verdict: Verdict) -> str | None:
    """Impairments whose removal alone makes it worse, beyond the limits; None if there are none."""
    rows = [
        row
        for row in verdict.limits
        if row.share < -HELPS and row.probability_without < verdict.probability - HELPS
    ]
    if not rows:
        return None
    named = [f"{row.factor} (P {row.probability_without:.2f})" for row in rows]
    return f"Taken away alone, these make it worse: {listed(named)}."
