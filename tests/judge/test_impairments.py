"""One record an impairment: what is entered there is found wherever impairments are told."""

from __future__ import annotations

from dataclasses import replace

import pytest

from simulator.judge.explanation import cause
from simulator.judge.impairments import IMPAIRMENTS, Impairment, of_task, without
from simulator.judge.limits import find_limits, limit_rows
from simulator.judge.readers import PERSON
from simulator.judge.removal import Situation
from simulator.judge.sight import Sight, View
from simulator.registry import RecordError


def _dimmed(_, s):
    """A curtain drawn back: nothing but a third of the light stood in the way."""
    switches = replace(s.in_scene.switches, light_scale=3.0 * s.in_scene.switches.light_scale)
    return s._replace(in_scene=replace(s.in_scene, switches=switches))


CURTAIN = Impairment(
    name="curtain",
    noun="a curtain",
    cause="a curtain hangs before it",
    meaning="the curtain drawn back",
    advice="a window without a curtain",
    ease=5,
    tasks=frozenset({"read"}),
    remove=_dimmed,
)


@pytest.fixture
def curtain():
    with IMPAIRMENTS.with_record(CURTAIN, before="glare"):
        yield CURTAIN


@pytest.mark.invariant
def test_a_new_impairment_is_sought_and_told(curtain, make_judged, make_camera, make_verdict):
    made = make_judged(
        camera=make_camera(
            sensor={"width_px": 240, "height_px": 80},
            processing={"temporal_noise_reduction": 0.0},
        ),
        lux=2.0,
    )
    sight = Sight(made.target.entry, "read", PERSON, 5, {(): View(made.plan, made.traces, None)})
    start = Situation(made.in_scene, made.state, made.target)
    assert without(sight, start, ["curtain"]).in_scene.switches.light_scale == 3.0
    rows = limit_rows(find_limits(*start[:3], 0.5, sight=sight), 0.5)
    own = next(row for row in rows if row.factor == "curtain")
    assert own.meaning == "the curtain drawn back"
    assert cause(make_verdict(), "curtain") == curtain.cause
    shares = [round(row.share, 2) for row in rows]
    assert shares == sorted(shares, reverse=True)


@pytest.mark.invariant
def test_only_its_tasks_ask_for_it(curtain):
    assert curtain in of_task("read") and curtain not in of_task("colour")
    assert of_task("read").index(curtain) + 1 == of_task("read").index(IMPAIRMENTS["glare"])


@pytest.mark.by_hand
@pytest.mark.parametrize("field", ["noun", "cause", "meaning", "advice"])
def test_an_impairment_without_words_is_refused(field):
    with pytest.raises(RecordError, match=f"'curtain' lacks its {field}"):
        IMPAIRMENTS.enter(replace(CURTAIN, **{field: ""}))
    assert "curtain" not in IMPAIRMENTS


@pytest.mark.by_hand
def test_a_cause_may_differ_where_the_target_is_washed_out(make_verdict):
    light = IMPAIRMENTS["light"]
    assert cause(make_verdict(signal={"clipped_fraction": 0.5}), "light") == light.cause_if_clipped
    assert cause(make_verdict(signal={"clipped_fraction": 0.01}), "light") == light.cause
