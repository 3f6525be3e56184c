"""A text that stands aside of its place, as where exposures of two moments are joined."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.judge.readers.line_bands import cells_as_shown
from simulator.judge.silhouette import luma_levels
from simulator.studies.overrides import load_pair
from simulator.studies.session import open_session


@pytest.fixture(scope="module")
def shown():
    """Pictures of a label on a belt, bright enough for the shorter exposure, and its target."""
    session = open_session(*load_pair("conveyor-belt-parcel", "doorway-2mp-wide"), seed=1)
    pictures = session.pictures(4)
    return session, pictures.frames, tuple(pictures.box_px[:2])


def aside(frames, target, origin) -> np.ndarray:
    moved = cells_as_shown(luma_levels(frames), target, origin) - (
        target.cells_px - np.asarray(origin)
    )
    assert np.ptp(moved, axis=(0, 1)) == pytest.approx([0.0, 0.0], abs=1e-6)
    return moved[0, 0]


@pytest.mark.by_hand
def test_the_label_stands_where_the_shorter_exposure_saw_it(shown) -> None:
    """The longer exposure takes 1/50 s; the label is white in the shorter one, which follows it:
    the belt has moved by about half of both together, 1.6 px a longest exposure by its blur."""
    session, frames, origin = shown
    across, down = aside(frames, session.target, origin)
    half = 0.5 * session.motion_blur_px * (1.0 + 1.0 / session.in_scene.camera.wide_range.ratio)
    assert abs(across) == pytest.approx(half, abs=0.4)
    assert abs(down) < 0.3


@pytest.mark.invariant
@pytest.mark.parametrize("pixels", [-1, 1])
def test_a_text_moved_by_a_pixel_is_found_a_pixel_aside(shown, pixels) -> None:
    session, frames, origin = shown
    before = aside(frames, session.target, origin)
    after = aside(np.roll(frames, pixels, axis=2), session.target, origin)
    assert after - before == pytest.approx([pixels, 0.0], abs=0.45)  # half a step, and sharpening


@pytest.mark.invariant
def test_noise_moves_no_text(shown) -> None:
    session, frames, origin = shown
    noise = np.random.default_rng(3).integers(0, 256, (20, 4, *frames.shape[1:]), dtype=np.uint8)
    moved = [np.abs(aside(one, session.target, origin)).max() for one in noise]
    assert np.mean(np.array(moved) > 0.0) <= 0.1


@pytest.mark.invariant
def test_a_label_eaten_by_white_is_read(shown) -> None:
    """The recogniser reads all such labels, which are plain to the eye."""
    session, *_ = shown
    assert session.probability(40, proof=True).value > 0.8
    assert session.probability().value > 0.8
