"""What a verdict has to say: which message, with which figures."""

from __future__ import annotations

import pytest

from simulator.judge import explanation
from simulator.judge.result import Limit, Sensitivity
from simulator.messages import Message
from simulator.report.wording import say

pytestmark = pytest.mark.by_hand


def row(factor="pixels", without=0.12, only=0.6, share=0.3, **more):
    return Limit(
        factor=factor, probability_without=without, probability_only=only, share=share, **more
    )


def ids(messages):
    return [message.id for message in messages if message is not None]


@pytest.mark.parametrize(
    ("word", "value", "low", "high", "identity"),
    [
        ("legible", 0.97, 0.92, 0.99, "success.reliable"),
        ("marginal", 0.96, 0.88, 0.99, "success.uncertain"),  # the target lies in the interval
        ("marginal", 0.86, 0.80, 0.91, "success.uncertain"),
        ("marginal", 0.72, 0.66, 0.78, "success.unreliable"),
        ("not legible", 0.45, 0.40, 0.50, "success.poor"),
        ("not legible", 0.004, 0.0, 0.02, "success.none"),
    ],
)
def test_the_answer_agrees_with_the_interval(make_verdict, word, value, low, high, identity):
    found = explanation.success(
        make_verdict(verdict=word, probability=value, probability_low=low, probability_high=high)
    )
    assert found.id == identity
    assert (found.values["probability"], found.values["target"]) == (value, 0.9)
    assert (found.values["low"], found.values["high"]) == (low, high)


def test_the_reason_is_the_first_limit_and_its_company(make_verdict):
    alone = explanation.reason(make_verdict())
    assert alone == Message("reason.single", {"factors": ("light",)})
    both = row("light", together_with=("pixels",), probability_together=0.9)
    found = explanation.reason(make_verdict(limits=[both.to_dict()]))
    assert found == Message("reason.together", {"factors": ("light", "pixels")})
    assert explanation.reason(make_verdict(verdict="legible")) is None
    assert explanation.reason(make_verdict(limits=[], probability_all_fixed=None)) is None


@pytest.mark.parametrize(
    ("limits", "fixed", "identity"),
    [
        ([], 0.0, "reason.target"),  # seen from behind: the best camera does not help
        ([row(share=0.01)], 0.3, "reason.target"),
        ([row(share=0.02), row("light", share=0.02)], 0.95, "reason.small"),
    ],
)
def test_a_failure_always_has_a_reason(make_verdict, limits, fixed, identity):
    rows = [one.to_dict() for one in limits]
    for word in ("marginal", "not legible"):
        verdict = make_verdict(verdict=word, limits=rows, probability_all_fixed=fixed)
        assert explanation.reason(verdict).id == identity
        assert say(explanation.reason(verdict), "customer")


@pytest.mark.parametrize(
    ("limit", "identities"),
    [
        (row(without=0.8), ["limit.helps"]),
        (row(without=0.15), ["limit.little"]),
        (row(without=0.12), ["limit.nothing", "limit.adds"]),
        (row(without=0.02), ["limit.worse", "limit.adds"]),
        (
            row(without=0.12, together_with=("light", "glare"), probability_together=0.85),
            ["limit.nothing", "limit.together"],
        ),
    ],
)
def test_what_fixing_one_cause_brings(limit, identities):
    found = explanation.limit_effect(limit, 0.12)
    assert ids(found) == identities
    assert found[0].values == {"probability": 0.12, "without": limit.probability_without}
    if limit.together_with:
        assert found[1].values == {"others": ("light", "glare"), "probability": 0.85}


def test_costs_are_explained_once_and_only_where_something_limits(make_verdict):
    verdict = make_verdict(limits=[row().to_dict()], probability=0.12, probability_all_fixed=0.97)
    assert explanation.cost_explained(verdict).values == {"probability": 0.12, "fixed": 0.97}
    assert explanation.helpers(verdict) is None
    worse = row("processing", without=0.02, share=-0.1)
    verdict = make_verdict(of=verdict, limits=[row().to_dict(), worse.to_dict()])
    assert explanation.helpers(verdict) == Message(
        "limits.helpers", {"factors": ("processing",), "probabilities": (0.02,)}
    )
    assert explanation.cost_explained(make_verdict(limits=[row(share=0.01).to_dict()])) is None


def test_where_fixing_one_cause_is_not_enough():
    both = [row("motion", 0.1, 0.0), row("light", 0.2, 0.1), row("glare", 0.1, 0.9)]
    found = explanation.no_single_fix(both)
    assert found == Message(
        "limits.alone-not-enough", {"factors": ("motion", "light"), "more": False}
    )
    assert explanation.no_single_fix([row("motion", 0.9, 0.0), *both[1:]]) is None
    assert explanation.no_single_fix([]) is None
    added = explanation.no_single_fix([row("motion", 0.1, 0.8), row("light", 0.2, 0.7)])
    assert added == Message("limits.none-enough")
    many = explanation.no_single_fix([row(n, 0.0, 0.0) for n in ("motion", "light", "pixels", "x")])
    assert many.values == {"factors": ("motion", "light", "pixels"), "more": True}


def test_a_dense_picture_that_fails_is_said_to_count_pixels_only(make_verdict):
    dense = {
        "task": {"name": "recognise", "wanted_probability": 0.9},
        "geometry": {"pixels_per_m": 279.0, "density_class": "identify"},
        "signal": {"effective_pixels_per_m": 129.0},
    }
    failed = make_verdict(**dense)
    assert explanation.density_note(failed) == Message(
        "density.other-limits",
        {
            "density_class": "identify",
            "effective": 129.0,
            "pixels_per_m": 279.0,
            "needed": "recognise",
            "first": "light",
        },
    )
    blurred = explanation.density_note(
        make_verdict(of=failed, signal={"effective_pixels_per_m": 60.0})
    )
    assert blurred.id == "density.blurred" and blurred.values["effective_class"] == "detect"
    assert explanation.density_note(make_verdict(of=failed, verdict="legible")) is None
    assert explanation.density_note(make_verdict(of=failed, limits=[])) is None
    sparse = {"pixels_per_m": 100.0, "density_class": "observe"}
    assert explanation.density_note(make_verdict(of=failed, geometry=sparse)) is None
    fewer = explanation.density_note(make_verdict(of=failed, geometry=sparse, verdict="legible"))
    assert fewer == Message("density.fewer-will-do", {"density_class": "observe"})
    assert explanation.density_note(make_verdict(of=failed, task={"name": "colour"})) is None


def test_why_it_is_marginal(make_verdict):
    assert explanation.why_marginal(make_verdict()) is None
    ends = {"probability_low": 0.82, "probability_high": 0.93, "verdict": "marginal"}
    figures = {"low": 0.82, "high": 0.93, "target": 0.9}
    assert explanation.why_marginal(make_verdict(**ends)) == Message("marginal.straddles", figures)
    below = explanation.why_marginal(make_verdict(**{**ends, "probability_high": 0.87}))
    assert below == Message("marginal.below", {**figures, "high": 0.87})


def test_only_a_marginal_verdict_asks_for_measurements():
    rows = [
        Sensitivity(key=f"camera.sensor.{n}", share=0.2, value=1.0, tolerance=0.5) for n in "abcd"
    ]
    assert explanation.what_to_measure("legible", rows) is None
    assert explanation.what_to_measure("not legible", rows) is None
    assert explanation.what_to_measure("marginal", []) == Message("settle.nothing")
    found = explanation.what_to_measure("marginal", rows)
    assert found.values["keys"] == tuple(f"camera.sensor.{n}" for n in "abc")
    assert found.values["tolerances"] == (0.5, 0.5, 0.5)


def test_a_name_is_not_called_a_true_colour(make_verdict):
    colour = {
        "right_names": ["red"], "named": {"red": 0.9}, "ciede2000": 16.2, "lab": [40, 30, 20],
        "reference_lab": [40, 50, 20], "monochrome": False,
    }  # fmt: skip
    asked = make_verdict(
        task={"name": "colour"}, target={"kind": "vehicle-front", "text": None, "colour": colour},
        verdict="legible", limits=[],
    )  # fmt: skip
    assert explanation.other_shade(asked) == Message("shade.other", {"ciede2000": 16.2})
    assert explanation.size(asked.target) == Message(
        "size.colour", {"named": "red", "right": ("red",), "ciede2000": 16.2}
    )
    near = make_verdict(of=asked, target={"colour": {**colour, "ciede2000": 2.0}})
    assert explanation.other_shade(near) is None
    assert explanation.other_shade(make_verdict(of=asked, verdict="not legible")) is None


def test_detail_of_a_face_is_told_where_some_is_lost(make_verdict):
    whole = {"cycles": 3.25, "character_height_px": None, "drawing_kept": 0.97}
    seen = make_verdict(target=whole).target
    assert explanation.size(seen).values == {"cycles": 3.25, "kept": None}
    lost = make_verdict(target={**whole, "drawing_kept": 0.6}).target
    assert explanation.size(lost).values["kept"] == 0.6
