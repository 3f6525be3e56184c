"""The comparison on pages for each scene: pictures, enlarged targets, verdicts, figures."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.checked_file import CheckedFile
from simulator.judge.explanation import main_limits
from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.result import Verdict
from simulator.report.figure_rows import figure_rows
from simulator.report.flow import (
    HEIGHT_IN,
    MARGIN_IN,
    SMALL_PT,
    TITLE_PT,
    WIDTH_IN,
    Block,
    Box,
    Page,
    Row,
    Words,
    stack,
    total,
)
from simulator.report.inks import RULE, SOFT, WORD_COLOURS
from simulator.report.pictures import origin_text, save_figure, scaled, target_window, write_png
from simulator.report.record import write_record
from simulator.report.scale import Scale
from simulator.report.wording import (
    capital,
    entry,
    listed,
    percent,
    pictures,
    say,
    say_all,
    three_digits,
)
from simulator.report.wording.comparison import comparison_table
from simulator.report.wording.verdict import shown_word
from simulator.studies.compare import Comparison, Standing
from simulator.studies.folder import result_folder
from simulator.studies.predict import Result
from simulator.studies.reserve import reserve_message

DPI, PER_PAGE, GAP_IN = 200.0, 3, 0.25
FRAME_IN, TARGET_IN = 3.5, 2.4
"""Widths that the picture and the enlarged target take at most."""


def save_comparison(folder: Path, compared: Comparison) -> Path:
    """Write verdict.json, the sheet and the plain pictures for each scene, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    with result_folder(folder) as place:
        for scene in compared.scenes:
            draw_comparison(place / f"{scene.name}.png", compared, scene.name)
            for camera in compared.cameras:
                result = compared.results[scene.name, camera.name]
                inner = place / "pictures" / scene.name
                inner.mkdir(parents=True, exist_ok=True)
                write_png(inner / f"{camera.name}.png", result.frame, origin_text(result.verdict))
        write_record(place, comparison_table(compared), _inputs(compared))
    return folder


def _inputs(compared: Comparison) -> dict[str, CheckedFile[Any]]:
    files: dict[str, CheckedFile[Any]] = {f"scene-{one.name}": one for one in compared.scenes}
    files |= {f"camera-{one.name}": one for one in compared.cameras}
    return files


def draw_comparison(path: Path, compared: Comparison, scene_name: str) -> list[Path]:
    """Write the sheet of one scene as PNGs, the best camera first, three cameras a page.

    Returns
    -------
    Paths of all pages: the given one, and beside it those with -2 and so on in their names.
    """
    standings = compared.standings[scene_name]
    paths: list[Path] = []
    for first in range(0, len(standings), PER_PAGE):
        rows = standings[first : first + PER_PAGE]
        page = _page(compared, scene_name, rows, len(standings))
        number = f"-{len(paths) + 1}" if paths else ""
        paths.append(path.with_name(f"{path.stem}{number}{path.suffix}"))
        verdict = compared.results[scene_name, standings[0].camera].verdict
        save_figure(page.figure, paths[-1], dpi=page.dpi, metadata=origin_text(verdict))
    return paths


def _page(compared: Comparison, scene_name: str, rows: list[Standing], count: int) -> Page:
    """A page with some of the cameras."""
    page, width = Page(DPI), WIDTH_IN - 2.0 * MARGIN_IN
    head = _heading(compared.results[scene_name, rows[0].camera].verdict, count)
    foot = _foot(compared)
    top = MARGIN_IN + total(head, width)
    foot_in = total(foot, width)
    stack(page, Box(MARGIN_IN, MARGIN_IN, width, top - MARGIN_IN), head)
    high = (HEIGHT_IN - MARGIN_IN - foot_in - top) / PER_PAGE
    for i, row in enumerate(rows):
        strip = Box(MARGIN_IN, top + i * high, width, high)
        _strip(page, strip, row, compared.results[scene_name, row.camera])
    stack(page, Box(MARGIN_IN, HEIGHT_IN - MARGIN_IN - foot_in, width, foot_in), foot)
    return page


def _heading(verdict: Verdict, count: int) -> list[Block]:
    fact = entry("task", verdict.task.name)["fact"]
    aim = (
        f"{count} cameras, alike in all else, each focused on the target; the aim: {fact} in"
        f" {percent(verdict.task.wanted_probability)} of pictures"
    )
    question: list[Block] = [Words(verdict.question)] if verdict.question else []
    title = Words(verdict.title, TITLE_PT, bold=True)
    return [title, *question, Words(aim, SMALL_PT, colour=SOFT, gap=0.08)]


def _strip(page: Page, strip: Box, row: Standing, result: Result) -> None:
    """One camera: its picture, the target enlarged, the verdict and figures."""
    page.line(strip.left, strip.top, strip.left + strip.width, strip.top, RULE, 0.8)
    top, high = strip.top + 0.08, strip.height - 0.16
    _shown(page, Box(strip.left, top, FRAME_IN, high), result.frame)
    x0, y0, x1, y1 = target_window(
        result.verdict.target.box_px, (result.frame.shape[0], result.frame.shape[1])
    )
    left = strip.left + FRAME_IN + GAP_IN
    _shown(page, Box(left, top, TARGET_IN, high), result.frame[y0:y1, x0:x1])
    left += TARGET_IN + GAP_IN
    column = Box(left, top, strip.left + strip.width - left, high)
    stack(page, column, _figures(row, result), _left_out)


def _shown(page: Page, box: Box, picture: NDArray[np.uint8]) -> None:
    """A picture in a box, its pixels repeated or put together by a whole number."""
    rows, columns = picture.shape[:2]
    most = min(box.width * DPI / columns, box.height * DPI / rows)
    factor = float(int(most)) if most >= 1.0 else 1.0 / np.ceil(1.0 / most)
    page.picture(box.left, box.top, scaled(picture, float(factor)))


def _left_out(count: int) -> Words:
    return Words(f"and {count} more in the result file", SMALL_PT, colour=SOFT, gap=0.0)


def _figures(row: Standing, result: Result) -> list[Block]:
    """Rank, verdict, probability and figures of a camera."""
    v = result.verdict
    rank = f"{row.rank}.{' (tie)' if row.tied else ''}"
    share = pictures(v.probability, v.task.wanted_probability)
    word = capital(shown_word(v.verdict, v.task.name))
    colour = WORD_COLOURS[v.verdict]
    limits = [IMPAIRMENTS[limit.factor].noun for limit in main_limits(v)]
    rows = [
        *figure_rows(v, "compare"),
        ("Limited by", listed(limits[:2]) or "nothing worth fixing"),
    ]
    if row.reserve is not None:
        reserve = say(reserve_message(row.reserve, headed=False))
        rows.append(("Reserve", reserve))
    if row.price is not None:
        rows.append(("Price", three_digits(row.price)))
    return [
        Words(f"{rank} {result.camera.model.title}", bold=True),
        Words(f"{word}: in {share}", bold=True, colour=colour),
        Scale.of(v, named=False),
        *(Row(cells, (0.36, 0.64), rule=False, gap=0.004) for cells in rows),
    ]


def _foot(compared: Comparison) -> list[Block]:
    held = "; ".join(say_all(compared.held_fixed))
    legend = (
        "Bar: share of pictures that succeed, its interval (thin line) and the target (upright"
        " line). Tie: neither probability nor reserve separates them. Generic archetypes, not"
        " products. Predicted, not photographed."
    )
    return [Words(f"Held fixed: {held}.", SMALL_PT, colour=SOFT),
            Words(legend, SMALL_PT, colour=SOFT, gap=0.0)]  # fmt: skip
