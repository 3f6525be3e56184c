"""Every target of a scene, judged briefly: where it lies, how it is lit, what the frame shows."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import State
from simulator.errors import GeometryError
from simulator.judge.density import density_class, density_class_2025
from simulator.judge.lighting import contributions, totals
from simulator.judge.readers import Reader
from simulator.judge.result import TargetBrief
from simulator.judge.silhouette import Look, find_silhouette, look_of
from simulator.judge.target import find_target, find_text, main_material, text_of
from simulator.judge.trials import read_probability
from simulator.scene.model import Target
from simulator.units import Image

BRIEF_TRIALS = 48
BRIEF_TEXTS = 4


def every_target(
    in_scene: CameraInScene,
    state: State,
    things: list[Target],
    frame: NDArray[np.uint8],
    *,
    judged: str,
    probability: float | None,
    stray_light: Image,
    seed: int,
    reader: str | Reader = "person",
) -> list[TargetBrief]:
    """One row for each target, in the order of the scene file.

    Parameters
    ----------
    frame
        The whole eight-bit picture (rows, columns, 3).
    judged, probability
        Name of the target of the task, and the probability that its text is read, if that was
        asked; other texts are read with fewer trials.
    """
    rows = []
    for entry in things:
        row = _row(in_scene, state, entry, frame)
        if row.text is not None and row.box_px is not None:
            value = probability if entry.name == judged else None
            if value is None:
                value = _read(in_scene, state, entry, stray_light, seed, reader)
            row = row.model_copy(update={"probability": value})
        rows.append(row)
    return rows


def _row(
    in_scene: CameraInScene, state: State, entry: Target, frame: NDArray[np.uint8]
) -> TargetBrief:
    """All but the probability that its text is read."""
    index = in_scene.world.targets[entry.name][0]
    card = in_scene.world.cards[index]
    rows = contributions(
        in_scene, state.mode, card.centre_m, card.normal, main_material(card), index
    )
    place, depth = in_scene.view.project(card.centre_m)
    density = (
        density_class(in_scene.view.pixels_per_m(float(depth), place)) if depth > 0.0 else None
    )
    seen = _look(in_scene, state, entry, frame)
    box, look = (None, None) if seen is None else seen
    return TargetBrief(
        name=entry.name,
        kind=entry.kind,
        box_px=box,
        distance_m=float(np.linalg.norm(in_scene.view.position_m - card.centre_m)),
        pixels_per_m=None if density is None else density.pixels_per_m,
        density_class=None if density is None else density.density_class,
        density_class_2025=None if density is None else density_class_2025(density.pixels_per_m),
        illuminance_lux=totals(rows)[0],
        mean_level=None if look is None else look.mean_level,
        contrast_to_surround=None if look is None else look.contrast_to_surround,
        clipped_fraction=None if look is None else look.clipped_fraction,
        crushed_fraction=None if look is None else look.crushed_fraction,
        text=text_of(entry),
    )


def _look(
    in_scene: CameraInScene, state: State, entry: Target, frame: NDArray[np.uint8]
) -> tuple[tuple[int, int, int, int], Look] | None:
    """Box and levels of a target in the frame; None if it is not seen."""
    try:
        target = find_target(in_scene, entry)
    except GeometryError:
        return None
    smear = in_scene.smear_px(state.exposure.shutter_s, target.card.centre_m)[target.card.group]
    silhouette = find_silhouette(in_scene, target, float(np.hypot(*smear)))
    return None if silhouette is None else (target.box_px, look_of(frame, silhouette))


def _read(
    in_scene: CameraInScene,
    state: State,
    entry: Target,
    stray_light: Image,
    seed: int,
    reader: str | Reader,
) -> float | None:
    """Probability that a text beside the task's is read; None if it is cut off."""
    try:
        target = find_text(in_scene, entry)
    except GeometryError:
        return None
    return read_probability(
        in_scene,
        state,
        target,
        seed=seed,
        trials=BRIEF_TRIALS,
        stray_light=stray_light,
        phases=1,
        texts=BRIEF_TEXTS,
        named=False,
        reader=reader,
    ).value
