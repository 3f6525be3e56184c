"""The pages of a specification: the answer, then one page for each way, then what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simulator.report.flow import (
    BODY_PT,
    INNER_IN,
    MARGIN_IN,
    SMALL_PT,
    TITLE_PT,
    Block,
    Box,
    Gap,
    Page,
    Row,
    Words,
    heading,
    side_by_side,
    stack,
    total,
    word_pages,
)
from simulator.report.inks import INK, SOFT, WORD_COLOURS
from simulator.report.pictures import save_figure, scaled
from simulator.report.specification.plan import Layout, draw_plan, draw_side
from simulator.report.specification.words import SpecificationWords, WayWords
from simulator.report.wording import percent_range
from simulator.studies.quick import fitted
from simulator.studies.specify.overview import Overview
from simulator.studies.specify.result import Specification, Way

DPI = 130
ANSWER_PT = 12.0
LEFT = 0.56
"""Share of the width for picture and drawings."""
FOOT = "Predicted, not photographed: generic archetypes and lamp classes with assumed figures."
AROUND_IN = 0.75
"""Room for title and axis of a drawing."""
SIGNED = ("Agreed: customer, date", "Mounted and tested: installer, date")
RECORD_GAP_IN = 0.05
SIGN_GAP_IN = 0.35
"""Room to write in above a line."""


def draw_sheet(
    folder: Path, specification: Specification, words: SpecificationWords, about: dict[str, str]
) -> None:
    """Write sheet.png, sheet-2.png ... and specification.pdf of all pages."""
    from matplotlib.backends.backend_pdf import PdfPages

    foot = f"{FOOT} {about['Comment'].split(', ')[0]}."
    pages = [_front(specification, words, foot)]
    pages += [
        _way_page(specification, way, of_way, foot)
        for way, of_way in zip(specification.ways, words.ways, strict=True)
    ]  # fmt: skip
    pages += _behind(words, foot)
    with PdfPages(folder / "specification.pdf", metadata={"Title": about["Title"]}) as pdf:
        for k, page in enumerate(pages, 1):
            name = "sheet.png" if k == 1 else f"sheet-{k}.png"
            save_figure(page.figure, folder / name, dpi=page.dpi, metadata=about)
            pdf.savefig(page.figure, dpi=page.dpi)


def _front(specification: Specification, words: SpecificationWords, foot: str) -> Page:
    """Question, answer, picture, ways side by side, direct answers."""
    page = Page(DPI)
    colour = WORD_COLOURS[specification.ways[0].proof.word if specification.ways else "not legible"]
    head: list[Block] = [
        Words(words.title, TITLE_PT, bold=True, gap=0.05),
        Words(words.question, BODY_PT, gap=0.08),
        Words(words.answer, ANSWER_PT, bold=True, colour=colour, gap=0.10),
    ]
    high = total(head, INNER_IN)
    stack(page, Box(MARGIN_IN, MARGIN_IN, INNER_IN, high), head)
    top, low = MARGIN_IN + high, page.foot(foot) - 0.05
    left, right = side_by_side(top, low - top, (LEFT, 1.0 - LEFT))
    if specification.ways:
        second = next(
            (way.overview for way in specification.ways if way.overview is not None), None
        )
        _pictures(page, left, specification.ways[0], second)
    stack(page, right, _beside(specification, words))
    return page


def _beside(specification: Specification, words: SpecificationWords) -> list[Block]:
    out: list[Block] = []
    for way, of_way in zip(specification.ways, words.ways, strict=True):
        interval = f"Interval {percent_range(way.proof.low, way.proof.high, beside=1.0)}."
        price = f" Price: {of_way.total}." if of_way.total else ""
        out += [
            heading(of_way.title),
            Words(of_way.line, SMALL_PT, gap=0.02),
            Words(interval + price, SMALL_PT, colour=SOFT, gap=0.08),
        ]
    for name, text in (("Which lens?", words.lens), ("Is WDR needed?", words.wide_range)):
        if text:
            out += [heading(name), Words(text, SMALL_PT, gap=0.08)]
    if specification.ways and words.ways[0].reserve:
        out += [heading("Reserve of the first way, each alone")]
        out += [Words(text, SMALL_PT, gap=0.02) for text in words.ways[0].reserve]
        out.append(Gap(0.06))
    if not specification.ways:
        out += [heading("What was searched"), *(Words(x, SMALL_PT) for x in words.failed)]
    return out


def _pictures(page: Page, box: Box, way: Way, second: Overview | None) -> None:
    """The whole picture with the target enlarged below it, and what a second camera shows."""
    frame, target = way.proof.frame, way.proof.target
    high_px = int(0.70 * box.height * page.dpi)
    whole = _fit(frame, high_px, int(box.width * page.dpi))
    laid = page.picture(box.left, box.top, whole)
    top = laid.top + laid.height + 0.08
    room = int((box.height - (top - box.top) - 0.2) * page.dpi)
    wide = int(box.width * page.dpi * (1.0 if second is None else 0.5))
    near = fitted(target, max(room, 40), wide)
    below = page.picture(box.left, top, near)
    caption = "The picture as specified, and the target in it, pixel by pixel."
    end = below.top + below.height
    if second is not None:
        left = below.left + below.width + 0.1
        beside = int((box.left + box.width - left) * page.dpi)
        other = page.picture(left, top, _fit(second.frame, max(room, 40), beside))
        caption += " On the right the second camera."
        end = max(end, other.top + other.height)
    Words(caption, SMALL_PT, colour=SOFT).draw(page, box.left, end, box.width)


def _fit(picture: NDArray[np.uint8], rows: int, columns: int) -> NDArray[np.uint8]:
    factor = min(rows / picture.shape[0], columns / picture.shape[1])
    return scaled(picture, factor) if factor < 1.0 else fitted(picture, rows, columns)


def _table(rows: Sequence[Sequence[str]], shares: tuple[float, ...]) -> list[Block]:
    return [
        Row(tuple(row), shares, colours=(SOFT, *[INK] * (len(shares) - 1))) for row in rows
    ]  # fmt: skip


def _way_page(specification: Specification, way: Way, words: WayWords, foot: str) -> Page:
    """Drawings and mounting on the left; parts, settings, test and reserve on the right."""
    page = Page(DPI)
    head: list[Block] = [
        Words(words.title, TITLE_PT, bold=True, gap=0.05),
        Words(words.line, BODY_PT, bold=True, colour=WORD_COLOURS[way.proof.word], gap=0.10),
    ]
    high = total(head, INNER_IN)
    stack(page, Box(MARGIN_IN, MARGIN_IN, INNER_IN, high), head)
    top, low = MARGIN_IN + high, page.foot(foot) - 0.05
    left, right = side_by_side(top, low - top, (0.44, 0.56))
    beside, below = _parted(_way_sections(words), right)
    stack(page, right, beside)
    below = [heading("Mounting"), *_table(words.mounting, (0.2, 0.8)), *below]
    y = low - total(below, left.width)
    stack(page, left._replace(top=y, height=low - y), below)
    room, layout = (y - left.top - 2.0 * AROUND_IN) / 2.0, Layout(specification, way)
    for k, draw in enumerate((draw_plan, draw_side)):
        at = left.top + 0.24 + k * (room + AROUND_IN)
        draw(page.axes(Box(left.left + 0.5, at, left.width - 0.55, room)), layout)
    return page


def _parted(sections: Sequence[list[Block]], box: Box) -> tuple[list[Block], list[Block]]:
    """Whole sections that fit into a column, and those that do not."""
    inside: list[Block] = []
    for k, section in enumerate(sections):
        if total([*inside, *section], box.width) > box.height:
            return inside, [block for later in sections[k:] for block in later]
        inside += section
    return inside, []


def _way_sections(words: WayWords) -> list[list[Block]]:
    parts = [(q, p, a, price) for q, p, a, price in words.parts]
    priced = any(price for *_, price in parts)
    rows = (
        _table(parts, (0.06, 0.16, 0.64, 0.14))
        if priced
        else _table([row[:3] for row in parts], (0.06, 0.16, 0.78))
    )
    test = [Row((f"{k}", text), (0.05, 0.95)) for k, text in enumerate(words.test, 1)]
    reserve = "; ".join(words.reserve)
    return [
        [heading("Parts list"), *rows, Gap(0.08)],
        [heading("Settings"), *_table(words.settings, (0.26, 0.74)), Gap(0.08)],
        [heading("Acceptance test"), *test, Gap(0.08)],
        [
            heading("Reserve, each alone"),
            Words(reserve[:1].upper() + reserve[1:] + ".", SMALL_PT, gap=0.08),
        ],
        [heading("The rest of the picture"), *(Words(x, SMALL_PT) for x in words.rest)],
    ]


def _behind(words: SpecificationWords, foot: str) -> list[Page]:
    """Conditions and cautions on the left, what failed and room to sign on the right; as many pages
    as it takes where that does not fit on one."""
    eyes = list(dict.fromkeys(text for way in words.ways for text in way.eyes))
    rests = {
        "What this rests on": [words.hour, *words.conditions],
        "Cautions": [*words.cautions, *eyes],
    }
    page = Page(DPI)
    low = page.foot(foot) - 0.05
    left, right = side_by_side(MARGIN_IN, low - MARGIN_IN, (0.5, 0.5))
    begun = _sections(rests)
    ended = [*_sections({"Searched without success": words.failed}), *_signing()]
    if total(begun, left.width) > left.height or total(ended, right.width) > right.height:
        sign = {"Sign-off": [f"{one}: {30 * '_'}" for one in SIGNED]}
        return word_pages(DPI, {**rests, "Searched without success": words.failed, **sign}, 2, foot)
    stack(page, left, begun)
    stack(page, right, ended)
    used = max(total(begun, left.width), total(ended, right.width))
    record = _record(words)
    if record and used + total(record, INNER_IN) <= left.height:
        low -= total(record, INNER_IN)
        stack(page, Box(MARGIN_IN, low, INNER_IN, total(record, INNER_IN)), record)
    return [page]


def _record(words: SpecificationWords) -> list[Block]:
    """A form for the day: what each way must show, and room for what it does."""
    if not words.ways:
        return []
    names = list(dict.fromkeys(name for way in words.ways for name, _ in way.record))
    count = len(words.ways)
    shares = (0.17, *[0.63 / count] * count, 0.20)
    colours = (SOFT, *[INK] * (count + 1))
    out: list[Block] = [
        heading("Record of the acceptance test"),
        Row(("", *(way.title for way in words.ways), "Measured"), shares, colours=colours),
    ]
    for name in names:
        due = [dict(way.record).get(name, "") for way in words.ways]
        out += [Row((name, *due, ""), shares, colours=colours), Gap(RECORD_GAP_IN)]
    return out


def _sections(parts: dict[str, list[str]]) -> list[Block]:
    out: list[Block] = []
    for title, texts in parts.items():
        if texts:
            out += [heading(title), *(Words(text, SMALL_PT) for text in texts), Gap(0.08)]
    return out


def _signing() -> list[Block]:
    """Lines to sign on."""
    out: list[Block] = [heading("Sign-off")]
    for text in SIGNED:
        out += [Gap(SIGN_GAP_IN), Row((text,), (1.0,), colours=(SOFT,))]
    return out
