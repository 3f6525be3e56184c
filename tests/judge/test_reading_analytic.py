"""The analytic form against repetitions of the same reader on specimens."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from analytic_reading import analytic_read_probability
from specimens import INK, PAPER, Condition, cells_read, make_specimen

from simulator.camera.lens import gaussian_mtf
from simulator.judge.readers import MACHINE, PERSON
from simulator.judge.readers.shapes import design_shapes
from simulator.scene.targets.plate import plate_design

SHAPES = design_shapes(plate_design("dark-on-white-520x110"))
PHASES, FRAMES = 16, 30


def repeated(reader, text, condition):
    """Share of whole texts and of each character read, over places on the grid and noise."""
    rng = np.random.default_rng(8)
    plain = text.replace(" ", "")
    hits = []
    for n in range(PHASES):
        s = make_specimen(SHAPES, plain, condition, rng, frames=FRAMES)
        hits.append(cells_read(reader, s, SHAPES, seed=n))
    read = np.concatenate(hits)
    return read.all(axis=1).mean(), read.mean(axis=0)


def analytic(reader, text, c, shapes=SHAPES):
    """The same by the analytic form."""
    step = (PAPER - INK) * c.contrast

    def mtf(fx, fy):
        blur = gaussian_mtf(np.hypot(fx, fy), c.blur_px) * np.sinc(fx * c.motion_px)
        return blur * np.sinc(fx) * np.sinc(fy)

    return analytic_read_probability(
        shapes, text, reader, height_px=c.height_px, mtf=mtf, contrast=step, noise=step * c.noise
    )


GRID = [
    Condition(7.0),
    Condition(24.0),
    Condition(12.0, 1.9),
    Condition(24.0, 4.0),
    Condition(24.0, motion_px=9.0),
    Condition(10.0, noise=0.2, contrast=0.4),
    Condition(16.0, noise=0.35, contrast=0.4),
    Condition(28.0, noise=0.6, contrast=0.4),
    Condition(28.0, noise=1.5, contrast=0.4),
    Condition(18.0, 1.7, 3.1, 0.11, 0.4),
]


@pytest.mark.invariant
def test_agrees_with_repetitions():
    # 480 texts each: a standard error of .023 at one half. Readers settle on one of 350 cuts and
    # blurs, in each noisy picture anew, while the analytic form settles once on the mean picture:
    # that, beside noise and the spread of texts, is what the two may differ by
    found, quick = [], []
    for reader in (MACHINE, PERSON):
        for condition in GRID if reader is MACHINE else GRID[::3]:
            found.append(repeated(reader, "T8Z4 R6V", condition)[0])
            quick.append(analytic(reader, "T8Z4 R6V", condition).value)
    difference = np.abs(np.array(found) - np.array(quick))
    told = list(zip(np.round(found, 3), np.round(quick, 3), strict=True))
    assert difference.mean() < 0.04, told
    assert difference.max() < 0.12, told
    middle = [0.05 < f < 0.95 for f in found]
    assert sum(middle) >= 6, told


@pytest.mark.invariant
def test_worse_pictures_read_less():
    text = "K8D4 Q6R"
    for worse in (
        [Condition(h) for h in (16.0, 8.0, 5.0, 3.0)],
        [Condition(24.0, b) for b in (1.0, 3.5, 4.5, 7.0)],
        [Condition(16.0, noise=n, contrast=0.4) for n in (0.1, 0.3, 0.6, 1.5)],
    ):
        values = [analytic(MACHINE, text, c).value for c in worse]
        assert all(b <= a + 0.01 for a, b in pairwise(values)), values
        assert values[0] > 0.7 and values[-1] < 0.1


@pytest.mark.by_hand
def test_detectability_is_contrast_over_noise():
    """Where the picture's noise rules, d' of the nearest rival is in proportion to contrast over
    noise: half the noise, twice the d'."""
    reader = MACHINE.__class__("plain", 0.0, 1.0, 0.3, level_noise=0.0)
    d = [
        analytic(reader, "A1B2 X3Y", Condition(20.0, 1.0, noise=n, contrast=0.5)).detectability
        for n in (0.4, 0.2)
    ]
    assert d[1] / d[0] == pytest.approx(2.0, rel=0.02)


@pytest.mark.by_hand
def test_contrast_to_noise_falls_as_one_over_height():
    """Matched filtering: at moderate noise, twice the height bears twice the noise.

    The noise that leaves a text read half of the time, by bisection; blur in proportion to height.
    """

    def noise_for_half(height):
        low, high = 0.02, 4.0
        for _ in range(10):
            middle = float(np.sqrt(low * high))
            c = Condition(height, 0.04 * height, noise=middle, contrast=0.4)
            p = analytic(PERSON, "A1B2 X3Y", c).value
            low, high = (middle, high) if p > 0.5 else (low, middle)
        return float(np.sqrt(low * high))

    noises = [noise_for_half(h) for h in (12.0, 24.0, 48.0)]
    assert noises[1] / noises[0] == pytest.approx(2.0, rel=0.2)
    assert noises[2] / noises[1] == pytest.approx(2.0, rel=0.2)
