"""Numbers of the quick estimates, as `tools/read_end_to_end.py fit` prints them."""

from __future__ import annotations

from simulator.judge.readers.quick_estimate import QuickEstimate

MACHINE_QUICK = QuickEstimate(
    offset=6.119,
    slope=2.166,
    cycles=4.404,
    width=0.5841,
    along=0.6127,
    harshness=0.5098,
    noise=1.327,
    misfit=1.019,
    level=0.1675,
    clutter=0.01528,
    reversed=1.0,
    faint=0.03769,
    size=0.9325,
    narrow=0.5123,
    gap=1.3,
    squeezed=0.9694,
    error=0.614,
)
"""Fitted to the text recogniser."""
PERSON_QUICK = MACHINE_QUICK
"""Fitted to the person."""
