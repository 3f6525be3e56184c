"""Ten questions of the trade, each specified, checked by rules of practice and applied verbatim.

Writes docs/specifications.md. Questions that are done are kept in `--keep`, so that an interrupted
run goes on; `--only NAME` asks one of them anew. Each way is applied as it is given on seeds that
neither the search nor its proof saw: it must reach the target probability, and again with the light
weaker by the reserve that was asked for.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

from simulator import Scene, open_session, specify
from simulator.studies import trade
from simulator.studies.quick_look import observer_look
from simulator.studies.specify.result import Specification, Way

ROOT = Path(__file__).resolve().parents[1]
SEEDS = (101, 202, 303)
TRIALS = 60
RESERVE = trade.RESERVE


class Question(NamedTuple):
    """A question, the scene that asks it, and who may be bought for it."""

    name: str
    asked: str
    scene: str
    sets: tuple[str, ...]
    cameras: tuple[str, ...]
    backlight: bool = False


QUESTIONS = (
    Question(
        "gate", "Read the plate of a truck that rolls to a gate at night, nothing lit.",
        "depot-gate-dark", ("target.plate.speed_kmh=15",), ("plate-2mp-infrared",),
    ),
    Question(
        "barrier", "Read the plate of a car in front of a barrier 6 m away, at night.",
        "depot-gate-dark",
        ("target.plate.position_m=[0.4,6.0,0.5]", "station.height_m=1.8",
         "station.aim_m=[0.4,6.0,0.6]", "target.truck.style=car", "target.plate.speed_kmh=5"),
        ("fixed-2mp-lowlight",),
    ),
    Question(
        "door", "Recognise who stands in a door with the street behind.", "doorway-noon",
        ("surface.doorway.luminance_ratio=150",), ("doorway-2mp-wide",), backlight=True,
    ),
    Question(
        "reception", "Identify the guest in front of the window.", "reception-window", (),
        ("doorway-2mp-wide",), backlight=True,
    ),
    Question(
        "loading bay", "Read the plate of a van that draws up at dusk.", "loading-bay-dusk", (),
        ("fixed-2mp-lowlight",),
    ),
    Question(
        "fence", "Detect a walker at a fence 80 m away, at night.", "perimeter-fog",
        ("air.visibility_m=20000", "air.kind=haze", "target.walker.position_m=[0.5,80.0,0.0]",
         "station.aim_m=[0.0,80.0,1.0]", "station.focus_m=80",
         "surface.fence.position_m=[0.0,84.0,0.0]"),
        ("fixed-2mp-lowlight",),
    ),
    Question(
        "car park", "Name the colour of a car under LED masts.", "parking-colour", (),
        ("night-colour-4mp",),
    ),
    Question(
        "bike shed", "Recognise who walks into a bicycle shed at night.", "doorway-noon",
        ("natural_light.illuminance_lux=0.5", "surface.doorway.luminance_ratio=0.02",
         "target.visitor.speed_kmh=4"),
        ("doorway-2mp-wide",),
    ),
    Question(
        "drive", "Read the plate of a car that comes up a drive at night.", "drive-mixed-lamps", (),
        ("fixed-2mp-lowlight",),
    ),
    Question(
        "cash desk", "Identify the customer at a cash desk.", "reception-window",
        ("surface.window.illuminance_lux=300", "station.height_m=2.4"), ("doorway-2mp-wide",),
    ),
)  # fmt: skip


def broken_rules(question: Question, specification: Specification, way: Way) -> list[str]:
    """Rules of practice that a way breaks; none if a dealer and an installer can work by it."""
    design, proof, out = way.design, way.proof, []
    task = specification.scene.model.task
    entry = next(t for t in specification.scene.model.target if t.name == task.target)
    if design.lamp is not None and design.lamp.setting < design.lamp.lamp.least_setting:
        out.append("lamp below its least setting")
    if not 2.0 <= design.lens_mm <= 120.0:
        out.append("lens that nobody sells")
    if not 0.5 <= proof.height_m <= 8.0:
        out.append("height out of reach of a mast or wall")
    if task.name == "read" and not proof.angles.usual:
        out.append("plate seen at more than 30 degrees")
    if proof.acceptance.character_px is not None and proof.acceptance.character_px < 15.0:
        out.append("characters below 15 px")
    if entry.kind == "plate" and entry.speed_kmh > 0.0:
        if not 1.0 / 2000.5 <= proof.acceptance.shutter_s <= 1.0 / 499.5:
            out.append("shutter for a moving plate outside 1/500 to 1/2000 s")
        if proof.acceptance.gain_db > trade.PLATE_GAIN_DB + 0.1:
            out.append("more than 12 dB for a plate")
    if question.backlight and not design.wide_range and design.lamp is None:
        out.append("a door or window behind and no WDR")
    return out


def applied(specification: Specification, way: Way) -> tuple[int, int]:
    """On how many fresh seeds a way reaches the target, as given and with the reserve used up."""
    wanted = specification.scene.model.task.wanted_probability
    plain = dark = 0
    base = open_session(*way.design.applied(specification.scene))
    weaker = base.relit(every=1.0 / RESERVE)
    for seed in SEEDS:
        at, weak = base.with_seed(seed), weaker.with_seed(seed)  # what is traced knows no noise
        plain += observer_look(at, TRIALS).value >= wanted
        dark += observer_look(weak, TRIALS).value >= wanted
    return plain, dark


def processor_s() -> float:
    """Processor time of this process and of those that it has started and that have ended [s]."""
    return sum(os.times()[:4])


def asked(
    question: Question, workers: int | None, pages: Path | None, *, thorough: bool
) -> dict[str, Any]:
    """One question specified, checked and applied, as a row; its pages saved where asked for."""
    started = processor_s(), time.time()
    first: list[float] = []
    scene = Scene.load(question.scene, question.sets)
    specification = specify(
        scene, question.cameras, reserve=RESERVE, workers=workers, thorough=thorough,
        answered=lambda *_: first.append(time.time() - started[1]),
    )  # fmt: skip
    seconds = time.time() - started[1]
    if pages is not None:
        specification.save(pages / question.name.replace(" ", "-"))
    table = specification.to_dict()
    ways: list[dict[str, Any]] = []
    for way, row in zip(specification.ways, table["ways"], strict=True):
        if way.overview is None:
            plain, dark = applied(specification, way)
        else:  # the first way with a second camera: what it reads is read as there
            plain, dark = ways[0]["plain"], ways[0]["dark"]
        ways.append({
            "title": row["title"], "line": row["line"], "broken": broken_rules(
                question, specification, way), "plain": plain, "dark": dark,
            "reserve": row["sheets"]["reserve"], "character_px": way.proof.acceptance.character_px,
            "pixels_per_m": way.proof.acceptance.pixels_per_m,
        })  # fmt: skip
    return {
        "name": question.name, "asked": question.asked, "answer": table["answer"],
        "lens": table["why"], "first_s": first[0] if first else None, "seconds": seconds,
        "processor_s": processor_s() - started[0],
        "ways": ways, "without_success": table["without_success"],
    }  # fmt: skip


def written(rows: Sequence[dict[str, Any]]) -> str:
    """The page."""
    ways = [way for row in rows for way in row["ways"] if "Rest visible" not in way["title"]]
    runs = len(SEEDS) * len(ways)
    plain, dark = sum(w["plain"] for w in ways), sum(w["dark"] for w in ways)
    broken = sum(bool(w["broken"]) for w in ways)
    names = {row["name"] for row in rows}
    open_still = [question.name for question in QUESTIONS if question.name not in names]
    quick = [row["name"] for row in rows if not row.get("thorough")]
    depth = "Tolerances were drawn and every reserve was sought."
    if quick:
        depth = (
            f"Asked with `--no-thorough`: {', '.join(quick)}. There tolerances were not drawn, and"
            " the reserve was sought in light alone, not in speed, distance and dirt."
        )
    out = [
        "# Specifications checked",
        "",
        "Written by `tools/check_specifications.py`. Ten questions; every way applied as it is"
        f" given on {len(SEEDS)} seeds that neither search nor proof saw, {TRIALS} pictures each,"
        f" and again with all light weaker by the reserve of {RESERVE:g}. {depth}",
        "",
        f"- {len(rows)} of the {len(QUESTIONS)} questions have been asked with this version;"
        f" {sum(bool(row['ways']) for row in rows)} of these end in a specification,"
        f" {len(ways)} ways in all (those with a second camera read with the first and are not"
        " counted twice)." + (f" Not asked yet: {', '.join(open_still)}." if open_still else ""),
        f"- As given: the target probability is reached in {plain} of {runs} runs"
        f" ({100.0 * plain / max(runs, 1):.0f} %).",
        f"- With the reserve used up: in {dark} of {runs} ({100.0 * dark / max(runs, 1):.0f} %).",
        f"- {broken} of {len(ways)} ways break a rule of practice (plates that move 1/500 s or"
        " shorter and at most 12 dB, characters of 15 px, angles of 30°, WDR or light for"
        " backlight, heights of a mast or wall).",
        "",
    ]
    for row in rows:
        out += [f"## {row['name'].capitalize()}", "", f"{row['asked']} {row['answer']}", ""]
        out += [*(f"- {line}" for line in row["lens"]), ""]
        if row["ways"]:
            out += [
                "| Way | What | Reserve | Fresh seeds | Reserve used up | Rules broken |",
                "|---|---|---|---|---|---|",
            ]
        for way in row["ways"]:
            out.append(
                f"| {way['title']} | {way['line']} | {'; '.join(way['reserve'])} |"
                f" {way['plain']} of {len(SEEDS)} | {way['dark']} of {len(SEEDS)} |"
                f" {', '.join(way['broken']) or 'none'} |"
            )
        out += ["", *(f"- {line}" for line in row["without_success"]), ""]
    return "\n".join(line for line in out).replace("\n\n\n", "\n\n").rstrip() + "\n"


def main() -> None:
    """Ask what is not kept yet, and write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--keep", type=Path, default=ROOT / "outputs" / "specifications.json")
    parser.add_argument("--to", type=Path, default=ROOT / "docs" / "specifications.md")
    parser.add_argument("--workers", type=int, default=None)
    parser.add_argument("--pages", type=Path, default=None)
    parser.add_argument("--thorough", action="store_true", help="every reserve, tolerances too")
    given = parser.parse_args()
    kept = json.loads(given.keep.read_text()) if given.keep.exists() else {}
    for question in QUESTIONS:
        wanted = question.name in given.only if given.only else question.name not in kept
        if wanted:
            row = asked(question, given.workers, given.pages, thorough=given.thorough)
            kept[question.name] = {**row, "thorough": given.thorough}
            given.keep.parent.mkdir(parents=True, exist_ok=True)
            given.keep.write_text(json.dumps(kept, indent=1))
            print(question.name, kept[question.name]["answer"], flush=True)
    rows = [kept[q.name] for q in QUESTIONS if q.name in kept]
    given.to.write_text(written(rows), encoding="utf-8")


if __name__ == "__main__":
    main()
