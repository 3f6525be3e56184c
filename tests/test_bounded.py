"""What is kept in memory between questions stays bounded."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.bounded import Bounded, bytes_reached, few_pools, give_back

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


def test_what_is_reached_is_weighed_once():
    one = np.zeros(1000, np.float32)  # 4000 bytes
    kept: Bounded[object] = Bounded(3)
    kept.put("whole", (one, {"again": one}))
    kept.put("part", [one[10:20]])  # keeps all of it alive
    assert bytes_reached(kept) == 4000
    kept.put("more", np.zeros((2, 3)))
    assert bytes_reached(kept) == 4048
    assert bytes_reached(np.zeros) == 0  # what belongs to others is not looked into


def test_pools_are_few_anywhere():
    few_pools()
