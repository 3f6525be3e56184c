"""Verdict words at their borders, and cautions."""

from __future__ import annotations

import math

import pytest

from simulator.judge.verdict import cautions, verdict_word
from simulator.messages import Message
from simulator.scene.build import build_world

pytestmark = pytest.mark.by_hand


@pytest.mark.parametrize(
    ("p", "low", "high", "wanted", "word"),
    [
        (0.97, 0.90, 0.99, 0.9, "legible"),  # the low end just reaches it
        (0.97, 0.8999, 0.99, 0.9, "marginal"),  # straddles
        (0.85, 0.80, 0.90, 0.9, "marginal"),  # the high end just reaches it
        (0.85, 0.80, 0.8999, 0.9, "marginal"),  # fails, but more often read than not
        (0.50, 0.43, 0.57, 0.9, "marginal"),
        (0.4999, 0.43, 0.57, 0.9, "not legible"),
        (0.0, 0.0, 0.02, 0.9, "not legible"),
        (1.0, 0.98, 1.0, 0.99, "marginal"),  # too few trials to promise .99
        (0.2, 0.15, 0.27, 0.1, "legible"),  # little was asked
        (0.2, 0.15, 0.27, 0.25, "marginal"),
    ],
)
def test_words(p, low, high, wanted, word):
    assert verdict_word(p, low, high, wanted) == word


INFRARED_EYE = "caution.infrared-eye"
INFRARED = {
    "name": "mast infrared",
    "wavelength_nm": 850.0,
    "radiant_intensity_w_per_sr": 9.0,
    "beam_deg": 30.0,
    "position_m": [0.0, 0.0, 1.2],
    "aim_m": [0.0, 18.0, 1.0],
}


def _cautions(scene):
    return cautions(scene, build_world(scene))


def test_eye_distance_by_inverse_square(make_scene):
    # 9 W/sr falls to 100 W/m2 at sqrt(9 / 100) = .30 m
    found = [m for m in _cautions(make_scene(illuminator=[INFRARED])) if m.id == INFRARED_EYE]
    assert len(found) == 1
    assert found[0].values["light"] == "mast infrared"
    assert found[0].values["near_m"] == pytest.approx(math.sqrt(9.0 / 100.0))


def test_cautions_only_where_they_apply(make_scene):
    lamp = {"name": "lamp", "spectrum": "led-3000k", "intensity_cd": 900.0,
            "position_m": [0.0, 0.0, 3.0], "aim_m": [0.0, 9.0, 0.0]}  # fmt: skip
    off = {**INFRARED, "on": False}
    plates = Message("caution.personal-data", {"people": False, "plates": True})
    assert _cautions(make_scene(illuminator=[off], lamp=[lamp])) == [plates]
    high = _cautions(make_scene(station={"height_m": 4.0}))
    assert high == [Message("caution.height", {"height_m": 4.0}), plates]
