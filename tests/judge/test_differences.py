"""What tells characters apart, and which characters a reader reckons with."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator.judge.readers import PERSON
from simulator.judge.readers.differences import share_apart
from simulator.judge.readers.line_bands import EDGES
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.readers.template_reader import OWN_DISC_PX
from simulator.judge.readers.templates import Blur
from simulator.scene.targets.boards import likely_characters
from simulator.scene.targets.plate import plate_design

PLAIN, BOLD = "dark-on-white-520x110", "dark-on-white-520x111-wide"


@pytest.mark.by_hand
def test_a_letter_and_nothing_are_apart_by_the_whole_letter():
    """Each differs from the other by the letter, which is half of what both have in the mean."""
    shapes = design_shapes(plate_design(PLAIN))
    letter = shapes.masks[shapes.alphabet.index("H")]
    two = replace(
        shapes, alphabet="H ", masks=np.stack([letter, 0 * letter]), symbols=np.array([0, 1])
    )
    assert share_apart(two) == pytest.approx(np.full((2, len(EDGES) - 1), 2.0))
    same = replace(two, masks=np.stack([letter, letter]))
    assert share_apart(same) == pytest.approx(np.zeros((2, len(EDGES) - 1)), abs=1e-12)


@pytest.mark.invariant
def test_bold_letters_have_more_in_common():
    """Strokes of 14 mm to 79 beside 10.5 to 75, in the bands that most smears leave."""
    plain, bold = (share_apart(design_shapes(plate_design(name))) for name in (PLAIN, BOLD))
    assert np.all(bold[:, :5].sum(axis=1) < plain[:, :5].sum(axis=1))


@pytest.mark.by_hand
def test_a_reader_reckons_with_letters_digits_and_the_marks_of_the_text():
    plain = likely_characters(["BAY 17", "R4K 82"])
    assert plain.isalnum() and plain.isascii() and len(plain) == 36
    assert set(likely_characters(["LANE-4"])) - set(plain) == {"-"}
    assert set(likely_characters(["TÜR 4"])) - set(plain) == set("ÄÖÜ")


@pytest.mark.by_hand
def test_softness_that_every_picture_has_is_no_defocus():
    soft = Blur(0.045, disc=0.27)
    assert PERSON.unusual_blur(soft, OWN_DISC_PX / 0.28) == 0.0
    # of large letters the whole disc counts, 0.27 of their height
    assert PERSON.unusual_blur(soft, 400.0) == pytest.approx(0.27 * PERSON.defocus_noise, rel=0.001)
    smeared = Blur(0.045, disc=0.27, line=0.32)
    assert PERSON.unusual_blur(smeared, 10.0) == pytest.approx(0.32 * PERSON.smear_noise)
