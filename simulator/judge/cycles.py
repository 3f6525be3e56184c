"""Detect, recognise, identify: contrast that is left above threshold across a target (TTP metric).

What counts is how much of the target's contrast an eye at a display has left, at every fineness of
detail that pixels and noise let through. With N the cycles across the critical dimension d [px] of
the target, f = N / d the frequency [cycles/px], the targeting task performance metric is

    V = integral of sqrt( C T(f) / CTF(f) ) dN  over all f <= Nyquist with C T(f) > CTF(f)
    CTF(f)^2 = 1 / S(u)^2 + (5 sigma(f) / (2 L))^2

(Vollmerhausen and Jacobs, AMSEL-NV-TR-230, 2004; from memory). L is the mean luminance of the
target on the display with room light and scatter in the eye (`eye`), C its contrast, T the transfer
of lens, defocus, motion and pixel, S the contrast sensitivity of the eye (Barten 1999) at u = f d /
a [cycles/deg] where the target spans an angle a: the viewer enlarges it to `SHOWN_DEG`, unless it
spans more at 0.25 mm a pixel and 0.6 m (assumed). sigma(f) is the noise of the mean luminance of a
patch one cycle wide and high, and 5 the ratio at which a patch is seen for certain (Rose 1948).
Below one cycle sigma falls in proportion to f: no patch is larger than the target. The task
succeeds with the probability

    P = r^E / (1 + r^E),  E = 1.51 + 0.24 r,  r = V / V50

V50 is the V of an ideal picture whose Nyquist limit lies at Johnson's N50, 1.0, 4.0 and 6.4 cycles
to detect, recognise and identify (Johnson 1958, line pairs on the critical dimension at even
chance): pixel alone, no noise, contrast `IDEAL_CONTRAST`, luminance `IDEAL_LEVEL` of white. For a
face 0.16 m wide this gives 0.96 at 125 px/m (recognise) and 0.98 at 250 px/m (identify) of IEC
62676-4:2014 in an ideal picture. The anchor is our own: no V50 of faces in visible light was found.

C is sqrt(D^2 + S^2) / 2L (RSS contrast; from memory) with D the difference of the target's mean
luminance to a ring around it and S the standard deviation of the noise-free luminance inside.

What the tasks mean. Detect: something is there; an outline does. Recognise a person or face: tell
that it is, or is not, somebody seen before (the meaning in IEC 62676-4); identify: who it is beyond
doubt. Both take what is inside the outline of the head alone: D = 0, S of the pixels that are
neither white nor black, and what is white or black counts as missing from the area. Clothing is
left out, since people change it; from behind there is nothing to know a face by. All other things
are recognised by kind, outline included (Johnson).

An even slope of light over target and surround, such as lit fog, is no contrast. Not checked
against viewers. C of a small target holds its blur already, so that blur counts twice there; the
noise is that after processing, at its own size of grain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import State
from simulator.camera.recording import recorded
from simulator.domain import require
from simulator.judge.eye import WHITE_CD_M2, contrast_sensitivity, emitted, stray_light_of
from simulator.judge.face_detail import kept_probability, kept_share, known_by
from simulator.judge.figures import CLIP_LEVEL, CRUSH_LEVEL, Transfer, plate_signal, transfer
from simulator.judge.local_mean import detail, levelled
from simulator.judge.parts import BY_PARTS, critical_px, faceless
from simulator.judge.silhouette import Silhouette, luma_levels
from simulator.judge.target import JudgedTarget, mean_wavelength_nm
from simulator.scene.model_targets import Face, Person
from simulator.units import FloatArray, Image

N50_CYCLES = {"detect": 1.0, "recognise": 4.0, "identify": 6.4}
ROSE = 5.0
LEAST_NOISE = 1e-9
NYQUIST = 0.5
STEPS = 400
PATCHES = 12
CONFIDENCE = 0.95
SHOWN_DEG = 4.0
"""The target is enlarged to this on the display: 4 cm from 0.6 m (assumed)."""
DETAIL_SHARE, RIM_SHARE = 0.25, 0.1
"""Standard deviation of the mean that is taken off a head, which leaves detail of two cycles on the
face and more, and width of the rim that is left out, both over the critical dimension (assumed)."""
RIM_PX = 3
"""Least width of that rim, as far as demosaicing and sharpening reach."""
PIXELS_PER_DEG = 42.0
"""Pixels of 0.25 mm seen from 0.6 m (computed)."""
IDEAL_CONTRAST, IDEAL_LEVEL = 0.12, 0.2
"""Contrast and luminance [share of white] of an ideal picture: about those of our own drawn faces
at fair exposure, whose detail has a contrast of 0.08 to 0.15 (computed)."""


@dataclass(frozen=True)
class Cycles:
    """How much of a target is left for a task, and the probability of the task.

    `value`, `low`, `high` are mean and spread (`CONFIDENCE`) of the probability over the patches;
    `cycles` the mean number of cycles above threshold, `ratio` the mean V / V50, `contrast` the
    mean contrast C on the display; `kept` the share of a face's drawing that is kept, None for
    anything but a face to be known; `by_cycles` what the metric of cycles says where an observer of
    pictures has the word.
    """

    value: float
    low: float
    high: float
    trials: int
    cycles: float
    ratio: float
    contrast: float
    critical_px: float
    kept: float | None = None
    by_cycles: float | None = None


def task_probability(ratio: FloatArray | float) -> FloatArray:
    """Probability of detecting, recognising or identifying something, P = r^E / (1 + r^E) with
    E = 1.51 + 0.24 r.

    Parameters
    ----------
    ratio
        r = V / V50, of any shape, 0 or more: metric of the target over that at even chance.

    Returns
    -------
    numpy.ndarray
        Probability, of the shape of `ratio`.

    Raises
    ------
    InputError
        For a ratio below 0.

    References
    ----------
    Vollmerhausen and Jacobs 2004, AMSEL-NV-TR-230 (TTP metric; from memory).

    Examples
    --------
    >>> task_probability([0.0, 1.0, 3.0]).round(2).tolist()
    [0.0, 0.5, 0.92]
    """
    require("ratio", ratio, least=0.0)
    r = np.maximum(np.asarray(ratio, dtype=np.float64), 0.0)
    return np.asarray(expit((1.51 + 0.24 * r) * np.log(np.maximum(r, 1e-12))))


class Left(NamedTuple):
    """Metric V of a target, and the cycles up to which its contrast is above threshold."""

    metric: float
    cycles: float


def eye_threshold(cycles: FloatArray, critical: float, level: float) -> FloatArray:
    """Modulation that an eye just sees on the display.

    Parameters
    ----------
    cycles
        Cycles across the target (n,), above 0.
    critical
        Critical dimension of the target [px].
    level
        Mean luminance of the target on the display [share of white].

    Returns
    -------
    numpy.ndarray
        Modulation (n,); above 1 nothing is seen.

    Raises
    ------
    InputError
        For cycles, a dimension or a level that is not above 0.

    References
    ----------
    Barten 1999, by `contrast_sensitivity`; the viewer enlarges the target to 4° (assumed).

    Examples
    --------
    >>> import numpy as np
    >>> coarse, fine = eye_threshold(np.array([4.0, 100.0]), 40.0, 0.2)
    >>> bool(coarse < 0.02 < fine)
    True
    """
    require("critical", critical, above=0.0, unit="px")
    shown_deg = max(SHOWN_DEG, critical / PIXELS_PER_DEG)
    return 1.0 / contrast_sensitivity(cycles / shown_deg, level * WHITE_CD_M2, shown_deg)


def contrast_left(
    contrast: float,
    sides_px: FloatArray,
    noise: FloatArray,
    curve: Transfer,
    critical: float,
    level: float,
) -> Left:
    """The metric of a target `critical` pixels wide.

    Parameters
    ----------
    contrast
        C, without unit.
    sides_px, noise
        Sides (n,) of square patches, rising [px], and the noise of the means over them (n,), above
        0 [share of white].
    curve
        Transfer by frequency.
    level
        Mean luminance L of the target on the display [share of white].
    """
    if contrast <= 0.0 or critical <= 0.0:
        return Left(0.0, 0.0)
    f = (np.arange(STEPS) + 0.5) * NYQUIST / STEPS
    lowest = 1.0 / max(critical, 1.0)
    # no patch is larger than the target; below one cycle the noise goes down with f
    side = np.clip(1.0 / f, sides_px[0], min(max(critical, sides_px[0]), sides_px[-1]))
    sigma = np.exp(np.interp(np.log(side), np.log(sides_px), np.log(noise)))
    sigma *= np.minimum(1.0, f / lowest)
    needed = np.hypot(eye_threshold(f * critical, critical, level), ROSE * sigma / (2.0 * level))
    above = contrast * np.interp(f, curve.frequency, curve.value) / needed
    seen = above > 1.0
    if not np.any(seen):
        return Left(0.0, 0.0)
    metric = np.sqrt(above[seen]).sum() * NYQUIST / STEPS * critical
    return Left(float(metric), float(f[np.flatnonzero(seen)[-1]] * critical))


@lru_cache
def metric_50(task: str) -> float:
    """V50 of a task: the metric of the ideal picture at even chance, see the module's text.

    Parameters
    ----------
    task
        "detect", "recognise" or "identify".

    Returns
    -------
    float
        V50 [cycles].

    Raises
    ------
    KeyError
        For another task.

    References
    ----------
    Johnson 1958 (cycles at even chance); the ideal picture is our own anchor.

    Examples
    --------
    >>> [round(metric_50(task), 1) for task in ("detect", "recognise")]
    [1.5, 12.6]
    """
    f = np.linspace(0.0, NYQUIST, STEPS)
    sides = np.array([1.0, 2.0])
    curve = Transfer(f, np.sinc(f))
    width = N50_CYCLES[task] / NYQUIST
    still = np.full(2, 1e-12)
    return contrast_left(IDEAL_CONTRAST, sides, still, curve, width, IDEAL_LEVEL).metric


def noise_of_regions(residual: Image, region: Image, sides_px: FloatArray) -> FloatArray:
    """Noise (n,) of means over square patches of a residual picture (rows, columns), above 0.

    What lies outside the region (rows, columns), 0 or 1, counts in no mean.
    """
    out = []
    inside = region > 0
    own = np.where(inside, residual, 0.0).astype(np.float32)
    for side in sides_px:
        k = round(float(side))
        means = own
        if k > 1:
            means = cv2.blur(own, (k, k), borderType=cv2.BORDER_REFLECT_101)
            share = cv2.blur(region, (k, k), borderType=cv2.BORDER_REFLECT_101)
            means = means / np.maximum(share, 1.0 / k**2)
        out.append(max(float(np.sqrt(np.mean(np.square(means[inside])))), LEAST_NOISE))
    return np.array(out)


def _sides(critical: float, shape: tuple[int, int]) -> FloatArray:
    most = max(2.0, min(critical, min(shape) / 2.0))
    steps = np.unique(np.round(np.geomspace(2.0, most, 9)))
    return np.asarray(steps, dtype=np.float64)


def judge_cycles(
    in_scene: CameraInScene,
    state: State,
    target: JudgedTarget,
    silhouette: Silhouette,
    rates: Sequence[Image],
    task: str,
    *,
    seed: int,
    regions: int = PATCHES,
) -> Cycles:
    """Probability of a task by cycles, over noisy repetitions of the target's part of the picture.

    Parameters
    ----------
    rates
        Light of the whole picture, or of the silhouette's window alone, oldest frame first (rows,
        columns, 3) [e-/s].
    seed
        Every patch gets a seed and a sensor of its own, so that the fixed pattern differs too.
    """
    x0, y0, x1, y1 = silhouette.window_px
    window = (y1 - y0, x1 - x0)
    cut = [
        np.ascontiguousarray(rate if rate.shape[:2] == window else rate[y0:y1, x0:x1])
        for rate in rates
    ]
    frames = np.concatenate(
        [
            recorded(one, state, cut, seed=seed + k, first=1 + k, frames=1, origin_px=(x0, y0))
            for k, one in enumerate(_pieces(in_scene, regions))
        ]
    )
    light = emitted(luma_levels(frames))
    mean = light.mean(axis=0)
    ring = np.asarray(silhouette.ring, dtype=np.bool_)
    critical = critical_px(in_scene, target, silhouette)
    by_parts = isinstance(target.entry, Face | Person) and task in BY_PARTS
    rim = max(RIM_PX, round(RIM_SHARE * critical)) if by_parts else 1
    face = known_by(target, silhouette, task)
    inside = core(silhouette.inside, rim) if face is None else face
    # a bright ring is noisier than a dark face before it
    region = (inside if by_parts else silhouette.inside | ring).astype(np.float32)
    sides = _sides(critical, mean.shape)
    curve = transfer(in_scene, state, target, mean_wavelength_nm(in_scene, state, target))
    unbias = np.float32(np.sqrt(regions / (regions - 1.0)))
    # the ring of a head is part body, part backdrop: no slope of light
    flat = mean if by_parts else levelled(mean, ring)
    own = float(mean[inside].mean())
    around = float(mean[ring].mean()) if np.any(ring) else own
    stray_light = stray_light_of(around)
    # an outline is seen at the mean of both its sides
    level = (own if by_parts else 0.5 * (own + around)) + stray_light
    sigma = max(1.0, DETAIL_SHARE * critical)
    cycles, contrasts = [], []
    for picture, one in zip(frames, light, strict=True):
        drawn, left = inside, 1.0
        if by_parts:
            drawn = inside & _neither_white_nor_black(picture)
            left = np.count_nonzero(drawn) / np.count_nonzero(inside)
        parts = 0.0
        if np.count_nonzero(drawn) > 1:
            # noise of one patch is not that of the others: what they share is the picture
            others = flat + (mean - one) / (regions - 1.0)
            pair = (_without_mosaic(flat + one - mean), _without_mosaic(others))
            if by_parts:
                pair = (detail(pair[0], drawn, sigma), detail(pair[1], drawn, sigma))
            parts = max(0.0, float(np.cov(pair[0][drawn], pair[1][drawn])[0, 1]))
        apart = 0.0
        if not by_parts and np.any(ring):
            even = flat + one - mean
            apart = float(even[silhouette.inside].mean() - even[ring].mean())
        contrast = float(np.sqrt(parts + apart**2)) / (2.0 * level)
        if by_parts and faceless(target):
            contrast = 0.0
        noise = noise_of_regions((one - mean) * unbias, region, sides)
        across = critical * float(np.sqrt(left))
        cycles.append(contrast_left(contrast, sides, noise, curve, across, level))
        contrasts.append(contrast)
    ratios = np.array([one.metric for one in cycles]) / metric_50(task)
    chances = task_probability(ratios)
    kept = None
    if by_parts:
        kept = kept_share(light, plate_signal(cut[-1], state), inside, critical, sigma)
        chances = chances * kept_probability(kept, task)
    value = float(chances.mean())
    tail = 50.0 * (1.0 - CONFIDENCE)
    low, high = np.percentile(chances, [tail, 100.0 - tail])
    return Cycles(
        value,
        min(float(low), value),
        max(float(high), value),
        regions,
        float(np.mean([one.cycles for one in cycles])),
        float(ratios.mean()),
        float(np.mean(contrasts)),
        critical,
        kept,
    )


def _pieces(in_scene: CameraInScene, count: int) -> list[CameraInScene]:
    """The camera with one sensor of the kind after the other."""
    every = range(count)
    return [in_scene.with_switches(sensor_piece=k) for k in every]


def _without_mosaic(picture: Image) -> Image:
    """The picture averaged over two pixels each way: demosaiced noise, stronger on some colours'
    pixels, makes by the display's gamma a pattern of two pixels, which is no target."""
    return np.asarray(cv2.blur(picture, (2, 2)), dtype=np.float32)


def _neither_white_nor_black(picture: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Pixels (rows, columns) of a picture (rows, columns, 3) with some drawing left in them."""
    luma = luma_levels(picture)
    return np.asarray((luma < CLIP_LEVEL) & (luma > CRUSH_LEVEL))


def core(inside: NDArray[np.bool_], rim_px: int) -> NDArray[np.bool_]:
    """The inside without a rim, or without as much of it as leaves something."""
    for rim in range(max(1, rim_px), 0, -1):
        kernel = np.ones((2 * rim + 1, 2 * rim + 1), np.uint8)
        # what the window cuts off is no rim
        core = cv2.erode(inside.astype(np.uint8), kernel) > 0
        if np.count_nonzero(core) >= max(4, 0.2 * np.count_nonzero(inside)):
            return np.asarray(core)
    return inside
