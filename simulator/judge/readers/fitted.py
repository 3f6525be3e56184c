"""Numbers of the quick estimates, as `tools/read_end_to_end.py fit` prints them."""

from __future__ import annotations

from simulator.judge.readers.quick_estimate import QuickEstimate

MACHINE_QUICK = QuickEstimate(
    offset=6.082,
    slope=3.664,
    cycles=2.844,
    width=0.8021,
    along=0.6456,
    harshness=0.6983,
    noise=0.205,
    misfit=0.1174,
    level=0.1469,
    clutter=0.1965,
    reversed=1.0,
    faint=0.04938,
    size=0.8179,
    narrow=0.4859,
    gap=1.098,
    squeezed=1.326,
    error=0.5143,
)
"""Fitted to the text recogniser."""
PERSON_QUICK = QuickEstimate(
    offset=6.2,
    slope=4.198,
    cycles=1.955,
    width=0.5824,
    along=0.5478,
    harshness=0.2255,
    noise=0.1521,
    misfit=0.08337,
    level=0.09143,
    clutter=0.1617,
    reversed=1.0,
    faint=0.002874,
    size=0.4391,
    narrow=0.1007,
    gap=-0.4493,
    squeezed=0.3637,
    error=0.6276,
)
"""Fitted to the person."""
