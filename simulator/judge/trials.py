"""Probability that the text is read, by repeating the whole camera on fresh noise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import betaincinv

from simulator.camera.frame_buffer import exposed_regions
from simulator.camera.in_scene import CameraInScene
from simulator.camera.light_field import small_stray_light
from simulator.camera.pipeline import State, frame_times
from simulator.camera.recording import recorded
from simulator.camera.region import RegionPlan, Traces
from simulator.judge.readers import reader_of
from simulator.judge.readers.template_reader import TemplateReader
from simulator.judge.target import JudgedText, plan_region
from simulator.units import FloatArray, Image

PHASES = ((0.0, 0.0), (0.5, 0.33), (0.25, 0.67))
"""Where the pixel grid may fall on the characters [px]."""
TRIALS = 180
CONFIDENCE = 0.95
PIXEL_BUDGET = 20_000_000
"""Pixels of all trials and remembered frames together, about."""
MIN_TRIALS = 24


@dataclass(frozen=True)
class Probability:
    """Share of trials in which every character was read, with its sampling interval.

    `characters` (n,) the share for each character alone.
    """

    value: float
    low: float
    high: float
    trials: int
    characters: FloatArray


def jeffreys_interval(successes: int, trials: int) -> tuple[float, float]:
    """Equal-tailed Jeffreys interval of a proportion at `CONFIDENCE` (Brown, Cai, DasGupta 2001).

    The ends are 0 when nothing and 1 when everything succeeded.
    """
    tail = (1.0 - CONFIDENCE) / 2.0
    a, b = successes + 0.5, trials - successes + 0.5
    low = 0.0 if successes == 0 else float(betaincinv(a, b, tail))
    high = 1.0 if successes == trials else float(betaincinv(a, b, 1.0 - tail))
    return low, high


def quick_stray_light(in_scene: CameraInScene, state: State) -> Image:
    """Stray light from a small picture: enough for a patch."""
    return small_stray_light(in_scene, state.mode)


def region_buffer(
    in_scene: CameraInScene,
    state: State,
    plan: RegionPlan,
    stray_light: Image,
    traces: Traces | None = None,
) -> list[Image]:
    """Light of the patch in the shown frame and in those the camera remembers, oldest first."""
    times = [float(t) for t in frame_times(in_scene)]
    return exposed_regions(
        in_scene, state.mode, state.exposure.shutter_s, plan, stray_light, times, traces
    )


def read_probability(
    in_scene: CameraInScene,
    state: State,
    target: JudgedText,
    *,
    seed: int,
    trials: int = TRIALS,
    reader: str | TemplateReader = "person",
    stray_light: Image | None = None,
    plan: RegionPlan | None = None,
    traces: Traces | None = None,
    phases: int = len(PHASES),
) -> Probability:
    """Monte Carlo over photon and sensor noise, pixel phase and the reader's own noise.

    Parameters
    ----------
    trials
        Repetitions wanted; fewer are made of a very large patch.
    reader
        "person", "machine", or a reader of your own.
    veil
        Stray light of the whole picture; a quick one is made if it is not given.
    plan, traces
        Patch and traced layers to use again, if world and view are the same.
    phases
        How many of `PHASES` are tried.
    """
    reader = reader_of(reader)
    plan = plan_region(in_scene, state, target) if plan is None else plan
    traces = Traces() if traces is None else traces
    stray_light = quick_stray_light(in_scene, state) if stray_light is None else stray_light
    x0, y0, x1, y1 = plan.box_px
    per_trial = (x1 - x0) * (y1 - y0) * len(frame_times(in_scene))
    trials = int(np.clip(PIXEL_BUDGET // per_trial, MIN_TRIALS, trials))
    each = -(-trials // phases)
    hits = []
    for i, phase in enumerate(PHASES[:phases]):
        moved = replace(plan, phase_px=phase)
        rates = region_buffer(in_scene, state, moved, stray_light, traces)
        frames = recorded(
            in_scene, state, rates, seed=seed, first=1 + i * each, frames=each, origin_px=(x0, y0)
        )
        origin = (x0 + phase[0], y0 + phase[1])
        hits.append(reader.read(frames, target, origin, seed=seed, first=i * each))
    read = np.concatenate(hits)
    every = np.asarray(read.all(axis=1))
    low, high = jeffreys_interval(int(every.sum()), len(every))
    return Probability(float(every.mean()), low, high, len(every), read.mean(axis=0))
