"""What a viewer can tell from pictures: the ideal observer, with human efficiency and eyes.

A viewer looks at pictures x of a target on a display and has to say which of several known
things they show, or whether there is anything at all. With the pictures as contrast (luminance
over its mean, less one), m_k the mean picture of thing k, and noise of power N(f), the ideal
observer weighs what it sees by

    w_k = M_k(f) / N(f),   lambda_k = <w_k, x> - <w_k, m_k> / 2

(the prewhitening matched filter; Wiener spectra instead of covariances) and compares the answer
with a criterion, which lies as high as the share of false alarms that is allowed demands. A person
does worse, which is told by noise of his own, added to that of the pictures:

    N(f) = B (N_picture(f) + s(f) N_between(f)) / eta + F^2 N_eye(f) + kappa^2 B N_between(f)

eta       efficiency: of the energy that the ideal observer needs, a person needs 1 / eta
s(f)      what pictures show that does not follow the light of the things, over what does: a viewer
          remembers faces, not what running over white has left of them, and is as poor with it as
          with noise; the little that every camera changes (`FAMILIAR`) he is used to
B(f)      share of the power that gets through to him, by cycles across the target; 1 at best
N_eye(f)  noise that gives the eye's contrast sensitivity S(u) (Barten 1999): with k the ratio at
          threshold and A the area over which the eye adds up, N_eye = A / (2 k^2 S^2) [deg^2]
F         field factor: so many times the contrast of a trained observer in a laboratory
kappa     how imprecisely the things are remembered, as a share of how much they differ at that
          fineness; without it, a few coarse pixels without noise would do to tell anybody

The template is made from some pictures, the answers come from others.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from scipy.special import ndtr, ndtri

from simulator.judge.eye import (
    N_MAX,
    WHITE_CD_M2,
    X_MAX_DEG,
    K,
    contrast_sensitivity,
    emitted,
    stray_light_of,
)
from simulator.judge.silhouette import luma_levels
from simulator.units import FloatArray, Image

RINGS = 24
"""Rings of frequency over which the power of noise is averaged."""
FAMILIAR = 0.95
"""Coherence of pictures with their light from which nothing looks strange (assumed: tone curve,
sharpening and noise reduction in good light leave 0.97 to 0.995 of a face)."""
LEAST_COHERENCE = 1e-3
"""So little of a picture that follows the light tells nothing."""


@dataclass(frozen=True)
class Sight:
    """How a viewer sees a target on the display.

    Attributes
    ----------
    pixel_deg
        Side of a pixel of the picture at the eye [deg].
    across_px
        Width of the target in the picture [px], which counts its cycles.
    level
        Mean luminance of what is looked at, with stray light, as a share of white.
    """

    pixel_deg: float
    across_px: float
    level: float


@dataclass(frozen=True)
class Skill:
    """What a viewer is capable of in a task; see the module's text.

    Attributes
    ----------
    efficiency
        eta, of 1.
    field_factor
        F.
    imprecision
        kappa.
    best_cycles, octaves
        Cycles across the target that are used best, and standard deviation of B(f) in octaves;
        with `octaves` 0 all detail is used alike.
    """

    efficiency: float
    field_factor: float
    imprecision: float = 0.0
    best_cycles: float = 10.0
    octaves: float = 0.0

    def used(self, cycles: FloatArray) -> FloatArray:
        """B(f) by cycles across the target, of any shape."""
        if self.octaves <= 0.0:
            return np.ones_like(cycles)
        away = np.log2(np.maximum(cycles, 1e-3) / self.best_cycles) / self.octaves
        return np.asarray(np.exp(-0.5 * away**2))


def contrast_on_display(
    pictures: NDArray[np.uint8], area: NDArray[np.bool_], surround: float
) -> tuple[Image, float]:
    """Pictures as contrast to the mean luminance of an area.

    Parameters
    ----------
    pictures
        Delivered pictures (n, rows, columns, 3) [levels of 255].
    area
        Pixels (rows, columns) that the eye is adapted to.
    surround
        Mean luminance around the target [share of white], which scatters in the eye.

    Returns
    -------
    Contrast (n, rows, columns), and the mean luminance with stray light [share of white].
    """
    light = emitted(luma_levels(pictures))
    level = float(light[:, area].mean()) + stray_light_of(surround)
    return np.asarray((light + stray_light_of(surround)) / level - 1.0, dtype=np.float32), level


def frequencies(shape: tuple[int, int]) -> FloatArray:
    """Frequency (rows, columns // 2 + 1) of the coefficients of a real transform [cycles/px]."""
    return np.asarray(
        np.hypot(np.fft.fftfreq(shape[0])[:, None], np.fft.rfftfreq(shape[1])[None, :])
    )


def eye_noise(sight: Sight, frequency: FloatArray) -> FloatArray:
    """Power of the eye's noise in a pixel's contrast, by frequency [cycles/px], of any shape.

    Barten's threshold belongs to a grating on a field of a target's size; what holds for its own
    noise holds for any field.
    """
    shown = max(sight.across_px * sight.pixel_deg, 0.1)
    u = np.maximum(frequency / sight.pixel_deg, 0.25 / shown)
    s = contrast_sensitivity(u, sight.level * WHITE_CD_M2, shown)
    area = 1.0 / (1.0 / shown**2 + 1.0 / X_MAX_DEG**2 + (u / N_MAX) ** 2)
    return np.asarray(area / (2.0 * K**2 * np.maximum(s, 1e-6) ** 2) / sight.pixel_deg**2)


def _rings(frequency: FloatArray) -> NDArray[np.int64]:
    return np.asarray(np.minimum((frequency / 0.5 * RINGS).astype(np.int64), RINGS - 1))


def ring_power(coefficients: FloatArray, frequency: FloatArray) -> FloatArray:
    """Mean power (rows, half) of coefficients (n, rows, half) by rings of equal frequency."""
    power = (np.abs(coefficients) ** 2).mean(axis=0)
    ring = _rings(frequency)
    count = np.bincount(ring.ravel(), minlength=RINGS)
    total = np.bincount(ring.ravel(), power.ravel(), minlength=RINGS)
    mean = total / np.maximum(count, 1)
    filled = np.flatnonzero(count)
    mean = np.interp(np.arange(RINGS), filled, mean[filled])
    return np.asarray(mean[ring])


def coherence(
    pictures: FloatArray, noise: FloatArray, light: FloatArray, frequency: FloatArray
) -> FloatArray:
    """Share (rows, half) of the power of differences in pictures that follows their light.

    The magnitude-squared coherence by rings of equal frequency, summed over things: 1 for whatever
    a lens, motion or fog does, since the light on the sensor has been through these.

    Parameters
    ----------
    pictures, light
        Coefficients (things, rows, half) of mean pictures and of light, each less their mean.
    noise
        Power (rows, half) that noise leaves in `pictures`.
    """
    ring = _rings(frequency).ravel()

    def summed(power: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(ring, power.sum(axis=0).ravel(), minlength=RINGS))

    cross = np.abs(summed(np.real(pictures * light.conj()))) ** 2
    own = np.maximum(summed(np.abs(pictures) ** 2) - len(pictures) * summed(noise[None]), 0.0)
    both = own * summed(np.abs(light) ** 2)
    share = np.divide(cross, both, out=np.zeros(RINGS), where=both > 0.0)
    return np.asarray(np.clip(share, LEAST_COHERENCE, 1.0)[ring].reshape(frequency.shape))


def _transform(pictures: Image | FloatArray) -> FloatArray:
    return np.asarray(fft.rfft2(pictures.astype(np.float64), norm="ortho"))


def _doubled(columns: int) -> FloatArray:
    """Weight (columns // 2 + 1,) of the half of a real transform that is kept."""
    weight = np.full(columns // 2 + 1, 2.0)
    weight[0] = 1.0
    if columns % 2 == 0:
        weight[-1] = 1.0
    return weight


@dataclass(frozen=True)
class Templates:
    """What the observer compares with: one template a thing.

    Attributes
    ----------
    weights
        Templates (things, rows, columns).
    offsets
        What is taken off each answer (things,).
    own
        Covariance (things, things) of the viewer's own noise in the answers.
    """

    weights: FloatArray
    offsets: FloatArray
    own: FloatArray

    def answers(self, pictures: Image) -> FloatArray:
        """lambda (n, things) of pictures (n, rows, columns) [contrast]."""
        flat = pictures.reshape(len(pictures), -1).astype(np.float64)
        return np.asarray(flat @ self.weights.reshape(len(self.weights), -1).T - self.offsets)


def templates_of(
    means: Image,
    residual: Image,
    area: NDArray[np.bool_],
    sight: Sight,
    skill: Skill,
    learnt: int,
    light: Image | None = None,
) -> Templates:
    """Templates of several things and the viewer's own noise.

    Parameters
    ----------
    means
        Mean picture (things, rows, columns) of each thing [contrast].
    residual
        Noise pictures (n, rows, columns), each a picture less its mean, scaled so that their power
        is that of the noise.
    area
        Pixels (rows, columns) that count.
    learnt
        Pictures that each mean was taken over. What noise they leave in it is taken off the power
        of the differences, and templates shrink where little else is left (Wiener).
    light
        Light of each thing (things, rows, columns) [contrast], as it falls on the sensor; without
        it pictures are taken to follow their light.
    """
    shape = area.shape
    f = frequencies((shape[0], shape[1]))
    share = max(float(np.count_nonzero(area)) / area.size, 1e-9)
    inside = area.astype(np.float64)

    def levelled(pictures: Image) -> FloatArray:
        """Masked, the mean over the area taken off: nobody goes by the level alone."""
        own = pictures[:, area].mean(axis=1).astype(np.float64)
        return np.asarray((pictures - own[:, None, None]) * inside)

    things = levelled(means)
    middle = things.mean(axis=0)
    used = skill.used(f * sight.across_px)
    passed = np.sqrt(used)
    raw = _transform(things - middle)
    picture = ring_power(_transform(levelled(residual)), f) / share
    apart = ring_power(raw, f) / share * len(means) / max(len(means) - 1, 1)
    between = np.maximum(apart - picture / learnt, 0.0)
    seen = raw * passed * (between / np.maximum(apart, 1e-15))
    strange: float | FloatArray = 0.0
    if light is not None:
        true = levelled(light)
        true = _transform(true - true.mean(axis=0))
        follows = coherence(raw, share * picture / learnt * (1.0 - 1.0 / len(means)), true, f)
        strange = np.maximum(FAMILIAR - follows, 0.0) / follows
    own = used * picture * (1.0 / skill.efficiency - 1.0)
    own = own + skill.field_factor**2 * eye_noise(sight, f)
    own = own + used * between * (skill.imprecision**2 + strange / skill.efficiency)
    weights = seen / np.maximum(own + used * picture, 1e-15)
    spectra = weights.reshape(len(means), -1)
    weighted = (own * _doubled(shape[1])).ravel()
    covariance = np.real((spectra * weighted) @ spectra.conj().T)
    # what acts on a picture: filter and template in one, within the area, blind to the level
    acting = fft.irfft2(weights * passed, s=shape, norm="ortho") * inside
    acting -= inside * acting[:, area].mean(axis=1)[:, None, None]
    own_part = np.einsum(
        "kij,kij->k", fft.irfft2(weights, s=shape, norm="ortho"),
        fft.irfft2(seen, s=shape, norm="ortho"),
    )  # fmt: skip
    offsets = 0.5 * own_part + np.einsum("kij,ij->k", acting, middle)
    return Templates(acting, offsets, covariance)


def share_matched(
    own_answers: FloatArray, strangers: FloatArray, own_variance: float, false_matches: float
) -> FloatArray:
    """Share of pictures (n,) in which a viewer is sure enough that it is the one he knows.

    He is sure where the answer lies so high that of strangers' pictures only a share
    `false_matches` would get there.

    Parameters
    ----------
    own_answers
        Answers (n,) of the target's pictures.
    strangers
        Answers (m,) of pictures of strangers, as many of each.
    own_variance
        Variance of the viewer's own noise in the answers.
    """
    spread = max(np.sqrt(own_variance), 1e-12)

    def above(limit: float) -> float:
        return float(ndtr((strangers - limit) / spread).mean()) - false_matches

    from scipy.optimize import brentq  # noqa: PLC0415  takes a while, and only some tasks need it

    low, high = strangers.min() - 10.0 * spread, strangers.max() + 10.0 * spread
    limit = brentq(above, low, high)
    return np.asarray(ndtr((own_answers - limit) / spread))


def criterion(false_alarms: float, places: float) -> float:
    """Deviations above nothing at which a viewer says that something is there.

    Parameters
    ----------
    false_alarms
        Share of pictures without a target in which one is reported all the same.
    places
        Places of a target's size that are searched; each is another chance to be fooled.
    """
    return float(-ndtri(-np.expm1(np.log1p(-false_alarms) / max(places, 1.0))))


def share_noticed(
    with_it: FloatArray, without_it: FloatArray, own_variance: float, beyond: float
) -> FloatArray:
    """Share of pictures (n,) in which a viewer notices something.

    Parameters
    ----------
    with_it, without_it
        Answers (n,) and (m,) of pictures with the target and without it.
    own_variance
        Variance of the viewer's own noise in the answers.
    beyond
        The criterion, in deviations of answers without it.
    """
    spread = np.sqrt(own_variance + without_it.var(ddof=1))
    limit = without_it.mean() + beyond * spread
    return np.asarray(ndtr((with_it - limit) / max(np.sqrt(own_variance), 1e-12)))
