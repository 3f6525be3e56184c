"""With which others an impairment must be fixed, where fixing it alone does not help."""

from __future__ import annotations

from itertools import combinations

import pytest

from simulator.judge.result import Limit
from simulator.judge.together import HELPS, fixed_together

pytestmark = pytest.mark.by_hand


class Table:
    """Probabilities by rule, with every set that was asked."""

    def __init__(self, rule):
        self.rule, self.asked = rule, set()

    def quick(self, removed):
        self.asked.add(removed)
        return self.rule(removed)

    by_trials = quick


def limits_of(rule, names, share=0.3):
    everything = frozenset(names)
    return [
        Limit(
            factor=name,
            probability_without=rule(frozenset({name})),
            probability_only=rule(everything - {name}),
            share=share,
        )
        for name in names
    ]


def test_two_that_only_help_together_name_each_other():
    names = ["clipping", "light", "glare"]

    def rule(gone):
        return 0.9 if {"clipping", "light"} <= gone else 0.1

    found = fixed_together(limits_of(rule, names), 0.1, Table(rule))
    assert {k: v.factors for k, v in found.items()} == {
        "clipping": ("light",), "light": ("clipping",),
    }  # fmt: skip
    assert found["light"].probability == 0.9


@pytest.mark.parametrize("n", [3, 4])
def test_all_are_named_where_all_are_needed(n):
    names = ["clipping", "light", "glare", "pixels"][:n]

    def rule(gone):
        return 0.95 if gone >= set(names) else 0.0

    found = fixed_together(limits_of(rule, names), 0.0, Table(rule))
    for name in names:
        assert set(found[name].factors) == set(names) - {name}


def test_what_helps_alone_or_never_has_no_company():
    def rule(gone):
        return 0.1 + 0.6 * ("light" in gone)

    names = ["light", "glare"]
    assert fixed_together(limits_of(rule, names), 0.1, Table(rule)) == {}


def test_a_limit_without_a_share_is_not_asked():
    def rule(gone):
        return 0.9 if len(gone) > 1 else 0.1

    table = Table(rule)
    assert fixed_together(limits_of(rule, ["light", "glare"], 0.01), 0.1, table) == {}
    assert table.asked == set()


@pytest.mark.invariant
def test_company_makes_a_limit_count_by_what_was_asked():
    """For every monotone rule of three thresholds, against the definition asked of every set."""
    names = ["a", "b", "c"]
    for weights in ((1, 1, 1), (2, 1, 1), (1, 2, 3), (3, 1, 1)):
        for least in range(2, 5):

            def rule(gone, weights=weights, least=least):
                total = sum(w for name, w in zip(names, weights, strict=True) if name in gone)
                return 0.9 if total >= least else 0.1

            found = fixed_together(limits_of(rule, names), 0.1, Table(rule))
            for name in names:
                others = [one for one in names if one != name]
                counts = {
                    company
                    for size in (1, 2)
                    for company in combinations(others, size)
                    if rule({name, *company}) - max(0.1, rule(set(company))) >= HELPS
                }
                if rule({name}) > 0.5 or not counts:
                    assert name not in found
                else:
                    assert len(found[name].factors) == min(map(len, counts))
                    assert found[name].factors in counts
