"""The quick look at a text: a few pictures of a few random texts, and the reader's estimate.

The pictures go through the whole camera, so that clipping, noise reduction, stray light and the
codec count as they are; the reader's `quick` estimate tells how often it would read them.
"""

from __future__ import annotations

import numpy as np

from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import State
from simulator.camera.region_plan import RegionPlan
from simulator.camera.region_traces import Traces
from simulator.judge.readers.quick_estimate import legible
from simulator.judge.readers.reader import Reader
from simulator.judge.repeats import text_pictures
from simulator.judge.target import JudgedText
from simulator.judge.trials import Probability
from simulator.units import Image

LOOK_TEXTS, FEW = 3, 2
"""Random texts that a quick look takes, and pictures of each: with more the estimate hardly comes
nearer to the reader (0.070 to 0.066 with 56)."""


def quick_probability(
    in_scene: CameraInScene,
    state: State,
    target: JudgedText,
    reader: Reader,
    *,
    seed: int,
    stray_light: Image | None = None,
    plan: RegionPlan | None = None,
    traces: Traces | None = None,
    others: dict[str, Traces] | None = None,
) -> Probability:
    """How often a reader would read texts at large, by its quick estimate.

    The interval is that in which the reader itself lies in 95 % of conditions.

    Parameters
    ----------
    stray_light, plan, traces, others
        As `text_pictures` has them.
    """
    pictured = text_pictures(
        in_scene, state, target, FEW * LOOK_TEXTS, texts=LOOK_TEXTS, seed=seed,
        stray_light=stray_light, plan=plan, traces=traces, others=others,
    )  # fmt: skip
    seen = legible((one.pictures, one.target, one.origin_px) for one in pictured)
    value = reader.quick.probability(seen)
    low, high = reader.quick.interval(value)
    each = np.full(seen.characters, value ** (1.0 / seen.characters))
    return Probability(value, low, high, FEW * LOOK_TEXTS, each, texts=LOOK_TEXTS)
