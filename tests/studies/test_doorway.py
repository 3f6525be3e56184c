from __future__ import annotations

import numpy as np
import pytest

from simulator.studies.overrides import load_pair
from simulator.studies.predict import predict

SHORT = {"remedies": False, "tolerances": False}
"""What these checks do not need and what takes longest."""

pytestmark = pytest.mark.invariant
SMALL = ["sensor.width_px=480", "sensor.height_px=270", "sensor.pixel_pitch_um=11.6"]
WINDOW = "exposure.window=[0.45,0.54,0.55,0.85]"
"""The visitor's jacket."""


def doorway(metering):
    pair = load_pair(
        "doorway-noon", "fixed-2mp-lowlight", [*SMALL, f"exposure.metering={metering}", WINDOW]
    )
    result = predict(*pair, seed=3, **SHORT)
    white = float(np.mean(result.frame.min(axis=2) >= 250))
    return result.verdict.targets[0], result.verdict.exposure, white


def test_backlight_compensation_shows_the_visitor_and_washes_out_the_street():
    subject, exposure, white = zip(*(doorway(m) for m in ("average", "backlight")), strict=True)
    levels = [s.mean_level for s in subject]
    # a silhouette, then a person: brighter by far, with the doorway (over a quarter of the picture
    # without the visitor) white
    assert levels[0] < 35.0
    assert levels[1] > 2.0 * levels[0]
    assert white[0] < 0.02
    assert 0.2 < white[1] < 0.4
    assert subject[0].crushed_fraction >= subject[1].crushed_fraction
    # only the exposure differs
    made = [e.shutter_s * 10 ** (e.gain_db / 20) for e in exposure]
    assert made[0] < made[1]
    assert {e.limited_by for e in exposure} == {"nothing"}
