"""Applies the remedies that are promised for many failing sites, on noise the search never saw.

python tools/check_remedies.py [--only NAME ... | --sample]

Every case is a bundled scene and camera, some with values set so that it fails. The search runs as
`nightproof predict` runs it; each remedy that it says reaches the target is then applied by its
`--set` texts and judged by Monte Carlo on three fresh seeds. A remedy holds if the mean of those
reaches the target probability. The table is written to docs/remedies.md between its marks, with how
many of the cases it holds; `--sample` runs the seven of `SAMPLE`, one for each kind of limit.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import numpy as np

from simulator.report.wording.verdict import change
from simulator.scene.load import Scene
from simulator.studies.overrides import load_pair
from simulator.studies.predict import predict
from simulator.studies.quick import quick
from simulator.studies.remedies.evaluator import applied

PAGE = Path(__file__).resolve().parents[1] / "docs" / "remedies.md"
MARKS = ("<!-- table -->", "<!-- end of table -->")
SEEDS = (50_021, 60_013, 70_001)
TRIALS = 90
SEED = 11

CASES: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "dark gate": ("depot-gate-dark", "fixed-2mp-lowlight", ()),
    "dark gate, plate camera": ("depot-gate-dark", "plate-2mp-infrared", ()),
    "washed out by its own infrared": ("depot-gate-infrared", "fixed-2mp-lowlight", ()),
    "infrared, small pixels": ("depot-gate-infrared", "fixed-4mp-small-pixel", ()),
    "infrared, fast truck": (
        "depot-gate-infrared", "plate-2mp-infrared",
        ("target.plate.speed_kmh=70", "exposure.shutter_max_s=0.02", "exposure.shutter_min_s=0.01"),
    ),
    "short lens": ("depot-gate-infrared", "plate-2mp-infrared", ("lens.focal_length_mm=6",)),
    "logarithmic pixels": ("depot-gate-infrared", "log-pixel-1mp", ()),
    "sodium car park": ("car-park-sodium", "log-pixel-1mp", ()),
    "white lamps": (
        "car-park-led", "fixed-2mp-lowlight", ("exposure.shutter_s=0.04", "exposure.gain_db=36"),
    ),
    "low sun": ("low-sun-lane", "fixed-2mp-lowlight", ("exposure.target_level=0.7",)),
    "headlights on wet road": ("wet-road-headlights", "fixed-2mp-lowlight", ()),
    "dusk": ("loading-bay-dusk", "fixed-2mp-lowlight", ()),
    "doorway": ("doorway-noon", "fixed-2mp-lowlight", ()),
    "window behind": ("reception-window", "fixed-5mp", ()),
    "fog": ("perimeter-fog", "fixed-2mp-lowlight", ("task.name=recognise",)),
    "sign across the street": ("sign-across-street", "fixed-2mp-lowlight", ()),
    "parcel label": ("parcel-shelf", "log-pixel-1mp", ()),
    "snow": ("snow-yard", "log-pixel-1mp", ()),
    "entry panel": ("entry-panel-face", "log-pixel-1mp", ("exposure.target_level=0.02",)),
    "mixed lamps": ("drive-mixed-lamps", "log-pixel-1mp", ()),
    "out of focus": ("yard-noon", "fixed-2mp-lowlight", ("station.focus_m=2.5",)),
}  # fmt: skip

SAMPLE = (
    "dark gate, plate camera", "infrared, fast truck", "short lens", "sodium car park", "low sun",
    "window behind", "out of focus",
)  # fmt: skip
"""Cases of `--sample`."""


def wanted_of(scene: Scene) -> float:
    """Probability that the scene's task wants."""
    return scene.model.task.wanted_probability


def row_of(name: str) -> tuple[str, int, int]:
    """One line of the table, with how many remedies were promised and how many held."""
    scene, camera = load_pair(*CASES[name])
    begun = time.process_time()
    verdict = predict(scene, camera, seed=SEED, cameras=(), tolerances=False).verdict
    spent = time.process_time() - begun
    promised = [row for row in verdict.remedies if row.reaches]
    held, texts = 0, []
    for row in promised:
        pair = applied(scene, camera, row.sets)
        fresh = float(np.mean([quick(*pair, seed=s, trials=TRIALS).probability for s in SEEDS]))
        held += fresh >= wanted_of(scene)
        texts.append(f"{change(row)}: {row.probability:.2f}, then {fresh:.2f}")
    first = next((row.factor for row in verdict.limits), "-")
    fixes = "; ".join(texts) or (
        "legible as it is" if verdict.verdict == "legible" else "none reaches it"
    )
    line = (
        f"| {name} | {verdict.task.name} | {verdict.probability:.2f} | {first} | {fixes} |"
        f" {held} of {len(promised)} | {spent:.0f} |"
    )
    print(line, flush=True)
    return line, len(promised), held


def main() -> None:
    """Run the cases and write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", nargs="+", choices=list(CASES), metavar="NAME")
    parser.add_argument("--sample", action="store_true", help="the seven of SAMPLE")
    asked = parser.parse_args()
    names = asked.only or list(SAMPLE if asked.sample else CASES)
    rows = [row_of(name) for name in names]
    promised, held = sum(r[1] for r in rows), sum(r[2] for r in rows)
    total = f"{held} of {promised} remedies held ({100 * held / max(1, promised):.0f} %)."
    print(total)
    if asked.only:
        return
    table = "\n".join(
        [
            "| case | task | P as it is | first limit | remedies: P promised, then on fresh seeds |"
            " held | CPU [s] |",
            "|---|---|---|---|---|---|---|",
            *(r[0] for r in rows),
            "",
            f"**{total}** These are {len(names)} of the {len(CASES)} cases of the tool.",
        ]
    )
    page = PAGE.read_text(encoding="utf-8")
    head, rest = page.split(MARKS[0])
    tail = rest.split(MARKS[1])[1]
    PAGE.write_text(f"{head}{MARKS[0]}\n{table}\n{MARKS[1]}{tail}", encoding="utf-8")


if __name__ == "__main__":
    main()
