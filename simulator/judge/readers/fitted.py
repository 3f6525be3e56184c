"""Numbers of the quick estimates, as `tools/read_end_to_end.py fit` prints them."""

from __future__ import annotations

from simulator.judge.readers.quick_estimate import QuickEstimate

MACHINE_QUICK = QuickEstimate(
    offset=6.117,
    slope=2.166,
    cycles=4.404,
    width=0.584,
    along=0.6127,
    harshness=0.5097,
    noise=1.325,
    misfit=1.018,
    level=0.1673,
    clutter=0.01538,
    reversed=1.0,
    faint=0.03769,
    size=0.9325,
    narrow=0.5123,
    gap=1.3,
    squeezed=0.9694,
    error=0.608,
)
"""Fitted to the text recogniser."""
PERSON_QUICK = QuickEstimate(
    offset=5.682,
    slope=4.304,
    cycles=2.648,
    width=0.5225,
    along=0.5602,
    harshness=0.05399,
    noise=0.336,
    misfit=0.1585,
    level=0.1331,
    clutter=0.2611,
    reversed=1.0,
    faint=0.006023,
    size=0.6166,
    narrow=0.5849,
    gap=0.6594,
    squeezed=0.3154,
    error=0.78,
)
"""Fitted to the person."""
