"""A sequence as frames, a film, a strip of stills and the course of the exposure."""

from __future__ import annotations

from collections.abc import Sequence as Seq
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image as PillowImage

from simulator.camera.stream import to_420
from simulator.report.fitting import fit_text
from simulator.report.inks import GOOD, INK, PAPER, RULE, SOFT
from simulator.report.pictures import origin_text, save_figure, target_window, write_png
from simulator.report.record import write_record
from simulator.report.wording import capital, decibels, shutter, three_digits
from simulator.report.wording.verdict import shown_word
from simulator.studies.folder import result_folder
from simulator.studies.sequence import Frame, Sequence
from simulator.studies.tables import write_csv

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DPI = 120
STILLS = 8
STILL_COLUMNS = 520
FILM_QP = 12
"""Quantiser of the film, which is only for looking; the frames themselves lose nothing to it."""
PREVIEW_COLUMNS, PREVIEW_QUALITY = 960, 85
INSET_SHARE = 0.42


def settled_words(sequence: Sequence) -> str:
    """What is judged of a frame with the exposure settled, in a line."""
    q, task = sequence.judged, sequence.scene.model.task
    assert q is not None
    return (
        f"{shown_word(q.verdict, task.name)}: probability {q.probability:.2f}"
        f" ({q.probability_low:.2f} to {q.probability_high:.2f}), target"
        f" {task.wanted_probability:.2f}, in a frame with"
        " everything where the scene puts it and the exposure settled"
    )


def began_words(sequence: Sequence) -> str:
    """How the camera was set before the first frame."""
    began = sequence.began
    return (
        f"settled on {'the scene itself' if began.on_scene else 'the earlier light'}:"
        f" {began.mode} mode, shutter {shutter(began.exposure.shutter_s)},"
        f" gain {decibels(began.exposure.gain_db)}"
    )


def film_table(sequence: Sequence) -> dict[str, Any]:
    """What verdict.json holds of a film."""
    answer = {} if sequence.judged is None else {"answer": f"{capital(settled_words(sequence))}."}
    return {**Sequence.to_dict(sequence), **answer}


def save_sequence(folder: Path, sequence: Sequence) -> Path:
    """Write frames/, sequence.mp4 (or sequence.webp), strip.png, course.png, frames.csv,
    verdict.json and inputs/, whole or not at all.

    The film needs PyAV (the extra `codec`); without it an animated picture is written.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    table = film_table(sequence)
    text = origin_text(table)
    with result_folder(folder) as place:
        inner = place / "frames"
        inner.mkdir()
        for k, frame in enumerate(sequence.frames):
            write_png(inner / f"{k + 1:04d}.png", frame.picture, text)
        write_film(place, sequence)
        draw_strip(place / "strip.png", sequence, text)
        draw_course(place / "course.png", sequence, text)
        rows = [{k: v for k, v in row.items() if k != "box_px"} for row in table["frames"]]
        write_csv(place / "frames.csv", rows)
        write_record(place, table, {"scene": sequence.scene, "camera": sequence.camera})
    return folder


def write_film(place: Path, sequence: Sequence) -> Path:
    """sequence.mp4 at the rate of the frames, or an animated picture where PyAV is missing."""
    try:
        import av
    except ImportError:
        return _animated(place / "sequence.webp", sequence)
    path = place / "sequence.mp4"
    rows, columns = (side - side % 2 for side in sequence.frames[0].picture.shape[:2])
    rate = Fraction(sequence.frame_rate_hz).limit_denominator(1001)
    with av.open(str(path), "w") as film:
        stream = film.add_stream("libx264", rate=rate)
        stream.width, stream.height, stream.pix_fmt = columns, rows, "yuv420p"
        stream.thread_count = 1
        stream.options = {"qp": str(FILM_QP), "preset": "veryfast", "x264-params": "log-level=-1"}
        for frame in sequence.frames:
            picture = np.ascontiguousarray(frame.picture[:rows, :columns])
            shown = av.VideoFrame.from_ndarray(to_420(picture), format="yuv420p")
            film.mux(stream.encode(shown))
        film.mux(stream.encode(None))
    return path


def _animated(path: Path, sequence: Sequence) -> Path:
    pictures = [
        PillowImage.fromarray(_narrowed(frame.picture, PREVIEW_COLUMNS))
        for frame in sequence.frames
    ]
    pictures[0].save(
        path,
        save_all=True,
        append_images=pictures[1:],
        duration=round(1000.0 / sequence.frame_rate_hz),
        loop=0,
        quality=PREVIEW_QUALITY,
    )
    return path


def _narrowed(picture: NDArray[np.uint8], columns: int) -> NDArray[np.uint8]:
    if picture.shape[1] <= columns:
        return picture
    size = (columns, round(picture.shape[0] * columns / picture.shape[1]))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def stills(sequence: Sequence) -> list[Frame]:
    """Frames of the strip: the first and the last, and between them more where more happens.

    They part the course of the film evenly, by what changes in picture and exposure from frame to
    frame and, for `EVEN_SHARE` of it, by time.
    """
    n = len(sequence.frames)
    steps = happenings(sequence.frames)
    steps = steps + EVEN_SHARE / (1.0 - EVEN_SHARE) * steps.mean() + 1e-9
    course = np.concatenate([[0.0], np.cumsum(steps)])
    wanted = np.linspace(0.0, course[-1], min(n, STILLS))
    places = np.unique(np.abs(course[None, :] - wanted[:, None]).argmin(axis=1))
    return [sequence.frames[int(k)] for k in places]


EVEN_SHARE = 0.3
"""Share of the strip that goes by time alone (chosen by us)."""
SWITCH = 0.5
"""What a change of mode counts, where a picture that turns from black to white counts 1, and so do
`EXPOSURES` stops of exposure (chosen by us)."""
EXPOSURES = 4.0


def happenings(frames: Seq[Frame]) -> NDArray[np.float64]:
    """How much changes from each frame to the next (frames - 1,)."""
    small = [
        cv2.resize(f.picture, (96, 54), interpolation=cv2.INTER_AREA)
        .astype(np.float64)
        .mean(axis=2)
        for f in frames
    ]
    seen = np.array([np.abs(b - a).mean() / 255.0 for a, b in pairwise(small)])
    stops = np.log2([f.exposure.shutter_s for f in frames]) + np.array(
        [f.exposure.gain_db for f in frames]
    ) * (np.log2(10.0) / 20.0)
    switched = np.array([a.mode != b.mode for a, b in pairwise(frames)], dtype=np.float64)
    return np.asarray(seen + np.abs(np.diff(stops)) / EXPOSURES + SWITCH * switched)


def with_inset(frame: Frame, columns: int) -> NDArray[np.uint8]:
    """The frame made narrower, with the target enlarged in a corner that does not hide it.

    The upper left one if it can be; smaller where the target is in the way everywhere, and none
    where that does not help.
    """
    whole = _narrowed(frame.picture, columns).copy()
    rows, wide = frame.picture.shape[:2]
    x0, y0, x1, y1 = target_window(frame.box_px, (rows, wide))
    if (x1 - x0) * (y1 - y0) > 0.15 * rows * wide:
        return whole
    part = frame.picture[y0:y1, x0:x1]
    scale = whole.shape[1] / wide
    box = [scale * one for one in frame.box_px]
    for share in (INSET_SHARE, 0.7 * INSET_SHARE, 0.5 * INSET_SHARE):
        factor = min(share * whole.shape[1] / part.shape[1], share * whole.shape[0] / part.shape[0])
        size = (max(1, int(part.shape[1] * factor)), max(1, int(part.shape[0] * factor)))
        place = free_corner(whole.shape[:2], (size[1] + 2, size[0] + 2), box)
        if place is None:
            continue
        big = cv2.resize(
            part, size, interpolation=cv2.INTER_NEAREST if factor > 1 else cv2.INTER_AREA
        )
        (top, left), (down, right) = place, (size[1] + 2, size[0] + 2)
        whole[top : top + down, left : left + right] = 244
        # the frame's own border needs no rule beside it
        inner_top, inner_left = top + 2 * (top > 0), left + 2 * (left > 0)
        whole[inner_top : inner_top + size[1], inner_left : inner_left + size[0]] = big
        return whole
    return whole


def free_corner(
    shape: tuple[int, ...], inset: tuple[int, int], box_px: Seq[float]
) -> tuple[int, int] | None:
    """Top and left of an inset (rows, columns) in a corner of a picture that leaves a box free.

    The upper left one first; None where every corner holds some of the box.
    """
    bottom, right = shape[0] - inset[0], shape[1] - inset[1]
    x0, y0, x1, y1 = box_px
    for top, left in ((0, 0), (0, right), (bottom, 0), (bottom, right)):
        apart = x1 <= left or x0 >= left + inset[1] or y1 <= top or y0 >= top + inset[0]
        if apart:
            return top, left
    return None


def draw_strip(path: Path, sequence: Sequence, text: dict[str, str]) -> None:
    """Stills in order, each with its time, mode, shutter and gain."""
    from matplotlib.figure import Figure

    order = stills(sequence)
    columns = min(4, len(order))
    lines = -(-len(order) // columns)
    shape = order[0].picture.shape
    wide = 3.9
    tall = (wide - 0.15) * shape[0] / shape[1]
    high = tall + 0.42
    figure = Figure(figsize=(columns * wide + 0.45, lines * high + 0.95), dpi=DPI, facecolor=PAPER)
    w, h = figure.get_figwidth(), figure.get_figheight()
    title = fit_text(sequence.scene.model.title, columns * wide, (13, 11.5, 10), 1, bold=True)
    figure.text(
        0.3 / w, 1 - 0.14 / h, title.text, size=title.size, weight="bold", color=INK, va="top"
    )
    about = fit_text(
        f"{sequence.camera.model.title}; {len(sequence.frames)} frames; {began_words(sequence)};"
        " enlarged: the target",
        columns * wide, (9.5, 8.5, 7.5, 6.5), 1,
    )  # fmt: skip
    figure.text(0.3 / w, 1 - 0.48 / h, about.text, size=about.size, color=SOFT, va="top")
    for k, frame in enumerate(order):
        left, down = 0.3 + k % columns * wide, 0.8 + k // columns * high
        axes = figure.add_axes((left / w, (h - down - tall) / h, (wide - 0.15) / w, tall / h))
        axes.imshow(with_inset(frame, STILL_COLUMNS), interpolation="nearest", aspect="auto")
        axes.set_xticks([])
        axes.set_yticks([])
        for spine in axes.spines.values():
            spine.set_visible(False)
        e = frame.exposure
        axes.set_xlabel(
            f"{frame.time_s:+.2f} s: {frame.mode}, {shutter(e.shutter_s)}, {e.gain_db:.0f} dB",
            size=9, color=INK, loc="left",
        )  # fmt: skip
    save_figure(figure, path, dpi=DPI, metadata=text)


def draw_course(path: Path, sequence: Sequence, text: dict[str, str]) -> None:
    """Shutter, gain and metered level over time, with the time in night mode shaded."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.6, 6.4), dpi=DPI, facecolor=PAPER)
    title = fit_text(
        f"How {sequence.camera.model.title} sets itself", 9.0, (13, 11.5, 10), 1, bold=True
    )
    figure.text(0.06, 0.975, title.text, size=title.size, weight="bold", color=INK, va="top")
    settling = sequence.path.settling_s()
    about = f"{capital(began_words(sequence))}; " + (
        f"within 1 dB of its last exposure after {settling:.2f} s"
        if settling is not None
        else "not settled at the end"
    )
    fitted = fit_text(about, 8.9, (9.5, 8.5, 7.5), 1)
    figure.text(0.06, 0.925, fitted.text, size=fitted.size, color=SOFT, va="top")
    panels = figure.subplots(
        3, 1, sharex=True,
        gridspec_kw={"left": 0.1, "right": 0.97, "bottom": 0.085, "top": 0.87, "hspace": 0.16},
    )  # fmt: skip
    time = np.array([frame.time_s for frame in sequence.frames])
    rows: list[tuple[str, list[float], bool]] = [
        ("shutter [s]", [f.exposure.shutter_s for f in sequence.frames], True),
        ("gain [dB]", [f.exposure.gain_db for f in sequence.frames], False),
        ("metered level\n[share of white]", [f.exposure.level for f in sequence.frames], False),
    ]
    for panel, (label, values, log) in zip(panels, rows, strict=True):
        _course(panel, time, values, label, log)
        _night(panel, sequence, time, named=panel is panels[0])
    panels[1].set_ylim(-1.0, max(rows[1][1]) + 4.0)
    panels[2].axhline(sequence.path.target_level, color=INK, linewidth=1.0, linestyle=(0, (6, 3)))
    panels[2].text(
        0.995, 0.05, f"dashed: target {sequence.path.target_level:.2f}", size=8.5,
        color=INK, ha="right", va="bottom", transform=panels[2].transAxes,
    )  # fmt: skip
    panels[2].set_ylim(0.0, 1.35 * max(*rows[2][1], sequence.path.target_level))
    panels[2].set_xlim(time[0], time[-1])
    panels[2].set_xlabel("time [s]; 0 where things stand as the scene file says", size=9.5)
    save_figure(figure, path, dpi=DPI, metadata=text)


def _course(panel: Axes, time: Any, values: list[float], label: str, log: bool) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    panel.step(time, values, where="mid", color=GOOD, linewidth=1.8)
    if log and min(values) > 0.0 and max(values) / min(values) > 1.5:
        panel.set_yscale("log")
        wide = max(values) / min(values) > 100.0
        panel.yaxis.set_major_locator(LogLocator(subs=(1.0,) if wide else (1.0, 2.0, 5.0)))
        panel.yaxis.set_minor_formatter(NullFormatter())
        panel.yaxis.set_major_formatter(FuncFormatter(lambda v, _: three_digits(float(v))))
    elif log:
        panel.set_ylim(0.0, 1.4 * max(values))
    panel.set_ylabel(label, size=9.5, color=INK)
    panel.grid(color=RULE, linewidth=0.6)
    panel.tick_params(labelsize=8.5, colors=SOFT)


def _night(panel: Axes, sequence: Sequence, time: Any, *, named: bool) -> None:
    night = np.array([frame.mode == "night" for frame in sequence.frames])
    if not np.any(night):
        return
    panel.fill_between(
        time, 0, 1, where=night, step="mid", color=SOFT, alpha=0.14, linewidth=0,
        transform=panel.get_xaxis_transform(),
    )  # fmt: skip
    if named:
        panel.text(
            1.0, 1.03, "shaded: night mode", size=8.5, color=SOFT, ha="right", va="bottom",
            transform=panel.transAxes,
        )  # fmt: skip
