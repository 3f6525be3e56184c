"""The sheet to hand to a customer: the picture, the answer, how sure, why, and what to change.

The front is laid out by flow: heading, pictures and columns take the height that their contents
need, and the picture takes what is left, pixel by pixel where it can. All else stands on the pages
behind (`sheet_behind`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.judge import explanation
from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.lighting import Contribution
from simulator.judge.result import Verdict
from simulator.report.figure_rows import figure_rows
from simulator.report.fitting import POINTS_PER_IN, text_width_pt
from simulator.report.flow import (
    HEIGHT_IN,
    MARGIN_IN,
    SMALL_PT,
    TITLE_PT,
    WIDTH_IN,
    Bar,
    Block,
    Box,
    Gap,
    Page,
    Row,
    Words,
    heading,
    stack,
    total,
)
from simulator.report.inks import BAR, LAMP, RULE, SOFT, WORD_COLOURS
from simulator.report.pictures import QUICK_PNG, origin_text, save_figure, scaled, target_window
from simulator.report.scale import Scale
from simulator.report.sheet_behind import draw_behind
from simulator.report.wording import capital, entry, percent, percent_range
from simulator.report.wording.verdict import remedy_lines, said, shown_word, size_words

INNER_IN = WIDTH_IN - 2.0 * MARGIN_IN
GAP_IN, CAPTION_GAP_IN = 0.28, 0.05
MOST_BELOW_IN = 2.1
"""Height that is kept below the picture at most; what is left over is counted."""
MOST_TARGET = 0.42
"""Share of its column's height that the enlarged target takes at most."""
LEAST_SIDE_IN, LEAST_LEFT = 2.45, 0.5
"""Width that is kept beside the picture [in], and for what stands below it (share)."""
DPI_FROM, DPI_TO, DPI_LIKED = 110.0, 300.0, 180.0
"""Pixels of the page per inch; they follow the picture, so that its pixels lie on whole ones."""
MOST_FIXES = 3
ROOMS, LEAST_TIMES = (0.35, 0.15, 0.05), 2.0
"""Room around the target that is tried, as shares of its size, until it is so much enlarged."""
Window = tuple[int, int, int, int]
"""Pixels: left, top, right, bottom."""


def draw_sheet(
    path: Path,
    verdict: Verdict,
    frame: NDArray[np.uint8],
    lights: Sequence[Contribution],
    camera_title: str,
) -> list[Path]:
    """Write the sheet as PNGs: the front to a path, the pages behind beside it.

    Parameters
    ----------
    path
        Of the front; the pages behind are called sheet-2.png and so on.
    frame
        The whole picture (rows, columns, 3).
    lights
        What falls on the target, light by light.

    Returns
    -------
    Paths of all pages.
    """
    front = draw_front(verdict, frame, camera_title)
    pages = [front, *draw_behind(verdict, lights)]
    paths = [path]
    paths += [path.with_name(f"{path.stem}-{k}{path.suffix}") for k in range(2, len(pages) + 1)]
    for page, to in zip(pages, paths, strict=True):
        save_figure(
            page.figure, to, dpi=page.dpi, metadata=origin_text(verdict), pil_kwargs=QUICK_PNG
        )
    return paths


def draw_front(verdict: Verdict, frame: NDArray[np.uint8], camera_title: str) -> Page:
    """The first page.

    At the left the picture with limits and changes below it, at the right the target, how sure the
    answer is, and figures; both between a heading and a foot.
    """
    head, foot = (_asked(verdict), _answer(verdict)), _foot(verdict)
    half = (INNER_IN - GAP_IN) / 2.0
    head_in = max(total(blocks, half) for blocks in head) + 0.06
    foot_in = total(foot, INNER_IN)
    room = HEIGHT_IN - 2.0 * MARGIN_IN - head_in - foot_in
    below = [blocks for blocks in (_limits(verdict), _fixes(verdict)) if blocks]
    caption = _caption(verdict, frame, camera_title)
    most, width = INNER_IN - LEAST_SIDE_IN - GAP_IN, INNER_IN - LEAST_SIDE_IN - GAP_IN
    for _ in range(2):  # what stands below the picture hangs on its width, and the other way round
        below_in = min(MOST_BELOW_IN, max(total(blocks, _part(width)) for blocks in below))
        under = caption.height(width) + CAPTION_GAP_IN + below_in
        fit = fitted(frame, Box(0.0, 0.0, most, room - under - 0.1))
        width = max(frame.shape[1] * fit.factor / fit.dpi, LEAST_LEFT * INNER_IN)
    page = Page(fit.dpi)
    for i, blocks in enumerate(head):
        stack(page, Box(MARGIN_IN + i * (half + GAP_IN), MARGIN_IN, half, head_in), blocks)
    top = MARGIN_IN + head_in
    beside = MARGIN_IN + width + GAP_IN
    side = Box(beside, top, MARGIN_IN + INNER_IN - beside, room)
    window, factor = enlargement(
        verdict, frame, fit, side._replace(height=MOST_TARGET * side.height)
    )
    shown = _picture(page, top, frame, fit, window)
    at = shown.top + shown.height + CAPTION_GAP_IN
    caption.draw(page, MARGIN_IN, at, width)
    at += caption.height(width) + 0.1
    for i, blocks in enumerate(below):
        left = MARGIN_IN + i * (_part(width) + GAP_IN)
        stack(page, Box(left, at, _part(width), top + room - at), blocks, _left_out)
    part = frame[window[1] : window[3], window[0] : window[2]]
    _beside(page, side, verdict, part, factor, factor / fit.factor)
    stack(page, Box(MARGIN_IN, top + room, INNER_IN, foot_in), foot)
    return page


def _part(width: float) -> float:
    """Width of one of two columns below a picture."""
    return (width - GAP_IN) / 2.0


def _left_out(count: int) -> Words:
    return Words(f"and {count} more on the next page", SMALL_PT, colour=SOFT, gap=0.0)


class Fit(NamedTuple):
    """How a picture lies on a page: pixels per inch, and by what its pixels are multiplied (above
    1) or put together (below 1)."""

    dpi: float
    factor: float


def fitted(frame: NDArray[np.uint8], box: Box) -> Fit:
    """The page that fills a box with a frame, its pixels whole ones of the page.

    One to one if that makes the page neither coarse nor vast, else the factor that comes nearest to
    `DPI_LIKED`.
    """
    rows, columns = frame.shape[:2]
    whole = [1.0, *(1.0 / k for k in range(2, 9)), *(float(k) for k in range(2, 9))]
    ways = [
        Fit(max(columns * f / box.width, rows * f / box.height), f)
        for f in whole
    ]  # fmt: skip
    fits = [fit for fit in ways if DPI_FROM <= fit.dpi <= DPI_TO]
    if fits and fits[0].factor == 1.0:
        return fits[0]
    return min(fits or ways, key=lambda fit: abs(np.log(fit.dpi / DPI_LIKED)))


def _asked(verdict: Verdict) -> list[Block]:
    """What was asked."""
    blocks: list[Block] = [Words(verdict.title, TITLE_PT, bold=True)]
    if verdict.question:
        blocks.append(Words(verdict.question))
    return blocks


def _answer(verdict: Verdict) -> list[Block]:
    """The answer in a word and in a sentence."""
    word = capital(shown_word(verdict.verdict, verdict.task.name))
    colour = WORD_COLOURS[verdict.verdict]
    sentences = said(explanation.success(verdict), reader="customer")
    return [Words(word, TITLE_PT, bold=True, colour=colour), *(Words(text) for text in sentences)]


def _picture(page: Page, top: float, frame: NDArray[np.uint8], fit: Fit, window: Window) -> Box:
    """The picture with a part marked; where it lies."""
    at = page.picture(MARGIN_IN, top, scaled(frame, fit.factor))
    x0, y0, x1, y1 = window
    px = at.width / frame.shape[1]
    mark = Box(at.left + x0 * px, at.top + y0 * px, (x1 - x0) * px, (y1 - y0) * px)
    page.rectangle(mark, None, LAMP)
    return at


def _caption(verdict: Verdict, frame: NDArray[np.uint8], camera: str) -> Words:
    """What the picture is."""
    size = f"{frame.shape[1]} x {frame.shape[0]} px"
    wide = f"{verdict.geometry.field_width_m:.1f} m wide at the target"
    return Words(f"Predicted, not photographed: {camera}; {size}, {wide}", SMALL_PT, colour=SOFT)


def enlargement(
    verdict: Verdict, frame: NDArray[np.uint8], fit: Fit, box: Box
) -> tuple[Window, float]:
    """The part of the picture that shows the target, and the whole factor at which it fits a box.

    As much room is left around the target as lets it be shown larger than in the picture.
    """
    for room in ROOMS:
        window = target_window(verdict.target.box_px, (frame.shape[0], frame.shape[1]), room)
        x0, y0, x1, y1 = window
        most = min(box.width * fit.dpi / (x1 - x0), box.height * fit.dpi / (y1 - y0))
        factor = float(int(most)) if most >= 1.0 else most
        if factor >= LEAST_TIMES * fit.factor:
            break
    return window, factor


def _beside(
    page: Page, side: Box, verdict: Verdict, part: NDArray[np.uint8], factor: float, times: float
) -> None:
    """The target enlarged by whole pixels, how sure the answer is, and its figures."""
    large = page.picture(side.left, side.top, scaled(part, factor))
    enlarged = f", enlarged {times:g} times" if times > 1.0 else ""
    about = f": {size_words(verdict.target)}" if verdict.target.colour is not None else ""
    below: list[Block] = [
        Words(f"The marked part{enlarged}{about}", SMALL_PT, colour=SOFT),
        Gap(0.08),
        *_certainty(verdict),
        Gap(0.12),
        *_figures(verdict),
    ]
    top = large.top + large.height + CAPTION_GAP_IN
    stack(page, side._replace(top=top, height=side.top + side.height - top), below, _left_out)


def _certainty(verdict: Verdict) -> list[Block]:
    """The probability with its interval beside the target, and what the interval is."""
    wanted = verdict.task.wanted_probability
    low, high = verdict.probability_low, verdict.probability_high
    of = "95 % interval of" if verdict.task.name == "read" else "spread over"
    what = "trials" if verdict.task.name == "read" else "pictures"
    spread = f"{percent_range(low, high, wanted)}: {of} {verdict.trials} {what}"
    spread += ", tolerances included" if verdict.tolerance_draws else ", tolerances not included"
    done = capital(str(entry("task", verdict.task.name)["done"]))
    title = f"{done} in {percent(verdict.probability, wanted)} of pictures"
    return [
        Words(title, bold=True, gap=0.05),
        Scale.of(verdict),
        Words(spread, SMALL_PT, colour=SOFT),
    ]


def limit_bars(verdict: Verdict) -> list[Block]:
    """A bar for every limit with a share worth a word, the largest first."""
    rows = explanation.main_limits(verdict)
    names = [capital(IMPAIRMENTS[row.factor].noun) for row in rows]
    texts = [percent(row.share) for row in rows]
    names_in, texts_in = (
        max(text_width_pt(text) for text in every) * SMALL_PT / 100.0 / POINTS_PER_IN
        for every in (names, texts)
    )
    return [
        Bar(name, row.share, text, BAR if k else SOFT, names_in, texts_in)
        for k, (row, name, text) in enumerate(zip(rows, names, texts, strict=True))
    ]


def _limits(verdict: Verdict) -> list[Block]:
    """What limits it, one line each."""
    title = heading("What limits it: share of pictures that it costs")
    if not explanation.main_limits(verdict):
        words = entry("cost", "none-known" if verdict.limits else "nothing-to-fix")
        return [heading("What limits it"), Words(str(words), SMALL_PT)]
    return [title, *limit_bars(verdict)]


def _fixes(verdict: Verdict) -> list[Block]:
    """At most three changes."""
    lines = remedy_lines(verdict, MOST_FIXES)
    if not lines:
        return []
    title = heading("What to change, and pictures that then succeed")
    if len(lines) == 1:
        return [title, Words(lines[0], SMALL_PT)]
    rows = [
        Row((f"{k}", text), (0.06, 0.94), rule=False, gap=0.02)
        for k, text in enumerate(lines, start=1)
    ]  # fmt: skip
    return [title, *rows]


def _figures(verdict: Verdict) -> list[Block]:
    """The figures that a customer asks for."""
    rows = [Row(cells, (0.46, 0.54), gap=0.022) for cells in figure_rows(verdict, "sheet")]
    return [heading("In figures"), *rows]


def _foot(verdict: Verdict) -> list[Block]:
    """The caution that matters here, and where the page comes from."""
    source = (
        f"Scene {verdict.scene}; camera {verdict.camera}; seed {verdict.seed}; inputs"
        f" {verdict.input_hash}; nightproof {verdict.versions['nightproof']}"
    )
    care = [Words(f"Take care. {text}", SMALL_PT) for text in verdict.cautions[:1]]
    return [Line(), *care, Words(source, SMALL_PT, colour=SOFT, gap=0.0)]


@dataclass(frozen=True)
class Line:
    """A rule over the whole width."""

    keep: bool = True

    def height(self, width: float) -> float:
        """The gaps about it."""
        return 0.08

    def draw(self, page: Page, x: float, y: float, width: float) -> None:
        """Draw it."""
        page.line(x, y + 0.04, x + width, y + 0.04, RULE, 0.8)
