"""Letterings and conditions on which readers are compared with the OCR engine."""

from __future__ import annotations

import csv
from dataclasses import asdict, dataclass
from pathlib import Path

import matplotlib
import numpy as np

from simulator.judge.readers.shapes import Shapes, design_shapes, font_shapes
from simulator.judge.readers.specimens import (
    Condition,
    Specimen,
    make_specimen,
    picture_shape,
    random_text,
)
from simulator.scene.targets.glyphs import ALPHABET
from simulator.scene.targets.plate import plate_design

ROOT = Path(__file__).resolve().parents[1]
TABLE = ROOT / "tests" / "outside" / "ocr" / "read_rates.csv"
FAINT_TABLE = TABLE.with_name("faint_rates.csv")
SEED = 20_250_101
TEXTS = 50
FRAMES = 2
"""Pictures of each text, each with its own noise and place on the pixel grid."""
OWN = ("dark-on-white-520x110", "dark-on-white-520x111-wide")
FOREIGN = "DejaVuSansMono"


def letterings() -> dict[str, Shapes]:
    """Two of our own letterings, one of a font that comes with matplotlib."""
    fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    out = {name: design_shapes(plate_design(name)) for name in OWN}
    out[FOREIGN] = font_shapes(fonts / f"{FOREIGN}.ttf", FOREIGN, ALPHABET)
    return out


def conditions() -> list[tuple[str, Condition]]:
    """Series and condition, one impairment at a time and then several together."""
    out = [("height", Condition(h)) for h in (4.5, 5, 5.5, 6, 7, 8, 10, 14, 24)]
    for h in (12.0, 24.0):
        out += [("blur", Condition(h, h * s)) for s in (0.1, 0.135, 0.16, 0.185, 0.22)]
    for h, lengths in ((12.0, (3.0, 4.5, 6.0)), (24.0, (6.0, 9.0, 11.0, 14.0))):
        out += [("motion", Condition(h, motion_px=m)) for m in lengths]
    steps = {
        10.0: (0.1, 0.2, 0.3),
        16.0: (0.15, 0.25, 0.35, 0.5, 0.7),
        28.0: (0.3, 0.5, 0.7, 1.0, 1.4),
    }
    for h, noises in steps.items():
        out += [("noise", Condition(h, noise=n, contrast=0.4)) for n in noises]
    rng = np.random.default_rng(7)
    for _ in range(12):
        h = float(np.round(rng.uniform(8.0, 24.0), 1))
        blur, smear = h * rng.uniform(0.04, 0.14), h * rng.uniform(0.0, 0.35)
        noise = rng.uniform(0.03, 0.3) * h / 16.0
        out.append(("mixed", Condition(h, *(float(np.round(v, 3)) for v in (blur, smear, noise)),
                                       0.4)))  # fmt: skip
    return out


def faint_conditions() -> list[tuple[str, Condition]]:
    """Noise-free texts of falling contrast, two of them soft and one sharp."""
    soft = [
        Condition(h, 0.13 * h, contrast=c) for h in (16.0, 12.0) for c in (1.0, 0.4, 0.15, 0.06)
    ]
    return [("faint", c) for c in (*soft, *(Condition(16.0, contrast=c) for c in (0.15, 0.06)))]


def specimens(shapes: Shapes, lettering: int, number: int, condition: Condition) -> list[Specimen]:
    """The pictures of one condition: `TEXTS` x `FRAMES` of one frame each, the same every time."""
    rng = np.random.default_rng([SEED, lettering, number])
    out = []
    for _ in range(TEXTS):
        text = random_text(shapes, rng)
        out += [make_specimen(shapes, text, condition, rng) for _ in range(FRAMES)]
    return out


def specimen_texts(shapes: Shapes, lettering: int, number: int, condition: Condition) -> list[str]:
    """The texts of `specimens`, without their pictures."""
    rng = np.random.default_rng([SEED, lettering, number])
    out = []
    for _ in range(TEXTS):
        out.append(random_text(shapes, rng))
        for _ in range(FRAMES):  # what a picture takes of the generator: its place and its noise
            rng.random(2)
            rng.standard_normal(picture_shape(shapes, len(out[-1]), condition))
    return out


@dataclass(frozen=True)
class Row:
    """What was read under one condition: first, second, both frames of each text."""

    lettering: str
    series: str
    number: int
    height_px: float
    blur_px: float
    motion_px: float
    noise: float
    contrast: float
    texts: int
    first: int
    second: int
    both: int

    @property
    def condition(self) -> Condition:
        """The condition of this row."""
        return Condition(self.height_px, self.blur_px, self.motion_px, self.noise, self.contrast)

    @property
    def rate(self) -> float:
        """Share of all pictures in which every character was read."""
        return (self.first + self.second) / (2 * self.texts)

    @property
    def held_out(self) -> bool:
        """Whether the row took no part in the fit: a whole lettering, every other condition."""
        return self.lettering == OWN[1] or self.number % 2 == 1


def write_rows(rows: list[Row], header: list[str], file: Path = TABLE) -> None:
    """Write the table with its header of comments."""
    file.parent.mkdir(parents=True, exist_ok=True)
    with file.open("w", newline="") as out:
        out.writelines(f"# {line}\n" for line in header)
        table = csv.DictWriter(out, list(asdict(rows[0])), lineterminator="\n")
        table.writeheader()
        table.writerows(asdict(row) for row in rows)


def read_rows(file: Path = TABLE) -> list[Row]:
    """Rows of the stored table."""
    lines = [line for line in file.read_text().splitlines() if not line.startswith("#")]
    kinds = {"lettering": str, "series": str}
    whole = {"number", "texts", "first", "second", "both"}
    return [
        Row(**{k: kinds[k](v) if k in kinds else (int(v) if k in whole else float(v))
               for k, v in line.items()})
        for line in csv.DictReader(lines)
    ]  # fmt: skip
