"""Fit the quick estimate of the machine to whole-camera pictures; report how readers compare."""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from pathlib import Path

import matplotlib
import numpy as np
from matplotlib.figure import Figure
from scipy.optimize import least_squares
from scipy.special import expit, logit

from simulator.judge.readers import MACHINE, PERSON, TemplateReader
from simulator.judge.readers.quick_estimate import Legible, QuickEstimate, legible
from simulator.judge.repeats import TextPictures
from simulator.judge.trials import jeffreys_interval

ROOT = Path(__file__).resolve().parents[1]
TABLE = ROOT / "tests" / "outside" / "ocr" / "end_to_end.csv"
PAGE = ROOT / "docs" / "reading.md"
PLOT = ROOT / "docs" / "reading-reliability.png"
MARKS = ("<!-- end-to-end table -->", "<!-- end of end-to-end table -->")
START = QuickEstimate(
    offset=5.0, slope=2.0, cycles=3.0, width=0.5, along=0.5, harshness=0.3, noise=2.7, misfit=1.0,
    level=0.5, clutter=0.05, reversed=1.0, faint=0.05, size=0.5, narrow=0.3, gap=0.0,
    squeezed=0.0, error=0.0,
)  # fmt: skip
STEADY = 0.02
"""Pull of the fit towards `START`, so that numbers that do not matter stay put."""
POSITIVE = (
    "slope", "cycles", "width", "harshness", "noise", "misfit", "level", "clutter", "reversed",
    "faint", "narrow",
)  # fmt: skip
OTHERS = ("offset", "size", "gap", "squeezed")
ENDS = 0.02
"""Shares are taken as at least this far from 0 and 1 where certainties are compared."""


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


def seen(pictured: list[TextPictures]) -> Legible:
    """What the pictures of a condition keep."""
    return legible((one.pictures, one.target, one.origin_px) for one in pictured)


def share_read(reader: TemplateReader, pictured: list[TextPictures]) -> float:
    """Share of pictures whose whole text a template reader reads."""
    return float(np.mean([
        reader.read(one.pictures, one.target, one.origin_px, seed=n).all(axis=1).mean()
        for n, one in enumerate(pictured)
    ]))  # fmt: skip


def _packed(one: QuickEstimate) -> np.ndarray:
    values = [np.log(getattr(one, name)) for name in POSITIVE]
    return np.array([*values, *(getattr(one, name) for name in OTHERS), logit(one.along)])


def _unpacked(v: np.ndarray) -> QuickEstimate:
    values = dict(zip(POSITIVE, np.exp(v[: len(POSITIVE)]), strict=True))
    rest = dict(zip(OTHERS, v[len(POSITIVE) : -1], strict=True))
    rest["along"] = expit(v[-1])
    return QuickEstimate(**{k: float(x) for k, x in {**values, **rest}.items()}, error=0.0)


def fit(kept: list[Legible], rates: np.ndarray) -> QuickEstimate:
    """Least squares of the probability over conditions that are not held out."""
    start = _packed(START)

    def left(v: np.ndarray) -> np.ndarray:
        made = _unpacked(v)
        estimates = np.array([made.probability(one) for one in kept])
        return np.concatenate([estimates - rates, STEADY * (v - start)])

    best = _unpacked(least_squares(left, start, max_nfev=80).x)
    z, ends = (
        logit(np.clip(x, ENDS, 1.0 - ENDS))
        for x in (rates, np.array([best.probability(one) for one in kept]))
    )
    best = replace(best, error=float(np.std(z - ends)))
    print("\n".join(f"    {name}={value:.4g}," for name, value in vars(best).items()))
    return best


def report(kept: dict[int, Legible]) -> None:
    """The quick estimate as it stands beside the rates; table and plot into docs/."""
    rows = read_rows()
    quick = np.array([MACHINE.quick.probability(kept[r.number]) for r in rows])
    person = np.array([PERSON.quick.probability(kept[r.number]) for r in rows])
    rate = np.array([r.rate for r in rows])
    lines = summary(rows, quick, rate)
    heads = ("kind", "condition", "height [px]", "design", "recogniser", "quick estimate",
             "person, quick", "tesseract")  # fmt: skip
    lines += ["", f"| {' | '.join(heads)} |", "|" + "---|" * len(heads)]
    for r, q, p in zip(rows, quick, person, strict=True):
        if not r.held_out:
            continue
        low, high = jeffreys_interval(r.recogniser, r.pictures)
        witness = f"{r.witness / r.witness_pictures:.2f}" if r.witness_pictures else "-"
        lines.append(
            f"| {r.kind} | {r.condition} | {r.height_px:g} "
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
        ylabel="share read by the recogniser (112 pictures of 56 texts)",
        title="Reliability of the quick estimate: filled held out, open fitted",
        xlim=(-0.04, 1.04), ylim=(-0.04, 1.04), aspect="equal",
    )  # fmt: skip
    fig.legend(loc="outside right center", frameon=False, fontsize=8)
    axis.grid(alpha=0.25)
    fig.savefig(PLOT, dpi=110)
