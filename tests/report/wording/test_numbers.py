"""Figures as the trade writes them."""

from __future__ import annotations

import doctest

import pytest

from simulator.report.wording import numbers


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("shutter_s", "text"),
    [
        (0.001, "1/1000 s"),
        (1 / 30, "1/30 s"),
        (0.25, "1/4 s"),
        (0.4, "0.4 s"),  # not 1/2 s
        (0.15, "0.15 s"),  # 1/7 s is 5 % off
        (0.29, "0.29 s"),
        (2.0, "2 s"),
        (1 / 12_345, "1/12300 s"),
    ],
)
def test_shutter(shutter_s, text):
    assert numbers.shutter(shutter_s) == text


@pytest.mark.invariant
def test_a_shutter_is_written_as_the_time_it_is():
    for k in range(1, 2000):
        said = numbers.shutter(k / 1000.0).removesuffix(" s")
        top, _, below = said.partition("/")
        assert float(top) / float(below or 1) == pytest.approx(k / 1000.0, rel=0.05)


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("value", "count", "text"),
    [
        (216.0, 2, "220"),
        (33_012.0, 3, "33 000"),
        (0.996, 2, "1"),
        (9.996, 3, "10"),
        (0.0107, 3, "0.0107"),
        (0.00004, 2, "4e-05"),
        (0.0, 3, "0"),
        (-24.84, 3, "-24.8"),
    ],
)
def test_digits(value, count, text):
    assert numbers.digits(value, count) == text


@pytest.mark.by_hand
def test_a_share_below_the_target_never_reads_like_the_target():
    assert numbers.percent(0.8991, beside=0.9) == "89.9 %"
    assert numbers.percent(0.8997, beside=0.9) == "89.97 %"
    assert numbers.percent(0.9, beside=0.9) == "90 %"
    assert numbers.percent_range(0.82, 0.9004, beside=0.9) == "82 to 90.04 %"


@pytest.mark.by_hand
def test_no_signal_is_said_in_words_and_not_in_decibels():
    assert (numbers.snr(12.34), numbers.snr(-79.0)) == ("12.3 dB", "none left")


@pytest.mark.by_hand
def test_lists_and_first_letters():
    assert numbers.listed(["a", "b", "c"]) == "a, b and c"
    assert (numbers.listed(["a"]), numbers.listed([])) == ("a", "")
    assert (numbers.lowered("Set it"), numbers.lowered("IR lamp")) == ("set it", "IR lamp")


@pytest.mark.invariant
def test_examples_run():
    from simulator import messages
    from simulator.report.wording import catalogue

    for module in (numbers, catalogue, messages):
        assert doctest.testmod(module).failed == 0
