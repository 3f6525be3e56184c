"""What the workbench keeps is bounded, and what it let go is gone."""

from __future__ import annotations

import asyncio
import importlib.util
import weakref
from pathlib import Path

import numpy as np
import pytest

from simulator.app.web.answers import coarse
from simulator.app.web.kept import MOST_PROOF_BYTES, Kept
from simulator.app.web.lanes import Lanes, OutOfDateError
from simulator.app.web.view import View
from simulator.app.web.workspace import Workspace
from simulator.bounded import bytes_reached

SMALL = {"sensor.width_px": 320, "sensor.height_px": 180, "sensor.pixel_pitch_um": 12.0}
TOOL = Path(__file__).parents[2] / "tools" / "click_about.py"


class Held:
    """Stands for the arrays of a prediction."""


@pytest.mark.invariant
def test_what_a_dropped_work_held_is_let_go():
    """Whoever keeps the exception, for a log or a page, keeps no arrays of the work."""
    lanes, held = Lanes(), []

    def work():
        big = Held()
        held.append(weakref.ref(big))
        lanes.ticket("page")  # the page asks for something newer
        ticket.check()
        return big

    ticket = lanes.ticket("page")
    with pytest.raises(OutOfDateError) as kept:
        asyncio.run(lanes.run(lanes.slow, ticket, work))
    lanes.close()
    assert kept.value is not None and held[0]() is None


@pytest.mark.invariant
def test_proved_answers_are_bounded_by_their_pictures():
    kept = Kept()
    for k in range(40):
        kept.put_proof(str(k), {"step": "proved", "picture": "x" * (MOST_PROOF_BYTES // 10)})
    assert kept.proof("39") is not None and kept.proof("31") is not None
    assert kept.proof("29") is None
    assert (
        sum(kept.proof(str(k)) is not None for k in range(40)) == 9
    )  # their other texts count too


@pytest.mark.invariant
def test_many_views_take_no_more_than_a_few():
    """Nine views hold no more than the first four did at most."""
    workspace, kept = Workspace(), Kept(most=2)
    held = []
    for k in range(9):
        view = View(changes={**SMALL, "distance": 12.0 + 0.3 * k, "lux": 50.0})
        with kept.session(view, workspace.folder) as session:
            assert coarse(session)["picture"]
        held.append(bytes_reached([kept._entries, kept._seen.known, kept._opened.known]))
        for entry in kept._entries.values():
            held[-1] += bytes_reached([entry.session, entry.asked])
    workspace.close()
    assert len(kept) == 2
    assert max(held[4:]) <= 1.2 * max(held[:4])


@pytest.mark.by_hand
def test_growth_is_told_from_swings():
    """Memory that swings about a level does not grow; one that keeps 30 MB a minute does."""
    pytest.importorskip("playwright", reason='needs Playwright: pip install "nightproof[test]"')
    spec = importlib.util.spec_from_file_location("click_about", TOOL)
    tool = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(tool)
    at_s = np.arange(60.0, 601.0, 60.0)
    swings = 900.0 + 60.0 * (-1.0) ** np.arange(len(at_s))
    flat = list(zip(at_s, swings, strict=True))
    rising = list(zip(at_s, swings + 30.0 * at_s / 60.0, strict=True))
    assert tool.slope_of(flat) < tool.STEEP_MB_PER_MIN < tool.slope_of(rising)
    still = [(at, 900.0 + 30.0 * at / 60.0) for at in at_s]
    assert tool.slope_of(still) == pytest.approx(30.0)
