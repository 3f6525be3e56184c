"""Fit the quick estimate of the machine to whole-camera pictures; report how readers compare."""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from pathlib import Path

import matplotlib
import numpy as np
from matplotlib.figure import Figure
from scipy.optimize import least_squares

from simulator.judge.readers import MACHINE, PERSON, TemplateReader
from simulator.judge.repeats import TextPictures
from simulator.judge.sight import FEW, few_pictures
from simulator.judge.trials import jeffreys_interval

ROOT = Path(__file__).resolve().parents[1]
TABLE = ROOT / "tests" / "outside" / "ocr" / "end_to_end.csv"
PAGE = ROOT / "docs" / "reading.md"
PLOT = ROOT / "docs" / "reading-reliability.png"
MARKS = ("<!-- end-to-end table -->", "<!-- end of end-to-end table -->")
FIT_TEXTS = 7
"""Of the texts of each condition, so many take part in the fit."""
STEPS = 5
MOST = {"contrast_noise": 0.78, "spread": 0.3}
"""With more, large sharp letters of some designs are no longer read 995 times in 1000, as they are
to be (tests/judge/test_reading_laws.py)."""
FITTED = (
    "contrast_noise", "efficiency", "floor_px", "misfit_noise", "level_noise", "smear_noise",
    "defocus_noise", "spread",
)  # fmt: skip


@dataclass(frozen=True)
class Row:
    """What was read under one condition."""

    number: int
    kind: str
    condition: str
    design: str
    held_out: bool
    height_px: float
    pictures: int
    recogniser: int
    of_texts: tuple[int, ...]
    witness_pictures: int
    witness: int

    @property
    def rate(self) -> float:
        """Share of pictures whose whole text the recogniser read."""
        return self.recogniser / self.pictures


def read_rows() -> list[Row]:
    """Rows of the stored table."""
    lines = [line for line in TABLE.read_text().splitlines() if not line.startswith("#")]
    return [
        Row(
            int(r["number"]), r["kind"], r["condition"], r["design"], r["held_out"] == "1",
            float(r["height_px"]), int(r["pictures"]), int(r["recogniser"]),
            tuple(int(n) for n in r["of_texts"].split()), int(r["witness_pictures"]),
            int(r["witness"]),
        )
        for r in csv.DictReader(lines)
    ]  # fmt: skip


def estimate(reader: TemplateReader, pictured: list[TextPictures]) -> float:
    """Quick estimate of the share of texts read, from a few pictures of each."""
    return float(np.mean([
        few_pictures(one.pictures[:FEW], one.target, reader, one.origin_px) for one in pictured
    ]))  # fmt: skip


def share_read(reader: TemplateReader, pictured: list[TextPictures]) -> float:
    """Share of pictures whose whole text a template reader reads."""
    return float(np.mean([
        reader.read(one.pictures, one.target, one.origin_px, seed=n).all(axis=1).mean()
        for n, one in enumerate(pictured)
    ]))  # fmt: skip


def fit(pictured: dict[int, list[TextPictures]]) -> None:
    """Least squares of the quick estimate over the conditions that are not held out."""
    rates = {r.number: sum(r.of_texts[:FIT_TEXTS]) * len(r.of_texts) / FIT_TEXTS / r.pictures
             for r in read_rows() if not r.held_out}  # fmt: skip

    def reader(v: np.ndarray) -> TemplateReader:
        values = dict(zip(FITTED, np.exp(v), strict=True))
        return replace(MACHINE, **{**values, "efficiency": min(1.0, values["efficiency"])})

    def left(v: np.ndarray) -> np.ndarray:
        found = [estimate(reader(v), pictured[n][:FIT_TEXTS]) - rates[n] for n in rates]
        print(np.exp(v).round(3), f"{np.mean(np.abs(found)):.4f}", flush=True)
        return np.array(found)

    start = np.log([getattr(MACHINE, name) for name in FITTED])
    most = np.log([MOST.get(name, np.inf) for name in FITTED]) + 1e-6
    found = least_squares(
        left,
        start,
        diff_step=0.1,
        max_nfev=STEPS,
        bounds=(start - 3.0, np.minimum(start + 3, most)),
    )
    best = reader(found.x)
    print("  ".join(f"{name} {getattr(best, name):.3f}" for name in FITTED))
    print(f"mean difference {np.abs(found.fun).mean():.3f} over {len(rates)} conditions")


def report(pictured: dict[int, list[TextPictures]]) -> None:
    """Let the readers as they stand read everything; table and plot into docs/."""
    rows = read_rows()
    quick = np.array([estimate(MACHINE, pictured[r.number]) for r in rows])
    person = np.array([share_read(PERSON, pictured[r.number]) for r in rows])
    rate = np.array([r.rate for r in rows])
    lines = summary(rows, quick, rate)
    heads = ("kind", "condition", "height [px]", "design", "recogniser", "quick estimate",
             "person", "tesseract")  # fmt: skip
    lines += ["", f"| {' | '.join(heads)} |", "|" + "---|" * len(heads)]
    for r, q, p in zip(rows, quick, person, strict=True):
        low, high = jeffreys_interval(r.recogniser, r.pictures)
        witness = f"{r.witness / r.witness_pictures:.2f}" if r.witness_pictures else "-"
        lines.append(
            f"| {r.kind}{', held out' if r.held_out else ''} | {r.condition} | {r.height_px:g} "
            f"| {r.design} | {r.rate:.2f} ({low:.2f} to {high:.2f}) | {q:.2f} | {p:.2f} "
            f"| {witness} |"
        )
    text = PAGE.read_text()
    before, after = text.split(MARKS[0])[0], text.split(MARKS[1])[1]
    PAGE.write_text(f"{before}{MARKS[0]}\n\n" + "\n".join(lines) + f"\n\n{MARKS[1]}{after}")
    _plot(rows, quick, rate)


def summary(rows: list[Row], quick: np.ndarray, rate: np.ndarray) -> list[str]:
    """Mean difference and bias over all, fitted, held out, by kind and by design."""
    held = np.array([r.held_out for r in rows])
    parts = [("all", held | ~held), ("fitted", ~held), ("held out", held)]
    parts += [(f"held out: {kind}", held & np.array([r.kind == kind for r in rows]))
              for kind in dict.fromkeys(r.kind for r in rows)]  # fmt: skip
    parts += [(f"held out: {design}", held & np.array([r.design == design for r in rows]))
              for design in dict.fromkeys(r.design for r in rows)]  # fmt: skip
    lines = ["| conditions | number | mean difference of P | mean bias |", "|---|---|---|---|"]
    for label, part in parts:
        d = (quick - rate)[part]
        lines.append(f"| {label} | {part.sum()} | {np.abs(d).mean():.3f} | {d.mean():+.3f} |")
    print("\n".join(lines))
    return lines


def _plot(rows: list[Row], quick: np.ndarray, rate: np.ndarray) -> None:
    """Estimated against real rates."""
    fig = Figure(figsize=(7.4, 6.4), layout="constrained")
    axis = fig.subplots()
    axis.plot([0, 1], [0, 1], color="#888888", linewidth=1.0)
    kinds = list(dict.fromkeys(r.kind for r in rows))
    colours = matplotlib.colormaps["tab20"](np.arange(len(kinds)))
    for kind, colour in zip(kinds, colours, strict=True):
        for out in (True, False):
            pick = np.array([r.kind == kind and r.held_out == out for r in rows])
            axis.scatter(quick[pick], rate[pick], s=34, marker="o" if out else "s",
                         facecolors=[colour] if out else "none", edgecolors=[colour],
                         label=kind if out else None)  # fmt: skip
    axis.set(
        xlabel="quick estimate of the probability that the whole text is read",
        ylabel="share read by the recogniser (112 pictures of 14 texts)",
        title="Reliability of the quick estimate: filled held out, open fitted",
        xlim=(-0.04, 1.04), ylim=(-0.04, 1.04), aspect="equal",
    )  # fmt: skip
    fig.legend(loc="outside right center", frameon=False, fontsize=8)
    axis.grid(alpha=0.25)
    fig.savefig(PLOT, dpi=110)
