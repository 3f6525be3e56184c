"""Laws that a reader must keep, on specimens: no camera, one impairment at a time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from analytic_reading import analytic_read_probability
from scipy import ndimage
from specimens import Condition, cells_read, make_specimen, random_text, text_light

from simulator.camera.lens import gaussian_mtf
from simulator.judge.readers import MACHINE, PERSON
from simulator.judge.readers.bank import bank_of
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.readers.template_reader import TemplateReader
from simulator.judge.readers.templates import (
    BLURS,
    GRAIN,
    LEVEL_SPREAD,
    ROOM,
    ROWS,
    SHIFT,
    VARIANTS,
    Blur,
    letter_windows,
)
from simulator.scene.targets.plate import design_names, plate_design

SHAPES = design_shapes(plate_design("dark-on-white-520x110"))


def characters_read(reader, condition, texts=4, frames=16, seed=4):
    """Share of characters read of several texts."""
    rng = np.random.default_rng(seed)
    hits = []
    for n, text in enumerate([random_text(SHAPES, rng) for _ in range(texts)]):
        s = make_specimen(SHAPES, text, condition, rng, frames=frames)
        hits.append(cells_read(reader, s, SHAPES, seed=n).mean())
    return float(np.mean(hits))


@pytest.mark.invariant
@pytest.mark.parametrize("reader", [PERSON, MACHINE], ids=["person", "machine"])
def test_without_noise_blur_counts_in_character_heights(reader):
    # the same letters twice as large with twice the blur: the reader's own floor hardly matters
    small = characters_read(reader, Condition(32.0, 6.4), texts=6)
    large = characters_read(reader, Condition(64.0, 12.8), texts=6)
    assert small == pytest.approx(large, abs=0.08)
    sharp, soft, mush = (characters_read(reader, Condition(20.0, s)) for s in (0.8, 4.5, 8.0))
    assert sharp > 0.97
    assert sharp > soft + 0.05 > mush + 0.2


@pytest.mark.invariant
@pytest.mark.parametrize("reader", [PERSON, MACHINE], ids=["person", "machine"])
def test_without_noise_small_characters_fail(reader):
    rates = [characters_read(reader, Condition(h)) for h in (1.6, 3.2, 12.0)]
    assert rates[0] < 0.3 and rates[0] < rates[1] < rates[2] and rates[2] > 0.97


@pytest.mark.invariant
def test_without_noise_contrast_does_not_matter():
    even = replace(MACHINE, level_noise=0.0, spread=0.0)
    full, faint = (characters_read(even, Condition(9.0, 1.5, contrast=c)) for c in (1.0, 0.4))
    assert full == pytest.approx(faint, abs=0.04)
    assert 0.2 < full < 0.98
    full = characters_read(MACHINE, Condition(9.0, 1.5))
    assert characters_read(MACHINE, Condition(9.0, 1.5, contrast=0.01)) < full - 0.3


@pytest.mark.by_hand
def test_efficiency_is_noise_power():
    """An efficiency of 1/4 is a picture with four times the noise power."""
    keen = TemplateReader("keen", 0.0, 1.0, 0.4, level_noise=0.0)
    dull = TemplateReader("dull", 0.0, 0.25, 0.4, level_noise=0.0)
    for noise in (0.6, 0.9):
        twice = characters_read(keen, Condition(16.0, noise=2 * noise, contrast=0.3))
        once = characters_read(dull, Condition(16.0, noise=noise, contrast=0.3))
        # 448 characters each: two standard errors of the difference are .066
        assert once == pytest.approx(twice, abs=0.08)
        assert characters_read(keen, Condition(16.0, noise=noise, contrast=0.3)) > once + 0.1


@pytest.mark.by_hand
def test_ink_is_conserved_in_specimens():
    """Blur, motion and sampling keep the ink: its sum is the area of the masks."""
    text = "K8D4Q6R"
    mean = SHAPES.masks[SHAPES.indices(text)].mean(axis=(1, 2)).sum()
    scale = 13.7 / SHAPES.height_mm
    area = mean * 13.7 * SHAPES.width_mm * scale
    for condition in (Condition(13.7, 0.0), Condition(13.7, 1.0), Condition(13.7, 0.5, 4.0)):
        ink, cells = text_light(SHAPES, text, condition, (0.3, 0.8))
        assert float(ink.sum()) == pytest.approx(area, rel=0.01)
        assert cells[:, 3, 1] - cells[:, 0, 1] == pytest.approx(13.7)


@pytest.mark.invariant
def test_specimens_lie_where_they_say():
    whole, _ = text_light(SHAPES, "H", Condition(20.0), (0.0, 0.0))
    moved, cells = text_light(SHAPES, "H", Condition(20.0), (0.4, 0.7))
    for axis, shift in ((1, 0.4), (0, 0.7)):
        at = [np.average(np.arange(p.shape[axis]) + 0.5, weights=p.sum(axis=1 - axis))
              for p in (whole, moved)]  # fmt: skip
        assert at[1] - at[0] == pytest.approx(shift, abs=0.01)
    middle = cells[0].mean(axis=0)
    assert at[1] == pytest.approx(middle[1], abs=0.05)


@pytest.mark.by_hand
def test_templates_are_cuts_of_the_letters():
    # the stroke of an "I" by the ink of a row in its middle, the height by the ink of its column
    one = SHAPES.alphabet.index("I")
    drawn_mm = SHAPES.masks[one][75].sum() * SHAPES.texel_mm
    per_mm = ROWS / SHAPES.height_mm
    for variant in VARIANTS:
        cut = letter_windows(SHAPES, variant, shift=SHIFT)[one]
        middle = cut[cut.shape[0] // 2].sum()
        stroke = variant.stroke * variant.width * drawn_mm * per_mm
        assert middle == pytest.approx(stroke, rel=0.06)
        assert cut.sum() / middle == pytest.approx(variant.height * ROWS, rel=0.06)
    found = bank_of(SHAPES, VARIANTS, BLURS).choices[3]
    # the level of a picture hardly moves the scores: a filter has no mean beside its own spread
    assert np.all(np.abs(found.values.mean(axis=1)) < 1e-3 * found.values.std(axis=1))
    # half of t' K^-1 t, and K^-1 of a covariance is symmetric
    assert found.bias == pytest.approx(0.5 * (found.values * found.plain).sum(axis=1), rel=1e-3)
    assert found.precision == pytest.approx(found.precision.T, abs=1e-3)


@pytest.mark.by_hand
def test_templates_are_soft_letters_in_their_clutter():
    """One cut has no spread of cuts: K of the definition, by another way of blurring."""
    variant, softness = VARIANTS[0], 0.1
    found = bank_of(SHAPES, (variant,), (Blur(softness),)).choices[0]
    ink = letter_windows(SHAPES, variant, shift=ROOM + 20)
    soft = np.stack([ndimage.gaussian_filter(x, softness * ROWS) for x in ink])
    inner = slice(ROOM + 20, -ROOM - 20)
    step = (SHAPES.width_mm + SHAPES.gap_mm) / SHAPES.height_mm * ROWS
    left, right = (
        -0.83**0.5 * np.stack([ndimage.shift(x, (0, s), order=3) for x in soft])[:, inner, inner]
        .reshape(len(soft), -1)
        for s in (-step, step)
    )  # fmt: skip
    evaluator = -soft[:, inner, inner].reshape(len(soft), -1)
    evaluator = evaluator + 0.83**0.5 * (left.mean(axis=0) + right.mean(axis=0))
    assert found.plain == pytest.approx(evaluator - evaluator.mean(axis=1, keepdims=True), abs=0.02)
    size = evaluator.shape[1]
    clutter = GRAIN**2 * np.eye(size) + LEVEL_SPREAD**2
    for side in (left, right):
        clutter += side.T @ side / len(side)
        clutter -= 0.83 * np.outer(side.mean(axis=0), side.mean(axis=0))
    product = clutter @ found.precision
    assert product == pytest.approx(np.eye(size), abs=0.05)


@pytest.mark.by_hand
def test_what_cuts_differ_in_counts_little():
    """Two cuts of one letter are nearer in the reader's measure, letters hardly."""
    many = bank_of(SHAPES, VARIANTS, (Blur(0.06),)).choices
    alone = bank_of(SHAPES, VARIANTS[:1], (Blur(0.06),)).choices[0]

    def apart(precision, a, b):
        return float((a - b) @ precision @ (a - b))

    thin, bold = many[0].plain, many[1].plain
    d, zero = SHAPES.alphabet.index("D"), SHAPES.alphabet.index("0")
    shares = [
        apart(many[0].precision, *pair) / apart(alone.precision, *pair)
        for pair in ((thin[d], bold[d]), (thin[d], thin[zero]))
    ]
    # slopes across the letter count for nothing in either, which takes more from what letters
    # differ in
    assert shares[0] < 0.65 * shares[1]


def _lettering(name):
    d = plate_design(name)
    return (d.character_height_mm, d.character_width_mm, d.stroke_mm, d.gap_mm,
            d.ink, d.background)  # fmt: skip


DISTINCT = sorted({_lettering(n): n for n in reversed(design_names())}.values())


@pytest.mark.invariant
@pytest.mark.parametrize("reader", [PERSON, MACHINE], ids=["person", "machine"])
@pytest.mark.parametrize("name", DISTINCT)
def test_large_sharp_letters_are_read(name, reader):
    """Every character of every design, as good as always, twice among others; no noise."""
    shapes = design_shapes(plate_design(name))
    rng = np.random.default_rng(0)

    def mtf(fx, fy):
        return gaussian_mtf(np.hypot(fx, fy), 1.0) * np.sinc(fx) * np.sinc(fy)

    for order in (rng.permutation(len(shapes.alphabet)) for _ in range(2)):
        for start in range(0, len(order), 6):
            text = "".join(shapes.alphabet[i] for i in order[start : start + 6])
            found = analytic_read_probability(
                shapes, text, reader, height_px=24.0, mtf=mtf, contrast=125.0, noise=0.0
            ).characters
            told = dict(zip(text, np.round(found, 4).tolist(), strict=True))
            assert found.min() >= 0.995, (told, name)
