"""Makes the pictures of outputs/gallery/ from the bundled scenes, and the page docs/gallery.md that
shows them; run it after a change of physics.

python tools/make_gallery.py [--only NAME ...]
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from matplotlib.figure import Figure
from PIL import Image

from simulator import (
    Camera,
    Prediction,
    Scene,
    calendar,
    compare,
    film,
    light_levels,
    lighting,
    measure,
    predict,
    survey,
    sweep,
)
from simulator.dotted import Changes
from simulator.report.pictures import target_window

GALLERY = Path(__file__).resolve().parent.parent / "outputs" / "gallery"
PAGE = Path(__file__).resolve().parents[1] / "docs" / "gallery.md"
WIDEST_PX = 1654
"""A4 at 200 dots an inch."""
GATE = "depot-gate-infrared"
PLATE_CAMERA = "plate-2mp-infrared"
CASES: list[tuple[str, str, str, dict[str, Any], dict[str, Any]]] = [
    ("no lamp at all, 0.05 lx", "depot-gate-dark", "fixed-2mp-lowlight", {}, {}),
    ("infrared on the mast, overview camera", GATE, "fixed-2mp-lowlight", {}, {}),
    ("infrared, plate camera at 1/1000 s", GATE, PLATE_CAMERA, {}, {}),
    (
        "the same at 1/30 s and 40 km/h", GATE, PLATE_CAMERA, {"target.plate.speed_kmh": 40},
        {"exposure.shutter_s": 0.0333, "exposure.gain_db": 0},
    ),
    (
        "from 45 m with a 12 mm lens", GATE, PLATE_CAMERA,
        {"station.ground_position_m": [0, -27], "station.focus_m": 45},
        {"lens.focal_length_mm": 12},
    ),
    ("dipped headlights on", GATE, PLATE_CAMERA, {"target.truck.headlights": "dipped"}, {}),
]  # fmt: skip
"""Caption, scene, camera, values set in either."""


def run(scene: str, camera: str, of_scene: Changes, of_camera: Changes) -> Prediction:
    """One prediction with seed 1."""
    pair = Scene.load(scene).set(of_scene), Camera.load(camera).set(of_camera)
    return predict(*pair, seed=1, remedies=False, tolerances=False)


def plates() -> Figure:
    """Six answers to one question: the plate pixel by pixel, and its verdict."""
    figure = Figure(figsize=(11.0, 4.7), dpi=110, facecolor="white")
    for i, (caption, scene, camera, of_scene, of_camera) in enumerate(CASES):
        result = run(scene, camera, of_scene, of_camera)
        axes = figure.add_subplot(2, 3, i + 1)
        height, width = result.frame.shape[:2]
        x0, y0, x1, y1 = target_window(result.target.box_px, (height, width))
        axes.imshow(result.frame[y0:y1, x0:x1], interpolation="nearest", aspect="equal")
        axes.set_xticks([])
        axes.set_yticks([])
        for spine in axes.spines.values():
            spine.set_visible(False)
        verdict = result.verdict
        first = [row.factor for row in verdict.limits if row.share > 0.02][:1]
        axes.set_title(caption, size=9.5, loc="left")
        text = f"{verdict.verdict}, probability {verdict.probability:.2f}"
        axes.set_xlabel(text + (f"; first limit: {first[0]}" if first else ""), size=9, loc="left")
    figure.subplots_adjust(left=0.02, right=0.98, top=0.94, bottom=0.07, wspace=0.06, hspace=0.2)
    return figure


def shrink(path: Path, width_px: int) -> None:
    """Scale a picture down and keep 256 colours, so that the repository stays small."""
    picture = np.asarray(Image.open(path).convert("RGB"))
    if picture.shape[1] > width_px:
        size = (width_px, round(picture.shape[0] * width_px / picture.shape[1]))
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    few = Image.fromarray(picture).quantize(  # maximum coverage keeps rare colours, as of a verdict
        256, method=Image.Quantize.MAXCOVERAGE, kmeans=4, dither=Image.Dither.NONE
    )
    few.save(path, optimize=True)


def gate_sheet(work: Path) -> Path:
    """The sheet of the main job."""
    return run(GATE, PLATE_CAMERA, {}, {}).save(work / "gate") / "sheet.png"


def gate_plates(work: Path) -> Path:
    """One gate, six answers."""
    plates().savefig(work / "plates.png")
    return work / "plates.png"


def falling_levels(work: Path) -> Path:
    """A parcel on the conveyor, five cameras: down to which light its label is read."""
    views = light_levels("conveyor-belt-parcel", LIGHT_LEVEL_CAMERAS, seed=1)
    return views.save(work / "levels") / "sheet.png"


def doorway(work: Path) -> Path:
    """One camera in a doorway: one exposure, backlight compensation, wide range."""
    compared = compare("doorway-noon", ["doorway-2mp-wide"], variants=DOORWAY, seed=1)
    return compared.save(work / "doorway") / "doorway-noon.png"


def falling_light(work: Path) -> Path:
    """A camera from 300 lx to half a lux: exposure that settles, then night mode."""
    before = Scene.load("conveyor-belt-parcel")
    camera = Camera.load("fixed-2mp-lowlight").set({"day_night.delay_s": 1.0})
    dim = before.set({"natural_light.illuminance_lux": 0.5})
    return (
        film(dim, camera, 50, seed=1, before=before, start_s=-1.0).save(work / "film") / "strip.png"
    )


def shutter_and_speed(work: Path) -> Path:
    """Probability over shutter and speed at the gate."""
    axes = {"exposure.shutter_s": "0.0001:0.02:log9", "target.plate.speed_kmh": (5, 30, 80)}
    return sweep(GATE, PLATE_CAMERA, axes, seed=1).save(work / "sweep") / "chart.png"


def bench(work: Path) -> Path:
    """A camera measured on the bench."""
    return measure("doorway-2mp-wide", seed=1).save(work / "bench") / "sheet.png"


def gate_dark(work: Path) -> Path:
    """A sheet that says what would fix it."""
    return predict("depot-gate-dark", "fixed-2mp-lowlight", seed=1).save(work / "dark") / (
        "sheet.png"
    )


def illuminator(work: Path) -> Path:
    """An illuminator sized and justified."""
    sized = lighting("depot-gate-dark", "fixed-2mp-lowlight", place=VIENNA)
    return sized.save(work / "lamp") / "sheet.png"


def year(work: Path) -> Path:
    """A year, hour by hour."""
    months = calendar(
        "loading-bay-dusk", "fixed-2mp-lowlight", VIENNA, 2026, timezone="Europe/Vienna"
    )
    return months.save(work / "year") / "chart.png"


def site_plan(work: Path) -> Path:
    """A site with many cameras."""
    return survey("fruit-depot").save(work / "site") / "plan.png"


VIENNA = (48.2, 16.4)
LIGHT_LEVEL_CAMERAS = (
    "night-colour-4mp", "fixed-2mp-lowlight", "doorway-2mp-wide", "fixed-4mp-small-pixel",
    "overview-8mp",
)  # fmt: skip
DOORWAY: dict[str, Changes] = {
    "one exposure": {"wide_range.method": "off"},
    "backlight": {
        "wide_range.method": "off", "exposure.metering": "backlight",
        "exposure.window": [0.48, 0.6, 0.53, 0.75],
    },
}  # fmt: skip
PICTURES: dict[str, Callable[[Path], Path]] = {
    "gate-sheet": gate_sheet,
    "gate-plates": gate_plates,
    "light-levels": falling_levels,
    "doorway": doorway,
    "falling-light": falling_light,
    "shutter-and-speed": shutter_and_speed,
    "bench": bench,
    "gate-dark": gate_dark,
    "illuminator": illuminator,
    "year": year,
    "site-plan": site_plan,
}


def page() -> str:
    """The page that shows the pictures, each with what it shows."""
    parts = [
        "# Gallery",
        "Made by `python tools/make_gallery.py` from bundled scenes and archetypes; every pixel is"
        " computed.",
    ]
    for name, make in PICTURES.items():
        text = (make.__doc__ or name).strip()
        parts += [f"## {text.rstrip('.')}", f"![{text}](../outputs/gallery/{name}.png)"]
    return "\n\n".join(parts) + "\n"


def main() -> None:
    """Write the gallery."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=GALLERY)
    parser.add_argument("--only", nargs="+", choices=list(PICTURES), default=list(PICTURES))
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    for name in given.only:
        with tempfile.TemporaryDirectory() as work:
            made = PICTURES[name](Path(work))
            path = given.out / f"{name}.png"
            shutil.copyfile(made, path)
        shrink(path, WIDEST_PX)
        print(path.name)
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
