"""Reserve: the search finds known edges, and a gate by night bears what it is said to bear."""

from __future__ import annotations

import pytest
from bare import bare

from simulator.camera.load import Camera
from simulator.judge.result import Reserve
from simulator.report.wording import say
from simulator.scene.load import Scene
from simulator.studies.quick_look import QuickLook, observer_look
from simulator.studies.reserve import (
    Edge,
    borne_out,
    dirtier,
    edge,
    farther,
    reserve_message,
    reserve_of,
)
from simulator.studies.session import open_session


@pytest.fixture(scope="module")
def gate():
    camera = Camera.load("plate-2mp-infrared").set({"exposure.gain_max_db": 12.0})
    return open_session(Scene.load(bare("depot-gate-infrared")), camera)


@pytest.mark.by_hand
@pytest.mark.parametrize("limit", [1.3, 4.0, 17.0])
def test_the_search_ends_below_a_known_edge(limit):
    found = edge(1.0, 40.0, 2.5, lambda k: k <= limit)
    # four halvings of a step of 2.5 on a scale of powers
    assert limit / 2.5 ** (1 / 16) <= found.value <= limit
    assert not found.beyond


@pytest.mark.by_hand
def test_a_search_that_never_fails_says_so():
    assert edge(1.0, 40.0, 2.5, lambda k: True) == (40.0, True)


@pytest.mark.invariant
def test_light_is_borne_up_to_the_reserve_and_no_more(gate):
    found = reserve_of(gate, ("darker",))
    wanted = gate.scene.model.task.wanted_probability
    assert found.at_least == ()
    # the recogniser reads with the reserve used up, and on other noise, but not far beyond it
    fresh = gate.with_seed(gate.seed + 1)
    assert observer_look(gate.relit(every=1.0 / found.darker_times)).value >= wanted
    assert observer_look(fresh.relit(every=1.15 / found.darker_times)).value >= wanted
    assert observer_look(gate.relit(every=0.5 / found.darker_times)).value < wanted


@pytest.mark.by_hand
@pytest.mark.parametrize(("limit", "start"), [(3.0, 1.0), (9.0, 1.0), (40.0, 5.0)])
def test_an_edge_goes_as_far_as_it_is_borne_out(limit, start):
    found = borne_out(Edge(20.0, True), start, lambda k: k <= limit)
    if limit >= 20.0:
        assert found == (20.0, True)
        return
    # to the step of the search: a sixteenth of a factor of 2.5 on a scale of powers
    assert limit / 2.5 ** (1 / 16) <= found.value <= limit
    assert not found.beyond


@pytest.mark.by_hand
def test_farther_keeps_height_and_takes_the_lamp_along(gate):
    scene = farther(gate, 2.0)
    station, lamp = scene.model.station, scene.model.illuminator[0]
    there = open_session(scene, gate.camera)
    assert station.height_m == gate.scene.model.station.height_m
    assert there.target.distance_m == pytest.approx(2.0 * gate.target.distance_m, rel=1e-3)
    before = gate.scene.model.illuminator[0].position_m
    moved = [a - b for a, b in zip(lamp.position_m, before, strict=True)]
    assert moved == pytest.approx([*station.ground_position_m, 0.0], abs=1e-3)


@pytest.mark.invariant
def test_what_fails_has_no_reserve():
    dark = open_session(Scene.load(bare("depot-gate-dark")), Camera.load("plate-2mp-infrared"))
    assert reserve_of(dark) is None


@pytest.mark.by_hand
def test_a_reserve_in_words():
    found = Reserve(darker_times=8.0, faster_to_kmh=200.0, at_least=("faster_to_kmh",))
    assert say(reserve_message(found)) == (
        "Reserve, each alone: light up to 8 times less; speed up to 200 km/h and more."
    )


@pytest.mark.invariant
def test_a_dirtier_window_is_that_of_a_camera_with_it(gate):
    share = 0.6
    camera = gate.camera.set({"cover.obstruction_fraction": share})
    opened = open_session(gate.scene, camera, seed=gate.seed)
    shared = dirtier(gate, share)
    assert shared.camera.model == camera.model
    assert shared.state.exposure.gain_db == pytest.approx(opened.state.exposure.gain_db, abs=1e-5)
    looks = [QuickLook(gate.seed)(one) for one in (shared, opened)]
    assert looks[0] == pytest.approx(looks[1], abs=1e-4)
    shown = [one.pictures(1).frames.astype(float) for one in (shared, opened)]
    assert abs(shown[0] - shown[1]).mean() < 0.05  # 8-bit steps that flip by rounding
