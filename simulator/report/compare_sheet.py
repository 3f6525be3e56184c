"""The comparison on one page for each scene: pictures, enlarged targets, verdicts, figures."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.judge.explanation import main_limits
from simulator.judge.result import Verdict
from simulator.report.fitting import fit_text
from simulator.report.inks import INK, PAPER, RULE, SOFT, WORD_COLOURS
from simulator.report.pictures import enlarged, origin_text, write_png
from simulator.report.wording import (
    decibels,
    entry,
    f_number,
    percent,
    pictures,
    say_all,
    shutter,
    snr,
    three_digits,
)
from simulator.report.wording.comparison import comparison_table
from simulator.report.wording.verdict import shown_word, size_words
from simulator.studies.compare import Comparison, Standing
from simulator.studies.folder import result_folder
from simulator.studies.predict import Result

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_IN, ROW_IN, HEAD_IN, FOOT_IN, DPI = 14.0, 2.55, 1.2, 1.0, 120
FRAME_COLUMNS = 760


def save_comparison(folder: Path, found: Comparison) -> Path:
    """Write compare.json, one sheet and the plain pictures for each scene, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    with result_folder(folder) as place:
        for scene in found.scenes:
            draw_comparison(place / f"{scene.name}.png", found, scene.name)
            for camera in found.cameras:
                result = found.results[scene.name, camera.name]
                inner = place / "pictures" / scene.name
                inner.mkdir(parents=True, exist_ok=True)
                write_png(inner / f"{camera.name}.png", result.frame, origin_text(result.verdict))
        inputs = place / "inputs"
        inputs.mkdir()
        for scene in found.scenes:
            scene.save(inputs / f"scene-{scene.name}.toml")
        for (scene_name, camera_name), result in found.results.items():
            # each as it was judged: focused on the target of that scene
            ending = f"--{scene_name}" if len(found.scenes) > 1 else ""
            result.camera.save(inputs / f"camera-{camera_name}{ending}.toml")
        table = comparison_table(found)
        text = json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
        (place / "verdict.json").write_text(text, encoding="utf-8")
    return folder


def draw_comparison(path: Path, found: Comparison, scene_name: str) -> None:
    """Write the sheet of one scene as a PNG, the best camera first."""
    from matplotlib.figure import Figure

    standings = found.standings[scene_name]
    height = HEAD_IN + FOOT_IN + ROW_IN * len(standings)
    figure = Figure(figsize=(WIDTH_IN, height), dpi=DPI, facecolor=PAPER)
    first = found.results[scene_name, standings[0].camera]
    _heading(figure, height, first.verdict, len(standings))
    for i, row in enumerate(standings):
        top = height - HEAD_IN - i * ROW_IN
        result = found.results[scene_name, row.camera]
        _row(figure, height, top, row, result)
    _footer(figure, height, found)
    figure.savefig(path, dpi=DPI, metadata=origin_text(first.verdict))


def _heading(figure: Figure, height: float, verdict: Verdict, count: int) -> None:
    title = fit_text(verdict.title, 13.0, (17, 14, 12), 1, bold=True)
    figure.text(
        0.03, 1 - 0.2 / height, title.text, size=title.size, weight="bold", color=INK, va="top"
    )
    question = fit_text(verdict.question, 13.0, (12, 10.5, 9), 1)
    figure.text(
        0.03, 1 - 0.56 / height, question.text, size=question.size, style="italic", color=INK,
        va="top",
    )  # fmt: skip
    fact = entry("task", verdict.task.name)["fact"]
    wanted = verdict.task.wanted_probability
    figure.text(
        0.03, 1 - 0.86 / height,
        f"{count} cameras, alike in all else, each focused on the target; the aim: {fact} in"
        f" {percent(wanted)} of pictures",
        size=10.5, color=SOFT, va="top",
    )  # fmt: skip


def _row(figure: Figure, height: float, top: float, row: Standing, result: Result) -> None:
    def place(left: float, down: float, wide: float, high: float) -> Axes:
        return figure.add_axes(
            (left / WIDTH_IN, (top - down - high) / height, wide / WIDTH_IN, high / height)
        )

    rule = place(0.42, 0.0, WIDTH_IN - 0.84, 0.01)
    rule.axis("off")
    rule.plot([0, 1], [0, 0], color=RULE, linewidth=0.8)
    rule.set_xlim(0, 1)
    _shown(place(0.42, 0.1, 4.1, 2.3), _smaller(result.frame))
    _shown(place(4.62, 0.1, 3.4, 2.3), enlarged(result.frame, result.target.box_px))
    v = result.verdict
    rank = f"{row.rank}.{' (tie)' if row.tied else ''}"
    title = fit_text(f"{rank}  {result.camera.model.title}", 5.3, (12, 11, 10, 9), 1, bold=True)
    at = 8.2 / WIDTH_IN
    figure.text(
        at, (top - 0.16) / height, title.text, size=title.size, weight="bold", color=INK, va="top"
    )
    share = pictures(v.probability, v.task.wanted_probability)
    figure.text(
        at, (top - 0.48) / height, f"{shown_word(v.verdict, v.task.name)} in {share}",
        size=11, weight="bold", color=WORD_COLOURS[v.verdict], va="top",
    )  # fmt: skip
    _bar(place(8.2, 0.78, 5.35, 0.13), v)
    for i, (label, text) in enumerate(_figures(row, result)):
        y = (top - 1.12 - 0.2 * i) / height
        figure.text(at, y, label, size=9, color=SOFT, va="top")
        figure.text(at + 1.35 / WIDTH_IN, y, text, size=9, color=INK, va="top")


def _shown(axes: Axes, picture: NDArray[np.uint8]) -> None:
    axes.imshow(picture, interpolation="nearest")
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_anchor("NW")
    for spine in axes.spines.values():
        spine.set_visible(False)


def _smaller(frame: NDArray[np.uint8]) -> NDArray[np.uint8]:
    columns = min(frame.shape[1], FRAME_COLUMNS)
    rows = round(frame.shape[0] * columns / frame.shape[1])
    return np.asarray(cv2.resize(frame, (columns, rows), interpolation=cv2.INTER_AREA))


def _bar(axes: Axes, v: Verdict) -> None:
    axes.barh([0], [1.0], color="#eceff2", height=1.0)
    axes.barh([0], [v.probability], color=WORD_COLOURS[v.verdict], height=1.0)
    axes.plot([v.probability_low, v.probability_high], [0, 0], color=INK, linewidth=2.0)
    wanted = v.task.wanted_probability
    axes.plot([wanted, wanted], [-0.8, 0.8], color=INK, linewidth=1.4)
    axes.set_xlim(0, 1)
    axes.set_ylim(-0.8, 0.8)
    axes.axis("off")


def _figures(row: Standing, result: Result) -> list[tuple[str, str]]:
    v = result.verdict
    e, g, s = v.exposure, v.geometry, v.signal
    limits = [row.factor for row in main_limits(v)]
    size = size_words(v.target)
    light = f"{three_digits(s.illuminance_lux)} lx"
    if s.irradiance_w_m2 > 0.0:
        light += f" and {three_digits(s.irradiance_w_m2)} W/m² infrared"
    rows = [
        (
            "exposure",
            f"{e.mode}, {shutter(e.shutter_s)}, {decibels(e.gain_db)},"
            f" {f_number(e.f_number)}, {e.metering}",
        ),
        ("on the target", f"{g.pixels_per_m:.0f} px/m, {size}"),
        (
            "signal to noise",
            f"{snr(s.snr_db)}; {percent(s.clipped_fraction)} clipped to white; motion blur of"
            f" {s.motion_blur_px:.1f} px",
        ),
        ("light on it", light),
        ("limited by", ", then ".join(limits[:2]) if limits else "nothing worth fixing"),
    ]
    if row.price is not None:
        rows.append(("price", three_digits(row.price)))
    return rows


def _footer(figure: Figure, height: float, found: Comparison) -> None:
    held = "Held fixed: " + "; ".join(say_all(found.held_fixed)) + "."
    lines = fit_text(held, 13.1, (9, 8.5, 8), 2)
    figure.text(
        0.03, 0.86 / height, lines.text, size=lines.size, color=SOFT, va="top", linespacing=1.3
    )
    figure.text(
        0.03, 0.3 / height,
        "Bar: share of pictures that succeed, its interval (thin line) and the target (upright"
        " line). Tie: noise and tolerance cannot separate them. Generic archetypes, not products.",
        size=8.5, color=SOFT, va="top",
    )  # fmt: skip
