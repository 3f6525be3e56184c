"""Fit the quick estimate of the machine to whole-camera pictures, and report how readers compare."""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from scipy.optimize import minimize

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
STEPS = 90
FITTED = ("contrast_noise", "efficiency", "floor_px", "misfit_noise", "level_noise")


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

    def loss(v: np.ndarray) -> float:
        found = [estimate(reader(v), pictured[n][:FIT_TEXTS]) - rates[n] for n in rates]
        return float(np.mean(np.square(found)))

    start = np.log([getattr(MACHINE, name) for name in FITTED])
    simplex = np.vstack([start, *(start + 0.4 * np.eye(len(start)))])
    found = minimize(
        loss, start, method="Nelder-Mead", options={"maxfev": STEPS, "initial_simplex": simplex}
    )
    best = reader(found.x)
    print("  ".join(f"{name} {getattr(best, name):.3f}" for name in FITTED))
    print(f"root mean square difference {np.sqrt(found.fun):.3f} over {len(rates)} conditions")
