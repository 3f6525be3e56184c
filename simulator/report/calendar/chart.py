"""A year as a heat map of day and hour, hours by month, and the picture of the worst hour."""

from __future__ import annotations

import calendar as months_of
import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.light.darkness import CIVIL_DEG, SUNSET_DEG
from simulator.report.colour_map import success_colours
from simulator.report.fitting import fit_text
from simulator.report.inks import FAILS, INK, PAPER, RULE, SOFT, SUCCEEDS, UNDECIDED
from simulator.report.pictures import save_figure
from simulator.report.wording import percent, say
from simulator.report.wording.clock import clock_gap
from simulator.report.wording.numbers import position
from simulator.studies.calendar.findings import by_month, engineer
from simulator.studies.calendar.study import Calendar
from simulator.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

DPI = 120


def grid(calendar: Calendar, value: FloatArray) -> FloatArray:
    """Values (n,) as (24, days) by clock hour and day of the year.

    An hour that the clock skips in spring is empty (NaN), one that it shows twice in autumn is the
    mean of both.
    """
    days = 366 if months_of.isleap(calendar.place.year) else 365
    total, count = np.zeros((24, days)), np.zeros((24, days))
    for when, x in zip(calendar.sky.when, value, strict=True):
        place = (when.hour, when.timetuple().tm_yday - 1)
        total[place] += x
        count[place] += 1.0
    return np.where(count > 0.0, total / np.maximum(count, 1.0), np.nan)


def draw_chart(path: Path, calendar: Calendar, replaced: str, about: dict[str, str]) -> None:
    """Heat map of the probability with sunrise and sunset, and bars of hours by month."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(11.0, 8.6), dpi=DPI, facecolor=PAPER)
    _heading(figure, calendar)
    upper = figure.add_axes((0.075, 0.415, 0.785, 0.455))
    scale = figure.add_axes((0.915, 0.415, 0.017, 0.455))
    _heat(upper, scale, calendar)
    lower = figure.add_axes((0.075, 0.125, 0.785, 0.205))
    _bars(lower, calendar)
    note = fit_text(_note(calendar, replaced), 10.0, (8.5, 8, 7.5, 7), 3)
    figure.text(0.075, 0.012, note.text, size=note.size, color=SOFT, va="bottom")
    save_figure(figure, path, dpi=DPI, metadata=about)


def _note(calendar: Calendar, replaced: str) -> str:
    skipped = np.isnan(grid(calendar, calendar.probability)).any()
    spring = (
        " The hour that the clock skips in spring is drawn as those beside it." if skipped else ""
    )
    return f"{replaced} {say(engineer(calendar))}{spring}"


def _heading(figure: Figure, calendar: Calendar) -> None:
    place = calendar.place
    title = fit_text(
        f"{calendar.scene.model.title}: the year {place.year}", 10.2, (14, 12, 10), 1, bold=True
    )
    figure.text(0.045, 0.983, title.text, size=title.size, weight="bold", color=INK, va="top")
    lamps = ", ".join(f"{name} {schedule.text}" for name, schedule in calendar.schedules.items())
    about = fit_text(
        f"{calendar.scene.model.question}  Camera: {calendar.camera.name}, looking"
        f" {calendar.bearing_deg:.0f}° from north, at"
        f" {position(place.latitude_deg, place.longitude_deg)}. Cloud"
        f" {percent(calendar.weather.cloud_cover)}. Lamps: {lamps or 'none in the scene'}.",
        10.2, (9.5, 9, 8, 7), 2,
    )  # fmt: skip
    figure.text(0.045, 0.945, about.text, size=about.size, color=SOFT, va="top")


def _heat(panel: Axes, scale: Axes, calendar: Calendar) -> None:
    values = _filled(grid(calendar, calendar.probability))
    days = values.shape[1]
    image = panel.pcolormesh(
        np.arange(days + 1),
        np.arange(25),
        values,
        cmap=success_colours(),
        vmin=0.0,
        vmax=1.0,
        rasterized=True,
    )  # fmt: skip
    panel.set_facecolor(PAPER)
    altitude = _filled(grid(calendar, np.asarray(calendar.sky.at.sun_altitude_deg)))
    x, y = np.arange(days) + 0.5, np.arange(24) + 0.5
    for level, style in ((SUNSET_DEG, "-"), (CIVIL_DEG, "--")):
        panel.contour(
            x, y, altitude, [level], colors=[PAPER], linewidths=2.2,
            linestyles=[style],
        )  # fmt: skip
        panel.contour(
            x, y, altitude, [level], colors=[INK], linewidths=0.9,
            linestyles=[style],
        )  # fmt: skip
    starts = _starts(calendar.place.year)
    panel.set_xticks([a + 15 for a in starts[:-1]], list(months_of.month_abbr)[1:])
    for a in starts[1:-1]:
        panel.axvline(a, color=PAPER, linewidth=0.5, alpha=0.6)
    panel.set_yticks(range(0, 25, 3))
    clock = calendar.place.zone_name
    if clock == "UTC":
        clock += f"; solar time {clock_gap(calendar.place.longitude_deg)}"
    panel.set_ylabel(f"hour of the day ({clock})", size=9.5, color=INK)
    panel.set_xlim(0, days)
    panel.set_ylim(0, 24)
    panel.tick_params(labelsize=8.5, colors=SOFT)
    panel.tick_params(axis="x", length=0)
    panel.set_title(
        "Lines: sunrise and sunset (full), sun 6° below the horizon (broken)", size=8.5,
        color=SOFT, loc="left",
    )  # fmt: skip
    figure = panel.figure
    bar = figure.colorbar(image, cax=scale)
    bar.set_label("share of pictures that succeed", size=9.5, color=INK)
    scale.yaxis.set_major_formatter(lambda value, _: percent(float(value)))
    scale.tick_params(labelsize=8.5, colors=SOFT)
    scale.axhline(calendar.wanted, color=PAPER, linewidth=2.2)
    scale.axhline(calendar.wanted, color=INK, linewidth=1.0)
    scale.text(
        -0.3, calendar.wanted,
        f"target\n{percent(calendar.wanted)}", size=7.5, color=INK, ha="right",
        va="center", transform=scale.get_yaxis_transform(),
    )  # fmt: skip


def _filled(values: FloatArray) -> FloatArray:
    """The hour that the clock skips in spring as the mean of those beside it."""
    hours, days = np.nonzero(np.isnan(values))
    out = values.copy()
    for h, d in zip(hours, days, strict=True):
        beside = [values[k, d] for k in (h - 1, h + 1) if 0 <= k < 24]
        out[h, d] = float(np.nanmean(beside))
    return out


def _starts(year: int) -> list[int]:
    first = dt.date(year, 1, 1)
    return [(dt.date(year + m // 12, m % 12 + 1, 1) - first).days for m in range(13)]


def _bars(panel: Axes, calendar: Calendar) -> None:
    rows = by_month(calendar)
    x = np.arange(12)
    counts = {name: np.array([getattr(r, name) for r in rows]) for name in vars(rows[0])}
    light, dark = counts["light"], counts["dark"]
    parts: list[tuple[str, NDArray[Any], str, str]] = [
        ("daylight, reaches it", counts["light_fine"], SUCCEEDS, ""),
        ("dark, reaches it", counts["dark_fine"], SUCCEEDS, "///"),
        ("dark, left open", counts["dark_unsure"], UNDECIDED, "///"),
        ("daylight, left open", counts["light_unsure"], UNDECIDED, ""),
        ("dark, falls short", dark - counts["dark_fine"] - counts["dark_unsure"], FAILS, "///"),
        ("daylight, falls short", light - counts["light_fine"] - counts["light_unsure"], FAILS, ""),
    ]
    below = np.zeros(12)
    for name, high, colour, hatch in parts:
        panel.bar(
            x, high, bottom=below, width=0.78, color=colour, hatch=hatch, edgecolor=PAPER,
            linewidth=0.6, label=name,
        )  # fmt: skip
        below = below + high
    for k, row in enumerate(rows):
        panel.annotate(
            f"{row.light_fine + row.dark_fine}", (k, below[k]), (0, 2),
            textcoords="offset points", ha="center", size=8.5, color=INK,
        )  # fmt: skip
    panel.set_xticks(x, list(months_of.month_abbr)[1:])
    panel.set_xlim(-0.5, 11.5)
    panel.set_ylim(0, 820)
    panel.set_ylabel("hours", size=9.5, color=INK)
    panel.grid(axis="y", color=RULE, linewidth=0.6)
    panel.set_axisbelow(True)
    panel.tick_params(labelsize=8.5, colors=SOFT)
    panel.set_title(
        "Hours of each month; the number says how many reliably reach the target; left open: the"
        " interval straddles it", size=9.5, color=INK,
        loc="left",
    )  # fmt: skip
    panel.legend(
        fontsize=8,
        frameon=False,
        ncols=6,
        loc="upper left",
        bbox_to_anchor=(-0.01, -0.12),
        columnspacing=1.2,
    )
