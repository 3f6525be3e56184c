"""Reading a text in several frames of a pass: at least one good read.

Frames of a pass are no independent draws. Photon and read noise are new in each; the sensor's
fixed pattern, the lettering, and part of what the reader does not know are the same; place on the
pixel grid, height, blur by motion and light change as the target moves. All of that follows from
the camera being run at each moment with one sensor, and from the reader's shared noise. The memory
of temporal noise reduction is filled anew for each frame, so that with it neighbouring frames pass
for a little more independent than they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import State, frame_times
from simulator.camera.recording import recorded
from simulator.camera.region import region_series
from simulator.camera.region_traces import Traces
from simulator.errors import GeometryError
from simulator.judge.readers import reader_of
from simulator.judge.readers.reader import Reader, true_symbols
from simulator.judge.target import find_text, plan_region
from simulator.judge.trials import jeffreys_interval, quick_stray_light
from simulator.scene.model import Target
from simulator.units import FloatArray, Image

_FRAME_STRIDE = 10_000_000
MOST_FRAMES = 6
"""Frames of a pass that are judged at most."""
LONGEST_S = 2.0
"""A pass is followed so long before and after the moment of the picture [s]."""
PASS_TRIALS = 32


@dataclass(frozen=True)
class PassReading:
    """Reading over a pass.

    `value` is the probability that the whole text is read in at least one frame, `low` and `high`
    its sampling interval; `times_s` (frames,) the moments at which all of the text was in the
    picture, `frames` (frames,) the probability in each frame alone, `heights_px` of the characters;
    `independent` what independent frames would give; `read` (trials, frames) every outcome.
    """

    value: float
    low: float
    high: float
    times_s: FloatArray
    frames: FloatArray
    heights_px: FloatArray
    independent: float
    read: NDArray[np.bool_]


def read_over_pass(
    in_scene: CameraInScene,
    state: State,
    entry: Target,
    times_s: Sequence[float] | FloatArray,
    *,
    seed: int,
    trials: int = 60,
    reader: str | Reader = "person",
    stray_light: Image | None = None,
) -> PassReading:
    """Probability that a text is read in at least one of several frames.

    Parameters
    ----------
    entry
        The target with text; where it lies is found anew for each frame.
    times_s
        Moments of the frames [s], the world's own moment at 0; frames in which the text is not
        wholly in the picture count as not read.
    trials
        Repetitions of the whole pass.
    stray_light
        Stray light of the whole picture, taken as the same in every frame.

    Raises
    ------
    GeometryError
        If the text is in none of the frames.
    """
    reader = reader_of(reader)
    stray_light = quick_stray_light(in_scene, state) if stray_light is None else stray_light
    shutter = state.exposure.shutter_s
    kept, heights, hits = [], [], []
    problem: GeometryError | None = None
    for n, time in enumerate(times_s):
        now = in_scene.at(float(time))
        try:
            target = find_text(now, entry)
        except GeometryError as error:
            problem = error
            continue
        plan = plan_region(now, state, target)
        origin = plan.box_px[:2]
        rates = region_series(
            now,
            state.mode,
            shutter,
            plan,
            stray_light,
            [float(t) for t in frame_times(in_scene)],
            Traces(),
        )
        frames = recorded(
            now, state, rates, seed=seed, first=1 + n * _FRAME_STRIDE, frames=trials,
            origin_px=origin,
        )  # fmt: skip
        symbols = reader.symbols(frames, target, origin, seed=seed + 1 + n, shared_seed=seed + 7919)
        read = symbols == true_symbols(target)[None, :]
        kept.append(float(time))
        heights.append(target.character_height_px)
        hits.append(read.all(axis=1))
    if not hits:
        assert problem is not None
        raise problem
    read = np.stack(hits, axis=1)
    any_read = read.any(axis=1)
    each = read.mean(axis=0)
    low, high = jeffreys_interval(int(any_read.sum()), trials)
    return PassReading(
        float(any_read.mean()), low, high, np.array(kept), np.asarray(each), np.array(heights),
        float(1.0 - np.prod(1.0 - each)), read,
    )  # fmt: skip


def moments_of_pass(in_scene: CameraInScene, entry: Target, most: int = MOST_FRAMES) -> FloatArray:
    """Moments (n,) of frames in which all of a text is in the picture as it passes by [s].

    Of all frames around the world's own moment, 0, that have it inside, at most `most`, evenly
    spread and 0 among them, hidden by other things or not; none of something that stands still.
    """
    card = in_scene.world.cards[in_scene.world.targets[entry.name][-1]]
    if not np.any(in_scene.world.velocities[card.group]):
        return np.zeros(0)
    step_s = 1.0 / in_scene.camera.processing.frame_rate_hz

    def frames(way: int) -> int:
        count = 0
        while count < int(LONGEST_S / step_s):
            try:
                find_text(in_scene.at(way * (count + 1) * step_s), entry, hidden=True)
            except GeometryError:
                break
            count += 1
        return count

    before, after = frames(-1), frames(1)
    every = max(1, -(-(before + after) // (most - 1)))
    numbers = np.arange(-(before // every), after // every + 1) * every
    return np.asarray(numbers * step_s)
