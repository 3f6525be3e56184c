"""Numbers outside the domain of a law are refused with argument, number and domain."""

from __future__ import annotations

import numpy as np
import pytest

from simulator import InputError, judge
from simulator.domain import require

pytestmark = pytest.mark.by_hand


@pytest.mark.parametrize(
    ("value", "domain"),
    [
        (0.0, {"above": 0.0}),
        (-1e-9, {"least": 0.0}),
        (1.1, {"least": 0.0, "most": 1.0}),
        ([0.5, 2.0], {"most": 1.0}),
        (np.array([[1.0], [-np.inf]]), {"above": 0.0}),
    ],
)
def test_outside(value, domain):
    with pytest.raises(InputError, match="domain") as refused:
        require("x", value, **domain)
    assert refused.value.argument == "x"
    assert isinstance(refused.value, ValueError)


def test_the_ends_belong_to_it_and_nan_passes():
    require("x", [0.0, 1.0, np.nan], least=0.0, most=1.0)
    require("x", np.inf, above=0.0)


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: judge.density_class(-1.0), "pixels_per_m"),
        (lambda: judge.density_class_2025(-1.0), "pixels_per_m"),
        (lambda: judge.contrast_sensitivity(0.0, 100.0, 4.0), "frequency"),
        (lambda: judge.contrast_sensitivity(2.0, -1.0, 4.0), "luminance_cd_m2"),
        (lambda: judge.contrast_sensitivity(2.0, 100.0, 0.0), "size_deg"),
        (lambda: judge.task_probability(-0.1), "ratio"),
        (lambda: judge.eye_threshold(np.array([2.0]), 0.0, 0.2), "critical"),
        (lambda: judge.jeffreys_interval(11, 10), "successes"),
        (lambda: judge.jeffreys_interval(0, 0), "trials"),
    ],
)
def test_the_judge_refuses(call, argument):
    with pytest.raises(InputError) as refused:
        call()
    assert refused.value.argument == argument
