"""The readers against a text recogniser on whole-camera pictures, and published letter reading.

Recogniser: rapidocr-onnxruntime, rates stored in tests/outside/ocr/end_to_end.csv by
tools/read_end_to_end.py. Letters in noise: Pelli, Burns, Farell, Moore-Page, Vision Res. 46 (2006):
efficiency about 10 %; Parish, Sperling, Vision Res. 31 (1991): up to 42 %; letters through a
low-pass: Kwon, Legge, Vision Res. 51 (2011): about 0.9 cycles a letter for 80 %; all from memory,
so with wide tolerances.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from analytic_reading import analytic_read_probability
from specimens import Condition, text_light

from simulator.judge.readers import MACHINE, PERSON, RECOGNISER
from simulator.judge.readers.reader import true_symbols
from simulator.judge.readers.recogniser import recogniser_installed
from simulator.judge.readers.shapes import design_shapes
from simulator.scene.targets.plate import plate_design

TOOLS = Path(__file__).resolve().parents[2] / "tools"
TEXTS = 6
"""Of the recogniser's own 56 texts of each condition, the first so many."""
SHAPES = design_shapes(plate_design("dark-on-white-520x110"))


@pytest.fixture(scope="module")
def tools():
    """The modules of the end-to-end comparison."""
    sys.path.insert(0, str(TOOLS))
    try:
        import end_to_end_conditions
        import end_to_end_fit
        import end_to_end_pictures

        yield end_to_end_conditions, end_to_end_pictures, end_to_end_fit
    finally:
        sys.path.remove(str(TOOLS))


@pytest.fixture(scope="module")
def compared(tools):
    """Held-out rows, the recogniser's rates on their first texts, and the pictures made anew."""
    made, pictures, fit = tools
    rows = {r.number: r for r in fit.read_rows() if r.held_out}
    held = [c for c in made.conditions() if c.held_out]
    assert [rows[c.number].condition for c in held] == [c.changed for c in held]
    pictured = [pictures.pictures_of(c, TEXTS) for c in held]
    rates = [rows[c.number].rate for c in held]
    return held, np.array(rates), pictured


@pytest.mark.outside
def test_the_quick_estimate_reads_about_as_often_as_the_recogniser(tools, compared):
    """0.08 over all and a bias of 0.03, held out; docs/reading.md tells each kind."""
    _, _, fit = tools
    held, rates, pictured = compared
    assert len(held) == 120 and len({c.kind for c in held}) == 15
    difference = np.array([MACHINE.quick.probability(fit.seen(p)) for p in pictured]) - rates
    assert np.abs(difference).mean() < 0.08, difference.round(2)
    assert abs(difference.mean()) < 0.03
    for kind in {c.kind for c in held}:
        own = np.array([c.kind == kind for c in held])
        # 0.12 with all 56 texts (docs/reading.md); six tell less of texts at large
        assert np.abs(difference[own]).mean() < 0.15, kind
    # one that always says the mean is off by far more
    assert np.abs(rates - rates.mean()).mean() > 3.0 * np.abs(difference).mean()


@pytest.mark.outside
def test_a_person_is_never_far_worse_than_the_recogniser_in_noise(tools, compared):
    _, pictures, fit = tools
    held, rates, _ = compared
    noisy = ("processing", "compression", "wide range", "low light, grey", "low light, colour")
    part = [n for n, c in enumerate(held) if c.kind in noisy][::4]
    # a reader sees the noise of a picture in eight of them
    person = np.array([fit.share_read(PERSON, pictures.pictures_of(held[n], 10, 8)) for n in part])
    told = [
        (held[n].changed, rates[n].round(2), p.round(2)) for n, p in zip(part, person, strict=True)
    ]
    assert np.mean(person - rates[part]) > -0.05, told
    assert np.all(person > rates[part] - 0.3), told


@pytest.mark.outside
@pytest.mark.skipif(not recogniser_installed(), reason="needs the extra ocr")
def test_the_stored_rates_are_the_recognisers(compared):
    """Read anew, with the first texts alone: one share may differ by .17 (one standard error, as
    texts differ more than pictures), those of 14 conditions together by .05."""
    held, rates, pictured = compared
    some = range(0, len(held), 9)
    right = [
        np.mean([
            (RECOGNISER.symbols(p.pictures, p.target, p.origin_px, seed=1)
             == true_symbols(p.target)).all(axis=1).mean()
            for p in pictured[n]
        ])
        for n in some
    ]  # fmt: skip
    difference = np.array(right) - rates[list(some)]
    assert np.abs(difference).mean() < 0.2, difference
    assert abs(difference.mean()) < 0.1, difference


def letters_read(reader, cutoff, height_px=40.0):
    """Share of all characters, each alone, that are read through a low-pass [cycles a letter]: a
    Butterworth filter of the third order; sharp otherwise, without noise."""

    def mtf(fx, fy):
        f = np.hypot(fx, fy) * height_px
        return np.sinc(fx) * np.sinc(fy) / np.sqrt(1.0 + (f / cutoff) ** 6)

    return np.mean([
        analytic_read_probability(
            SHAPES, c, reader, height_px=height_px, mtf=mtf, contrast=200.0, noise=0.0
        ).value
        for c in SHAPES.alphabet
    ])  # fmt: skip


@pytest.mark.outside
def test_a_person_reads_letters_through_a_low_pass():
    # 80 % at 0.9 to 1 cycles a letter; half as many cycles leave few letters, twice nearly all
    assert letters_read(PERSON, 0.85) < 0.8 < letters_read(PERSON, 1.05)
    assert letters_read(PERSON, 0.45) < 0.4
    assert letters_read(PERSON, 1.8) > 0.97


@pytest.mark.outside
def test_a_person_loses_letters_below_the_contrast_threshold():
    """Contrast threshold 0.02 in the laboratory (basis of the meteorological optical range): at a
    grey of 128 levels and gamma 2.4 a step of 1 level is a contrast of about 0.018. Letters of a
    third of it are lost, of five times it read."""
    read = [
        np.mean([
            analytic_read_probability(
                SHAPES, c, PERSON, height_px=24.0, mtf=lambda fx, fy: np.sinc(fx) * np.sinc(fy),
                contrast=step, noise=0.0,
            ).value
            for c in SHAPES.alphabet
        ])
        for step in (0.35, 5.5)
    ]  # fmt: skip
    assert read[0] < 0.5 and read[1] > 0.9, read


def _noise_threshold(reader, height_px):
    """Noise over contrast at which 64 % of the characters of three texts are read."""
    low, high = 0.05, 12.0
    sigma = 0.04 * height_px

    def mtf(fx, fy):
        return np.exp(-2.0 * (np.pi * sigma) ** 2 * (fx**2 + fy**2)) * np.sinc(fx) * np.sinc(fy)

    for _ in range(8):
        middle = float(np.sqrt(low * high))
        rate = np.mean([
            analytic_read_probability(
                SHAPES, text, reader, height_px=height_px, mtf=mtf, contrast=50.0,
                noise=50.0 * middle,
            ).characters.mean()
            for text in ("K8D4 Q6R", "A1B2 X3Y", "M5N3 H8G")
        ])  # fmt: skip
        low, high = (middle, high) if rate > 0.64 else (low, middle)
    return float(np.sqrt(low * high))


def _ideal_threshold(height_px):
    """The same for the ideal observer, who knows letters, place, size and level exactly: the
    likeliest of the drawings in white noise, by the scores' own covariance."""
    soft = Condition(height_px, 0.04 * height_px)
    drawn = np.array([
        text_light(SHAPES, SHAPES.alphabet[n], soft, (0.0, 0.0))[0].ravel()
        for n in SHAPES.first_letters
    ])  # fmt: skip
    products = drawn @ drawn.T
    power, vectors = np.linalg.eigh(products)
    root = vectors * np.sqrt(np.maximum(power, 0.0))
    rng = np.random.default_rng(0)
    draws = rng.standard_normal((400, len(drawn))) @ root.T
    low, high = 0.1, 40.0
    for _ in range(14):
        middle = float(np.sqrt(low * high))
        scores = products[:, None, :] + middle * draws - 0.5 * np.diag(products)
        rate = (scores.argmax(axis=2) == np.arange(len(drawn))[:, None]).mean()
        low, high = (middle, high) if rate > 0.64 else (low, middle)
    return float(np.sqrt(low * high))


@pytest.mark.outside
def test_a_person_reads_in_noise_at_the_published_efficiency():
    """Efficiency is the contrast energy that an ideal reader needs over what the reader needs, all
    of the reader's ignorance included: about 10 % for plain letters, only weakly dependent on size;
    up to 42 % for letters in their best band (Parish and Sperling 1991), which small letters are
    confined to (all from memory)."""
    large, small = ((_noise_threshold(PERSON, h) / _ideal_threshold(h)) ** 2 for h in (48.0, 17.0))
    assert large == pytest.approx(0.10, abs=0.02)
    assert large < small < 0.25
