"""A page by flow: rows follow each other, nothing overlaps, what is left is told or goes on."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from simulator.report.fitting import wrapped
from simulator.report.flow import (
    BODY_PT,
    HEIGHT_IN,
    SMALL_PT,
    TITLE_PT,
    WIDTH_IN,
    Bar,
    Box,
    Columns,
    Gap,
    Page,
    Row,
    Words,
    fitting,
    heading,
    stack,
    total,
)

LONG = "a name so long that it takes more than one line of a narrow column, for sure"


def extents(page):
    """Text and extent in pixels of everything written on a page."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas = FigureCanvasAgg(page.figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    return [(t.get_text(), t.get_window_extent(renderer)) for t in page.figure.texts]


def overlaps(page):
    """Pairs of texts that lie over each other by more than a pixel."""
    return [
        (a, b)
        for (a, box), (b, other) in combinations(extents(page), 2)
        if min(box.x1, other.x1) - max(box.x0, other.x0) > 1.0
        and min(box.y1, other.y1) - max(box.y0, other.y0) > 1.0
    ]


def blocks(count):
    """A heading and rows, bars and paragraphs, some of them long."""
    out = [heading("A heading")]
    for i in range(count):
        out.append(Row((f"label {i}" if i % 3 else LONG, f"{i} px"), (0.6, 0.4), right=(1,)))
        out.append(Bar(f"bar {i}", i / count, f"{i} %", "#123456", 1.0, 0.4))
        out.append(Words(LONG, SMALL_PT))
    return out


@pytest.mark.invariant
@pytest.mark.parametrize("count", [1, 4, 12, 40])
def test_blocks_of_any_number_overlap_nowhere(count):
    pages = Columns(Box(0.5, 0.5, WIDTH_IN - 1.0, HEIGHT_IN - 1.0), 3).lay(
        lambda: Page(100.0), blocks(count)
    )
    assert len([text for page in pages for text in page.written]) == 1 + 5 * count
    for page in pages:
        assert overlaps(page) == []
        for _, box in extents(page):
            assert box.x0 >= 49.0 and box.x1 <= 100.0 * (WIDTH_IN - 0.5) + 1.0
            assert box.y0 >= 49.0 and box.y1 <= 100.0 * (HEIGHT_IN - 0.5) + 1.0


@pytest.mark.by_hand
def test_heights_add_up():
    # a line of 8 pt takes 8 x 1.25 / 72 in
    assert Words("one line", SMALL_PT, gap=0.1).height(5.0) == pytest.approx(8 * 1.25 / 72 + 0.1)
    assert Row(("a", "b"), (0.5, 0.5), gap=0.05).height(5.0) == pytest.approx(8 * 1.25 / 72 + 0.1)
    assert total([Gap(0.25), Gap(0.5)], 1.0) == 0.75
    narrow, wide = (Words(LONG, BODY_PT).height(width) for width in (1.0, 9.0))
    assert narrow > 4.0 * wide


@pytest.mark.by_hand
def test_what_does_not_fit_is_told():
    page, told = Page(100.0), []

    def more(count):
        told.append(count)
        return Words(f"and {count} more", SMALL_PT, gap=0.0)

    rows = [Gap(0.3) for _ in range(10)]
    # 0.14 in are kept for the line that tells: six of 0.3 in make 1.8, seven 2.1
    assert stack(page, Box(1.0, 1.0, 3.0, 2.0), rows, more) == 6
    assert [text for text, _ in extents(page)] == ["and 4 more"] and told[-1] == 4
    assert stack(Page(100.0), Box(1.0, 1.0, 3.0, 3.0), rows, more) == 10
    assert told[-1] == 4


@pytest.mark.by_hand
def test_a_heading_is_never_the_last_of_a_column():
    title = heading("Title")
    room = 0.5 + title.height(3.0) + 0.1
    assert fitting([Gap(0.5), title, Gap(0.5)], 3.0, room) == 1
    assert fitting([Gap(0.5), title, Gap(0.1)], 3.0, room) == 3
    assert fitting([title], 3.0, room) == 1


@pytest.mark.by_hand
def test_a_picture_lies_pixel_by_pixel():
    page = Page(100.0)
    pixels = np.zeros((30, 50, 3), np.uint8)
    pixels[:, :, 0] = np.arange(50)
    box = page.picture(2.0, 1.0, pixels)
    assert box == Box(2.0, 1.0, 0.5, 0.3)
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas = FigureCanvasAgg(page.figure)
    canvas.draw()
    shown = np.asarray(canvas.buffer_rgba())[:, :, :3]
    assert np.array_equal(shown[100:130, 200:250], pixels)
    assert (shown[99, 200:250] == 255).all() and (shown[130, 200:250] == 255).all()


@pytest.mark.invariant
def test_three_sizes_none_below_eight_points():
    assert sorted({TITLE_PT, BODY_PT, SMALL_PT})[0] == 8.0
    sizes = {block.size for block in blocks(3)} | {heading("x").size}
    assert sizes <= {TITLE_PT, BODY_PT, SMALL_PT}


@pytest.mark.by_hand
def test_no_line_ends_within_a_number_or_before_its_unit():
    text = "the camera takes the scene to be at 31 000 lx and is in day mode"
    for width_in in np.arange(1.2, 4.0, 0.1):
        lines = wrapped(text, width_in, 9.0)
        assert " ".join(lines) == text
        assert any("31 000 lx" in line for line in lines), lines
