"""Remedies: what is searched, what is promised, and that the promise holds on fresh noise."""

from __future__ import annotations

from dataclasses import replace

import pytest
from bare import bare

from simulator.camera.auto_exposure import settle_exposure
from simulator.camera.in_scene import place_camera
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.judge.limits import Limit
from simulator.judge.target import find_text
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.studies.overrides import load_pair
from simulator.studies.quick import quick
from simulator.studies.remedies.combined import Remembered, _weighed, together
from simulator.studies.remedies.evaluator import Evaluator, applied
from simulator.studies.remedies.lever import Effort, Lever, LeverKind, Site, Step, Travel
from simulator.studies.remedies.search import Search, find_remedies
from simulator.studies.session import Session

SMALL = ("sensor.width_px=960", "sensor.height_px=540", "sensor.pixel_pitch_um=5.8",
         "processing.temporal_noise_reduction=0")  # fmt: skip


class _Drawn(Evaluator):
    """Looks at a drawn curve in place of the camera."""

    wanted, aim = 0.9, 0.95

    def __init__(self, curve, evaluator=60):
        self.curve, self.left = curve, evaluator

    def look(self, sets, camera=None):
        self.left -= 1
        return self.curve(*(float(text.split("=")[1]) for text in sets))

    def proof(self, sets, camera=None):
        return self.look(sets)

    def settled(self, sets, camera=None) -> Session | None:
        return None


def lever(values, name="k", effort=Effort.SETTING, helps=("light",)):
    steps = tuple(Step(v, (f"{name}={v}",)) for v in values)
    travel = Travel(0.1, steps, lambda v: (f"{name}={v}",))
    return Lever(LeverKind(name, name, effort, frozenset(helps), lambda _: [travel]), travel)


@pytest.mark.by_hand
def test_the_least_change_is_found_where_more_is_too_much():
    # works between 3 and 30 only, as infrared before a plate that throws it back
    search = Search(_Drawn(lambda v: 1.0 if 3.0 <= v <= 30.0 else 0.0))
    found = search.least(lever((1.0, 8.0, 64.0)))
    assert found.reaches and 3.0 <= found.to <= 4.8  # two halvings by ratio between 1 and 8


@pytest.mark.by_hand
def test_a_lever_that_cannot_reach_tells_its_best():
    found = Search(_Drawn(lambda v: 0.6 if v == 8.0 else 0.2)).least(lever((1.0, 8.0, 64.0)))
    assert not found.reaches
    assert (found.to, found.probability) == (8.0, 0.6)


@pytest.mark.invariant
def test_what_the_proof_refutes_is_not_promised():
    evaluator = _Drawn(lambda v: 1.0)
    evaluator.proof = lambda sets, camera=None: 0.7
    found = Search(evaluator).least(lever((1.0, 8.0)))
    assert not found.reaches and found.probability <= 0.9


LAMP = lever((1.0, 4.0, 16.0), "lamp", Effort.LAMP, ("light",))
METER = lever((1.0, 2.0), "meter", Effort.SETTING, ("clipping",))
GAIN = lever((6.0, 12.0), "gain", Effort.SETTING, ("light",))


def washed(lamp, meter):
    """A lamp from 4 on gives light enough, and washes out unless the meter stands at 2."""
    return 0.01 * lamp / 16.0 + (0.98 if lamp >= 4.0 and meter == 2.0 else 0.0)


@pytest.mark.by_hand
def test_a_lamp_and_a_meter_are_found_together_at_their_least():
    evaluator = _Drawn(washed)
    evaluator.look = lambda sets, camera=None: washed(
        *(float(dict(t.split("=") for t in sets).get(k, 0)) for k in ("lamp", "meter"))
    )
    (choices, proof, _), *_ = together(evaluator, [GAIN, LAMP, METER], {}, None, 0)
    assert {lever.name: step.value for lever, step in choices} == {"lamp": 4.0, "meter": 2.0}
    assert proof > 0.98


@pytest.mark.by_hand
def test_what_could_serve_at_best_is_tried_first():
    # only with light and clipping both gone could it be read, and only a lamp brings light
    rows = _weighed([GAIN, LAMP, METER], lambda s: float({"light", "clipping"} <= s), 0.9)
    assert {v.name for v in min(rows, key=lambda row: row[0])[1]} == {"lamp", "meter"}
    assert len(rows) == 4  # three pairs and the triple


@pytest.mark.invariant
def test_what_came_near_is_tried_with_a_third():
    # the pair of lamp and meter is short of what is wanted, and gain completes it
    def curve(sets):
        at = {k: float(v) for k, v in (text.split("=") for text in sets)}
        pair = at.get("lamp", 0.0) >= 4.0 and at.get("meter") == 2.0
        return 0.01 + 0.8 * pair + 0.18 * (pair and at.get("gain", 0.0) >= 6.0)

    evaluator = _Drawn(None, evaluator=40)
    evaluator.look = lambda sets, camera=None: curve(sets)
    (choices, *_), *_ = together(evaluator, [GAIN, LAMP, METER], {}, None, 0)
    assert {lever.name for lever, _ in choices} == {"lamp", "meter", "gain"}


@pytest.mark.invariant
def test_a_new_illuminator_by_its_profile():
    scene = Scene.load(bare("depot-gate-dark"))
    camera = Camera.load("fixed-2mp-lowlight")
    texts = (
        "illuminator.added infrared.use=infrared-850-medium",
        "illuminator.added infrared.radiant_intensity_w_per_sr=3",
    )
    lit, same = applied(scene, camera, texts)
    new = lit.model.illuminator[-1]
    assert same is camera
    assert len(lit.model.illuminator) == len(scene.model.illuminator) + 1
    assert new.radiant_intensity_w_per_sr == 3.0
    assert new.aim_m == scene.model.station.aim_m and new.beside_camera_m is not None
    # the same by name, as `--set` does it
    again, _ = load_pair(bare("depot-gate-dark"), "fixed-2mp-lowlight", texts)
    assert again.model == lit.model


@pytest.mark.invariant
def test_only_the_use_of_a_profile_adds_an_illuminator():
    with pytest.raises(InputError):
        load_pair(
            bare("depot-gate-dark"), "fixed-2mp-lowlight", ["illuminator.new one.dimming=0.5"]
        )


@pytest.mark.invariant
def test_remedies_applied_reach_what_they_promise():
    # the gate's own infrared washes the plate out; the truth is Monte Carlo on noise that the
    # search never saw, through `--set` texts alone
    sets = (*SMALL, "task.wanted_probability=0.6")
    scene, camera = load_pair(bare("depot-gate-infrared"), "fixed-2mp-lowlight", sets)
    model = scene.model
    entry = model.target[0]
    in_scene = place_camera(build_world(model), model.station, camera.model)
    state = settle_exposure(in_scene)
    site = Site(scene, camera, in_scene, state, find_text(in_scene, entry))
    rows = [Limit(factor="clipping", probability_without=1.0, probability_only=1.0, share=0.9)]
    found = find_remedies(site, rows, 3, most_looks=15)
    reaching = [row for row in found if row.reaches]
    assert reaching, found
    assert quick(scene, camera, seed=90_001, trials=60).probability < 0.5
    for row in reaching[:2]:
        again = quick(*applied(scene, camera, row.sets), seed=90_001, trials=60)
        assert again.probability >= model.task.wanted_probability, row
    efforts = [row.effort for row in reaching]
    assert efforts == sorted(efforts)


@pytest.mark.invariant
def test_what_is_not_needed_is_left_out():
    # meter and gain come near alone, but lamp and meter serve without it
    def curve(sets):
        at = {k: float(v) for k, v in (text.split("=") for text in sets)}
        pair = at.get("lamp", 0.0) >= 4.0 and at.get("meter") == 2.0
        return 0.98 if pair else 0.6 if "meter" in at and "gain" in at else 0.01

    evaluator = _Drawn(None, evaluator=60)
    evaluator.look = lambda sets, camera=None: curve(sets)
    best = {"gain": Remembered(("gain=6.0",), 0.6), "meter": Remembered(("meter=1.0",), 0.6)}
    (choices, *_), *_ = together(evaluator, [GAIN, LAMP, METER], best, None, 0)
    assert {lever.name for lever, _ in choices} == {"lamp", "meter"}


@pytest.mark.invariant
def test_three_wait_for_the_pair_that_may_serve():
    # the gain alone comes near, so that the three with it weigh least; the lightest pair serves
    tried = []

    def curve(sets):
        tried.append({text.split("=")[0] for text in sets})
        at = {k: float(v) for k, v in (text.split("=") for text in sets)}
        return 0.98 if at.get("lamp", 0.0) >= 4.0 and at.get("meter") == 2.0 else 0.01

    evaluator = _Drawn(None, evaluator=60)
    evaluator.look = lambda sets, camera=None: curve(sets)
    best = {"gain": Remembered(("gain=6.0",), 0.85)}
    held = replace(METER, kind=replace(METER.kind, first=True))
    (choices, *_), *_ = together(evaluator, [GAIN, LAMP, held], best, None, 0)
    assert {lever.name for lever, _ in choices} == {"lamp", "meter"}
    served = tried.index({"lamp", "meter"})
    assert {"lamp", "meter", "gain"} not in tried[:served]
