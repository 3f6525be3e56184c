"""Words for a pixel density."""

from __future__ import annotations

import math

import pytest

from simulator.judge.density import CLASSES_PX_PER_M, density_class

pytestmark = pytest.mark.invariant


def test_below_the_lowest_class():
    assert density_class(0.0).density_class == "below monitor"
    assert density_class(12.49).density_class == "below monitor"
    assert density_class(math.inf).density_class == "inspect"


def test_more_pixels_never_lower_the_class():
    order = ["below monitor", *(name for _, name in reversed(CLASSES_PX_PER_M))]
    ranks = [order.index(density_class(d / 4.0).density_class) for d in range(5000)]
    assert ranks == sorted(ranks)
    assert set(ranks) == set(range(len(order)))
    assert density_class(77.5).pixels_per_m == 77.5
