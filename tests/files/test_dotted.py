"""Values set from outside: how they are written."""

from __future__ import annotations

import pytest

from simulator import dotted


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("key", "text", "value"),
    [("exposure.shutter_s", "1/250", "0.004"), ("target.plate.text", "12/34", "12/34"),
     ("exposure.shutter_s", "1/0", "1/0"), ("exposure.shutter_s", "0.01", "0.01")],
)  # fmt: skip
def test_times_may_be_written_as_fractions(key, text, value):
    assert dotted.parse_fraction(key, text) == value
