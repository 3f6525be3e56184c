"""What is kept in memory between questions stays bounded."""

from __future__ import annotations

import pytest

from simulator.bounded import Bounded, give_back

pytestmark = pytest.mark.by_hand


def test_the_one_not_asked_for_longest_makes_room():
    kept: Bounded[int] = Bounded(2)
    kept.put("a", 1)
    kept.put("b", 2)
    assert kept.get("a") == 1  # now b waits longest
    kept.put("c", 3)
    assert [kept.get(key) for key in "abc"] == [1, None, 3]


def test_sizes_are_bounded_together_and_the_last_one_stays():
    kept: Bounded[str] = Bounded(5, len)
    kept.put("a", "xx")
    kept.put("b", "yyy")
    assert kept.get("a") == "xx"  # 5 in all: nothing has to go
    kept.put("c", "z")
    assert [kept.get(key) for key in "abc"] == ["xx", None, "z"]
    kept.put("d", "wwwwwww")
    assert [kept.get(key) for key in "acd"] == [None, None, "wwwwwww"]


def test_a_key_that_is_put_again_counts_once():
    kept: Bounded[str] = Bounded(3, len)
    kept.put("a", "xxx")
    kept.put("a", "yy")
    kept.put("b", "z")
    assert [kept.get(key) for key in "ab"] == ["yy", "z"]


def test_memory_is_given_back_anywhere():
    give_back()
