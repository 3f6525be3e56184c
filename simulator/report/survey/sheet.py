"""A survey as pages: both plans with the answer, then the table by risk and what to change."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

from simulator.checked_file import CheckedFile
from simulator.messages import Message
from simulator.report.flow import (
    HEIGHT_IN,
    INNER_IN,
    MARGIN_IN,
    SMALL_PT,
    TITLE_PT,
    Block,
    Box,
    Chart,
    Columns,
    Gap,
    Page,
    Row,
    Words,
    heading,
    listed,
    side_by_side,
    stack,
    total,
)
from simulator.report.inks import INK, SOFT, WORD_COLOURS
from simulator.report.pictures import save_figure, write_png
from simulator.report.record import write_record
from simulator.report.survey.plan import LAYERS, draw_layer, legend, panel
from simulator.report.survey.words import (
    HEAD,
    answer,
    file_stems,
    hours_of,
    picture_file,
    rows_of,
    shopping,
    verdict_table,
)
from simulator.report.wording import say, say_all
from simulator.studies.folder import result_folder
from simulator.studies.provenance import versions
from simulator.studies.survey.study import Survey
from simulator.studies.tables import survey_dataset, survey_table, write_csv, write_netcdf

DPI = 130
ANSWER_PT = 12.0
LEGEND_IN, LEGEND_COLUMNS = 0.5, 4
SHARES = (0.02, 0.15, 0.1, 0.05, 0.125, 0.125, 0.11, 0.14, 0.12, 0.06)
"""Columns of the table by risk."""


def save_survey(folder: Path, surveyed: Survey) -> Path:
    """Write the pages, positions.csv, positions.nc, inputs/ and verdict.json, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    with result_folder(folder) as place:
        draw_pages(place / "plan.png", surveyed)
        for name in LAYERS:
            draw_layer(place / f"plan-{name}.png", surveyed, name, _about(surveyed))
        (place / "pictures").mkdir()
        for row, stem in zip(surveyed.rows, file_stems(surveyed), strict=True):
            if row.picture is not None:
                write_png(place / picture_file(stem), row.picture, _about(surveyed))
        write_csv(place / "positions.csv", survey_table(surveyed))
        write_netcdf(place / "positions.nc", survey_dataset(surveyed))
        write_record(place, verdict_table(surveyed), _inputs(surveyed))
    return folder


def _inputs(surveyed: Survey) -> dict[str, CheckedFile[Any]]:
    files: dict[str, CheckedFile[Any]] = {}
    for row, stem in zip(surveyed.rows, file_stems(surveyed), strict=True):
        files |= {f"scene-{stem}": row.scene, f"camera-{stem}": row.camera}
    return files


def _about(surveyed: Survey) -> dict[str, str]:
    return {
        "Software": f"nightproof {versions()['nightproof']}", "Title": surveyed.site.title,
        "Comment": f"survey {surveyed.name}; seed {surveyed.seed}",
    }  # fmt: skip


def draw_pages(path: Path, surveyed: Survey) -> None:
    """Write the plans to a path, table and changes to plan-2.png and so on."""
    for k, page in enumerate([_plans(surveyed), *_behind(surveyed)], 1):
        to = path if k == 1 else path.with_name(f"{path.stem}-{k}.png")
        save_figure(page.figure, to, dpi=page.dpi, metadata=_about(surveyed))


def _foot() -> str:
    return say(Message("survey.foot"))


def _plans(surveyed: Survey) -> Page:
    """Title, answer, both plans side by side, what their marks mean."""
    page = Page(DPI)
    colour = WORD_COLOURS[surveyed.rows[0].verdict]
    head: list[Block] = [
        Words(surveyed.site.title, TITLE_PT, bold=True, gap=0.05),
        Words(surveyed.site.question, SMALL_PT, colour=SOFT, gap=0.05),
        Words(say(answer(surveyed)), ANSWER_PT, bold=True, colour=colour, gap=0.12),
    ]
    top = MARGIN_IN + total(head, INNER_IN)
    stack(page, Box(MARGIN_IN, MARGIN_IN, INNER_IN, top - MARGIN_IN), head)
    low = page.foot(_foot()) - 0.1
    legend(page.figure, surveyed, page.place(MARGIN_IN, low), columns=LEGEND_COLUMNS)
    boxes = side_by_side(top, low - LEGEND_IN - top, (0.5, 0.5))
    for box, name in zip(boxes, LAYERS, strict=True):
        title = heading(say(Message(f"survey.plan-{name}")))
        high = box.height - title.height(box.width) - 0.5
        paint = partial(panel, surveyed=surveyed, name=name)
        stack(page, box, [title, Chart(paint, high, left=0.5, right=0.75)])
    return page


def _behind(surveyed: Survey) -> list[Page]:
    """The table, the greatest risk first, then what to change."""
    blocks: list[Block] = [
        heading(say(Message("survey.by-risk"))),
        Row(tuple(HEAD), SHARES, colours=(SOFT,) * len(HEAD), rule=False, keep=True),
    ]
    worst = HEAD.index("worst hour")
    for row, cells in zip(surveyed.rows, rows_of(surveyed), strict=True):
        inks = [INK] * len(cells)
        inks[worst] = WORD_COLOURS[row.verdict]
        blocks.append(Row(tuple(cells), SHARES, colours=tuple(inks), keep=True))
        at_worst, at_typical = hours_of(row)
        hours = Message.of("survey.hours", worst=at_worst, typical=at_typical)
        blocks.append(Words(say(hours), SMALL_PT, colour=SOFT, gap=0.06))
    blocks.append(Gap(0.15))
    blocks += listed(say(Message("survey.to-change")), say_all(shopping(surveyed)))
    box = Box(MARGIN_IN, MARGIN_IN, INNER_IN, HEIGHT_IN - 2.0 * MARGIN_IN - 0.35)
    pages = Columns(box, 1).lay(lambda: Page(DPI), blocks)
    for page in pages:
        page.foot(_foot())
    return pages
