"""Tolerances: what they do to the probability, and which of them is told to matter."""

from __future__ import annotations

import numpy as np
import pytest
from bare import bare

from simulator.studies.overrides import load_pair
from simulator.studies.session import open_session
from simulator.studies.uncertainty import (
    Input,
    Spread,
    _shares,
    combined_interval,
    sliced_hypercube,
    spread,
    tolerant_inputs,
)

SMALL = ["sensor.width_px=480", "sensor.height_px=270", "sensor.pixel_pitch_um=11.6"]
ONE, TWO, NONE = (Input("camera", key, 1.0, 0.5) for key in ("a.one", "a.two", "a.none"))


@pytest.mark.by_hand
def test_shares_are_those_of_a_known_sum():
    # result = 3 x one + 1 x two of even independent inputs: variances 9 to 1
    unit = np.random.default_rng(2).random((512, 3))
    found = _shares([ONE, TWO, NONE], unit, 3.0 * unit[:, 0] + unit[:, 1])
    shares = {one.key: share for one, share in found}
    assert [one.key for one, _ in found] == ["a.one", "a.two"]
    assert shares["a.one"] == pytest.approx(0.9, abs=0.05)
    assert shares["a.two"] == pytest.approx(0.1, abs=0.05)
    assert _shares([ONE], unit[:, :1], np.full(512, 0.5)) == ()


@pytest.mark.by_hand
def test_intervals_add_in_quadrature_on_each_side():
    found = Spread(0.6, np.linspace(0.52, 0.68, 1001), (), 1)
    # 2.5th percentile .524, 97.5th .676: .076 either way; sampling .03 and .04
    low, high = combined_interval(0.7, 0.67, 0.74, found)
    assert low == pytest.approx(0.7 - np.hypot(0.03, 0.076), abs=1e-3)
    assert high == pytest.approx(0.7 + np.hypot(0.04, 0.076), abs=1e-3)
    assert combined_interval(0.7, 0.67, 0.74, None) == (0.67, 0.74)
    assert combined_interval(0.99, 0.97, 1.0, found)[1] == 1.0


@pytest.mark.invariant
def test_inputs_are_the_numbers_with_a_tolerance():
    scene, camera = load_pair(bare("depot-gate-dark"), "fixed-2mp-lowlight", [])
    found = {one.full_key for one in tolerant_inputs(scene, camera)}
    assert "camera.sensor.read_noise_e" in found
    assert "camera.lens.focal_min_mm" not in found
    assert all(one.tolerance > 0.0 for one in tolerant_inputs(scene, camera))


@pytest.mark.invariant
def test_draws_repeat_by_seed_and_lie_about_the_nominal():
    sets = [*SMALL, "task.target=truck", "task.name=recognise", "sensor.width_px=240",
            "sensor.height_px=135", "sensor.pixel_pitch_um=23.2"]  # fmt: skip
    pair = load_pair("depot-gate-dark", "fixed-2mp-lowlight", sets)
    one, same, other = (spread(open_session(*pair, seed=seed), draws=4) for seed in (1, 1, 2))
    assert one is not None and same is not None and other is not None
    assert np.array_equal(one.draws, same.draws)
    assert not np.array_equal(one.draws, other.draws)
    assert np.all((one.draws >= 0.0) & (one.draws <= 1.0))
    assert np.ptp(one.draws) > 0.0
    assert one.draws.min() - 0.2 <= one.nominal <= one.draws.max() + 0.2


@pytest.mark.by_hand
@pytest.mark.parametrize("draws", [4, 8, 16, 32])
def test_every_slice_of_a_hypercube_is_one(draws):
    # McKay, Beckman and Conover 1979: each of n equal parts of every input is drawn once
    unit = sliced_hypercube(5, draws, np.random.default_rng(3))
    assert unit.shape == (draws, 5)
    for column in unit.T:
        assert sorted((column * draws).astype(int)) == list(range(draws))
        for start in range(0, draws, 8):
            part = column[start : start + 8]
            assert sorted((part * len(part)).astype(int)) == list(range(len(part)))


@pytest.mark.invariant
def test_draws_end_where_the_first_ones_change_nothing(monkeypatch):
    session = open_session(*load_pair(bare("depot-gate-dark"), "fixed-2mp-lowlight", SMALL))
    looks = iter(np.linspace(0.5, 0.504, 100))
    monkeypatch.setattr("simulator.studies.uncertainty._look", lambda *_: next(looks))
    flat = spread(session)
    assert flat is not None and len(flat.draws) == 8
    looks = iter(np.linspace(0.5, 0.9, 100))
    steep = spread(session)
    assert steep is not None and len(steep.draws) == 32
