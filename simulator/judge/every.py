"""Every target of a scene, judged briefly: where it lies, how it is lit, what the frame shows."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.camera.pipeline import State
from simulator.camera.rig import Rig
from simulator.errors import GeometryError
from simulator.judge.density import density_class, density_class_2025
from simulator.judge.lighting import contributions, totals
from simulator.judge.reading import Reader
from simulator.judge.silhouette import find_silhouette, look_of
from simulator.judge.target import find_target, find_text, main_material, text_of
from simulator.judge.trials import read_probability
from simulator.scene.model import Target
from simulator.units import Image

BRIEF_TRIALS = 48


def every_target(
    rig: Rig,
    state: State,
    things: list[Target],
    frame: NDArray[np.uint8],
    *,
    judged: str,
    probability: float | None,
    veil: Image,
    seed: int,
    reader: str | Reader = "person",
) -> list[dict[str, Any]]:
    """One row for each target, in the order of the scene file, as they stand in verdict.json.

    Parameters
    ----------
    frame
        The whole eight-bit picture (rows, columns, 3).
    judged, probability
        Name of the target of the task, and the probability that its text is read, if that was
        asked; other texts are read with fewer trials.
    """
    rows = []
    for thing in things:
        row = _row(rig, state, thing, frame)
        row["text"] = text_of(thing)
        row["probability"] = None
        if row["text"] is not None and row["box_px"] is not None:
            if thing.name == judged and probability is not None:
                row["probability"] = probability
            else:
                row["probability"] = _read(rig, state, thing, veil, seed, reader)
        rows.append(row)
    return rows


def _row(rig: Rig, state: State, thing: Target, frame: NDArray[np.uint8]) -> dict[str, Any]:
    card = rig.world.cards[rig.world.targets[thing.name][0]]
    rows = contributions(
        rig, state.mode, card.centre_m, card.normal, main_material(card),
        rig.world.targets[thing.name][0],
    )  # fmt: skip
    place, depth = rig.view.project(card.centre_m)
    density = density_class(rig.view.pixels_per_m(float(depth), place)) if depth > 0.0 else None
    out: dict[str, Any] = {
        "name": thing.name,
        "kind": thing.kind,
        "box_px": None,
        "distance_m": float(np.linalg.norm(rig.view.position_m - card.centre_m)),
        "pixels_per_m": None if density is None else density.pixels_per_m,
        "density_class": None if density is None else density.density_class,
        "density_class_2025": None if density is None else density_class_2025(density.pixels_per_m),
        "illuminance_lux": totals(rows)[0],
        "mean_level": None,
        "contrast_to_surround": None,
        "clipped_fraction": None,
        "crushed_fraction": None,
    }
    try:
        target = find_target(rig, thing)
    except GeometryError:
        return out
    smear = rig.smear_px(state.exposure.shutter_s, target.card.centre_m)[target.card.group]
    silhouette = find_silhouette(rig, target, float(np.hypot(*smear)))
    if silhouette is not None:
        out["box_px"] = list(target.box_px)
        out.update(look_of(frame, silhouette)._asdict())
    return out


def _read(
    rig: Rig, state: State, thing: Target, veil: Image, seed: int, reader: str | Reader
) -> float | None:
    """Probability that a text beside the task's is read; None if it is cut off."""
    try:
        target = find_text(rig, thing)
    except GeometryError:
        return None
    return read_probability(
        rig, state, target, seed=seed, trials=BRIEF_TRIALS, veil=veil, phases=1, reader=reader
    ).value
