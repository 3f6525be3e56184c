"""Probability of reading from contrast, transfer function and noise power, without a picture.

The reader of `reading` compares what it sees with templates by correlation. Until it takes the
largest, all of that is linear, so that means and noise of all correlations follow from the text as
drawn, the transfer function (MTF), and the noise power spectrum. For a character i and a template
of another symbol j the detectability is

    d'_ij = E[c_i - c_j] / sd(c_i - c_j)

with c the correlation of the best placed template of each. A character is read if c_i exceeds all
others, which is the integral of a correlated normal distribution: it is taken over `DRAWS` fixed
draws in the space that the templates span, and smoothed by the normal distribution of the margin
c_i - max_j c_j. The probability of a text is the product over its characters.

What it leaves out: where the pixel grid falls (aliasing below about 5 px of height), clipping, and
whatever else a camera does that is not linear. Signal and noise are taken at the level at hand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from simulator.camera.lens import fine_frequencies, gaussian_mtf
from simulator.judge.readers.matching import NEAR, place_offsets, without_neighbours
from simulator.judge.readers.shapes import Shapes
from simulator.judge.readers.template_reader import TemplateReader
from simulator.judge.readers.templates import (
    ROWS,
    SHIFT,
    SHIFTS,
    Templates,
    letter_windows,
    window_shape,
)
from simulator.units import FloatArray, Image

DRAWS = 384
COMPONENTS = 280
"""Principal components that hold the placed templates."""
BEST = 5
"""Placed templates of each character that are followed, the best correlated."""
RIVALS = 10
"""Characters that are followed, the true one and those most like it."""
NODES = 9
"""Nodes of the integral over how noisy a picture is to the reader (Gauss and Hermite)."""
SURE = 1e-5
FIELD_ROWS = 24
SEED = 11

Transfer = Callable[[FloatArray, FloatArray], FloatArray]
"""Function of horizontal and vertical frequency [cycles/pixel], any shapes that broadcast."""


class AnalyticReading(NamedTuple):
    """Probability of the whole text, of each character (n,), and d' against the symbol that is
    easiest to mistake for each (n,)."""

    value: float
    characters: FloatArray
    detectability: FloatArray


@dataclass(frozen=True, eq=False)
class _Space:
    """What is fixed for a lettering and a reader.

    Placed templates, sorted by character, as coordinates (characters, cuts x shifts, components)
    on `basis` (components, window samples); the spectrum (2 x frequencies, components) of the basis
    on the field, real over imaginary, and which frequencies those are; fixed draws of internal
    noise (draws, components) and of the picture's (draws, 2 x frequencies).
    """

    placed: Image
    basis: Image
    spectrum: Image
    frequencies: NDArray[np.int64]
    internal: Image
    external: Image


@lru_cache(maxsize=96)
def _space(shapes: Shapes, templates: Templates) -> _Space:
    rows, columns = templates.rows, templates.columns
    high, wide = rows + 2 * SHIFT, columns + 2 * SHIFT
    letters = len(shapes.alphabet)
    cuts = len(templates.values) // letters
    all_placed = np.zeros((letters, cuts, len(SHIFTS), high, wide), np.float32)
    values = templates.values.reshape(cuts, letters, rows, columns)
    for s, (r, q) in enumerate(SHIFTS):
        all_placed[:, :, s, r : r + rows, q : q + columns] = values.transpose(1, 0, 2, 3)
    flat = all_placed.reshape(-1, high * wide)
    # components by the eigenvectors of the second moment; placed templates are no more than this
    power, vectors = np.linalg.eigh(flat.T @ flat)
    basis = np.ascontiguousarray(vectors[:, np.argsort(power)[::-1][:COMPONENTS]].T)
    placed = (flat @ basis.T).reshape(letters, cuts * len(SHIFTS), -1)
    field = _field(wide)
    padded = np.zeros((len(basis), *field), np.float32)
    padded[:, :high, :wide] = basis.reshape(-1, high, wide)
    spectrum = np.fft.rfft2(padded).reshape(len(basis), -1)
    # frequencies of the half plane, those that stand for two counted so; the empty ones left out
    double = np.full((field[0], field[1] // 2 + 1), 2.0)
    double[:, 0] = double[:, -1] = 1.0
    held = (np.abs(spectrum) ** 2).sum(axis=0) * double.ravel()
    order = np.argsort(held)[::-1]
    kept = np.sort(order[: int(np.searchsorted(np.cumsum(held[order]), 0.998 * held.sum())) + 1])
    weighed = spectrum[:, kept] * np.sqrt(double.ravel()[kept] / (field[0] * field[1]))
    stacked = np.concatenate([weighed.real, weighed.imag], axis=1).T
    rng = np.random.default_rng(SEED)
    return _Space(
        placed.astype(np.float32),
        basis.astype(np.float32),
        np.ascontiguousarray(stacked, dtype=np.float32),
        kept,
        _draws(rng, len(basis)),
        _draws(rng, len(stacked)),
    )


def _field(wide: int) -> tuple[int, int]:
    """Rows and columns of the periodic field that the picture's noise is shaped on [samples]."""
    return FIELD_ROWS, wide + wide % 2 + 2


def _draws(rng: np.random.Generator, components: int) -> Image:
    """Normal draws (DRAWS, components), each with its opposite, whitened over the components."""
    half = rng.standard_normal((DRAWS // 2, components))
    half /= np.sqrt((half**2).mean(axis=0))
    return np.concatenate([half, -half]).astype(np.float32)


def _frequencies(high: int, wide: int) -> tuple[FloatArray, FloatArray]:
    """Frequencies (x (1, n), y (rows, 1)) of a canvas [cycles/sample]."""
    return fine_frequencies(high, wide, 1.0)


@lru_cache(maxsize=16)
def _letter_spectra(shapes: Shapes, high: int, wide: int) -> NDArray[np.complex128]:
    """Spectra of the letters, each centred at the origin of a canvas.

    Letters on the grid are means over its samples, while a reader's windows are points of the
    picture: the transfer of that mean is taken out again.
    """
    ink = letter_windows(shapes, None, SHIFT)
    canvas = np.zeros((len(ink), high, wide))
    canvas[:, : ink.shape[1], : ink.shape[2]] = ink
    spectrum = np.fft.rfft2(canvas)
    fx, fy = _frequencies(high, wide)
    spectrum /= np.sinc(fx) * np.sinc(fy)
    middle = (np.array(ink.shape[1:]) - 1) / 2.0
    return spectrum * np.exp(2j * np.pi * (fy * middle[0] + fx * middle[1]))


def _group_ends(text: str) -> NDArray[np.int64]:
    """How many characters stand before each space of a text (spaces,)."""
    return np.cumsum([len(group) for group in text.split(" ")], dtype=np.int64)[:-1]


def _windows(
    shapes: Shapes, text: str, otf: Callable[[FloatArray, FloatArray], FloatArray]
) -> Image:
    """Blurred ink share of the sought windows (characters, samples); frequencies [cycles/sample].

    Neighbours stand where they do on a line of text with the lettering's gaps.
    """
    rows, columns = (n + 2 * SHIFT for n in window_shape(shapes))
    indices = shapes.indices(text)
    ends = _group_ends(text)
    step = (shapes.width_mm + shapes.gap_mm) * ROWS / shapes.height_mm
    extra = (shapes.group_gap_mm - shapes.gap_mm) * ROWS / shapes.height_mm
    place = np.array([n * step + extra * np.sum(ends <= n) for n in range(len(indices))])
    wide = scipy.fft.next_fast_len(int(place[-1] + 3 * columns), real=True)
    high = scipy.fft.next_fast_len(2 * rows, real=True)
    fx, fy = _frequencies(high, wide)
    spectra = _letter_spectra(shapes, high, wide)
    line = np.zeros((high, fx.shape[1]), np.complex128)
    turn = np.exp(-2j * np.pi * fx * place[:, None, None])
    for index, t in zip(indices, turn, strict=True):
        line += spectra[index] * t
    line *= otf(fx, fy) * np.exp(-2j * np.pi * fy * ((rows - 1) / 2.0))
    middle = np.exp(-2j * np.pi * fx * ((columns - 1) / 2.0))
    seen = scipy.fft.irfft2(line * (np.conj(turn) * middle), s=(high, wide), axes=(1, 2))
    return np.ascontiguousarray(seen[:, :rows, :columns], dtype=np.float32)


def _noise_power(
    reader: TemplateReader,
    height_px: float,
    field: tuple[int, int],
    noise_spectrum: Transfer | None,
) -> FloatArray:
    """Power of the picture's noise at the frequencies of the field, for unit noise a pixel.

    Softening and interpolation shape it; what the letter grid cannot hold folds back.
    """
    scale = ROWS / height_px
    sigma = reader.softening_px(height_px)
    fx, fy = _frequencies(*field)
    folds = range(-2, 3) if scale < 1.0 else range(-1, 2)

    def passed(frequency: FloatArray) -> FloatArray:
        # softened as samples, so that this transfer repeats with the pixel
        within = frequency - np.round(frequency)
        return np.asarray(np.sinc(frequency) ** 4 * gaussian_mtf(within, sigma) ** 2)

    across = [(fx + m) * scale for m in folds]
    down = [(fy + n) * scale for n in folds]
    if noise_spectrum is None:
        return np.asarray(sum(passed(x) for x in across) * sum(passed(y) for y in down) * scale**2)
    out = np.zeros((fy.size, fx.size))
    for x in across:
        for y in down:
            out += passed(x) * passed(y) * noise_spectrum(x - np.round(x), y - np.round(y))
    return out * scale**2


def analytic_read_probability(
    shapes: Shapes,
    text: str,
    reader: TemplateReader,
    *,
    height_px: float,
    mtf: Transfer,
    contrast: float,
    noise: float,
    noise_spectrum: Transfer | None = None,
    level: float = 128.0,
) -> AnalyticReading:
    """Probability that a text is read.

    Parameters
    ----------
    height_px
        Height of the characters [px].
    mtf
        Transfer of light to picture at a frequency [cycles/pixel], the pixel's aperture included.
    contrast
        Difference between paper and ink in the picture [levels of 255].
    noise
        Standard deviation of the picture's noise [levels].
    noise_spectrum
        Its power at a frequency [cycles/pixel] over that of white noise of the same standard
        deviation; white if not given.
    level
        Mean level of the text [levels of 255].
    """
    scale = ROWS / height_px
    sigma = reader.softening_px(height_px)

    def otf(fx: FloatArray, fy: FloatArray) -> FloatArray:
        x, y = fx * scale, fy * scale
        read_out = gaussian_mtf(np.hypot(x, y), sigma) * np.sinc(x) ** 2 * np.sinc(y) ** 2
        return np.asarray(mtf(x, y) * read_out)

    seen = contrast * (1.0 if shapes.light_ink else -1.0) * _windows(shapes, text, otf)
    power = _noise_power(reader, height_px, noise_field(shapes), noise_spectrum)
    power = power * noise**2 / reader.efficiency_at(height_px)
    return read_windows(shapes, text, reader, seen, power, height_px=height_px, level=level)


def noise_field(shapes: Shapes) -> tuple[int, int]:
    """Rows and columns of the field that noise is described on [samples of the letter grid]."""
    return _field(window_shape(shapes)[1] + 2 * SHIFT)


def _near(shapes: Shapes, text: str) -> NDArray[np.bool_]:
    """Which characters (n - 1,) of a text in one line have the next one at the usual gap."""
    near = np.ones(len(text.replace(" ", "")) - 1, dtype=np.bool_)
    if shapes.group_gap_mm - shapes.gap_mm > NEAR * shapes.width_mm:
        near[_group_ends(text) - 1] = False
    return near


def read_windows(
    shapes: Shapes,
    text: str,
    reader: TemplateReader,
    seen: Image,
    noise_power: FloatArray,
    near: NDArray[np.bool_] | None = None,
    *,
    height_px: float,
    level: float | None = None,
) -> AnalyticReading:
    """Probability that a text is read from its mean windows and the power of their noise.

    Parameters
    ----------
    seen
        Mean windows (characters, rows, columns) of the reader, softened [levels].
    noise_power
        Power of the noise that the reader is left with of the picture's, at the frequencies of the
        real transform of `noise_field`; its mean over all frequencies is the variance of a sample
        [levels^2].
    near
        Which characters (n - 1,) have the next one beside them; without it as the text's spaces
        tell. A reader `in_context` is taken to know its neighbours.
    height_px
        Height of the characters in the picture.
    level
        Mean level of the text [levels of 255]; that of the windows if not given.
    """
    settled = reader.settle(shapes, seen)
    templates, step = settled.templates, settled.step
    space = _space(shapes, templates)
    levels = seen.mean(axis=(1, 2)) if level is None else np.full(len(seen), level)
    internal = np.hypot(reader.own_noise(seen, settled, height_px), reader.fixed_noise(levels))
    shaping = np.sqrt(noise_power.ravel()[space.frequencies]).astype(np.float32)
    external = space.external @ (space.spectrum * np.tile(shaping, 2)[:, None])
    indices = shapes.indices(text)
    if reader.in_context:
        near = _near(shapes, text) if near is None else near
        seen = without_neighbours(seen[None], indices[None], near, templates, step)[0]
    offsets = place_offsets(seen, templates, step)
    weight = np.float32(1.0 / step)
    p, z, d = (np.empty(len(seen)) for _ in range(3))
    means = (seen.reshape(len(seen), -1) @ space.basis.T) @ space.placed.reshape(
        -1, len(space.basis)
    ).T
    for n, plain in enumerate(means.reshape(len(seen), *space.placed.shape[:2])):
        mean = plain * weight + offsets[n] - templates.bias[:, None]
        same = shapes.symbols == shapes.symbols[indices[n]]
        rank = mean.max(axis=1) + np.where(same, 1e6, 0.0)
        letters = np.argpartition(rank, -RIVALS)[-RIVALS:]
        near, same = mean[letters], same[letters]
        best = np.argpartition(near, -BEST, axis=1)[:, -BEST:]
        chosen = np.take_along_axis(near, best, axis=1)
        vectors = space.placed[letters[:, None], best] * weight
        draws = external + np.float32(internal[n]) * space.internal
        scores = vectors.reshape(-1, vectors.shape[2]) @ draws.T
        scores = scores.reshape(*chosen.shape, DRAWS) + chosen[:, :, None]
        top = scores.max(axis=1)
        margin = top[same].max(axis=0) - top[~same].max(axis=0)
        p[n] = _share_above_zero(margin)
        z[n] = _certainty(p[n], margin)
        d[n] = _least_detectability(chosen, scores, same)
    return AnalyticReading(_of_all(z, reader.spread), p, d)


def _certainty(share: float, margin: FloatArray) -> float:
    """Standard deviations by which a margin is positive: by its share, or its moments at the ends,
    where a share tells no more."""
    if SURE < share < 1.0 - SURE:
        return float(ndtri(share))
    sd = float(margin.std())
    sign = 1.0 if share > 0.5 else -1.0
    return sign * max(abs(float(margin.mean())) / sd, -float(ndtri(SURE))) if sd else sign * np.inf


def _of_all(z: FloatArray, spread: float) -> float:
    """Probability that all characters are read, from the certainty of each (n,), where the noise of
    a picture is that of the mean picture times exp(spread t), t standard normal."""
    t, weight = np.polynomial.hermite_e.hermegauss(NODES)
    worse = np.exp(spread * t)[:, None]
    return float((ndtr(z / worse).prod(axis=1) * weight).sum() / weight.sum())


def _share_above_zero(margin: FloatArray) -> float:
    """Probability that a margin is positive: by its first two moments, corrected for skewness.

    Edgeworth's expansion to its first term, P = Phi(z) - g/6 (z^2 - 1) phi(z) at z = mean / sd.
    """
    sd = float(margin.std())
    if sd <= 0.0:
        return float(margin.mean() > 0.0)
    z = float(margin.mean()) / sd
    skew = float(np.mean(((margin - margin.mean()) / sd) ** 3))
    value = ndtr(z) + skew / 6.0 * (z * z - 1.0) * np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi)
    return float(np.clip(value, 0.0, 1.0))


def _least_detectability(chosen: FloatArray, scores: FloatArray, same: NDArray[np.bool_]) -> float:
    """Smallest d' of the true character against another symbol, each at its best placing."""
    place = chosen.argmax(axis=1)
    letters = np.arange(len(chosen))
    true = letters[same][chosen[same].max(axis=1).argmax()]
    others = letters[~same]
    step = chosen[true].max() - chosen.max(axis=1)[others]
    at = scores[letters, place]
    spread = (at[true] - at[others]).std(axis=1)
    return float(np.min(step / np.maximum(spread, 1e-12)))
