"""Compare and fit the machine reader to an OCR engine.

    python tools/calibrate_reader.py read [--engine-python PATH]

pictures texts (`tools/reader_conditions.py`), has the engine read them (`tools/ocr_worker.py`,
which may run in another environment with `rapidocr-onnxruntime` installed) and stores how many it
read in tests/outside/ocr/read_rates.csv; `read-faint` does so with a few texts of low contrast
(faint_rates.csv), from which the machine's level noise is taken.

    python tools/calibrate_reader.py fit

fits the machine reader's parameters to one part of the table and prints how it does on the rest.

    python tools/calibrate_reader.py person

computes the person's contrast noise from published reading of low-passed letters.

    python tools/calibrate_reader.py report

reads everything with the reader as it stands in simulator/judge/readers/named.py and writes the
table and the reliability plot of docs/reading.md.
"""

from __future__ import annotations

import argparse
import datetime
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import reader_fit
from reader_conditions import (
    FAINT_TABLE,
    FRAMES,
    OWN,
    TABLE,
    TEXTS,
    Row,
    conditions,
    faint_conditions,
    letterings,
    specimens,
    write_rows,
)

from simulator.scene.targets.glyphs import ALPHABET

WORKER = Path(__file__).with_name("ocr_worker.py")


def plain(text: str) -> str:
    """A text with its look-alikes made one."""
    return text.replace("O", "0").replace("I", "1")


def read_all(engine_python: str, *, faint: bool = False) -> None:
    """Picture, read and count."""
    jobs = [
        (name, shapes, a, b, series, condition)
        for a, (name, shapes) in enumerate(letterings().items())
        for b, (series, condition) in enumerate(faint_conditions() if faint else conditions())
        if name == OWN[0] or not faint
    ]
    command_name = "read-faint" if faint else "read"
    today = datetime.date.today().isoformat()
    pictures, boxes, texts = {}, [], []
    for _, shapes, a, b, _, condition in jobs:
        for s in specimens(shapes, a, b, condition):
            corners = s.cells_px.reshape(-1, 2)
            pictures[f"p{len(boxes)}"] = s.frames[0, :, :, 0]
            boxes.append([*corners.min(axis=0), *corners.max(axis=0)])
            texts.append(s.text)
    with tempfile.TemporaryDirectory() as folder:
        stored, answers = Path(folder) / "pictures.npz", Path(folder) / "answers.json"
        np.savez(stored, boxes=np.array(boxes), **pictures)
        command = [engine_python, str(WORKER), str(stored), str(answers), ALPHABET]
        subprocess.run(command, check=True)
        found = json.loads(answers.read_text())
    right = np.array(
        [
            plain(max(readings, key=lambda r: r[1])[0]) == plain(text)
            for text, readings in zip(texts, found["readings"], strict=True)
        ]
    ).reshape(len(jobs), TEXTS, FRAMES)
    rows = [
        Row(name, series, b, c.height_px, c.blur_px, c.motion_px, c.noise, c.contrast, TEXTS,
            int(hit[:, 0].sum()), int(hit[:, 1].sum()), int(hit.all(axis=1).sum()))
        for (name, _, _, b, series, c), hit in zip(jobs, right, strict=True)
    ]  # fmt: skip
    write_rows(
        rows,
        [
            "Texts of seven random characters read whole by an OCR engine, two pictures of each.",
            f"Engine: {found['engine']}, {found['runtime']}; recognition model of the wheel, only",
            "capitals and digits let through its decoder, look-alikes O 0 and I 1 counted as one;",
            "the surest of eight readings of the line (two margins, four smoothings), at 48 rows.",
            f"Made by tools/calibrate_reader.py {command_name} on {today}.",
            "Lengths in pixels; blur: standard deviation of a Gaussian; noise: standard deviation",
            "over the step from ink to paper; pixel aperture and eight bits in addition.",
        ],
        FAINT_TABLE if faint else TABLE,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["read", "read-faint", "fit", "person", "report"])
    parser.add_argument("--engine-python", default=sys.executable)
    given = parser.parse_args()
    if given.what.startswith("read"):
        read_all(given.engine_python, faint=given.what == "read-faint")
    elif given.what == "person":
        print(f"contrast_noise {reader_fit.person_noise():.3f}")
    elif given.what == "fit":
        reader_fit.fit()
    else:
        reader_fit.report()


if __name__ == "__main__":
    main()
