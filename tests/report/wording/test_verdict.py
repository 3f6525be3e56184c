"""A verdict in words: who is told what, and that words and figures agree."""

from __future__ import annotations

import re

import pytest

from simulator.judge.impairments import IMPAIRMENTS
from simulator.messages import Message
from simulator.report.wording.verdict import (
    change,
    changes,
    command_of,
    customer_sentence,
    engineer_sentence,
    limit_effect,
    remedy_lines,
    shown_word,
    worded,
)

pytestmark = pytest.mark.by_hand
SHUTTER = {
    "lever": "longest shutter", "from": 0.04, "to": 0.002, "unit": "s", "probability": 0.96,
    "reaches": True, "sets": ["exposure.shutter_max_s=0.002"], "camera": None, "parts": [],
}  # fmt: skip
LAMP = {
    "lever": "infrared light at the camera", "from": 0.0, "to": 4.0, "unit": "W/sr",
    "probability": 0.4, "reaches": False, "sets": [], "camera": None, "parts": [],
}  # fmt: skip


@pytest.fixture
def fixable(make_verdict):
    messages = {"side_effects": [{"id": "effect.noise-of-gain", "values": {}}], "cautions": []}
    return worded(make_verdict(remedies=[{**SHUTTER, "messages": messages}]))


def test_the_customer_hears_answer_reason_and_remedy(fixable):
    text = customer_sentence(fixable)
    for part in ("number plate T8Z4 R6V", "20 % of pictures", IMPAIRMENTS["light"].noun,
                 "1/500 s (now 1/25 s)", "96 % of pictures"):  # fmt: skip
        assert part in text, part
    # no symbol, key, option or method name
    assert not re.search(r"\bP\b|=|_|--|Shapley|dB|px", text)


def test_the_engineer_reads_figures_with_units(fixable):
    text = engineer_sentence(fixable)
    for part in ("0.20 (0.10 to 0.30), target 0.90", "18.2 m", "227 px/m",
                 "motion blur of 1.7 px", "SNR -2 dB", "0 % clipped", "1/25 s", "12 dB", "f/1.6",
                 "light (P 0.95"):  # fmt: skip
        assert part in text, part
    assert "\n" not in text and "  " not in text


@pytest.mark.parametrize("task", ["read", "detect", "recognise", "identify", "colour"])
@pytest.mark.parametrize("word", ["legible", "marginal", "not legible"])
@pytest.mark.parametrize("value", [0.0, 0.2, 0.72, 0.8991, 1.0])
def test_every_task_has_its_sentence_and_words_do_not_contradict_the_figure(
    make_verdict, task, word, value
):
    colour = {
        "right_names": ["red"], "named": {"red": 0.9}, "ciede2000": 2.0, "lab": [40, 30, 20],
        "reference_lab": [40, 50, 20], "monochrome": False,
    }  # fmt: skip
    more = {"text": None, "kind": "person", "cycles": 3.0, "character_height_px": None}
    target = {} if task == "read" else more | ({"colour": colour} if task == "colour" else {})
    verdict = make_verdict(
        task={"name": task}, target=target, verdict=word, probability=value,
        probability_low=value, probability_high=value,
    )  # fmt: skip
    text = customer_sentence(verdict)
    assert "target" in text
    if word == "not legible":
        assert "cannot" in text
    if value == 0.8991:
        assert "89.9 %" in text or word == "legible"
    assert engineer_sentence(verdict)
    if task != "read":
        assert "legible" not in shown_word(word, task)


def test_changes_are_imperatives_with_the_setting_as_it_is(make_verdict):
    rows = make_verdict(
        remedies=[
            SHUTTER,
            LAMP,
            {**SHUTTER, "lever": "camera", "from": "a", "to": "b", "unit": "", "camera": "b"},
            {**SHUTTER, "lever": "both", "parts": [
                {key: row[key] for key in ("lever", "from", "to", "unit")}
                for row in (SHUTTER, LAMP)
            ]},
        ]
    ).remedies  # fmt: skip
    shutter, lamp, camera, both = map(change, rows)
    assert shutter == "set the longest shutter to 1/500 s (now 1/25 s)"
    assert lamp == "add infrared light at the camera, 4 W/sr"
    assert camera == "use the camera b instead of a"
    assert both == f"{shutter} and {lamp}"
    assert command_of(rows[0]) == "--set 'exposure.shutter_max_s=0.002'"
    assert command_of(rows[2]).endswith("--camera b") and command_of(rows[1]) == ""


def test_changes_with_side_effects_and_the_gain_that_they_bring(fixable, make_verdict):
    (only,) = changes(fixable, 5, 0.05)
    assert "96 % of pictures (20 % without it)" in only
    assert "more gain means more noise" in only
    two = make_verdict(of=fixable, remedies=[SHUTTER, SHUTTER])
    assert len(changes(two, 1, 0.05)) == 2  # the one shown, and how many more
    failed = make_verdict(remedies=[LAMP])
    assert "40 % of pictures" in changes(failed, 5, 0.05)[0]
    assert "40" not in changes(make_verdict(of=failed, probability=0.38), 5, 0.05)[0]
    (line,) = remedy_lines(failed, 3)
    assert "add infrared light" in line
    assert remedy_lines(make_verdict(), 3) == []


def test_figures_of_a_limit_are_for_the_engineer(make_verdict):
    (row,) = make_verdict().limits
    assert "0.20 to 0.95" in limit_effect(row, 0.2)
    assert "95 % of pictures" in limit_effect(row, 0.2, "customer")


def test_a_worded_verdict_keeps_its_messages_and_gains_their_texts(make_verdict):
    height = Message("caution.height", {"height_m": 4.0})
    settle = Message(
        "settle.measure",
        {
            "keys": ("camera.lens.aberration_sigma_um", "scene.lamp.porch lamp.intensity_cd"),
            "values": (1.6, 25.0),
            "tolerances": (0.5, 5.0),
        },
    )
    messages = {
        "cautions": [height.row(), height.row()],
        "conditions": [Message("condition.clean").row()],
        "to_settle": settle.row(),
    }
    told = worded(make_verdict(messages=messages))
    assert len(told.cautions) == 1 and "4 m above ground" in told.cautions[0]
    assert told.conditions == ("Lens and dome are clean and dry.",)
    assert "(1.6 ± 0.5 µm) and intensity of lamp porch lamp (25 ± 5 cd)" in told.to_settle
    assert told.messages.to_settle == settle
    assert told.sentences.customer == customer_sentence(told)
    assert type(told).from_dict(told.to_dict()) == told
