"""Compare readers on pictures from whole cameras; one command does all of it.

    python tools/read_end_to_end.py [pictures] [read] [fit] [report]

`pictures` sends random texts through the camera under every condition of
`end_to_end_conditions.py` and keeps what is delivered in outputs/end-to-end/; `read` has the
recogniser and, as a weak witness, tesseract (Debian's package tesseract-ocr) read them and writes
tests/outside/ocr/end_to_end.csv; `fit` fits the quick estimate to the half that is not held out and
prints its numbers; `report` lets the readers as they stand read everything and writes table and
plot of docs/reading.md. Without a word all but `fit` is done.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import pickle
import shutil
import subprocess
import tempfile
from pathlib import Path

import cv2
import end_to_end_fit
import numpy as np
from end_to_end_conditions import Condition, conditions
from end_to_end_pictures import pictures_of

from simulator.judge.readers import PERSON, RECOGNISER
from simulator.judge.readers.lines import text_lines
from simulator.judge.readers.outside import line_picture, read_as
from simulator.judge.readers.reader import true_symbols
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.repeats import TextPictures

ROOT = Path(__file__).resolve().parents[1]
KEPT = ROOT / "outputs" / "end-to-end"
TABLE = ROOT / "tests" / "outside" / "ocr" / "end_to_end.csv"
READ = KEPT / "read.jsonl"
"""What was read so far, a condition a line; remove the folder to begin anew, as after a change of
camera or light."""
ENLARGED = 3.0
WITNESSED = 8
"""Texts of each held-out condition that tesseract is given, one picture each; it starts anew for
each picture."""

PERSON_EVERY, PERSON_TEXTS, PERSON_EACH = 3, 8, 8
"""The person's estimate is fitted to every so many conditions, so many texts and pictures each."""


def kept(c: Condition) -> list[TextPictures]:
    """The pictures of a condition, made if they are not kept."""
    file = KEPT / f"{c.number:03d}.pkl"
    if file.exists():
        with file.open("rb") as stored:
            old, pictured = pickle.load(stored)
        if old == c:
            return pictured
    pictured = pictures_of(c)
    KEPT.mkdir(parents=True, exist_ok=True)
    with file.open("wb") as stored:
        pickle.dump((c, pictured), stored)
    return pictured


def recognised(pictured: list[TextPictures]) -> list[int]:
    """How many pictures of each text the recogniser reads."""
    return [
        int((RECOGNISER.symbols(one.pictures, one.target, one.origin_px, seed=1)
             == true_symbols(one.target)).all(axis=1).sum())
        for one in pictured
    ]  # fmt: skip


def witnessed(pictured: list[TextPictures]) -> int:
    """How many of the first `WITNESSED` texts tesseract reads, of one picture each."""
    right = 0
    with tempfile.TemporaryDirectory() as folder:
        for one in pictured[:WITNESSED]:
            (line,) = text_lines(one.cells_px)
            shapes, truth = design_shapes(one.target.design), true_symbols(one.target).tolist()
            for n, picture in enumerate(one.pictures[:1]):
                cut = line_picture(picture, line)
                if shapes.light_ink:
                    cut = 255 - cut
                large = cv2.resize(
                    cut, None, fx=ENLARGED, fy=ENLARGED, interpolation=cv2.INTER_CUBIC
                )
                file = Path(folder) / f"{n}.png"
                cv2.imwrite(str(file), cv2.cvtColor(large, cv2.COLOR_RGB2GRAY))
                done = subprocess.run(
                    ["tesseract", str(file), "-", "--psm", "7", "-c",
                     f"tessedit_char_whitelist={shapes.alphabet}"],
                    capture_output=True, text=True, check=False,
                    env={**os.environ, "OMP_THREAD_LIMIT": "1"},
                )  # fmt: skip
                right += read_as(done.stdout, shapes) == truth
    return right


def write_table() -> None:
    """Have every picture read, and keep how many were; a run that was interrupted goes on."""
    known = {}
    if READ.exists():
        known = {row["number"]: row for row in map(json.loads, READ.read_text().splitlines())}
    witness = shutil.which("tesseract") is not None
    for c in conditions():
        fresh = (KEPT / f"{c.number:03d}.pkl").exists()
        pictured = kept(c)
        if fresh and known.get(c.number, {}).get("condition") == c.changed:
            continue
        right = recognised(pictured)
        known[c.number] = {
            "number": c.number, "kind": c.kind, "condition": c.changed, "design": c.design,
            "held_out": int(c.held_out),
            "height_px": round(pictured[0].target.character_height_px, 1),
            "texts": len(pictured), "pictures": sum(len(one.pictures) for one in pictured),
            "recogniser": sum(right), "of_texts": " ".join(map(str, right)),
            "witness_pictures": WITNESSED if witness and c.held_out else 0,
            "witness": witnessed(pictured) if witness and c.held_out else 0,
        }  # fmt: skip
        print(known[c.number], flush=True)
        with READ.open("a") as out:
            out.write(json.dumps(known[c.number]) + "\n")
    save_table([known[number] for number in sorted(known)])


def save_table(rows: list[dict[str, object]]) -> None:
    """Write what was read of each condition."""
    header = (
        "# Random texts through whole cameras, read whole by a general text recogniser\n"
        "# (rapidocr-onnxruntime, its recognising network, helped as readers/recogniser.py does)\n"
        "# and by tesseract.\n"
        "# Made by tools/read_end_to_end.py; of_texts: pictures read of each text.\n"
    )
    TABLE.parent.mkdir(parents=True, exist_ok=True)
    with TABLE.open("w", newline="") as out:
        out.write(header)
        table = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
        table.writeheader()
        table.writerows(rows)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", nargs="*", choices=["pictures", "read", "fit", "report"])
    what = parser.parse_args().what or ["pictures", "read", "report"]
    if "pictures" in what:
        for c in conditions():
            kept(c)
            print(f"{c.number} {c.kind}: {c.changed}", flush=True)
    if "read" in what:
        write_table()
    if "fit" in what:
        free = [c for c in conditions() if not c.held_out]
        rates = {row.number: row.rate for row in end_to_end_fit.read_rows()}
        print("machine")
        end_to_end_fit.fit(
            [end_to_end_fit.seen(kept(c)) for c in free], np.array([rates[c.number] for c in free])
        )
        print("person")
        some = [c for c in conditions() if c.number % PERSON_EVERY == 1]
        pictured = [pictures_of(c, PERSON_TEXTS, PERSON_EACH) for c in some]
        end_to_end_fit.fit(
            [end_to_end_fit.seen(one) for one in pictured],
            np.array([end_to_end_fit.share_read(PERSON, one) for one in pictured]),
        )
    if "report" in what:
        end_to_end_fit.report({c.number: end_to_end_fit.seen(kept(c)) for c in conditions()})


if __name__ == "__main__":
    main()
