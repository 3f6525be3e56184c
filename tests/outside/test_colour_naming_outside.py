"""Colour differences against Sharma's pairs and colour-science; names of the 24-patch chart."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.colour_matrix import chart_reflectance
from simulator.judge.colour_difference import (
    ciede2000,
    lab_of_linear,
    lab_of_reflectance,
    linear_of,
)
from simulator.judge.colour_naming import right_names

pytestmark = pytest.mark.outside

# Sharma, Wu and Dalal, Color Research and Application 30 (2005) 21: test data of the formula
PAIRS = (
    ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
    ((50.0, 3.1571, -77.2803), (50.0, 0.0, -82.7485), 2.8615),
    ((50.0, 2.8361, -74.0200), (50.0, 0.0, -82.7485), 3.4412),
    ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
)


@pytest.mark.parametrize(("one", "other", "difference"), PAIRS)
def test_difference_of_published_pairs(one, other, difference):
    assert float(ciede2000(np.array(one), np.array(other))) == pytest.approx(difference, abs=5e-5)
    assert float(ciede2000(np.array(other), np.array(one))) == pytest.approx(difference, abs=5e-5)


def test_difference_and_lab_are_those_of_colour_science():
    import colour

    rng = np.random.default_rng(1)
    a, b = rng.uniform([0, -90, -90], [100, 90, 90], (2, 500, 3))
    expected = colour.delta_E(a, b, method="CIE 2000")
    assert ciede2000(a, b) == pytest.approx(expected, abs=1e-9)
    levels = rng.integers(0, 256, (200, 3)).astype(float)
    xyz = colour.sRGB_to_XYZ(levels / 255.0)
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    lab = colour.XYZ_to_Lab(xyz, white)
    assert lab_of_linear(linear_of(levels)) == pytest.approx(lab, abs=0.05)


# names that the makers of the chart give to its patches, by number in rows
CHART = {13: "blue", 14: "green", 15: "red", 16: "yellow", 19: "white", 24: "black", 7: "orange",
         3: "blue", 10: "purple", 21: "grey", 22: "grey"}  # fmt: skip


@pytest.mark.parametrize(("region", "name"), CHART.items())
def test_patches_of_the_chart_are_named_as_their_makers_do(region, name):
    lab = lab_of_reflectance(chart_reflectance()[region - 1])
    assert right_names(lab)[0] == name


def test_lightness_of_the_chart_is_as_published():
    """xyY of the chart of 2005 in colour-science: Y of neutral 5, white and black."""
    for region, y in ((22, 0.1915), (19, 0.9131), (24, 0.0311)):
        lab = lab_of_reflectance(chart_reflectance()[region - 1])
        assert lab[0] == pytest.approx(116.0 * np.cbrt(y) - 16.0, abs=1.5)
