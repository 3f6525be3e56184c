"""A sweep as a labelled chart or map, a strip of pictures, and files for further work."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.messages import Message
from simulator.report.colour_map import success_colours
from simulator.report.fitting import fit_text
from simulator.report.inks import INK, LINES, PAPER, RULE, SOFT
from simulator.report.pictures import save_figure, write_png
from simulator.report.record import write_record
from simulator.report.wording import (
    decibels,
    percent,
    percent_range,
    quantity,
    say_all,
    shutter,
    three_digits,
)
from simulator.report.wording.verdict import shown_word
from simulator.studies.axes import Axis
from simulator.studies.folder import result_folder
from simulator.studies.key_units import unit_of
from simulator.studies.overrides import load_pair
from simulator.studies.provenance import versions
from simulator.studies.quick import fitted
from simulator.studies.sweep import Swept
from simulator.studies.tables import sweep_dataset, sweep_table, write_csv, write_netcdf

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_LINES = 5
"""Up to so many values of a second axis are drawn as lines, more as a map."""
DPI = 120
STYLES = ("-", "--", "-.", ":", (0, (3, 1, 1, 1, 1, 1)))
TILE_PX = (220, 300)


LEFT_IN = 1.05
"""Room for an axis title of two lines and its figures."""


def label_of(key: str) -> str:
    """A key as an axis label, with its unit."""
    unit = unit_of(key)
    return f"{key} [{unit}]" if unit else key


def save_sweep(folder: Path, swept: Swept) -> Path:
    """Write points.nc, points.csv, chart.png, strip.png and verdict.json, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    with result_folder(folder) as place:
        write_netcdf(place / "points.nc", sweep_dataset(swept))
        write_csv(place / "points.csv", sweep_table(swept))
        draw_chart(place / "chart.png", swept)
        if swept.pictures:
            draw_strip(place / "strip.png", swept)
        for index, picture in sorted(swept.pictures.items()):
            inner = place / "pictures"
            inner.mkdir(exist_ok=True)
            name = "-".join(f"{i:03d}" for i in index)
            write_png(inner / f"{name}.png", picture, _origin(swept))
        scene, camera = load_pair(swept.plan.scene, swept.plan.camera, list(swept.plan.sets))
        write_record(place, table(swept), {"scene": scene, "camera": camera})
    return folder


def crossings(swept: Swept) -> list[float]:
    """Where the only axis crosses the target probability, interpolated between points."""
    (axis,) = swept.plan.axes
    x = np.asarray(axis.values, float)
    if axis.log:
        x = np.log(x)
    above = swept.array("probability") - swept.wanted
    at = np.flatnonzero(np.diff(np.sign(above)) != 0)
    share = above[at] / (above[at] - above[at + 1])
    crossed = x[at] + share * (x[at + 1] - x[at])
    return [float(v) for v in np.unique(np.exp(crossed) if axis.log else crossed)]


def findings(swept: Swept) -> list[Message]:
    """What a sweep found: its range, and where it crosses the target."""
    value, target = swept.array("probability"), swept.wanted
    out = [Message.of("sweep.range", count=value.size, lowest=float(value.min()),
                      highest=float(value.max()), target=target)]  # fmt: skip
    if len(swept.plan.axes) > 1 or not swept.plan.axes[0].numeric:
        return out
    if value.min() >= target or value.max() < target:
        name = "always" if value.min() >= target else "never"
        return [*out, Message.of(f"sweep.{name}", target=target)]
    key = swept.plan.axes[0].key
    return [*out, Message.of("sweep.crossings", target=target, key=key,
                             values=tuple(crossings(swept)), unit=unit_of(key))]  # fmt: skip


def table(swept: Swept) -> dict[str, Any]:
    """What verdict.json holds of a sweep."""
    plan, messages = swept.plan, findings(swept)
    return {
        "schema_version": 1,
        "study": "sweep",
        "title": swept.title,
        "question": swept.question,
        "answer": " ".join(say_all(messages)),
        "messages": {"answer": [m.row() for m in messages]},
        "scene": plan.scene_name,
        "camera": plan.camera_name,
        "set": list(plan.sets),
        "seed": plan.seed,
        "trials": plan.trials,
        "wanted_probability": swept.wanted,
        "versions": versions(),
        "tables": [_points_table(swept)],
        "pictures": _pictures(swept),
        "axes": [{"key": axis.key, "values": list(axis.values)} for axis in plan.axes],
        "points": [
            {
                **{axis.key: axis.values[i] for axis, i in zip(plan.axes, index, strict=True)},
                **row,
            }
            for index, row in sorted(swept.rows.items())
        ],
    }


MOST_ROWS = 60
"""Points in the table of a document; all of them stand in points.csv."""


def _points_table(swept: Swept) -> dict[str, Any]:
    """Success, shutter and gain at every point, in words."""
    axes = swept.plan.axes
    rows = [
        [
            *(_valued(axis, axis.values[i]) for axis, i in zip(axes, index, strict=True)),
            shown_word(row["verdict"], swept.task),
            percent(row["probability"]),
            percent_range(row["probability_low"], row["probability_high"]),
            f"{shutter(row['shutter_s'])}, {decibels(row['gain_db'])}, {row['mode']}",
        ]
        for index, row in sorted(swept.rows.items())
    ]
    left = f"; {len(rows) - MOST_ROWS} more stand in points.csv" if len(rows) > MOST_ROWS else ""
    head = [axis.key for axis in axes]
    return {
        "caption": f"Success at every point{left}",
        "head": [*head, "verdict", "success", "interval", "shutter, gain, mode"],
        "rows": rows[:MOST_ROWS],
    }


def _valued(axis: Axis, value: Any) -> str:
    return quantity(value, unit_of(axis.key)) if axis.numeric else str(value)


def _pictures(swept: Swept) -> list[dict[str, Any]]:
    rows = [("chart.png", "Chart of success over the values", "Share of pictures that succeed.")]
    if swept.pictures:
        rows.append(("strip.png", "The target along the first axis", "The target, point by point."))
    return [{"file": f, "alt": a, "caption": c, "wide": True} for f, a, c in rows]


def _origin(swept: Swept) -> dict[str, str]:
    return {
        "Software": f"nightproof {versions()['nightproof']}",
        "Title": swept.title,
        "Comment": (
            f"scene {swept.plan.scene_name}; camera {swept.plan.camera_name};"
            f" seed {swept.plan.seed}"
        ),
    }


def draw_chart(path: Path, swept: Swept) -> None:
    """Probability over the axes: lines with their interval, or a map with labelled contours.

    Further axes beyond the second are drawn as one panel for each combination of their values.
    """
    from matplotlib.figure import Figure

    axes = swept.plan.axes
    rest = [index[2:] for index in swept.plan.points() if not any(index[:2])] or [()]
    columns = min(3, len(rest))
    lines = -(-len(rest) // columns)
    figure = Figure(figsize=(max(8.6, 5.2 * columns), 1.3 + 4.3 * lines), dpi=DPI, facecolor=PAPER)
    top = figure.get_figheight()
    wide = figure.get_figwidth() - 0.9
    title = fit_text(swept.title, wide, (14, 12.5, 11), 1, bold=True)
    figure.text(
        0.045, 1 - 0.16 / top, title.text, size=title.size, weight="bold", color=INK, va="top"
    )
    about = fit_text(f"{swept.question}  Camera: {swept.plan.camera_name}", wide, (10, 9, 8), 2)
    figure.text(0.045, 1 - 0.46 / top, about.text, size=about.size, color=SOFT, va="top")
    grid = figure.subplots(
        lines, columns, squeeze=False,
        gridspec_kw={
            "left": LEFT_IN / figure.get_figwidth(), "right": 0.97,
            "bottom": 0.62 / top, "top": 1 - 0.95 / top,
            "hspace": 0.45, "wspace": 0.3,
        },
    )  # fmt: skip
    for panel, tail in zip(grid.ravel(), rest, strict=False):
        if tail:
            named = [
                f"{axis.key} = {_shown(axis.values[i])}"
                for axis, i in zip(axes[2:], tail, strict=True)
            ]
            panel.set_title(", ".join(named), size=9.5, color=INK, loc="left")
        if len(axes) > 1 and len(axes[1].values) > MOST_LINES and axes[0].numeric:
            _map(panel, swept, tail)
        else:
            _lines(panel, swept, tail)
    for panel in grid.ravel()[len(rest) :]:
        panel.axis("off")
    save_figure(figure, path, dpi=DPI, metadata=_origin(swept))


def _shown(value: Any) -> str:
    return (
        three_digits(value) if isinstance(value, float | int) and value is not True else str(value)
    )


def _panel(swept: Swept, name: str, tail: Sequence[int]) -> NDArray[np.float64]:
    """Values over the first two axes, the others at `tail`."""
    shape = (*swept.plan.shape, 1)
    whole = swept.array(name).reshape(shape[0], shape[1], -1)
    place = int(np.ravel_multi_index(tuple(tail), swept.plan.shape[2:])) if tail else 0
    return np.asarray(whole[:, :, place])


def _lines(panel: Axes, swept: Swept, tail: Sequence[int]) -> None:
    axis = swept.plan.axes[0]
    value, low, high = (
        _panel(swept, n, tail) for n in ("probability", "probability_low", "probability_high")
    )
    second = swept.plan.axes[1] if len(swept.plan.axes) > 1 else None
    x = _places(panel, axis)
    for k in range(value.shape[1]):
        label = None if second is None else f"{second.key} = {_shown(second.values[k])}"
        colour = LINES[k % len(LINES)]
        panel.fill_between(x, low[:, k], high[:, k], color=colour, alpha=0.18, linewidth=0)
        panel.plot(
            x, value[:, k], color=colour, linestyle=STYLES[k % len(STYLES)], linewidth=1.8,
            marker="o", markersize=3.5, label=label,
        )  # fmt: skip
    panel.axhline(swept.wanted, color=INK, linewidth=1.0, linestyle=(0, (6, 3)))
    panel.text(
        0.995, swept.wanted + 0.01, f"target {percent(swept.wanted)}", size=8.5, color=INK,
        ha="right", va="bottom", transform=panel.get_yaxis_transform(),
    )  # fmt: skip
    if second is None and axis.numeric:
        for at in crossings(swept):
            panel.axvline(at, color=INK, linewidth=0.8, linestyle=":")
            panel.text(at, -0.02, f" {quantity(at, unit_of(axis.key))}", size=8.5, color=INK)
    panel.set_ylim(-0.03, 1.08)
    panel.set_ylabel("share of pictures that succeed\n(band: its interval)", size=9.5, color=INK)
    _percent_ticks(panel.yaxis)
    panel.grid(color=RULE, linewidth=0.6)
    panel.tick_params(labelsize=8.5, colors=SOFT)
    if second is not None:
        panel.legend(fontsize=8.5, frameon=True, facecolor=PAPER, edgecolor=RULE, loc="best")


def _places(panel: Axes, axis: Axis) -> Any:
    """Where the values of the first axis lie, with its scale, ticks and label set."""
    panel.set_xlabel(label_of(axis.key), size=9.5, color=INK)
    if not axis.numeric:
        panel.set_xticks(range(len(axis.values)), [str(v) for v in axis.values], rotation=15)
        return np.arange(len(axis.values))
    if axis.log:
        _log_ticks(panel.xaxis, axis, panel.set_xscale)
    return np.array(axis.values, dtype=float)


def _percent_ticks(which: Any) -> None:
    from matplotlib.ticker import FuncFormatter

    which.set_major_formatter(FuncFormatter(lambda value, _: percent(float(value))))


def _log_ticks(which: Any, axis: Axis, set_scale: Any) -> None:
    from matplotlib.ticker import FuncFormatter, NullFormatter

    set_scale("log")
    which.set_major_formatter(FuncFormatter(lambda value, _: three_digits(float(value))))
    which.set_minor_formatter(NullFormatter())


def _map(panel: Axes, swept: Swept, tail: Sequence[int]) -> None:
    first, second = swept.plan.axes[:2]
    value = _panel(swept, "probability", tail)
    x = _places(panel, first)
    y = np.array(second.values, float) if second.numeric else np.arange(len(second.values))
    if not second.numeric:
        panel.set_yticks(y, [str(v) for v in second.values])
    elif second.log:
        _log_ticks(panel.yaxis, second, panel.set_yscale)
    shown = panel.pcolormesh(
        x, y, value.T, cmap=success_colours(), vmin=0.0, vmax=1.0, shading="nearest"
    )
    levels = sorted({0.1, 0.5, 0.9, swept.wanted})
    if min(value.shape) > 1 and np.nanmin(value) < 0.9 and np.nanmax(value) > 0.1:
        lines = panel.contour(x, y, value.T, levels=levels, colors=INK, linewidths=0.9)
        panel.clabel(lines, fmt=lambda v: percent(float(v)), fontsize=8)
    panel.set_ylabel(label_of(second.key), size=9.5, color=INK)
    panel.tick_params(labelsize=8.5, colors=SOFT)
    bar = panel.figure.colorbar(shown, ax=panel, pad=0.02)
    bar.set_label("share of pictures that succeed", size=9, color=INK)
    _percent_ticks(bar.ax.yaxis)
    bar.ax.tick_params(labelsize=8, colors=SOFT)


def draw_strip(path: Path, swept: Swept) -> None:
    """Pictures of the target along the first axis, each with its value and probability."""
    from matplotlib.figure import Figure

    order = [index for index in swept.plan.pictured() if index in swept.pictures]
    axis = swept.plan.axes[0]
    columns = min(4, len(order))
    lines = -(-len(order) // columns)
    wide = 3.4
    shape = swept.pictures[order[0]].shape
    tall = min(2.6, (wide - 0.2) * shape[0] / shape[1])
    high = tall + 0.42
    figure = Figure(figsize=(columns * wide + 0.5, lines * high + 0.95), dpi=DPI, facecolor=PAPER)
    top = figure.get_figheight()
    head = f"The target as {swept.plan.camera_name} shows it, along {label_of(axis.key)}"
    rest = [
        f"{a.key} = {_shown(a.values[i])}"
        for a, i in zip(swept.plan.axes[1:], order[0][1:], strict=True)
    ]
    title = fit_text(head, columns * wide, (12.5, 11, 9.5, 8.5), 2, bold=True)
    figure.text(
        0.25 / figure.get_figwidth(),
        1 - 0.14 / top,
        title.text,
        size=title.size,
        weight="bold",
        color=INK,
        va="top",
    )
    if rest:
        figure.text(
            0.25 / figure.get_figwidth(), 1 - 0.52 / top, "at " + ", ".join(rest), size=9,
            color=SOFT, va="top",
        )  # fmt: skip
    for k, index in enumerate(order):
        left = 0.25 + k % columns * wide
        down = 0.85 + k // columns * high
        axes = figure.add_axes(
            (
                left / figure.get_figwidth(),
                (top - down - tall) / top,
                (wide - 0.2) / figure.get_figwidth(),
                tall / top,
            )
        )
        axes.imshow(fitted(swept.pictures[index], *TILE_PX), interpolation="nearest")
        axes.set_xticks([])
        axes.set_yticks([])
        axes.set_anchor("N")
        for spine in axes.spines.values():
            spine.set_visible(False)
        row = swept.rows[index]
        axes.set_xlabel(
            f"{quantity(axis.values[index[0]], unit_of(axis.key))}:  {percent(row['probability'])}"
            f" ({row['mode']}, {decibels(row['gain_db'])})",
            size=9, color=INK,
        )  # fmt: skip
    save_figure(figure, path, dpi=DPI, metadata=_origin(swept))
