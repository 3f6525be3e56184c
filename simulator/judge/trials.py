"""Probability that a text is read, by repeating the whole camera on fresh noise.

It is the probability for texts at large: random ones of the target's lettering, grouped like its
own text. Which text a scene names is chance, and some are easier than others; the probability of
the named text alone is given beside it, and which symbols were taken for which.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv

from simulator.camera.frame_buffer import exposed_regions
from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import State, frame_times
from simulator.camera.region_plan import RegionPlan
from simulator.camera.region_traces import Traces
from simulator.camera.small_picture import small_stray_light
from simulator.domain import require
from simulator.judge.readers import reader_of
from simulator.judge.readers.quick_estimate import legible
from simulator.judge.readers.reader import Reader, true_symbols
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.readers.template_reader import TemplateReader
from simulator.judge.repeats import PHASES, PIXEL_BUDGET, TextPictures, text_pictures
from simulator.judge.target import JudgedText, plan_region
from simulator.units import FloatArray, Image

TRIALS = 180
TEXTS = 10
"""Random texts that the probability is that of."""
NAMED_SHARE = 0.25
"""Of all trials, so many are made of the named text, beside the random ones."""
CONFIDENCE = 0.95
MIN_TRIALS = 24
LEAST_GROUPS = 6
"""Fewer groups do not show how much they differ; their trials count as independent."""
CONFUSED_SHARE = 0.02
"""Symbols taken for another less often than this are not listed."""


class Confusion(NamedTuple):
    """A character, what it was taken for (None where nothing was read), and in which share of its
    pictures."""

    character: str
    taken_for: str | None
    share: float


@dataclass(frozen=True)
class Probability:
    """Share of trials in which every character was read, with its sampling interval.

    `characters` (n,) the share at each place of the text. `named` is the share for the text that
    the scene names, with its interval, where others were read beside it; `texts` how many others,
    `confused` the symbols that were taken for others, most often first.
    """

    value: float
    low: float
    high: float
    trials: int
    characters: FloatArray
    texts: int = 0
    named: float | None = None
    named_low: float | None = None
    named_high: float | None = None
    confused: tuple[Confusion, ...] = ()


def jeffreys_interval(successes: float, trials: float) -> tuple[float, float]:
    """Equal-tailed 95 % Jeffreys interval of a proportion.

    The ends are 0 when nothing and 1 when everything succeeded.

    Parameters
    ----------
    successes
        How often it succeeded, 0 to `trials`; an effective number need not be whole.
    trials
        How often it was tried, above 0.

    Returns
    -------
    tuple of float
        Low and high end.

    Raises
    ------
    InputError
        For successes below 0 or above the trials, or no trials.

    References
    ----------
    Brown, Cai and DasGupta 2001, "Interval estimation for a binomial proportion".

    Examples
    --------
    >>> low, high = jeffreys_interval(9, 10)
    >>> round(low, 3), round(high, 3)
    (0.619, 0.989)
    """
    require("trials", trials, above=0.0)
    require("successes", successes, least=0.0, most=trials)
    tail = (1.0 - CONFIDENCE) / 2.0
    a, b = successes + 0.5, trials - successes + 0.5
    low = 0.0 if successes <= 0 else float(betaincinv(a, b, tail))
    high = 1.0 if successes >= trials else float(betaincinv(a, b, 1.0 - tail))
    return low, high


def clustered_interval(groups: list[NDArray[np.bool_]]) -> tuple[float, float]:
    """Jeffreys interval of the share of successes in trials that come in groups.

    Trials of one text are alike, so that they tell less than as many of different texts. With p the
    share, n the trials and v the variance of the mean over the groups, there are in effect
    p (1 - p) / v of them, at most n (Kish 1965, design effect; the interval on the effective number
    as Korn and Graubard 1998; both from memory).
    """
    n = sum(len(group) for group in groups)
    p = sum(int(group.sum()) for group in groups) / n
    effective = float(n)
    if len(groups) >= LEAST_GROUPS and 0.0 < p < 1.0:
        left = np.array([group.sum() - p * len(group) for group in groups])
        variance = float((left**2).sum()) / n**2 * len(groups) / (len(groups) - 1.0)
        if variance > 0.0:
            effective = float(np.clip(p * (1.0 - p) / variance, len(groups), n))
    return jeffreys_interval(p * effective, effective)


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
    reader: str | Reader = "person",
    stray_light: Image | None = None,
    plan: RegionPlan | None = None,
    traces: Traces | None = None,
    phases: int = len(PHASES),
    texts: int = 0,
    named: bool = True,
    others: dict[str, Traces] | None = None,
) -> Probability:
    """Monte Carlo over photon and sensor noise, pixel phase and the reader's own noise.

    Parameters
    ----------
    trials
        Repetitions wanted; fewer are made of a very large patch, or for a slow reader.
    reader
        "person", "machine", or a reader of your own.
    stray_light
        Stray light of the whole picture; a quick one is made if it is not given.
    plan, traces
        Patch and traced layers to use again, if world and view are the same.
    phases
        How many of `PHASES` are tried on the named text.
    texts
        Random texts to judge by; 0 judges by the named text alone.
    named
        Whether the named text is read as well, where there are others.
    others
        Where layers of other texts are kept to use again, by text.
    """
    reader = reader_of(reader)
    plan = plan_region(in_scene, state, target) if plan is None else plan
    traces = Traces() if traces is None else traces
    stray_light = quick_stray_light(in_scene, state) if stray_light is None else stray_light
    x0, y0, x1, y1 = plan.box_px
    per_trial = (x1 - x0) * (y1 - y0) * len(frame_times(in_scene))
    trials = int(np.clip(PIXEL_BUDGET // per_trial, MIN_TRIALS, trials))
    if reader.most_pictures is not None:
        trials = min(trials, reader.most_pictures)

    def pictured(count: int, number: int | None) -> list[TextPictures]:
        return text_pictures(
            in_scene, state, target, count, texts=number, seed=seed, stray_light=stray_light,
            plan=plan, traces=traces, phases=phases, others=others,
        )  # fmt: skip

    if texts == 0:
        return _counted(reader, pictured(trials, None), seed)
    own = max(1, round(NAMED_SHARE * trials)) if named else 0
    large = _counted(reader, pictured(max(texts, trials - own), texts), seed)
    large = replace(large, texts=texts)
    if not own:
        return large
    alone = _counted(reader, pictured(own, None), seed)
    return replace(large, named=alone.value, named_low=alone.low, named_high=alone.high)


def _counted(reader: Reader, pictured: list[TextPictures], seed: int) -> Probability:
    """How many of some pictures a reader reads."""
    hits: list[NDArray[np.bool_]] = []
    seen: Counter[int] = Counter()
    taken: Counter[tuple[int, int]] = Counter()
    first = 0
    for one in pictured:
        symbols_read = reader.symbols(
            one.pictures, one.target, one.origin_px, seed=seed, first=first
        )
        first += len(symbols_read)
        hits.append(symbols_read == true_symbols(one.target)[None, :])
        shapes = design_shapes(one.target.design)
        for cell, symbols in zip(one.target.cells, symbols_read.T, strict=True):
            truth = int(shapes.symbols[shapes.indices(cell.character)[0]])
            seen[truth] += len(symbols)
            taken.update((truth, int(symbol)) for symbol in symbols[symbols != truth])
    every = [np.asarray(hit.all(axis=1)) for hit in hits]
    whole = np.concatenate(every)
    value = float(whole.mean())
    low, high = clustered_interval(every)
    if isinstance(reader, TemplateReader) and reader.stands_in and len(pictured[0].pictures) > 1:
        seen_all = legible((one.pictures, one.target, one.origin_px) for one in pictured)
        value = reader.quick.probability(seen_all)
        low, high = reader.quick.interval(value)
    shapes = design_shapes(pictured[0].target.design)
    confused = tuple(
        Confusion(shapes.letter(truth) or "", shapes.letter(other), count / seen[truth])
        for (truth, other), count in taken.items()
        if count >= CONFUSED_SHARE * seen[truth]
    )
    return Probability(
        value, low, high, len(whole), np.concatenate(hits).mean(axis=0),
        confused=tuple(sorted(confused, key=lambda c: (-c.share, c.character))),
    )  # fmt: skip
