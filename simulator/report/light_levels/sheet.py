"""Levels of light on A4 portrait: light falls down the page, cameras stand side by side.

A stepped line runs between what is still done and what is not.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.messages import Message
from simulator.report.flow import (
    BODY_PT,
    MARGIN_IN,
    SMALL_PT,
    TITLE_PT,
    Block,
    Box,
    Page,
    Row,
    Words,
    line_in,
)
from simulator.report.inks import GOOD, INK, RULE, SOFT, TRACK, WORD_COLOURS
from simulator.report.light_levels.words import (
    REACH_HEAD,
    answer,
    camera_words,
    level_words,
    mode_words,
    optics_words,
    reach_words,
    setting_words,
    table,
)
from simulator.report.pictures import save_figure, write_png
from simulator.report.record import write_record
from simulator.report.wording import percent, say
from simulator.studies.folder import result_folder
from simulator.studies.light_levels.views import LightLevelViews, View
from simulator.studies.provenance import versions
from simulator.studies.tables import light_levels_dataset, write_csv, write_netcdf

DPI = 200
MOST_CAMERAS, MOST_LEVELS = 5, 8
"""On one page."""
LABEL_IN, GAP_IN = 0.56, 0.08
"""Column of the levels' names; gap between columns."""
FOOT_IN = 0.32
SHARES = (0.48, 0.29, 0.23)
"""Columns of the table of what each camera does."""


def save_light_levels(folder: Path, study: LightLevelViews) -> Path:
    """Write sheet.png, pictures/, levels.csv, levels.nc, verdict.json and inputs/, whole or not at
    all.

    More cameras or levels than one page holds go on sheet-2.png and so on.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    record = table(study)
    origin = {"Software": f"nightproof {versions()['nightproof']}", "Title": record["title"]}
    with result_folder(folder) as place:
        for k, (cameras, levels) in enumerate(_pages(study)):
            name = "sheet.png" if k == 0 else f"sheet-{k + 1}.png"
            draw_light_levels(place / name, study, cameras, levels, origin)
        inner = place / "pictures"
        inner.mkdir()
        for view in study.views.values():
            write_png(inner / f"{view.camera}-{view.level.lux:g}-lx.png", view.picture, origin)
        write_csv(place / "levels.csv", record["levels"])
        write_netcdf(place / "levels.nc", light_levels_dataset(study))
        cameras_by_file = {f"camera-{camera.name}": camera for camera in study.cameras}
        write_record(place, record, {"scene": study.scene, **cameras_by_file})
    return folder


def _pages(study: LightLevelViews) -> list[tuple[list[str], list[float]]]:
    """Cameras and levels of every page."""
    names = [camera.name for camera in study.cameras]
    return [
        (names[i : i + MOST_CAMERAS], list(study.levels_lux[k : k + MOST_LEVELS]))
        for i in range(0, len(names), MOST_CAMERAS)
        for k in range(0, len(study.levels_lux), MOST_LEVELS)
    ]


def draw_light_levels(
    path: Path,
    study: LightLevelViews,
    cameras: Sequence[str],
    levels: Sequence[float],
    origin: dict[str, str],
) -> None:
    """Write one page as a PNG: some of the cameras, some of the levels."""
    page = Page(DPI, portrait=True)
    x, width = MARGIN_IN, page.size_in[0] - 2.0 * MARGIN_IN
    y = _heading(page, study, x, MARGIN_IN, width)
    y = _top(page, study, cameras, x, y, width)
    low = page.size_in[1] - MARGIN_IN - FOOT_IN
    _grid(page, study, cameras, levels, Box(x, y, width, low - y))
    _foot(page, study, x, low, width)
    save_figure(page.figure, path, dpi=DPI, metadata=origin)


def _heading(page: Page, study: LightLevelViews, x: float, y: float, width: float) -> float:
    model = study.scene.model
    for words in (
        Words(model.title, TITLE_PT, bold=True),
        Words(model.question, BODY_PT, colour=SOFT, gap=0.12),
    ):
        words.draw(page, x, y, width)
        y += words.height(width)
    return y


def _top(
    page: Page, study: LightLevelViews, cameras: Sequence[str], x: float, y: float, width: float
) -> float:
    """The whole picture in the brightest light; beside it the answer and each camera's reach."""
    wide = 0.5 * width
    picture = _overview(study, round(wide * page.dpi))
    box = page.picture(x, y, picture)
    left, room = x + wide + 2.0 * GAP_IN, width - wide - 2.0 * GAP_IN
    down = y
    rows = [Row(REACH_HEAD, SHARES, colours=(SOFT, SOFT, SOFT), rule=False)]
    for camera in cameras:
        colour = SOFT if study.least_lux(camera) is None else GOOD
        cells = camera_words(camera), reach_words(study, camera), mode_words(study, camera)
        rows.append(Row(cells, SHARES, colours=(INK, colour, SOFT)))
    blocks: list[Block] = [Words(say(answer(study)), BODY_PT, bold=True, gap=0.1), *rows]
    for block in blocks:
        block.draw(page, left, down, room)
        down += block.height(room)
    first, brightest = study.cameras[0].name, study.levels_lux[0]
    place = Message.of("light-levels.overview", camera=camera_words(first), lux=brightest)
    caption = Words(say(place), SMALL_PT, colour=SOFT, gap=0.0)
    caption.draw(page, x, box.top + box.height + 0.04, wide)
    low = box.top + box.height + 0.04 + caption.height(wide)
    return max(low, down) + 0.12


def _overview(study: LightLevelViews, columns: int) -> NDArray[np.uint8]:
    """The whole picture of the first camera with the target's place framed."""
    frame = study.overview.frame
    scale = columns / frame.shape[1]
    size = (columns, round(frame.shape[0] * scale))
    kind = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_NEAREST
    out = np.asarray(cv2.resize(frame, size, interpolation=kind))
    x0, y0, x1, y1 = (round(v * scale) for v in study.overview.box_px)
    room = max(4, round(0.4 * max(x1 - x0, y1 - y0)))
    for grow, level in ((room + 2, 20), (room, 255)):  # light on dark, seen on either
        corners = (x0 - grow, y0 - grow), (x1 + grow, y1 + grow)
        cv2.rectangle(out, *corners, (level,) * 3, 2)
    return out


def _grid(
    page: Page, study: LightLevelViews, cameras: Sequence[str], levels: Sequence[float], box: Box
) -> None:
    columns = max(len(cameras), 3)
    wide = (box.width - LABEL_IN) / columns - GAP_IN
    heads = [
        (
            Words(camera_words(camera), SMALL_PT, bold=True),
            Words(optics_words(study, camera), SMALL_PT),
        )
        for camera in cameras
    ]
    head_in = max(name.height(wide) + optics.height(wide) for name, optics in heads) + 0.04
    row_in = min((box.height - head_in) / max(len(levels), 4), 0.9 * wide)
    text_in = line_in(SMALL_PT) + 0.13
    lefts = [box.left + LABEL_IN + k * (wide + GAP_IN) for k in range(len(cameras))]
    for left, (name, optics) in zip(lefts, heads, strict=True):
        name.draw(page, left, box.top, wide)
        optics.draw(page, left, box.top + name.height(wide), wide)
    for row, lux in enumerate(levels):
        top = box.top + head_in + row * row_in
        page.text(box.left, top, level_words(lux), BODY_PT, bold=True)
        for left, camera in zip(lefts, cameras, strict=True):
            view = study.views[camera, lux]
            cell = Box(left, top, wide, row_in - text_in - 0.08)
            _cell(page, view, cell, study.scene.model.task.wanted_probability)
    _steps(page, study, cameras, levels, lefts, Box(0.0, box.top + head_in, wide, row_in))


def _cell(page: Page, view: View, box: Box, target: float) -> None:
    """The picture; below it the probability as a bar with the target on it, and the setting."""
    size = round(box.width * page.dpi), round(box.height * page.dpi)
    page.picture(box.left, box.top, framed(view, *size))
    colour = WORD_COLOURS[view.judged.verdict]
    y = box.top + box.height + 0.035
    page.rectangle(Box(box.left, y, box.width, 0.045), TRACK)
    page.rectangle(Box(box.left, y, box.width * view.judged.probability, 0.045), colour)
    at = box.left + target * box.width
    page.line(at, y - 0.015, at, y + 0.06, INK, 0.9)
    y += 0.065
    page.text(box.left, y, percent(view.judged.probability), SMALL_PT, bold=True, colour=colour)
    page.text(
        box.left + box.width, y, setting_words(view), SMALL_PT, colour=SOFT, align="right"
    )  # fmt: skip


def framed(view: View, columns: int, rows: int) -> NDArray[np.uint8]:
    """The target in a picture of a size (rows, columns, 3), every pixel of the camera a square.

    A target that is larger than the picture is made smaller.
    """
    x0, y0, x1, y1 = view.box_px
    fit = min(columns / (x1 - x0), rows / (y1 - y0))
    scale = float(int(fit)) if fit >= 1.0 else fit
    high, wide = (
        min(max(1, round(n / scale)), m)
        for n, m in zip((rows, columns), view.picture.shape[:2], strict=True)
    )
    left = int(np.clip(round((x0 + x1 - wide) / 2), 0, view.picture.shape[1] - wide))
    top = int(np.clip(round((y0 + y1 - high) / 2), 0, view.picture.shape[0] - high))
    part = view.picture[top : top + high, left : left + wide]
    size = min(columns, round(wide * scale)), min(rows, round(high * scale))
    kind = cv2.INTER_NEAREST if scale >= 1.0 else cv2.INTER_AREA
    out = np.full((rows, columns, 3), 255, np.uint8)
    out[: size[1], : size[0]] = cv2.resize(part, size, interpolation=kind)
    return out


def _steps(
    page: Page, study: LightLevelViews, cameras: Sequence[str], levels: Sequence[float],
    lefts: Sequence[float], cell: Box,
) -> None:  # fmt: skip
    """The stepped line below the last level of each camera at which the task is done."""
    before: float | None = None
    for left, camera in zip(lefts, cameras, strict=True):
        least = study.least_lux(camera)
        done = sum(1 for lux in levels if least is not None and lux >= least)
        y = cell.top + done * cell.height - 0.05
        if before is not None and before != y:
            page.line(left - GAP_IN / 2.0, before, left - GAP_IN / 2.0, y, GOOD, 2.0)
        page.line(left - GAP_IN / 2.0, y, left + cell.width + GAP_IN / 2.0, y, GOOD, 2.0)
        before = y


def _foot(page: Page, study: LightLevelViews, x: float, y: float, width: float) -> None:
    page.line(x, y, x + width, y, RULE, 0.6)
    page.text(x, y + 0.05, say(Message("light-levels.legend")), SMALL_PT, colour=SOFT)
    origin = f"Predicted, not photographed; {study.scene.name}; seed {study.seed}"
    origin += f"; nightproof {versions()['nightproof']}"
    page.text(x, y + 0.05 + line_in(SMALL_PT), origin, SMALL_PT, colour=SOFT)
