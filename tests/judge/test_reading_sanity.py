"""Laws that every reader keeps on rendered pictures: worse light, lens, air or place never helps.

Each impairment has a mild and a strong step; the probability that a text is read may rise from step
to step by no more than the noise of its trials, alone and on top of every other impairment.
"""

from __future__ import annotations

import math
from itertools import combinations

import pytest

from simulator.judge.quick_look import quick_probability
from simulator.judge.readers import MACHINE, PERSON, RECOGNISER
from simulator.judge.readers.recogniser import recogniser_installed
from simulator.judge.trials import quick_stray_light, read_probability

TRIALS, TEXTS = 48, 6
SIGMAS = 3.0
STEPS = ("none", "mild", "strong")
DISC_PX = (0.0, 5.0, 9.0)
ABERRATION_UM = (1.0, 9.0, 14.0)
SMEAR_PX = (0.0, 5.0, 9.0)
VISIBILITY_M = (None, 100.0, 40.0)
DISTANCE_M = (18.0, 36.0, 58.0)
GLARE = (0.0, 0.3, 0.5)
LUX = (200.0, 1.2, 0.3)
IMPAIRMENTS = ("defocus", "blur", "smear", "fog", "distance", "glare", "darkness")


@pytest.fixture(scope="module")
def chance(make_judged, make_camera):
    """Probability by reader and by the step of each impairment; kept."""
    pictures, kept = {}, {}

    def situation(steps):
        distance = DISTANCE_M[steps.get("distance", 0)]
        disc = DISC_PX[steps.get("defocus", 0)]
        # thin lens: disc = f^2 / N (1 / focus - 1 / distance), over the pixel pitch
        focus = 1.0 / (1.0 / distance + disc * 2.9e-6 * 1.6 / 12e-3**2)
        # pixels a second of a plate that crosses the view
        speed = SMEAR_PX[steps.get("smear", 0)] * 2.9e-6 / 12e-3 * 18.0 / 0.02 * 3.6
        visibility = VISIBILITY_M[steps.get("fog", 0)]
        tables = {} if visibility is None else {"air": {"visibility_m": visibility, "kind": "fog"}}
        camera = make_camera(
            sensor={"width_px": 480, "height_px": 270},
            lens={
                "focus_m": focus,
                "aberration_sigma_um": ABERRATION_UM[steps.get("blur", 0)],
                "glare_index": GLARE[steps.get("glare", 0)],
            },
            exposure={"shutter_s": 0.02},
            day_night={"mode": "day"},
            processing={"temporal_noise_reduction": 0.0},
        )
        return make_judged(
            camera=camera,
            lux=LUX[steps.get("darkness", 0)],
            plate={"position_m": [0.0, distance, 1.0], "speed_kmh": speed, "heading_deg": 90.0},
            station={"height_m": 1.0, "aim_m": [0.0, distance, 1.0]},
            **tables,
        )

    def read(reader, **steps):
        key = tuple(sorted((k, v) for k, v in steps.items() if v))
        if (reader.name, type(reader), key) not in kept:
            if key not in pictures:
                pictures[key] = situation(steps)
            made = pictures[key]
            kept[reader.name, type(reader), key] = read_probability(
                made.in_scene, made.state, made.target, seed=4, trials=TRIALS, texts=TEXTS,
                named=False, reader=reader, plan=made.plan,
                stray_light=quick_stray_light(made.in_scene, made.state),
            )  # fmt: skip
        return kept[reader.name, type(reader), key]

    def estimated(reader, **steps):
        key = tuple(sorted((k, v) for k, v in steps.items() if v))
        if ("quick", reader.name, key) not in kept:
            if key not in pictures:
                pictures[key] = situation(steps)
            made = pictures[key]
            kept["quick", reader.name, key] = quick_probability(
                made.in_scene, made.state, made.target, reader, seed=4, plan=made.plan,
                stray_light=quick_stray_light(made.in_scene, made.state),
            ).value  # fmt: skip
        return kept["quick", reader.name, key]

    read.estimated = estimated
    return read


def rises(before, after):
    """By how much more than its noise a probability has risen."""
    p = (before.value + after.value) / 2.0
    spread = math.sqrt(2.0 * max(p * (1.0 - p), 0.25 / TRIALS) / TRIALS)
    return after.value - before.value - SIGMAS * spread


@pytest.mark.invariant
@pytest.mark.parametrize("impairment", IMPAIRMENTS)
def test_no_reader_gains_by_an_impairment(chance, impairment):
    readers = [PERSON, MACHINE, *([RECOGNISER] if recogniser_installed() else [])]
    for reader in readers:
        found = [chance(reader, **{impairment: step}) for step in range(len(STEPS))]
        told = [reader.name, *(one.value for one in found)]
        assert found[0].value > 0.9, told
        assert rises(found[0], found[1]) <= 0.0 and rises(found[1], found[2]) <= 0.0, told
        if impairment != "glare":  # in good light nothing but its contrast suffers
            assert found[2].value < 0.7, told


@pytest.mark.invariant
@pytest.mark.parametrize("pair", list(combinations(IMPAIRMENTS, 2)), ids="-".join)
def test_no_reader_gains_by_a_second_impairment(chance, pair):
    one, other = pair
    for reader in (PERSON, MACHINE):
        for step in (1, 2):
            both = chance(reader, **{one: step, other: 1})
            assert rises(chance(reader, **{one: step}), both) <= 0.0, (pair, step, reader.name)
            both = chance(reader, **{one: 1, other: step})
            assert rises(chance(reader, **{other: step}), both) <= 0.0, (pair, step, reader.name)


QUICK_NOISE = 0.05
"""A quick look at three other texts differs by so much (two standard deviations)."""


@pytest.mark.invariant
@pytest.mark.parametrize("impairment", IMPAIRMENTS)
def test_no_quick_estimate_gains_by_an_impairment(chance, impairment):
    for reader in (PERSON, MACHINE):
        found = [chance.estimated(reader, **{impairment: step}) for step in range(len(STEPS))]
        told = [reader.name, *found]
        assert found[0] > 0.9, told
        assert found[1] <= found[0] + QUICK_NOISE and found[2] <= found[1] + QUICK_NOISE, told
        if impairment != "glare":
            assert found[2] < 0.7, told


@pytest.mark.invariant
@pytest.mark.parametrize("pair", list(combinations(IMPAIRMENTS, 2)), ids="-".join)
def test_no_quick_estimate_gains_by_a_second_impairment(chance, pair):
    one, other = pair
    for reader in (PERSON, MACHINE):
        for step in (1, 2):
            for both, alone in (({one: step, other: 1}, {one: step}),
                                ({one: 1, other: step}, {other: step})):  # fmt: skip
                found = chance.estimated(reader, **both), chance.estimated(reader, **alone)
                assert found[0] <= found[1] + QUICK_NOISE, (reader.name, both, found)
