"""Fit the machine reader to the stored rates, and report how well it does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from matplotlib.figure import Figure
from reader_conditions import OWN, ROOT, Row, letterings, read_rows, specimen_texts
from scipy.optimize import brentq, minimize

from simulator.camera.lens import box_otf, gaussian_mtf
from simulator.judge.readers import MACHINE, PERSON
from simulator.judge.readers.analytic import analytic_read_probability
from simulator.judge.readers.shapes import Shapes, design_shapes
from simulator.judge.readers.specimens import (
    GROUP,
    INK,
    PAPER,
    Condition,
    Specimen,
    make_specimen,
)
from simulator.judge.readers.template_reader import TemplateReader
from simulator.scene.targets.plate import plate_design

FIT_TEXTS = 25
"""Of the engine's 50 texts of each condition, so many take part in the fit."""
FRAMES = 12
"""Noisy pictures of each specimen that the reader is given in the report."""
FIT_FRAMES = 8
MOST_CONTRAST_NOISE = 0.78
"""With more, large sharp letters of some designs are no longer read 995 times in 1000, as they are
to be (tests/judge/test_reading_laws.py); the engine reads all of its own."""
STEPS = 60
PAGE = ROOT / "docs" / "reading.md"
PLOT = ROOT / "docs" / "reading-reliability.png"
MARKS = ("<!-- table -->", "<!-- end of table -->")


def grouped(text: str) -> str:
    """A text as specimens write it: a wider gap after the fourth character."""
    return f"{text[:GROUP]} {text[GROUP:]}"


def quick(reader: TemplateReader, shapes: Shapes, text: str, condition: Condition) -> float:
    """Analytic probability that one text is read under a condition."""
    c = condition
    step = (PAPER - INK) * c.contrast

    def mtf(fx, fy):  # type: ignore[no-untyped-def]
        blur = gaussian_mtf(np.hypot(fx, fy), c.blur_px) * box_otf(fx, c.motion_px)
        return blur * box_otf(fx, 1.0) * box_otf(fy, 1.0)

    return analytic_read_probability(
        shapes, grouped(text), reader, height_px=c.height_px, mtf=mtf, contrast=step,
        noise=c.noise * step,
    ).value  # fmt: skip


def texts_of(rows: list[Row]) -> list[list[str]]:
    """The texts that the engine was given, row by row."""
    shapes = letterings()
    names = list(shapes)
    return [
        specimen_texts(shapes[r.lettering], names.index(r.lettering), r.number, r.condition)
        for r in rows
    ]


def fit() -> None:
    """Least squares of the plate probability over the rows that are not held out.

    The reader reads pictures, as small letters depend on where the pixel grid falls; its noise is
    the same at every step.
    """
    shapes = letterings()
    rows = [r for r in read_rows() if not r.held_out]
    rates = np.array([r.rate for r in rows])
    pictured = [
        pictures(shapes[r.lettering], texts[:FIT_TEXTS], r, FIT_FRAMES)
        for r, texts in zip(rows, texts_of(rows), strict=True)
    ]

    def reader(v: np.ndarray) -> TemplateReader:
        a, b, c, d = np.exp(v)
        return replace(
            MACHINE, contrast_noise=min(MOST_CONTRAST_NOISE, a), efficiency=min(1.0, b),
            floor_px=c, misfit_noise=d,
        )  # fmt: skip

    def loss(v: np.ndarray) -> float:
        found = [share_read(reader(v), p) for p in pictured]
        return float(np.mean((np.array(found) - rates) ** 2))

    m = MACHINE
    start = np.log([m.contrast_noise, m.efficiency, m.floor_px, m.misfit_noise])
    simplex = np.vstack([start, *(start + 0.25 * np.eye(len(start)))])
    found = minimize(
        loss, start, method="Nelder-Mead", options={"maxfev": STEPS, "initial_simplex": simplex}
    )
    best = reader(found.x)
    print(f"contrast_noise {best.contrast_noise:.3f}  efficiency {best.efficiency:.3f}  "
          f"floor_px {best.floor_px:.3f}  misfit_noise {best.misfit_noise:.3f}")  # fmt: skip
    print(f"root mean square difference {np.sqrt(found.fun):.3f} over {len(rows)} conditions")


def pictures(shapes: Shapes, texts: list[str], row: Row, frames: int) -> list[Specimen]:
    """Each text pictured anew under the condition of a row, with so many draws of noise."""
    rng = np.random.default_rng(row.number)
    return [make_specimen(shapes, text, row.condition, rng, frames=frames) for text in texts]


def share_read(reader: TemplateReader, pictured: list[Specimen]) -> float:
    """Share of whole texts that a reader reads."""
    return float(np.mean([
        reader.read_cells(s.frames, s.shapes, s.text, s.cells_px, seed=n).all(axis=1).mean()
        for n, s in enumerate(pictured)
    ]))  # fmt: skip


def letters_read(reader: TemplateReader, cutoff: float, height_px: float = 40.0) -> float:
    """Share of all characters, each alone, that are read through a low-pass [cycles a letter].

    A Butterworth filter of the third order; sharp otherwise, without noise.
    """
    shapes = design_shapes(plate_design(OWN[0]))

    def mtf(fx, fy):  # type: ignore[no-untyped-def]
        f = np.hypot(fx, fy) * height_px
        return np.sinc(fx) * np.sinc(fy) / np.sqrt(1.0 + (f / cutoff) ** 6)

    return float(np.mean([
        analytic_read_probability(
            shapes, c, reader, height_px=height_px, mtf=mtf, contrast=200.0, noise=0.0
        ).value
        for c in shapes.alphabet
    ]))  # fmt: skip


LOW_PASS = 0.9
"""Cut-off through which a person reads `LETTERS` of the letters [cycles a letter]: Kwon and Legge
2011, from memory."""
LETTERS = 0.8


def person_noise() -> float:
    """The person's contrast noise at which `LETTERS` of the letters pass `LOW_PASS`."""
    return float(
        brentq(
            lambda v: letters_read(replace(PERSON, contrast_noise=v), LOW_PASS) - LETTERS,
            0.1, 2.0, xtol=0.005,
        )
    )  # fmt: skip


def half_point(x: np.ndarray, rate: np.ndarray, level: float) -> float | None:
    """Where a rate crosses a level, by interpolation between two conditions; None if nowhere."""
    order = np.argsort(x)
    x, rate = x[order], rate[order]
    for i in range(len(x) - 1):
        a, b = rate[i] - level, rate[i + 1] - level
        if a * b <= 0.0 and a != b:
            return float(x[i] + (x[i + 1] - x[i]) * a / (a - b))
    return None


LINES = (
    ("height [px]", "height", None, lambda r: r.height_px),
    ("blur / height, 12 px", "blur", 12.0, lambda r: r.blur_px / r.height_px),
    ("blur / height, 24 px", "blur", 24.0, lambda r: r.blur_px / r.height_px),
    ("motion / height, 12 px", "motion", 12.0, lambda r: r.motion_px / r.height_px),
    ("motion / height, 24 px", "motion", 24.0, lambda r: r.motion_px / r.height_px),
    ("noise / contrast, 10 px", "noise", 10.0, lambda r: r.noise),
    ("noise / contrast, 16 px", "noise", 16.0, lambda r: r.noise),
    ("noise / contrast, 28 px", "noise", 28.0, lambda r: r.noise),
)


def report() -> None:
    """Read everything with the readers as they stand; table and plot into docs/."""
    shapes = letterings()
    names = list(shapes)
    rows = read_rows()
    engine = np.array([r.rate for r in rows])
    read = []
    for r, texts in zip(rows, texts_of(rows), strict=True):
        pictured = pictures(shapes[r.lettering], texts, r, FRAMES)
        read.append([share_read(reader, pictured) for reader in (MACHINE, PERSON)])
    machine, person = np.array(read).T
    held = np.array([r.held_out for r in rows])
    lines = ["| conditions | number | mean difference of P | mean bias |", "|---|---|---|---|"]
    kinds = [("fitted", ~held), ("held out", held)]
    kinds += [(f"held out: {s}", held & np.array([r.series == s for r in rows]))
              for s in ("height", "blur", "motion", "noise", "mixed")]  # fmt: skip
    kinds += [(f"held out: {n}", held & np.array([r.lettering == n for r in rows])) for n in names]
    for label, part in kinds:
        d = machine[part] - engine[part]
        lines.append(f"| {label} | {part.sum()} | {np.abs(d).mean():.3f} | {d.mean():+.3f} |")
    lines += ["", "| point of the plate rate | lettering | engine | machine | ratio | person |",
              "|---|---|---|---|---|---|"]  # fmt: skip
    for level in (0.5, 0.9):
        for label, series, height, x_of in LINES:
            for name in names:
                part = np.array([
                    r.lettering == name and r.series == series and height in (None, r.height_px)
                    for r in rows
                ])  # fmt: skip
                x = np.array([x_of(r) for r, p in zip(rows, part, strict=True) if p])
                three = [half_point(x, v[part], level) for v in (engine, machine, person)]
                ratio = f"{three[1] / three[0]:.2f}" if three[0] and three[1] else "-"
                shown = [f"{v:.3g}" if v is not None else "-" for v in three]
                lines.append(f"| {level:.0%}, {label} | {name} | {shown[0]} | {shown[1]} "
                             f"| {ratio} | {shown[2]} |")  # fmt: skip
    text = PAGE.read_text()
    before, after = text.split(MARKS[0])[0], text.split(MARKS[1])[1]
    PAGE.write_text(f"{before}{MARKS[0]}\n\n" + "\n".join(lines) + f"\n\n{MARKS[1]}{after}")
    _plot(rows, engine, machine, held)


def _plot(rows: list[Row], engine: np.ndarray, machine: np.ndarray, held: np.ndarray) -> None:
    """Predicted against real rates."""
    fig = Figure(figsize=(6.4, 6.0), layout="constrained")
    axis = fig.subplots()
    axis.plot([0, 1], [0, 1], color="#888888", linewidth=1.0)
    series = np.array([r.series for r in rows])
    colours = {"height": "#1b6ca8", "blur": "#c0392b", "motion": "#2e8b57", "noise": "#8e5ea2",
               "mixed": "#555555"}  # fmt: skip
    for name, colour in colours.items():
        for part, marker, face in ((held, "o", colour), (~held, "s", "none")):
            pick = part & (series == name)
            label = name if marker == "o" else None
            axis.scatter(machine[pick], engine[pick], s=34, marker=marker, facecolors=face,
                         edgecolors=colour, alpha=0.8, label=label)  # fmt: skip
    axis.set(
        xlabel="probability that the machine reader reads the whole text",
        ylabel="share read by the OCR engine (100 pictures)",
        title="Reliability of the machine reader: filled held out, open fitted",
        xlim=(-0.04, 1.04), ylim=(-0.04, 1.04), aspect="equal",
    )  # fmt: skip
    axis.legend(loc="lower right", frameon=False)
    axis.grid(alpha=0.25)
    fig.savefig(PLOT, dpi=110)
