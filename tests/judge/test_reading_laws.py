"""Laws that a reader must keep, on specimens: no camera, one impairment at a time."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.judge.readers import MACHINE, PERSON
from simulator.judge.reading import Reader
from simulator.judge.shapes import design_shapes
from simulator.judge.specimens import Condition, make_specimen, random_text, text_light
from simulator.judge.templates import ROWS, SHIFT, VARIANTS, letter_windows, templates_of
from simulator.scene.targets.plate import plate_design

SHAPES = design_shapes(plate_design("dark-on-white-520x110"))


def characters_read(reader, condition, texts=4, frames=16, seed=4):
    """Share of characters read of several texts."""
    rng = np.random.default_rng(seed)
    hits = []
    for n, text in enumerate([random_text(SHAPES, rng) for _ in range(texts)]):
        s = make_specimen(SHAPES, text, condition, rng, frames=frames)
        hits.append(reader.read_cells(s.frames, SHAPES, s.text, s.cells_px, seed=n).mean())
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
    full, faint = (characters_read(MACHINE, Condition(9.0, 1.5, contrast=c)) for c in (1.0, 0.4))
    assert full == pytest.approx(faint, abs=0.06)
    assert 0.2 < full < 0.98
    assert characters_read(MACHINE, Condition(9.0, 1.5, contrast=0.01)) < full - 0.3


@pytest.mark.by_hand
def test_efficiency_is_noise_power():
    """An efficiency of 1/4 is a picture with four times the noise power."""
    keen = Reader("keen", 0.0, 1.0, 0.4, level_noise=0.0)
    dull = Reader("dull", 0.0, 0.25, 0.4, level_noise=0.0)
    for noise in (0.6, 0.9):
        twice = characters_read(keen, Condition(16.0, noise=2 * noise, contrast=0.3))
        once = characters_read(dull, Condition(16.0, noise=noise, contrast=0.3))
        # 448 characters each: two standard errors of the difference are .066
        assert once == pytest.approx(twice, abs=0.08)
        assert characters_read(keen, Condition(16.0, noise=noise, contrast=0.3)) > once + 0.1


@pytest.mark.by_hand
def test_ink_is_conserved_in_specimens():
    """Blur, motion and sampling keep the ink: its sum is the area of the masks."""
    text = "KDQ8B6R"
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
    found = templates_of(SHAPES, VARIANTS[0], 0.06)
    # the level of a picture hardly moves the scores: a filter has no mean beside its own spread
    assert np.all(np.abs(found.values.mean(axis=1)) < 1e-3 * found.values.std(axis=1))
    # half of t' K^-1 t, and K^-1 of a covariance is symmetric
    assert found.bias == pytest.approx(0.5 * (found.values * found.plain).sum(axis=1), rel=1e-3)
    assert found.precision == pytest.approx(found.precision.T, abs=1e-3)
