"""Cutting out and enlarging the target, and text inside pictures."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from simulator.report.pictures import TARGET_WIDTH_PX, enlarged, target_window, write_png


@pytest.mark.invariant
@pytest.mark.parametrize(
    "box", [(100, 100, 200, 130), (0, 0, 40, 10), (280, 170, 320, 180), (0, 0, 320, 180),
            (5, 5, 6, 6)],
)  # fmt: skip
def test_window_holds_the_box_inside_the_picture(box):
    x0, y0, x1, y1 = target_window(box, (180, 320))
    assert 0 <= x0 <= box[0] < box[2] <= x1 <= 320
    assert 0 <= y0 <= box[1] < box[3] <= y1 <= 180


@pytest.mark.by_hand
@pytest.mark.parametrize("width", [10, 60, 117, 300])
def test_enlarged_about_to_the_wanted_width(width):
    rng = np.random.default_rng(1)
    frame = rng.integers(0, 256, (600, 1000, 3), dtype=np.uint8)
    big = enlarged(frame, (400, 300, 400 + width, 300 + width // 4))
    assert big.dtype == np.uint8
    # rounding the factor to a whole number can miss by half a factor
    x0, _, x1, _ = target_window((400, 300, 400 + width, 300 + width // 4), (600, 1000))
    assert abs(big.shape[1] - TARGET_WIDTH_PX) <= (x1 - x0) / 2 + 1
    assert set(map(tuple, big.reshape(-1, 3))) <= set(map(tuple, frame.reshape(-1, 3)))


@pytest.mark.invariant
def test_a_wide_target_is_not_shrunk():
    frame = np.zeros((900, 4000, 3), np.uint8)
    assert enlarged(frame, (100, 100, 3000, 700)).shape[1] >= 2900


@pytest.mark.invariant
def test_png_text_in_any_script(tmp_path):
    picture = np.arange(27, dtype=np.uint8).reshape(3, 3, 3)
    write_png(tmp_path / "a.png", picture, {"Title": "Tor bei Nacht, größer als μ", "Comment": "x"})
    with Image.open(tmp_path / "a.png") as back:
        back.load()
        assert np.array_equal(np.asarray(back), picture)
        assert back.text == {"Title": "Tor bei Nacht, größer als μ", "Comment": "x"}
