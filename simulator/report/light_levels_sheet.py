"""The light ladder on one page: cameras down, light across."""

from __future__ import annotations

import csv
import json
from pathlib import Path

from simulator.report.fitting import fit_text
from simulator.report.inks import INK, PAPER, SOFT
from simulator.report.pictures import write_png
from simulator.report.wording import shutter, three_digits
from simulator.studies.folder import result_folder
from simulator.studies.light_levels.pictures import LightLevelPictures, Step
from simulator.studies.provenance import versions
from simulator.studies.quick import fitted

CELL_IN, LEFT_IN, DPI = 2.9, 0.35, 110
CELL_PX = (300, 380)


def save_light_levels(folder: Path, found: LightLevelPictures) -> Path:
    """Write sheet.png, pictures/, steps.csv, verdict.json and inputs/, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written there.
    """
    table = found.to_dict()
    origin = {"Software": f"nightproof {versions()['nightproof']}", "Title": table["title"]}
    with result_folder(folder) as place:
        draw_light_levels(place / "sheet.png", found, origin)
        inner = place / "pictures"
        inner.mkdir()
        for step in found.steps.values():
            write_png(inner / f"{step.camera}-{step.level.lux:g}-lx.png", step.picture, origin)
        with (place / "steps.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, list(table["steps"][0]))
            writer.writeheader()
            writer.writerows(table["steps"])
        inputs = place / "inputs"
        inputs.mkdir()
        found.scene.save(inputs / "scene.toml")
        for camera in found.cameras:
            camera.save(inputs / f"camera-{camera.name}.toml")
        (place / "verdict.json").write_text(
            json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n",
            encoding="utf-8",
        )
    return folder


def _words(step: Step) -> str:
    r = step.level
    added = f", {r.accumulated} frames added" if r.accumulated > 1 else ""
    return (
        f"{r.mode}, {shutter(r.shutter_s)}{added}, {r.gain_db:.0f} dB\n"
        f"noise {step.noise_temporal_levels:.1f}, colour {step.chroma:.0f},"
        f" trail {step.trail_frames:.1f}"
    )


def draw_light_levels(path: Path, found: LightLevelPictures, origin: dict[str, str]) -> None:
    """Write the page as a PNG."""
    from matplotlib.figure import Figure

    columns, rows = len(found.steps_lux), len(found.cameras)
    shapes = [step.picture.shape for step in found.steps.values()]
    tall = max(s[0] / s[1] for s in shapes) * (CELL_IN - 0.12)
    row_in = tall + 0.78
    wide = LEFT_IN * 2 + columns * CELL_IN
    high = 1.2 + rows * row_in + 0.5
    figure = Figure(figsize=(wide, high), dpi=DPI, facecolor=PAPER)
    title = fit_text(found.scene.model.title, wide - 1.0, (18, 15, 12), 1, bold=True)
    figure.text(
        LEFT_IN / wide, 1 - 0.2 / high, title.text, size=title.size, weight="bold", color=INK,
        va="top",
    )  # fmt: skip
    question = fit_text(found.scene.model.question, wide - 1.0, (12.5, 11, 9), 1)
    figure.text(
        LEFT_IN / wide, 1 - 0.6 / high, question.text, size=question.size, style="italic",
        color=INK, va="top",
    )  # fmt: skip
    for k, lux in enumerate(found.steps_lux):
        figure.text(
            (LEFT_IN + k * CELL_IN) / wide, 1 - 0.98 / high, f"{three_digits(lux)} lx", size=13,
            weight="bold", color=INK, va="top",
        )  # fmt: skip
    for j, camera in enumerate(found.cameras):
        top = high - 1.3 - j * row_in
        name = fit_text(camera.model.title, wide - 1.0, (11, 10), 1, bold=True)
        figure.text(
            LEFT_IN / wide, top / high, name.text, size=name.size, color=SOFT, weight="bold",
            va="top",
        )  # fmt: skip
        for k, lux in enumerate(found.steps_lux):
            step = found.steps[camera.name, lux]
            axes = figure.add_axes(
                (
                    (LEFT_IN + k * CELL_IN) / wide, (top - 0.22 - tall) / high,
                    (CELL_IN - 0.12) / wide, tall / high,
                )
            )  # fmt: skip
            axes.imshow(fitted(step.picture, *CELL_PX), interpolation="nearest")
            axes.axis("off")
            axes.set_anchor("NW")
            figure.text(
                (LEFT_IN + k * CELL_IN) / wide, (top - 0.27 - tall) / high, _words(step),
                size=8.5, color=INK, va="top", linespacing=1.25,
            )  # fmt: skip
    note = (
        "noise: temporal, levels of 255; colour: mean C*ab of the chart; trail: frames until less"
        " than a tenth of a mover is left. Light on the chart; generic archetypes, not products."
    )
    fitted_note = fit_text(note, wide - 2 * LEFT_IN, (9, 8, 7), 2)
    figure.text(
        LEFT_IN / wide, 0.16 / high, fitted_note.text, size=fitted_note.size, color=SOFT,
        va="bottom", linespacing=1.3,
    )  # fmt: skip
    figure.savefig(path, dpi=DPI, metadata=origin)
