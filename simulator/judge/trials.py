"""Probability that the text is read, by repeating the whole camera on fresh noise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import betaincinv

from simulator.camera.history import exposed_patches
from simulator.camera.light_field import small_veil
from simulator.camera.patch import PatchPlan, Traces
from simulator.camera.pipeline import State, frame_times
from simulator.camera.recording import recorded
from simulator.camera.rig import Rig
from simulator.judge.readers import reader_of
from simulator.judge.reading import Reader
from simulator.judge.target import JudgedText, plan_patch
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


def quick_veil(rig: Rig, state: State) -> Image:
    """Stray light from a small picture: enough for a patch."""
    return small_veil(rig, state.mode)


def patch_history(
    rig: Rig, state: State, plan: PatchPlan, veil: Image, traces: Traces | None = None
) -> list[Image]:
    """Light of the patch in the shown frame and in those the camera remembers, oldest first."""
    times = [float(t) for t in frame_times(rig)]
    return exposed_patches(rig, state.mode, state.exposure.shutter_s, plan, veil, times, traces)


def read_probability(
    rig: Rig,
    state: State,
    target: JudgedText,
    *,
    seed: int,
    trials: int = TRIALS,
    reader: str | Reader = "person",
    veil: Image | None = None,
    plan: PatchPlan | None = None,
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
    plan = plan_patch(rig, state, target) if plan is None else plan
    traces = Traces() if traces is None else traces
    veil = quick_veil(rig, state) if veil is None else veil
    x0, y0, x1, y1 = plan.box_px
    per_trial = (x1 - x0) * (y1 - y0) * len(frame_times(rig))
    trials = int(np.clip(PIXEL_BUDGET // per_trial, MIN_TRIALS, trials))
    each = -(-trials // phases)
    hits = []
    for i, phase in enumerate(PHASES[:phases]):
        moved = replace(plan, phase_px=phase)
        rates = patch_history(rig, state, moved, veil, traces)
        frames = recorded(
            rig, state, rates, seed=seed, first=1 + i * each, frames=each, origin_px=(x0, y0)
        )
        origin = (x0 + phase[0], y0 + phase[1])
        hits.append(reader.read(frames, target, origin, seed=seed, first=i * each))
    read = np.concatenate(hits)
    every = np.asarray(read.all(axis=1))
    low, high = jeffreys_interval(int(every.sum()), len(every))
    return Probability(float(every.mean()), low, high, len(every), read.mean(axis=0))
