"""Makes the pictures of outputs/gallery/ from the bundled scenes, and the page docs/gallery.md that
shows them; run it after a change of physics.

python tools/make_gallery.py [--only NAME ...]
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from matplotlib.figure import Figure
from PIL import Image

from simulator.api.prediction import Prediction, predict
from simulator.report.compare_sheet import save_comparison
from simulator.report.light_levels.sheet import save_light_levels
from simulator.report.measurement import save_measurement
from simulator.report.pictures import target_window
from simulator.report.sequence_files import save_sequence
from simulator.report.sweep import save_sweep
from simulator.scene.load import Scene
from simulator.studies.axes import parse_axis
from simulator.studies.compare import compare, load_cameras, variants
from simulator.studies.light_levels.views import light_levels
from simulator.studies.measure import measure
from simulator.studies.overrides import load_pair
from simulator.studies.sequence import predict_sequence
from simulator.studies.sweep import Plan, sweep

GALLERY = Path(__file__).resolve().parent.parent / "outputs" / "gallery"
PAGE = Path(__file__).resolve().parents[1] / "docs" / "gallery.md"
WIDEST_PX = 1654
"""A4 at 200 dots an inch."""
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
        ["station.ground_position_m=[0, -27]", "lens.focal_length_mm=12", "lens.focus_m=45"],
    ),
    ("dipped headlights on", GATE, PLATE_CAMERA, ["target.truck.headlights=dipped"]),
]
"""Caption, scene, camera, values set."""


def run(scene: str, camera: str, sets: list[str]) -> Prediction:
    """One prediction with seed 1."""
    return predict(*load_pair(scene, camera, sets), seed=1, remedies=False, tolerances=False)


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
    return run(GATE, PLATE_CAMERA, []).save(work / "gate") / "sheet.png"


def gate_plates(work: Path) -> Path:
    """One gate, six answers."""
    plates().savefig(work / "plates.png")
    return work / "plates.png"


def falling_levels(work: Path) -> Path:
    """A parcel on the conveyor, five cameras: down to which light its label is read."""
    cameras = load_cameras(LIGHT_LEVEL_CAMERAS)
    found = light_levels(Scene.load("conveyor-belt-parcel"), cameras, seed=1)
    return save_light_levels(work / "levels", found) / "sheet.png"


def doorway(work: Path) -> Path:
    """One camera in a doorway: one exposure, backlight compensation, wide range."""
    cameras = load_cameras(["doorway-2mp-wide"])
    cameras += variants(cameras[0], DOORWAY)
    found = compare([Scene.load("doorway-noon")], cameras, seed=1)
    return save_comparison(work / "doorway", found) / "doorway-noon.png"


def falling_light(work: Path) -> Path:
    """A camera from 300 lx to half a lux: exposure that settles, then night mode."""
    sets = ["natural_light.illuminance_lux=0.5", "day_night.delay_s=1.0"]
    scene, camera = load_pair("conveyor-belt-parcel", "fixed-2mp-lowlight", sets)
    found = predict_sequence(
        scene, camera, 50, seed=1, before=Scene.load("conveyor-belt-parcel"), start_s=-1.0
    )
    return save_sequence(work / "film", found) / "strip.png"


def shutter_and_speed(work: Path) -> Path:
    """Probability over shutter and speed at the gate."""
    axes = ("exposure.shutter_s=0.0001:0.02:log9", "target.plate.speed_kmh=5,30,80")
    plan = Plan(GATE, PLATE_CAMERA, (), tuple(parse_axis(text) for text in axes), seed=1)
    return save_sweep(work / "sweep", sweep(plan)) / "chart.png"


def bench(work: Path) -> Path:
    """A camera measured on the bench."""
    camera = load_cameras(["doorway-2mp-wide"])[0]
    return save_measurement(work / "bench", measure(camera, seed=1)) / "sheet.png"


def _by_command(work: Path, name: str, *arguments: str) -> Path:
    """A picture that one command writes into its folder."""
    command = [sys.executable, "-c", "from simulator.app.cli import main; main()"]
    subprocess.run([*command, *arguments, "--out", str(work / "made")], check=True)
    return next((work / "made").rglob(name))


def gate_dark(work: Path) -> Path:
    """A sheet that says what would fix it."""
    return _by_command(
        work, "sheet.png", "predict", "depot-gate-dark", "--camera", "fixed-2mp-lowlight",
        "--seed", "1",
    )  # fmt: skip


def illuminator(work: Path) -> Path:
    """An illuminator sized and justified."""
    return _by_command(
        work, "sheet.png", "lighting", "depot-gate-dark", "--camera", "fixed-2mp-lowlight",
        "--place", "48.2,16.4",
    )  # fmt: skip


def year(work: Path) -> Path:
    """A year, hour by hour."""
    return _by_command(
        work, "chart.png", "calendar", "loading-bay-dusk", "--camera", "fixed-2mp-lowlight",
        "--place", "48.2,16.4", "--year", "2026", "--timezone", "Europe/Vienna",
    )  # fmt: skip


def site_plan(work: Path) -> Path:
    """A site with many cameras."""
    return _by_command(work, "plan.png", "survey", "fruit-depot")


LIGHT_LEVEL_CAMERAS = (
    "night-colour-4mp", "fixed-2mp-lowlight", "doorway-2mp-wide", "fixed-4mp-small-pixel",
    "overview-8mp",
)  # fmt: skip
DOORWAY = (
    "one exposure: wide_range.method=off",
    "backlight: wide_range.method=off exposure.metering=backlight"
    " exposure.window=[0.48,0.6,0.53,0.75]",
)
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
        told = (make.__doc__ or name).strip()
        parts += [f"## {told.rstrip('.')}", f"![{told}](../outputs/gallery/{name}.png)"]
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
