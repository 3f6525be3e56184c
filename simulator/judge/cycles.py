"""Detect, recognise, identify: resolvable cycles across a target, and what they are worth.

The number of cycles across the critical dimension d [px] of a target is

    N = f d,   f the highest frequency [cycles/px], at most Nyquist, with
    C T(f) / sigma(f) >= 5

where C [levels] is the contrast of the target in the eight-bit frame, T the transfer of lens,
defocus, motion and pixel, sigma(f) [levels] the noise of the mean over a patch one cycle wide and
high, and 5 the ratio at which a patch is seen for certain (Rose 1948). Below one cycle a patch
would be larger than the target; sigma then falls in proportion to f, so that N goes to nothing with
the signal to noise of the whole target over 5. With N the task succeeds with the probability

    P = r^E / (1 + r^E),  E = 2.7 + 0.7 r,  r = N / N50

(target transfer probability function; from memory) with Johnson's N50 of 1.0, 4.0 and 6.4 cycles to
detect, recognise and identify (Johnson 1958, line pairs on the critical dimension at even chance).

C is sqrt(D^2 + S^2) with D the difference of the target's mean level to a ring around it and S the
standard deviation of the noise-free levels inside (RSS contrast; from memory). A face is
recognised, and a face or person identified, by what is inside the outline alone (a person by the
head): C = S of the pixels that are neither white nor black, and what is white or black counts as
missing from the area, d times the square root of what is left.

An eye must also see the difference on a display at all (`least_visible`), and an even slope of
light over target and surround, such as lit fog, is no contrast.

A first version, to be deepened with calibrated observers. Johnson's cycles were found for
vehicles seen through image intensifiers and are used here for all targets. C of a small target
holds its blur already, so that blur counts twice there; the loss of detail to noise reduction
counts only as far as it changes C; the noise is that after processing, at its own size of grain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from simulator.camera.pipeline import State
from simulator.camera.recording import recorded
from simulator.camera.rig import Rig
from simulator.judge.figures import CLIP_LEVEL, CRUSH_LEVEL, Transfer, transfer
from simulator.judge.reading import LEVEL_NOISE
from simulator.judge.silhouette import Silhouette, luma_levels
from simulator.judge.target import (
    JudgedTarget,
    card_grid,
    mean_wavelength_nm,
    opaque_corners_m,
    polygon_area,
)
from simulator.scene.model_targets import Face, Person
from simulator.units import FloatArray, Image

N50_CYCLES = {"detect": 1.0, "recognise": 4.0, "identify": 6.4}
ROSE = 5.0
BY_PARTS = {"face": ("recognise", "identify"), "person": ("identify",)}
"""Tasks that an outline alone does not serve."""
NYQUIST = 0.5
FACE_WIDTH_M = 0.16
PATCHES = 12
CONFIDENCE = 0.95
OPAQUE_GRID = 64
LEAST_CONTRAST, AMBIENT, SCATTER = 0.02, 0.01, 0.02
"""Of what the eye needs and what the room adds, see `least_visible`."""


@dataclass(frozen=True)
class Cycles:
    """Resolvable cycles of a target and the probability of the task.

    `value`, `low`, `high` are mean and spread (`CONFIDENCE`) of the probability over the patches;
    `cycles` the mean number of cycles, `contrast_levels` the mean contrast C.
    """

    value: float
    low: float
    high: float
    trials: int
    cycles: float
    contrast_levels: float
    critical_px: float


def ttpf(cycles: FloatArray | float, task: str) -> FloatArray:
    """Probability of a task by resolvable cycles; see the module's text.

    Parameters
    ----------
    cycles
        Resolvable cycles on the critical dimension, of any shape.
    task
        "detect", "recognise" or "identify".
    """
    r = np.maximum(np.asarray(cycles, dtype=np.float64), 0.0) / N50_CYCLES[task]
    return np.asarray(expit((2.7 + 0.7 * r) * np.log(np.maximum(r, 1e-12))))


def judged_part(rig: Rig, target: JudgedTarget, task: str) -> JudgedTarget:
    """What of a target a task looks at: a person is identified by the head, all else as a whole."""
    if task != "identify" or not isinstance(target.thing, Person):
        return target
    head = target.indices[-1]
    card = rig.world.cards[head]
    low = np.floor(rig.view.project(opaque_corners_m(card))[0].min(axis=0)).astype(int)
    high = np.ceil(rig.view.project(opaque_corners_m(card))[0].max(axis=0)).astype(int)
    low = np.clip(low, 0, [rig.view.width_px, rig.view.height_px])
    high = np.clip(high, 0, [rig.view.width_px, rig.view.height_px])
    return replace(
        target,
        card=card,
        card_index=head,
        indices=(head,),
        corners_px=rig.view.project(card.corners_m)[0],
        box_px=(int(low[0]), int(low[1]), int(high[0]), int(high[1])),
        depth_m=float(rig.view.project(card.centre_m)[1]),
        distance_m=float(np.linalg.norm(rig.view.position_m - card.centre_m)),
    )


def critical_px(rig: Rig, target: JudgedTarget, silhouette: Silhouette) -> float:
    """Critical dimension of a target in the picture [px], foreshortening included.

    Faces and heads of persons: a width of 0.16 m. Whole persons: the square root of height times
    width of the figure. Others: the square root of the card's area. What is hidden or cut off
    counts as missing area.
    """
    card = target.card
    person = isinstance(target.thing, Person)
    if isinstance(target.thing, Face) or (person and len(target.indices) == 1):
        half = card.across * FACE_WIDTH_M / 2.0
        ends = rig.view.project(np.stack([card.centre_m - half, card.centre_m + half]))[0]
        whole = float(np.linalg.norm(ends[1] - ends[0]))
    elif person:
        points = np.concatenate(
            [card_grid(rig.world.cards[i], OPAQUE_GRID) for i in target.indices]
        )
        wide, high = np.ptp(rig.view.project(points)[0], axis=0)
        whole = float(np.sqrt(wide * high))
    else:
        whole = float(np.sqrt(polygon_area(target.corners_px)))
    return whole * float(np.sqrt(min(1.0, silhouette.area_px / opaque_px(rig, target))))


def opaque_px(rig: Rig, target: JudgedTarget) -> float:
    """Area that the opaque parts of the target's cards would cover unhidden [px^2]."""
    total = 0.0
    for i in target.indices:
        card = rig.world.cards[i]
        if float((rig.view.position_m - card.centre_m) @ card.normal) > 0.0:
            share = len(card_grid(card, OPAQUE_GRID)) / OPAQUE_GRID**2
            total += share * polygon_area(rig.view.project(card.corners_m)[0])
    return max(total, 1e-9)


def resolvable_cycles(
    contrast: float,
    sides_px: FloatArray,
    noise: FloatArray,
    curve: Transfer,
    critical: float,
    least: float = 0.0,
) -> float:
    """Cycles across `critical` pixels that stand out by `ROSE` and are visible at all.

    Parameters
    ----------
    contrast
        C [levels].
    sides_px, noise
        Sides (n,) of square patches, rising [px], and the noise of their means (n,) above 0.
    curve
        Transfer by frequency.
    least
        Least difference that an eye sees on a display, however large [levels].
    """
    f = np.linspace(NYQUIST / 400.0, NYQUIST, 400)
    lowest = 1.0 / max(critical, 1.0)
    # no patch is larger than the target; below one cycle the noise goes down with f
    side = np.clip(1.0 / f, sides_px[0], min(max(critical, sides_px[0]), sides_px[-1]))
    sigma = np.exp(np.interp(np.log(side), np.log(sides_px), np.log(noise)))
    sigma *= np.minimum(1.0, f / lowest)
    shown = contrast * np.interp(f, curve.frequency, curve.value)
    seen = (shown >= ROSE * sigma) & (shown >= least)
    if not np.any(seen):
        return 0.0
    return float(f[np.flatnonzero(seen)[-1]] * critical)


def least_visible(level: float, surround: float) -> float:
    """Least difference of levels that is seen on a display, at a level beside a surround.

    Luminance of the display is (v/255)^2.4 (ITU-R BT.1886) over 1 % of white from the room and 2 %
    of the surround scattered in the eye (both assumed); `LEAST_CONTRAST` of the sum is needed
    (common practice, no source; the best of eyes do with a quarter of it).
    """
    v = max(level, 1.0) / 255.0
    slope = 2.4 / 255.0 * v**1.4
    base = v**2.4 + AMBIENT + SCATTER * (surround / 255.0) ** 2.4
    return float(LEAST_CONTRAST * base / slope)


def _levelled(picture: Image, ring: NDArray[np.bool_]) -> Image:
    """The picture without the even slope of its surround: a glow over all is no target."""
    if np.count_nonzero(ring) < 12:
        return picture
    y, x = np.nonzero(ring)
    basis = np.stack([np.ones(x.size), x - x.mean(), y - y.mean()], axis=1)
    _, across, down = np.linalg.lstsq(basis, picture[y, x].astype(np.float64), rcond=None)[0]
    rows, columns = picture.shape
    slope = (np.arange(columns) - x.mean())[None, :] * across
    slope = slope + (np.arange(rows) - y.mean())[:, None] * down
    return np.asarray(picture - slope, dtype=np.float32)


def noise_of_patches(residual: Image, region: Image, sides_px: FloatArray) -> FloatArray:
    """Noise (n,) of means over square patches of a residual picture (rows, columns) [levels].

    `LEVEL_NOISE` of the viewer is added to every pixel as white noise.
    """
    out = []
    inside = region > 0
    for side in sides_px:
        k = round(float(side))
        means = cv2.blur(residual, (k, k), borderType=cv2.BORDER_REFLECT_101) if k > 1 else residual
        own = float(np.sqrt(np.mean(np.square(means[inside]))))
        out.append(float(np.hypot(own, LEVEL_NOISE / side)))
    return np.array(out)


def _sides(critical: float, shape: tuple[int, int]) -> FloatArray:
    most = max(2.0, min(critical, min(shape) / 2.0))
    steps = np.unique(np.round(np.geomspace(2.0, most, 9)))
    return np.asarray(steps, dtype=np.float64)


def judge_cycles(
    rig: Rig,
    state: State,
    target: JudgedTarget,
    silhouette: Silhouette,
    rates: Sequence[Image],
    task: str,
    *,
    seed: int,
    patches: int = PATCHES,
) -> Cycles:
    """Probability of a task by cycles, over noisy repetitions of the target's part of the picture.

    Parameters
    ----------
    rates
        Light of the whole picture, or of the silhouette's window alone, oldest frame first (rows,
        columns, 3) [e-/s].
    seed
        Every patch gets a seed of its own, so that the fixed pattern differs too.
    """
    x0, y0, x1, y1 = silhouette.window_px
    window = (y1 - y0, x1 - x0)
    cut = [
        np.ascontiguousarray(rate if rate.shape[:2] == window else rate[y0:y1, x0:x1])
        for rate in rates
    ]
    frames = np.concatenate(
        [
            recorded(rig, state, cut, seed=seed + k, first=1 + k, frames=1, origin_px=(x0, y0))
            for k in range(patches)
        ]
    )
    luma = luma_levels(frames)
    mean = luma.mean(axis=0)
    inside = _core(silhouette.inside)
    region = (silhouette.inside | silhouette.ring).astype(np.float32)
    critical = critical_px(rig, target, silhouette)
    sides = _sides(critical, mean.shape)
    curve = transfer(rig, state, target, mean_wavelength_nm(rig, state, target))
    by_parts = isinstance(target.thing, Face | Person) and task in BY_PARTS[target.thing.kind]
    unbias = np.float32(np.sqrt(patches / (patches - 1.0)))
    counts, contrasts = [], []
    ring = np.asarray(silhouette.ring, dtype=np.bool_)
    flat = _levelled(mean, ring)
    level = float(mean[inside].mean())
    around = float(mean[ring].mean()) if np.any(ring) else level
    least = least_visible(level, around)
    for one in luma:
        drawn, left = inside, 1.0
        if by_parts:
            drawn = inside & (one < CLIP_LEVEL) & (one > CRUSH_LEVEL)
            left = np.count_nonzero(drawn) / np.count_nonzero(inside)
        parts = 0.0
        if np.count_nonzero(drawn) > 1:
            # noise of one patch is not that of the others: what they share is the picture
            others = flat + (mean - one) / (patches - 1.0)
            parts = max(0.0, float(np.cov((flat + one - mean)[drawn], others[drawn])[0, 1]))
        apart = 0.0
        if not by_parts and np.any(silhouette.ring):
            apart = float(one[silhouette.inside].mean() - one[silhouette.ring].mean())
        contrast = float(np.sqrt(parts + apart**2))
        noise = noise_of_patches((one - mean) * unbias, region, sides)
        across = critical * float(np.sqrt(left))
        counts.append(resolvable_cycles(contrast, sides, noise, curve, across, least))
        contrasts.append(contrast)
    chances = ttpf(np.array(counts), task)
    value = float(chances.mean())
    tail = 50.0 * (1.0 - CONFIDENCE)
    low, high = np.percentile(chances, [tail, 100.0 - tail])
    return Cycles(
        value,
        min(float(low), value),
        max(float(high), value),
        patches,
        float(np.mean(counts)),
        float(np.mean(contrasts)),
        critical,
    )


def _core(inside: np.ndarray) -> np.ndarray:
    """The inside without its blurred rim, where anything is left of it."""
    core = cv2.erode(inside.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    return core if np.count_nonzero(core) >= 4 else inside
