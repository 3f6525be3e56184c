"""Cutting out and enlarging the target, and text inside pictures."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import simulator
from simulator.report.pictures import (
    TARGET_WIDTH_PX,
    enlarged,
    save_figure,
    target_window,
    write_png,
)


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


@pytest.mark.by_hand
def test_a_dollar_sign_begins_no_formula(tmp_path):
    """matplotlib reads what stands between two dollar signs as a formula, and fails at `$x_{$`."""
    from matplotlib.figure import Figure

    drawn = {}
    for name, title in (("plain", "Gate 5 for 6"), ("dollars", "Gate $x_{$ for $6")):
        figure = Figure(figsize=(3, 2))
        axes = figure.add_subplot()
        axes.set_xscale("log")
        axes.plot([1, 1000], [0, 1])
        axes.set_title(title)
        save_figure(figure, tmp_path / f"{name}.png", dpi=60)
        assert not axes.title.get_parse_math()
        labels = axes.get_xticklabels()
        assert labels and all(label.get_parse_math() for label in labels)
        drawn[name] = (tmp_path / f"{name}.png").read_bytes()
    assert drawn["plain"] != drawn["dollars"]


@pytest.mark.invariant
def test_drawings_are_saved_in_one_place():
    root = Path(simulator.__file__).parent
    savers = [p for p in root.rglob("*.py") if "figure.savefig(" in p.read_text(encoding="utf-8")]
    assert savers == [root / "report" / "pictures.py"]
