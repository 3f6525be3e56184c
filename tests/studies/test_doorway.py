from __future__ import annotations

import pytest

from simulator.studies.overrides import load_pair
from simulator.studies.quick import seen_of
from simulator.studies.session import open_session

pytestmark = pytest.mark.invariant
SMALL = ["sensor.width_px=480", "sensor.height_px=270", "sensor.pixel_pitch_um=11.6"]
WINDOW = "exposure.window=[0.45,0.54,0.55,0.85]"
"""The visitor's jacket."""


def doorway(metering):
    pair = load_pair(
        "doorway-noon", "fixed-2mp-lowlight", [*SMALL, f"exposure.metering={metering}", WINDOW]
    )
    session = open_session(*pair, seed=3)
    return seen_of(session), session.state.exposure


def test_backlight_compensation_shows_the_visitor_and_washes_out_the_street():
    subject, exposure = zip(*(doorway(m) for m in ("average", "backlight")), strict=True)
    white = [s.white_fraction for s in subject]
    levels = [s.mean_level for s in subject]
    # a silhouette, then a person: brighter by far, with the doorway (over a quarter of the picture
    # without the visitor) white
    assert levels[0] < 35.0
    assert levels[1] > 2.0 * levels[0]
    assert white[0] < 0.02
    assert 0.2 < white[1] < 0.4
    # only the exposure differs
    made = [e.shutter_s * 10 ** (e.gain_db / 20) for e in exposure]
    assert made[0] < made[1]
    assert {e.limited_by for e in exposure} == {"nothing"}
