"""A camera's measurement in words, as it is saved, and on one page."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.camera.tone import encode_tone
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
    Page,
    Words,
    heading,
    side_by_side,
    stack,
    total,
)
from simulator.report.inks import GOOD, INK, RULE, SOFT
from simulator.report.pictures import save_figure
from simulator.report.record import write_record
from simulator.report.wording import decibels, say, say_all
from simulator.studies.folder import result_folder
from simulator.studies.measure import CLAIM_SLACK_DB, SHUTTER_S, TRAIL_SPEED_PX, Measured
from simulator.studies.provenance import versions
from simulator.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DPI = 130
LABELS_IN = 0.5
"""Room below a curve for the labels of its axis."""
CONDITIONS = [
    Message.of("measurement.set-up", shutter_s=SHUTTER_S),
    Message("measurement.range"),
    Message("measurement.colours"),
]


def answer(bench: Measured) -> Message:
    """The dynamic range against its claim."""
    claim, measured = bench.range_.claimed_db, bench.range_.measured_db
    values: dict[str, Any] = {
        "camera": bench.camera.model.title,
        "range_db": measured,
        "claim_db": claim,
    }
    if claim is None:
        return Message("measurement.no-claim", values)
    short = claim - measured
    if short <= CLAIM_SLACK_DB:
        return Message("measurement.as-claimed", values)
    return Message("measurement.short", {**values, "short_db": short})


def _rows(bench: Measured) -> list[dict[str, Any]]:
    """Tables with caption, head and rows of text."""
    r, s = bench.range_, bench.sharp
    figures = [
        ["dynamic range", f"{r.measured_db:.1f} dB", "linear output, gain 0 dB"],
        ["claimed", "none" if r.claimed_db is None else f"{r.claimed_db:g} dB", "profile"],
        ["largest drop of signal to noise", f"{r.largest_drop_db:.1f} dB", ""],
        ["contrast halved at", f"{s.half_cycles_px:.3f} cycles/px",
         f"{s.lines:.0f} line widths per picture height"],
    ]  # fmt: skip
    colours = [
        [name, f"{c.difference.mean():.1f}", f"{c.difference.max():.1f}"]
        for name, c in bench.charts.items()
    ]
    trails = [[decibels(g), f"{f:.1f}", f"{p:.0f}"] for g, f, p in bench.trails]
    parts = (
        ("Range and sharpness", "figure|value|", figures),
        ("Colour difference of the 24 patches, white balance and matrix solved for the light",
         "light|mean CIEDE2000|largest", colours),
        (f"Trail of a bar that moves {TRAIL_SPEED_PX} px a frame", "gain|frames|px", trails),
    )  # fmt: skip
    return [{"caption": c, "head": head.split("|"), "rows": rows} for c, head, rows in parts]


def measurement_table(bench: Measured) -> dict[str, Any]:
    """What verdict.json holds of a measurement."""
    sentence = answer(bench)
    return {
        "schema_version": 1,
        "study": "measurement",
        "camera": bench.camera.name,
        "title": f"On the bench: {bench.camera.model.title}",
        "question": "What does this profile measure in front of test charts?",
        "answer": say(sentence),
        "messages": {"answer": [sentence.row()], "conditions": [m.row() for m in CONDITIONS]},
        "versions": versions(),
        "dynamic_range_db": bench.range_.measured_db,
        "claimed_db": bench.range_.claimed_db,
        "charts": {
            name: {
                "mean_ciede2000": float(chart.difference.mean()),
                "largest_ciede2000": float(chart.difference.max()),
            }
            for name, chart in bench.charts.items()
        },
        "trails": [{"gain_db": g, "frames": frames, "px": px} for g, frames, px in bench.trails],
        "half_cycles_px": bench.sharp.half_cycles_px,
        "line_widths": bench.sharp.lines,
        "tables": _rows(bench),
        "conditions": say_all(CONDITIONS),
    }


def save_measurement(folder: Path, bench: Measured) -> Path:
    """Write sheet.png, verdict.json and inputs/, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    table = measurement_table(bench)
    with result_folder(folder) as place:
        draw_measurement(place / "sheet.png", bench, table)
        write_record(place, table, {"camera": bench.camera})
    return folder


def draw_measurement(path: Path, bench: Measured, table: dict[str, Any]) -> None:
    """Write the page as a PNG."""
    page = Page(DPI)
    trails = "; ".join(f"{f:.1f} frames at {decibels(g)}" for g, f, _ in bench.trails)
    head = [Words(table["title"], TITLE_PT, bold=True, gap=0.06), Words(table["answer"], gap=0.15)]
    foot = [
        Words(say(Message.of("measurement.trails", speed_px=TRAIL_SPEED_PX, trails=trails)),
              SMALL_PT, colour=SOFT),
        Words(" ".join(table["conditions"]), SMALL_PT, colour=SOFT),
    ]  # fmt: skip
    top = MARGIN_IN + total(head, INNER_IN)
    low = HEIGHT_IN - MARGIN_IN - total(foot, INNER_IN)
    stack(page, Box(MARGIN_IN, MARGIN_IN, INNER_IN, top - MARGIN_IN), head)
    stack(page, Box(MARGIN_IN, low, INNER_IN, HEIGHT_IN - MARGIN_IN - low), foot)
    left, right = side_by_side(top, low - top, (0.45, 0.55))
    stack(page, left, _curves(bench, left))
    stack(page, right, _patches(bench, right))
    about = {"Software": f"nightproof {versions()['nightproof']}"}
    save_figure(page.figure, path, dpi=page.dpi, metadata=about)


def _curves(bench: Measured, box: Box) -> list[Block]:
    """Noise over light and contrast over detail, in half of the column each."""
    r, s = bench.range_, bench.sharp
    titles = (
        heading(f"Dynamic range {r.measured_db:.1f} dB"),
        heading(f"Contrast halved at {s.lines:.0f} line widths ({s.half_cycles_px:.3f} cycles/px)"),
    )
    high = (box.height - total(titles, box.width)) / 2.0 - LABELS_IN
    drawn = (partial(_noise, bench=bench), partial(_contrast, bench=bench))
    return [
        block
        for title, paint in zip(titles, drawn, strict=True)
        for block in (title, Chart(paint, high, below=LABELS_IN))
    ]


def _patches(bench: Measured, box: Box) -> list[Block]:
    """Bars of the patches' colour error, one row for each light."""
    first = heading("Colour error of the 24 patches")
    rows: list[tuple[Block, Callable[[Axes], None]]] = []
    for name, c in bench.charts.items():
        text = f"{name}: mean {c.difference.mean():.1f}, largest {c.difference.max():.1f}"
        rows.append((
            Words(text, SMALL_PT, keep=True, gap=0.07),
            partial(_colours, difference=c.difference, linear=(c.wanted, c.linear)),
        ))  # fmt: skip
    taken = total([first, *(words for words, _ in rows)], box.width)
    high = (box.height - taken) / len(rows) - 0.15
    blocks: list[Block] = [first]
    for words, paint in rows:
        blocks += [words, Chart(paint, high, left=0.4, below=0.15)]
    return blocks


def _styled(axes: Axes) -> None:
    axes.tick_params(labelsize=SMALL_PT, colors=SOFT)
    axes.grid(color=RULE, linewidth=0.6)
    axes.set_axisbelow(True)


def _noise(axes: Axes, bench: Measured) -> None:
    _styled(axes)
    r = bench.range_
    used = (r.snr > 0.3) & (r.light_e < 0.93 * r.saturation_e) & np.isfinite(r.snr)
    axes.plot(r.light_e[used], 20.0 * np.log10(r.snr[used]), color=GOOD, linewidth=1.8)
    # the curve rises: room is above it on the left, below it on the right
    for at, text, side, high in (
        (r.least_e, f"signal = noise\n{r.least_e:.1f} e⁻", "left", 0.97),
        (r.saturation_e, f"saturated\n{r.saturation_e:.0f} e⁻", "right", 0.16),
    ):
        axes.axvline(at, color=INK, linewidth=1.0, linestyle=(0, (6, 3)))
        shift = 1.12 if side == "left" else 1 / 1.12
        axes.text(at * shift, high, text, size=SMALL_PT, color=INK, ha=side, va="top",
                  transform=axes.get_xaxis_transform())  # fmt: skip
    axes.set_xscale("log")
    axes.set_ylim(bottom=-8)
    axes.set_xlabel("light on a pixel in the longest exposure [e⁻]", size=SMALL_PT)
    axes.set_ylabel("signal to noise [dB]", size=SMALL_PT)


def _contrast(axes: Axes, bench: Measured) -> None:
    _styled(axes)
    s = bench.sharp
    axes.plot(2.0 * s.frequency * bench.camera.model.sensor.height_px, s.value, color=GOOD, lw=1.8)
    axes.axvline(s.lines, color=INK, linewidth=1.0, linestyle=(0, (6, 3)))
    axes.set_xlim(0, bench.camera.model.sensor.height_px)
    axes.set_ylim(0, 1)
    axes.set_xlabel("detail [line widths per picture height]", size=SMALL_PT)
    axes.set_ylabel("contrast left by lens and pixel", size=SMALL_PT)


def _colours(axes: Axes, difference: FloatArray, linear: tuple[FloatArray, FloatArray]) -> None:
    """A bar of CIEDE2000 for each patch; below it, target colour and shown colour."""
    _styled(axes)
    x = np.arange(len(difference))
    axes.bar(x, difference, width=0.7, color=SOFT)
    band = 0.16 * max(float(difference.max()), 1.0)
    for row, colours in enumerate(linear):
        shades = np.clip(encode_tone(np.clip(colours, 0, 1), "srgb"), 0, 1)
        axes.bar(x, -band, width=0.9, bottom=-row * band, color=[tuple(c) for c in shades])
    axes.set_xlim(-0.6, len(x) - 0.4)
    axes.set_ylim(-2.0 * band, 1.08 * max(float(difference.max()), 1.0))
    axes.set_xticks([])
    axes.set_yticks([t for t in axes.get_yticks() if t >= 0.0][:4])
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
