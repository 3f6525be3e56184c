"""Makes the pictures of outputs/gallery/ from the bundled scenes; run it after a change of physics.

python tools/make_gallery.py
"""

from __future__ import annotations

import argparse
from pathlib import Path

import cv2
import numpy as np
from matplotlib.figure import Figure
from PIL import Image

from simulator.report.pictures import target_window
from simulator.report.prediction import Prediction, predict
from simulator.studies.overrides import load_pair

GALLERY = Path(__file__).resolve().parent.parent / "outputs" / "gallery"
GATE = "depot-gate-infrared"
PLATE_CAMERA = "plate-2mp-infrared"
CASES: list[tuple[str, str, str, list[str]]] = [
    ("no lamp at all, 0.05 lx", "depot-gate-dark", "fixed-2mp-lowlight", []),
    ("infrared on the mast, overview camera", GATE, "fixed-2mp-lowlight", []),
    ("infrared, plate camera at 1/1000 s", GATE, PLATE_CAMERA, []),
    (
        "the same at 1/30 s and 40 km/h",
        GATE,
        PLATE_CAMERA,
        ["exposure.shutter_s=0.0333", "exposure.gain_db=0", "target.plate.speed_kmh=40"],
    ),
    (
        "from 45 m with a 12 mm lens",
        GATE,
        PLATE_CAMERA,
        ["station.setback_m=27", "lens.focal_length_mm=12", "lens.focus_m=45"],
    ),
    ("dipped headlights on", GATE, PLATE_CAMERA, ["target.truck.headlights=dipped"]),
]
"""Caption, scene, camera, values set."""


def run(scene: str, camera: str, sets: list[str]) -> Prediction:
    """One prediction with seed 1."""
    return predict(*load_pair(scene, camera, sets), seed=1)


def plates() -> Figure:
    """Six answers to one question: the plate pixel by pixel, and its verdict."""
    figure = Figure(figsize=(11.0, 4.7), dpi=110, facecolor="white")
    for i, (caption, scene, camera, sets) in enumerate(CASES):
        result = run(scene, camera, sets)
        axes = figure.add_subplot(2, 3, i + 1)
        height, width = result.frame.shape[:2]
        x0, y0, x1, y1 = target_window(result.target.box_px, (height, width))
        axes.imshow(result.frame[y0:y1, x0:x1], interpolation="nearest", aspect="equal")
        axes.set_xticks([])
        axes.set_yticks([])
        for spine in axes.spines.values():
            spine.set_visible(False)
        verdict = result.verdict
        first = [row["factor"] for row in verdict["limits"] if row["share"] > 0.02][:1]
        axes.set_title(caption, size=9.5, loc="left")
        text = f"{verdict['verdict']}, probability {verdict['probability']:.2f}"
        axes.set_xlabel(text + (f"; first limit: {first[0]}" if first else ""), size=9, loc="left")
    figure.subplots_adjust(left=0.02, right=0.98, top=0.94, bottom=0.07, wspace=0.06, hspace=0.2)
    return figure


def shrink(path: Path, width_px: int) -> None:
    """Scale a picture down and keep 256 colours, so that the repository stays small."""
    picture = np.asarray(Image.open(path).convert("RGB"))
    if picture.shape[1] > width_px:
        size = (width_px, round(picture.shape[0] * width_px / picture.shape[1]))
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    Image.fromarray(picture).quantize(256, dither=Image.Dither.NONE).save(path, optimize=True)


def main() -> None:
    """Write the gallery."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=GALLERY)
    folder = parser.parse_args().out
    folder.mkdir(parents=True, exist_ok=True)
    sheet = run(GATE, PLATE_CAMERA, [])
    work = folder / ".sheet"
    sheet.save(work)
    (work / "sheet.png").replace(folder / "gate-sheet.png")
    for left in sorted(work.rglob("*"), reverse=True):
        left.rmdir() if left.is_dir() else left.unlink()
    work.rmdir()
    plates().savefig(folder / "gate-plates.png")
    for name in ("gate-sheet.png", "gate-plates.png"):
        shrink(folder / name, 1400)


if __name__ == "__main__":
    main()
