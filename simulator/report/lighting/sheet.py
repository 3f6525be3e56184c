"""The sizing of a lamp as pages: the answer with its pictures, how it was found, all words."""

from __future__ import annotations

from pathlib import Path

from simulator.report.flow import (
    INNER_IN,
    MARGIN_IN,
    SMALL_PT,
    TITLE_PT,
    Block,
    Box,
    Page,
    Words,
    heading,
    line_in,
    listed,
    side_by_side,
    stack,
    total,
    word_pages,
)
from simulator.report.inks import SOFT, WORD_COLOURS
from simulator.report.lighting.charts import curve, frame, ground, shown_ways, tile
from simulator.report.lighting.words import LightingMessages
from simulator.report.pictures import save_figure
from simulator.report.wording import say_all
from simulator.studies.lighting.findings import needed
from simulator.studies.lighting.need import NoLamp
from simulator.studies.lighting.study import Lighting

DPI = 130
ANSWER_PT = 11.0
HALVES = (0.5, 0.5)
TILE_IN, TILE_CAPTION_IN, FRAME_CAPTION_IN = 0.95, 0.42, 0.32
MOST_NOTES_IN = 2.0
OTHER_TILE_IN, OTHER_COLUMNS = 0.6, 5
FRONT_LINES = 2
"""Things to do, and reasons, that are named on the front."""
FOOT = (
    "Predicted, not photographed: generic archetypes with assumed figures, not products. Intervals"
    " are those of the trials, tolerances not included. Mains wiring and work at height are for"
    " trained people under local rules."
)


def _head(
    page: Page, lighting: Lighting | NoLamp, messages: LightingMessages, colour: str
) -> float:
    """Question and answer side by side; returns where the next thing may begin."""
    model = lighting.scene.model
    asked: list[Block] = [
        Words(f"Sizing a lamp: {model.title}", TITLE_PT, bold=True, gap=0.06),
        Words(model.question),
        Words(f"Camera: {lighting.camera.model.title}.", SMALL_PT, colour=SOFT),
        Words(messages.hours[0], SMALL_PT, colour=SOFT),
    ]
    lines: list[Block] = [
        Words(messages.answer_words, ANSWER_PT, bold=True, colour=colour, gap=0.06),
    ]
    left, right = side_by_side(MARGIN_IN, 0.0, HALVES)
    high = max(total(asked, left.width), total(lines, right.width)) + 0.12
    for box, blocks in ((left, asked), (right, lines)):
        stack(page, box._replace(height=high), blocks)
    return MARGIN_IN + high


class _Notes:
    """What to do, why, and the caution that matters here, side by side at the foot of a page."""

    def __init__(self, messages: LightingMessages) -> None:
        parts = {
            "What to do": say_all(messages.changes)[:FRONT_LINES],
            "Why": say_all(messages.why)[:FRONT_LINES],
            "Take care": say_all(messages.cautions)[:1],
        }
        self.parts = [listed(title, texts) for title, texts in parts.items() if texts]
        self.boxes = side_by_side(0.0, 0.0, [1.0 / len(self.parts)] * len(self.parts))
        high = (total(p, box.width) for p, box in zip(self.parts, self.boxes, strict=True))
        self.height = min(max(high), MOST_NOTES_IN)

    def draw(self, page: Page, low: float) -> None:
        """Lay them down so that they end at a height."""
        for blocks, box in zip(self.parts, self.boxes, strict=True):
            stack(page, box._replace(top=low - self.height, height=self.height), blocks)


def draw_sheet(
    path: Path, lighting: Lighting, messages: LightingMessages, about: dict[str, str]
) -> list[Path]:
    """The whole study as pages: the front to a path, the others as sheet-2.png and so on."""
    pages = [_front(lighting, messages), _found(lighting), *_words(messages)]
    paths = [path, *(path.with_name(f"{path.stem}-{k}.png") for k in range(2, len(pages) + 1))]
    for page, to in zip(pages, paths, strict=True):
        save_figure(page.figure, to, dpi=page.dpi, metadata=about)
    return paths


def _front(lighting: Lighting, messages: LightingMessages) -> Page:
    page = Page(DPI)
    before, sized = lighting.before.judged, lighting.sized.judged
    colour = WORD_COLOURS[lighting.search.verdict if needed(lighting) else "legible"]
    y, low, notes = (
        _head(page, lighting, messages, colour),
        page.foot(FOOT) - 0.05,
        _Notes(messages),
    )
    below = TILE_IN + TILE_CAPTION_IN + FRAME_CAPTION_IN + notes.height + 0.12
    wide, far = (box._replace(height=low - y - below) for box in side_by_side(y, 0.0, HALVES))
    frame(page.axes(wide), "without the lamp", before)
    frame(page.axes(far), "with the sized lamp", sized)
    y += wide.height + FRAME_CAPTION_IN
    named = (
        ("without the lamp", before), ("sized lamp", sized), ("twice as strong", lighting.twice),
    )  # fmt: skip
    for box, (name, q) in zip(side_by_side(y, TILE_IN, (1 / 3,) * 3), named, strict=True):
        tile(page.axes(box), name, q)
    notes.draw(page, low)
    return page


def _found(lighting: Lighting) -> Page:
    """How strong, where the light falls, what else was tried."""
    page = Page(DPI)
    left, right = side_by_side(MARGIN_IN, 0.3, HALVES)
    for box, text in (
        (left, "How strong: success by intensity"),
        (right, "Where the light falls: lamp alone, on the ground"),
    ):
        stack(page, box, [heading(text)])
    top, high = MARGIN_IN + 0.42, 2.5
    curve(page.axes(Box(left.left + 0.55, top, left.width - 1.1, high)), lighting)
    ground(page.axes(Box(right.left + 0.45, top, right.width - 0.6, high)), lighting, small=True)
    y = top + high + 0.55
    stack(page, Box(MARGIN_IN, y, INNER_IN, 0.3), [heading("What else was tried")])
    y += 0.28
    ways, others = shown_ways(lighting), [1.0 / OTHER_COLUMNS] * OTHER_COLUMNS
    for k in range(0, len(ways), OTHER_COLUMNS):
        row = ways[k : k + OTHER_COLUMNS]
        for box, way in zip(side_by_side(y, OTHER_TILE_IN, others), row, strict=False):
            tile(page.axes(box), way.name, way.judged, way, size=SMALL_PT)
        y += OTHER_TILE_IN + 3.0 * line_in(SMALL_PT) + 0.18
    page.foot(FOOT)
    return page


def _words(messages: LightingMessages) -> list[Page]:
    """Everything that there is to say."""
    parts = {
        "Why": messages.why,
        "What to do": messages.changes,
        "Costs and benefit": messages.costs,
        "Cautions": messages.cautions,
        "Conditions": messages.conditions,
    }
    return word_pages(DPI, {title: say_all(part) for title, part in parts.items()}, 3, FOOT)


def draw_needless(
    path: Path, no_lamp: NoLamp, messages: LightingMessages, about: dict[str, str]
) -> None:
    """The page of a study that sized no lamp: picture and target as they are."""
    page, q = Page(DPI), no_lamp.before.dark
    y = _head(page, no_lamp, messages, WORD_COLOURS[q.verdict])
    low, notes = page.foot(FOOT) - 0.05, _Notes(messages)
    high = low - y - notes.height - FRAME_CAPTION_IN - 0.1
    left, right = side_by_side(y, high, (0.62, 0.38))
    frame(page.axes(left), "without a lamp", q)
    right = right._replace(height=high / 2.0)
    tile(page.axes(right), f"the {no_lamp.scene.model.task.target}, pixel by pixel", q)
    notes.draw(page, low)
    save_figure(page.figure, path, dpi=page.dpi, metadata=about)
