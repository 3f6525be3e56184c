"""A metering window counts only where the camera's own loop gets there as the target passes."""

from __future__ import annotations

import pytest
from bare import bare

from simulator.studies.overrides import load_pair
from simulator.studies.remedies.loop import gets_there, needs_loop, off_by_db
from simulator.studies.session import open_session

SMALL = ("sensor.width_px=960", "sensor.height_px=540", "sensor.pixel_pitch_um=5.8",
         "processing.temporal_noise_reduction=0")  # fmt: skip
MIDDLE = ("exposure.metering=spot", "exposure.window=[0.47, 0.54, 0.53, 0.58]")


def at(*sets):
    pair = load_pair(bare("depot-gate-infrared"), "fixed-2mp-lowlight", (*SMALL, *sets))
    return open_session(*pair)


@pytest.mark.invariant
def test_a_plate_that_passes_through_a_small_window_is_gone_before_the_loop_is_there():
    session = at("target.plate.speed_kmh=30", *MIDDLE)
    assert needs_loop(session)
    # the loop still exposes for the dark picture, many times more than the plate would have
    assert off_by_db(session) > 6.0
    assert not gets_there(session)


@pytest.mark.invariant
def test_what_stands_is_metered_in_the_end():
    standing = at("target.plate.speed_kmh=0", *MIDDLE)
    assert not needs_loop(standing)
    assert abs(off_by_db(standing)) < 1e-6


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("sets", "needed"),
    [
        (("exposure.metering=average",), False),
        ((*MIDDLE, "exposure.shutter_s=0.002", "exposure.gain_db=12"), False),
        ((*MIDDLE, "exposure.shutter_s=0.002"), True),
    ],
)
def test_only_a_window_with_a_free_lever_rests_on_the_loop(sets, needed):
    assert needs_loop(at(*sets)) == needed
