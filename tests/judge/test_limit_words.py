"""Limits in words: alone, together with which others, and what the shares are."""

from __future__ import annotations

from itertools import combinations

import pytest

from simulator.judge.density import density_note
from simulator.judge.limit_words import (
    fix_words,
    helpers,
    limit_line,
    plain_fix,
    share_explained,
)
from simulator.judge.limits import Limit
from simulator.judge.together import HELPS, fixed_together
from simulator.judge.verdict import why_marginal
from simulator.judge.words import customer_sentence, shade_words, size_words

pytestmark = pytest.mark.by_hand


def row(factor="pixels", without=0.12, only=0.6, share=0.3, **more):
    return Limit(
        factor=factor, probability_without=without, probability_only=only, share=share, **more
    )


class Table:
    """Probabilities by rule, with every set that was asked."""

    def __init__(self, rule):
        self.rule, self.asked = rule, set()

    def quick(self, removed):
        self.asked.add(removed)
        return self.rule(removed)

    proved = quick


def limits_of(rule, names, share=0.3):
    everything = frozenset(names)
    return [row(name, rule(frozenset({name})), rule(everything - {name}), share) for name in names]


def test_what_helps_alone_is_told_with_both_figures():
    assert fix_words(row(without=0.8), 0.12) == "mending it alone brings P from 0.12 to 0.80"
    assert plain_fix(row(without=0.8), 0.12) == (
        "With that alone mended it would succeed in 80 of 100 pictures."
    )
    assert fix_words(row(without=0.15), 0.12).startswith("mending it alone helps little")


def test_what_does_not_help_alone_names_its_company():
    alone = row(together_with=["light", "glare"], probability_together=0.85)
    assert fix_words(alone, 0.12) == (
        "mending it alone does not help, P stays 0.12; mend it together with light and glare:"
        " P 0.85"
    )
    assert plain_fix(alone, 0.12) == (
        "Mending that alone would hardly help; mended together with light and glare it would"
        " succeed in 85 of 100 pictures."
    )
    assert fix_words(row(), 0.12).endswith("; it adds to others only")
    worse = fix_words(row(without=0.31), 0.43)
    assert worse.startswith("mending it alone makes it worse, P from 0.43 to 0.31")


def test_a_line_holds_share_and_both_figures():
    assert limit_line(row(without=0.8, only=0.65, share=0.324), 0.12) == (
        "pixels, takes 32 of 100 pictures: mending it alone brings P from 0.12 to 0.80; with all"
        " else mended and this left, P 0.65"
    )


def test_shares_are_explained_once_and_only_where_something_limits(make_verdict):
    tables = {"limits": [row()], "probability": 0.12, "probability_all_fixed": 0.97}
    verdict = make_verdict(**tables)
    text = share_explained(verdict)
    assert "Shapley" in text and text.endswith("P is 0.12 as it is, 0.97 with all of them mended.")
    assert share_explained(make_verdict(**{**tables, "limits": [row(share=0.01)]})) is None
    assert helpers(verdict) is None
    tables["limits"].append(row("processing", without=0.02, share=-0.1))
    assert (
        helpers(make_verdict(**tables))
        == "Taken away alone, these make it worse: processing (P 0.02)."
    )


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


@pytest.fixture
def verdict_of(make_verdict):
    """A person whose picture has pixels in plenty but little light."""
    person = {
        "task": {"name": "recognise"},
        "geometry": {"pixels_per_m": 279.0, "density_class": "identify"},
        "signal": {"effective_pixels_per_m": 129.0},
        "target": {"kind": "person", "text": None},
        "limits": [row("light")],
    }
    return lambda **more: make_verdict(make_verdict(**person), **more)


def test_a_dense_picture_that_fails_is_told_to_count_pixels_alone(verdict_of):
    note = density_note(verdict_of())
    assert note.startswith("The class 'identify' counts pixels alone")
    assert "129 of 279 px/m" in note and note.endswith("first light.")
    blurred = verdict_of(signal={"effective_pixels_per_m": 60.0})
    assert density_note(blurred).endswith("of 279 px/m blur leaves 60, class 'detect'.")
    assert density_note(verdict_of(verdict="legible")) is None
    sparse = {"pixels_per_m": 100.0, "density_class": "observe"}
    assert density_note(verdict_of(geometry=sparse)) is None
    assert "does with fewer" in density_note(verdict_of(geometry=sparse, verdict="legible"))
    colour = {"name": "colour", "wanted_probability": 0.9}
    assert density_note(verdict_of(task=colour)) is None


def test_a_marginal_verdict_says_which_interval_straddles_what(verdict_of):
    assert why_marginal(verdict_of()) is None
    ends = {"probability_low": 0.82, "probability_high": 0.93, "verdict": "marginal"}
    assert why_marginal(verdict_of(**ends)) == (
        "Marginal: the interval 0.82 to 0.93 straddles the wanted 0.90."
    )
    below = why_marginal(verdict_of(**{**ends, "probability_high": 0.87}))
    assert "stays below the wanted 0.90" in below


def test_reasons_that_must_be_mended_together_are_told_so(verdict_of):
    both = row("light", together_with=["pixels"], probability_together=0.9)
    text = customer_sentence(verdict_of(limits=[both]))
    assert "the reasons, which must be mended together, are that there is too little light" in text
    assert text.endswith("and that too few pixels fall on it.")
    alone = customer_sentence(verdict_of())
    assert "the first reason is that there is too little light on it" in alone
    washed = {"effective_pixels_per_m": 129.0, "clipped_fraction": 0.5}
    dark = customer_sentence(verdict_of(signal=washed))
    assert "too little light on it" not in dark and "exposes long" in dark


def test_a_name_is_not_called_a_true_colour(make_verdict, verdict_of):
    colour = {
        "named": {"red": 0.9}, "right_names": ["red"], "ciede2000": 16.2, "monochrome": False,
        "lab": [40.0, 30.0, 20.0], "reference_lab": [40.0, 50.0, 20.0],
    }  # fmt: skip
    words = size_words(make_verdict(target={"colour": colour}).target)
    assert words == "named red, by daylight red; a far other shade, CIEDE2000 16"
    assert "true" not in words
    asked = {"name": "colour", "wanted_probability": 0.9}
    target = {"kind": "vehicle-front", "text": None, "colour": colour}
    said = customer_sentence(verdict_of(task=asked, target=target, verdict="legible", limits=[]))
    assert said.endswith(
        "The name holds, not the shade: it shows a far other shade than by daylight."
    )
    near = {**target, "colour": {**colour, "ciede2000": 2.0}}
    said = customer_sentence(verdict_of(task=asked, target=near, verdict="legible", limits=[]))
    assert "shade" not in said
    told = [shade_words(d) for d in (0.5, 2.0, 5.0, 10.0, 16.0)]
    assert len(set(told)) == 5 and told[0] == "the same shade"
