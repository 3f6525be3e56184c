"""Lamps that wash the target out, tried again with the exposure held for the target.

A camera that exposes for a dark picture turns everything up, and a plate that throws the lamp's
light back turns white. Holding shutter and gain so that the target gets the level at which the
sized lamp serves is common practice (no source); the rest of the picture then stays dark.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from simulator.camera.load import Camera
from simulator.studies.quick import Quick

WASHED = 0.2
"""Share of the target that is white from which on it counts as washed out (chosen by us)."""
LEVELS = (0.5, 1.0, 1.6)
"""Levels of the target that are tried, over that with the sized lamp."""
SHUTTERS_S = tuple(
    1.0 / n for n in (25, 50, 100, 250, 500, 1000, 2000, 4000, 8000, 16000, 32000)
)  # fmt: skip
"""Steps of a held shutter [s], as cameras offer them (common practice, no source)."""
MOST_MOTION_PX = 0.5
"""Movement that a held shutter is kept short enough for, as far as it can be [px]."""


def washed(judged: Quick) -> bool:
    """Whether a picture fails with its target washed out."""
    seen = judged.seen
    return judged.verdict != "legible" and seen is not None and seen.clipped_fraction >= WASHED


def held_exposure(camera: Camera, at_hand: Quick, level: float) -> tuple[float, float]:
    """Shutter [s] and gain [dB] that bring the target to a level, within the camera's limits.

    No gain if the shutter alone does; a longer shutter before more gain, as long as the target
    moves no more than `MOST_MOTION_PX`.

    Parameters
    ----------
    at_hand
        A judgement with the lamp, with `seen`; it tells light and movement on the target.
    level
        Electrons of the target times gain [e- per pixel].
    """
    seen = at_hand.seen
    assert seen is not None
    exposure = camera.model.exposure
    rate = max(seen.electrons, 1e-9) / at_hand.shutter_s
    longest = exposure.shutter_max_s
    if at_hand.motion_blur_px > 0.0:
        longest = min(longest, at_hand.shutter_s * MOST_MOTION_PX / at_hand.motion_blur_px)
    free = min(level / rate, longest)
    steps = [s for s in SHUTTERS_S if exposure.shutter_min_s <= s <= free]
    shutter = max(steps, default=exposure.shutter_min_s)
    gain = 20.0 * math.log10(max(1.0, level / (rate * shutter)))
    return shutter, round(min(gain, exposure.gain_max_db), 1)


def level_of(judged: Quick) -> float:
    """Electrons of the target times gain [e- per pixel]."""
    assert judged.seen is not None
    return float(judged.seen.electrons * 10.0 ** (judged.gain_db / 20.0))


def with_exposure(camera: Camera, shutter_s: float, gain_db: float) -> Camera:
    """The camera with its shutter and gain held."""
    return camera.set({"exposure.shutter_s": shutter_s, "exposure.gain_db": gain_db})


def hold(
    camera: Camera,
    lamps: Sequence[Quick],
    sized: Quick,
    judge: Callable[[Sequence[tuple[int, Camera]], bool], list[Quick]],
) -> list[Quick]:
    """The best held exposure of every lamp, judged again with fresh noise.

    Parameters
    ----------
    lamps
        Judgements of lamps that wash the target out, with `seen`.
    sized
        The judgement of the sized lamp, with `seen`.
    judge
        Judges lamps, by their number, with cameras; the last argument asks for fresh noise and
        the whole picture.
    """
    tries = [
        (k, with_exposure(camera, *held_exposure(camera, lamp, factor * level_of(sized))))
        for k, lamp in enumerate(lamps)
        for factor in LEVELS
    ]
    judged = judge(tries, False)
    best = []
    for k in range(len(lamps)):
        own = range(k * len(LEVELS), (k + 1) * len(LEVELS))
        best.append(
            tries[max(own, key=lambda i: (judged[i].probability_low, judged[i].probability))]
        )
    return judge(best, True)
