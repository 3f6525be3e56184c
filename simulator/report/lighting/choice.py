"""Which lamp to put first, and whether a stronger one works too."""

from __future__ import annotations

from simulator.studies.lighting.study import Lighting, Way

TOUCHY = 4.0
"""A lamp that works only from some intensity to less than so many times as much is hard to set up
(assumed)."""


def held_instead(found: Lighting) -> Way | None:
    """The lamp of least power, of the kind that was asked for if there is one, that serves with the
    exposure held, where the sized one is touchy: it works over less than `TOUCHY`."""
    s = found.search
    if s.least is None or s.upper is None or s.upper_fails is None or s.upper > TOUCHY * s.least:
        return None
    held = [w for w in found.ways if w.sort == "held" and w.judged.verdict == "legible"]
    other_kind = {w.name: w.intensity_unit != found.kind.intensity_unit for w in held}
    return min(held, key=lambda w: (other_kind[w.name], w.power_w), default=None)


def bears(found: Lighting, weakest_lamp: float) -> str:
    """Whether a stronger lamp than the sized one works too."""
    upper = found.search.upper
    if found.search.upper_fails is not None and (upper is None or upper < weakest_lamp):
        return (
            " and bears no more. Dim a lamp that can be dimmed, or hold the exposure short under a"
            " stronger one."
        )
    return ", but works with stronger ones too."
