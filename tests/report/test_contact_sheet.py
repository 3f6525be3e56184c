"""The contact sheet of a film: frames where something happens, the target left free."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from simulator.report.sequence_files import free_corner, happenings, stills, with_inset


def frame(k, *, gain_db=0.0, mode="day", box_px=(10, 10, 30, 20), level=100):
    picture = np.full((90, 160, 3), level, np.uint8)
    x0, y0, x1, y1 = box_px
    picture[y0:y1, x0:x1] = 200
    exposure = SimpleNamespace(shutter_s=0.02, gain_db=gain_db)
    return SimpleNamespace(number=k, picture=picture, exposure=exposure, mode=mode, box_px=box_px)


@pytest.mark.by_hand
def test_what_changes_counts():
    found = happenings([
        frame(0), frame(1), frame(2, gain_db=20.0 * np.log10(2.0)),
        frame(3, gain_db=20.0 * np.log10(2.0), mode="night"),
    ])  # fmt: skip
    # nothing; one stop of four; a switch of mode
    assert found == pytest.approx([0.0, 0.25, 0.5])


@pytest.mark.invariant
def test_most_stills_are_taken_where_something_happens():
    # 60 frames in which gain climbs and the mode switches between frames 40 and 45 alone
    gains = np.interp(np.arange(60), [40, 45], [0.0, 30.0])
    frames = [frame(k, gain_db=g, mode="night" if k > 44 else "day") for k, g in enumerate(gains)]
    numbers = [one.number for one in stills(SimpleNamespace(frames=frames))]
    assert numbers[0] == 0
    assert numbers[-1] == 59
    assert sum(39 <= n <= 46 for n in numbers) >= 4
    # a film in which nothing happens is parted by time
    still = [one.number for one in stills(SimpleNamespace(frames=[frame(k) for k in range(36)]))]
    assert still == [0, 5, 10, 15, 20, 25, 30, 35]


@pytest.mark.by_hand
def test_an_inset_takes_the_first_corner_that_leaves_the_target_free():
    inset = (40, 60)
    assert free_corner((90, 160), inset, (70, 30, 90, 50)) == (0, 0)
    assert free_corner((90, 160), inset, (10, 10, 30, 20)) == (0, 100)
    assert free_corner((90, 160), inset, (10, 10, 130, 20)) == (50, 0)
    assert free_corner((90, 160), inset, (10, 10, 130, 80)) is None
    for box_px in ((4, 4, 20, 12), (60, 40, 80, 50), (130, 70, 150, 80)):
        whole = with_inset(frame(0, box_px=box_px), 160)
        x0, y0, x1, y1 = box_px
        assert np.all(whole[y0:y1, x0:x1] == 200)
        assert np.any(whole == 244)
