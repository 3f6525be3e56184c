"""What a prediction assumed: which message, by what the files say."""

from __future__ import annotations

import pytest
from bare import bare

from simulator.messages import Message
from simulator.report.wording import say
from simulator.studies.conditions import conditions
from simulator.studies.overrides import load_pair
from simulator.studies.session import open_session

pytestmark = pytest.mark.by_hand


def assumed(scene, camera, *sets, draws=0):
    scene, camera = load_pair(scene, camera, sets)
    session = open_session(scene, camera)
    return conditions(session.in_scene, session.state, camera, scene.model, 24, draws)


@pytest.fixture(scope="module")
def gate():
    return assumed(bare("depot-gate-infrared"), "plate-2mp-infrared")


def ids(messages):
    return {message.id for message in messages}


def test_lens_and_dome_are_clean_only_where_nothing_lies_on_them(gate):
    assert "condition.clean" in ids(gate) and "condition.dirt" not in ids(gate)
    dirty = assumed(
        bare("depot-gate-infrared"), "plate-2mp-infrared", "cover.obstruction_fraction=0.1"
    )  # fmt: skip
    assert Message("condition.dirt", {"obstruction_fraction": 0.1}) in dirty
    assert "condition.clean" not in ids(dirty)
    assert not any("clean" in say(message) for message in dirty)


def test_the_reader_of_a_text_and_the_viewer_of_a_person_are_told(gate):
    assert "reader.person" in ids(gate)
    assert Message("condition.interval-of-trials", {"trials": 24, "draws": 0}) in gate
    machine = assumed(
        bare("depot-gate-infrared"), "plate-2mp-infrared", "task.reader=machine", draws=8
    )
    assert {"reader.machine", "reader.machine-estimate"} & ids(machine)
    assert Message("condition.interval-of-trials", {"trials": 24, "draws": 8}) in machine
    seen = ids(assumed("doorway-noon", "doorway-2mp-wide"))
    assert {"condition.observer", "condition.face-matched", "condition.known-by-face"} <= seen
    assert not {"reader.person", "condition.from-behind", "condition.target-metric"} & seen


def test_movement_air_and_recording_are_told_where_they_are(gate):
    assert "condition.one-motion" in ids(gate)  # the truck rolls in
    assert "condition.clear-air" in ids(gate)
    fog = ids(assumed("perimeter-fog", "fixed-2mp-lowlight"))
    assert {"condition.observer", "condition.noticed"} <= fog
    assert "condition.clear-air" not in fog and "assumption.air" in fog
    assert len({"condition.recorded", "condition.not-recorded"} & ids(gate)) == 1


def test_every_condition_of_every_kind_has_its_words(gate):
    assert all(say(message) for message in gate)
