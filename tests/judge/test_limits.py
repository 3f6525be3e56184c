"""Limits: what removing does, and the laws that shares keep."""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np
import pytest

from simulator.judge.impairments import IMPAIRMENTS, TASKS, of_task, without
from simulator.judge.limits import Limit, find_limits, limit_rows, shapley_shares
from simulator.judge.readers import PERSON
from simulator.judge.removal import AMPLE_CHARACTER_PX, Situation
from simulator.judge.sight import Sight, View
from simulator.scene.model_targets import Sign

READ = [record.name for record in of_task("read")]


def sight_of(made):
    view = View(made.plan, made.traces, None)
    return Sight(made.target.entry, "read", PERSON, 5, {(): view})


def start_of(made):
    return sight_of(made), Situation(made.in_scene, made.state, made.target)


@pytest.mark.invariant
def test_every_factor_has_a_meaning_and_a_place():
    assert len(of_task("read")) == 13
    assert {task for record in IMPAIRMENTS for task in record.tasks} == TASKS
    assert len({record.ease for record in IMPAIRMENTS}) == len(IMPAIRMENTS)


@pytest.mark.invariant
def test_what_is_not_there_costs_nothing(make_judged, make_camera):
    # nothing moves, characters are 34 px high, the light is ample, the air clear, no codec
    made = make_judged(
        camera=make_camera(
            sensor={"width_px": 300, "height_px": 100},
            lens={"focus_m": 9.0, "aberration_sigma_um": 12.0},
            processing={"temporal_noise_reduction": 0.0},
        ),
        lux=60_000.0,
        plate={"position_m": [0.0, 9.0, 1.0]},
        station={"height_m": 1.0, "aim_m": [0.0, 9.0, 1.0]},
    )
    sight, start = start_of(made)
    absent = ("motion", "pixels", "light", "haze", "compression", "contrast")
    for name in absent:
        assert without(sight, start, [name]) is None
    rows = find_limits(made.in_scene, made.state, made.target, 0.625, sight=sight)
    by_name = {row.factor: row for row in rows}
    assert set(by_name) == set(READ)
    for name in absent:
        assert by_name[name].probability_without == 0.625
        assert by_name[name].share == 0.0


@pytest.mark.invariant
def test_removing_leaves_the_rest_alone(make_judged, make_camera):
    made = make_judged(
        camera=make_camera(exposure={"shutter_s": 0.02}, lens={"focus_m": 10.0}),
        plate={"speed_kmh": 20.0, "heading_deg": 90.0},
    )
    before = (
        made.in_scene.camera.model_dump(),
        made.in_scene.world.velocities.copy(),
        made.in_scene.switches,
    )
    sight, start = start_of(made)
    still = without(sight, start, ["motion"])
    assert not np.any(still.in_scene.world.velocities)
    assert still.in_scene.camera is made.in_scene.camera and still.state is made.state
    sharp = without(sight, start, ["defocus"])
    assert not sharp.in_scene.switches.defocus and sharp.in_scene.switches.diffraction
    ideal = without(sight, start, READ)
    assert ideal.target.character_height_px >= AMPLE_CHARACTER_PX
    assert ideal.in_scene.camera.sensor.read_noise_e == 0.0
    assert made.in_scene.camera.model_dump() == before[0]
    assert np.array_equal(made.in_scene.world.velocities, before[1])
    assert made.in_scene.switches is before[2]


@pytest.mark.by_hand
def test_finer_pixels_keep_the_noise_of_an_area(make_judged, make_camera):
    far = {"position_m": [0.0, 36.0, 1.0]}
    made = make_judged(
        camera=make_camera(), lux=10.0, plate=far,
        station={"height_m": 1.0, "aim_m": [0.0, 36.0, 1.0]},
    )  # fmt: skip
    sight, start = start_of(made)
    found = without(sight, start, ["pixels"])
    k = round(found.target.character_height_px / made.target.character_height_px)
    old, new = made.in_scene.camera.sensor, found.in_scene.camera.sensor
    assert k >= 2
    assert found.target.character_height_px == pytest.approx(k * made.target.character_height_px)
    # k x k fine pixels together: the same well, read noise variance, dark current
    assert k**2 * new.full_well_e == pytest.approx(old.full_well_e)
    assert k**2 * new.read_noise_e**2 == pytest.approx(old.read_noise_e**2)
    assert k**2 * new.dark_current_e_per_s == pytest.approx(old.dark_current_e_per_s)
    assert new.width_px * new.pixel_pitch_um == pytest.approx(old.width_px * old.pixel_pitch_um)
    assert found.in_scene.view.focal_px == pytest.approx(k * made.in_scene.view.focal_px)


def level_of(made, s):
    """Level of the light parts as a share of white, by the light on the sensor."""
    from simulator.camera.region import region_light
    from simulator.judge.figures import levels

    rate = region_light(
        s.in_scene, s.state.mode, s.state.exposure.shutter_s, made.plan, made.stray_light
    )
    light, _ = levels(rate, s.state, s.target, (made.plan.box_px[0], made.plan.box_px[1]))
    return light * s.state.exposure.shutter_s * s.state.colour.balance.max() / s.state.chain.white_e


@pytest.mark.by_hand
@pytest.mark.parametrize(("factor", "gain_db"), [("clipping", 40.0), ("crushed shadow", 0.0)])
def test_the_plate_exposed_for_itself_lies_at_half(make_judged, make_camera, factor, gain_db):
    exposure = {"shutter_s": 0.01, "gain_db": gain_db, "gain_max_db": 60.0}
    made = make_judged(camera=make_camera(exposure=exposure, lens={"glare_index": 0.0}), lux=40.0)
    sight, start = start_of(made)
    before = level_of(made, start)
    assert before > 1.5 if factor == "clipping" else before < 0.25
    other = {"clipping": "crushed shadow", "crushed shadow": "clipping"}[factor]
    assert without(sight, start, [other]) is None
    assert level_of(made, without(sight, start, [factor])) == pytest.approx(0.5, rel=0.05)


@pytest.mark.by_hand
@pytest.mark.parametrize("wide", [
    {"method": "exposures", "exposures": 2, "ratio": 16.0},
    {"method": "exposures", "exposures": 3, "ratio": 8.0},
    {"method": "logarithmic", "reach_db": 60.0},
])  # fmt: skip
@pytest.mark.parametrize(("factor", "gain_db"), [("clipping", 40.0), ("crushed shadow", 0.0)])
def test_a_target_is_brought_to_half_of_the_longest_exposure(
    make_judged, make_camera, wide, factor, gain_db
):
    """Not to half of all that the range holds, where the short exposure alone still counts."""
    exposure = {"shutter_s": 0.01, "gain_db": gain_db, "gain_max_db": 60.0}
    made = make_judged(
        camera=make_camera(exposure=exposure, lens={"glare_index": 0.0}, wide_range=wide), lux=40.0
    )
    sight, start = start_of(made)
    before = level_of(made, start)
    assert before > 1.5 if factor == "clipping" else before < 0.25
    assert level_of(made, without(sight, start, [factor])) == pytest.approx(0.5, rel=0.05)


@pytest.mark.invariant
def test_a_target_well_lit_in_the_longest_exposure_is_not_lifted_beyond_it(
    make_judged, make_camera
):
    """Nothing is to be gained there, and so nothing is lost by it, whatever the range above."""
    wide = {"method": "exposures", "exposures": 2, "ratio": 16.0}
    exposure = {"shutter_s": 0.01, "gain_db": 25.0, "gain_max_db": 60.0}
    made = make_judged(
        camera=make_camera(exposure=exposure, lens={"glare_index": 0.0}, wide_range=wide), lux=40.0
    )
    sight, start = start_of(made)
    before = level_of(made, start)
    assert 0.2 < before < 0.9
    raised = without(sight, start, ["crushed shadow"])
    assert raised is None or level_of(made, raised) < 0.53


@pytest.mark.invariant
def test_contrast_is_mended_on_the_target_alone(make_judged):
    pale = {"name": "board", "kind": "sign", "text": "GATE 7", "position_m": [0.0, 18.0, 1.0],
            "background": "sign-white", "ink": "paint-white"}  # fmt: skip
    made = make_judged(target=[pale])
    from simulator.camera.pipeline import settle_exposure
    from simulator.judge.target import find_text

    board = next(i for i in made.in_scene.world.targets["board"])
    other = made.in_scene.world.targets["plate"][0]
    entry = Sign.model_validate(pale)
    sight = Sight(entry, "read", PERSON, 5)
    target = find_text(made.in_scene, entry)
    state = settle_exposure(made.in_scene)
    found = without(sight, Situation(made.in_scene, state, target), ["contrast"])
    cards, materials = found.in_scene.world.cards, found.in_scene.world.materials
    assert np.array_equal(cards[other].texture, made.in_scene.world.cards[other].texture)
    shown = [materials[m].reflectance.mean() for m in np.unique(cards[board].texture) if m != 255]
    assert min(shown) == pytest.approx(0.04) and max(shown) == pytest.approx(0.8)


def exact(players, value):
    """Shapley value by its definition over all orders."""
    total = dict.fromkeys(players, 0.0)
    for order in permutations(players):
        for k, player in enumerate(order):
            after, before = frozenset(order[: k + 1]), frozenset(order[:k])
            total[player] += value(after) - value(before)
    return {player: gain / math.factorial(len(players)) for player, gain in total.items()}


GAMES = {
    "one cause": lambda s: 1.0 if "a" in s else 0.0,
    "two that each suffice to spoil": lambda s: 1.0 if {"a", "b"} <= s else 0.0,
    "either fixes": lambda s: 1.0 if s & {"a", "b"} else 0.0,
    "they add": lambda s: 0.5 * ("a" in s) + 0.3 * ("b" in s) + 0.2 * ("c" in s),
    "two of three": lambda s: 1.0 if len(s & {"a", "b", "c"}) >= 2 else 0.0,
}


@pytest.mark.by_hand
@pytest.mark.parametrize("name", GAMES)
def test_shares_are_the_shapley_value(name):
    # games solved by the definition; "d" does nothing in any of them
    players = [("a",), ("b",), ("c",), ("d",)]
    found = shapley_shares(players, GAMES[name], np.random.default_rng(1))
    truth = exact("abcd", GAMES[name])
    assert sum(found.values()) == pytest.approx(1.0)
    for player in players:
        assert found[player] == pytest.approx(truth[player[0]], abs=0.12)
    assert found[("d",)] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.invariant
def test_light_that_washes_out_says_so():
    worse = limit_rows([_row("light", 0.1, 1.0, 0.0)], 0.5)[0]
    better = limit_rows([_row("light", 0.9, 1.0, 0.4)], 0.5)[0]
    assert "washed out" in worse.meaning and "washed out" not in better.meaning


def _row(factor, without, only, share=0.2):
    return Limit(factor=factor, probability_without=without, probability_only=only, share=share)
