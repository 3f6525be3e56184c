"""One record a lever: what is entered is tried at every site that has it, and told as it says."""

from __future__ import annotations

from dataclasses import replace

import pytest
from bare import bare

from simulator.camera.load import Camera
from simulator.judge.result import Limit
from simulator.messages import Message
from simulator.registry import RecordError
from simulator.scene.load import Scene
from simulator.studies.remedies import search
from simulator.studies.remedies.evaluator import Evaluator, applied
from simulator.studies.remedies.lever import Effort, LeverKind, Site, helping, numbers
from simulator.studies.remedies.levers import LEVERS, levers
from simulator.studies.session import open_session


def _cooled(site):
    """The sensor cooled below the temperature that it has."""
    now = site.camera.model.sensor.temperature_c
    yield numbers(now, [now - 10.0, now - 50.0], lambda v: (f"sensor.temperature_c={v:g}",))


COOLER = LeverKind(
    key="cooler",
    name="cooler",
    effort=Effort.OPTICS,
    helps=helping("sensor noise"),
    travel=_cooled,
    unit="°C",
    side_effects=(Message("effect.power-for-the-cooler"),),
    warn=lambda v: (Message("caution.ice", {"below_c": v}),),
)


@pytest.fixture(scope="module")
def site():
    opened = open_session(
        Scene.load(bare("depot-gate-infrared")), Camera.load("fixed-2mp-lowlight")
    )
    return Site(opened.scene, opened.camera, opened.mounted, opened.state, opened.target)


@pytest.fixture
def cooler():
    with LEVERS.with_record(COOLER):
        yield COOLER


class _Frosty(Evaluator):
    """Only a sensor colder than 0 degrees does, whatever else is set."""

    def look(self, sets, camera=None):
        self.left -= 1
        texts = dict(text.split("=") for text in sets)
        return 0.99 if float(texts.get("sensor.temperature_c", 20.0)) < 0.0 else 0.2

    def proof(self, sets, camera=None):
        return self.look(sets)

    def settled(self, sets, camera=None):
        return None


@pytest.mark.invariant
def test_a_new_lever_is_tried_and_told(site, cooler, monkeypatch):
    assert [v.name for v in levers(site)].index("cooler") > 0
    monkeypatch.setattr(search, "Evaluator", _Frosty)
    limit = Limit(factor="sensor noise", probability_without=0.9, probability_only=0.2, share=0.7)
    first = search.find_remedies(site, [limit], 3)[0].row()
    assert (first.lever, first.unit, first.reaches) == ("cooler", "°C", True)
    assert first.to < 0.0 and first.messages.side_effects == COOLER.side_effects
    assert first.messages.cautions == (Message("caution.ice", {"below_c": first.to}),)


@pytest.mark.invariant
def test_every_step_of_every_lever_is_one_that_can_be_set(site):
    for lever in levers(site):
        for step in lever.steps:
            scene, camera = applied(site.scene, site.camera, step.sets)
            assert (scene.model, camera.model) != (site.scene.model, site.camera.model), lever.name


@pytest.mark.by_hand
def test_a_lever_that_helps_nothing_known_is_refused():
    with pytest.raises(RecordError, match="no impairment 'frost'"):
        replace(COOLER, helps=helping("frost"))
    with pytest.raises(RecordError, match="'cooler' lacks its helps"):
        LEVERS.enter(replace(COOLER, helps=frozenset()))
