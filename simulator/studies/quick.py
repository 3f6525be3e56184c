"""The probability alone, without whole picture and limits: for studies of many points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.history import exposed_patches, frame_history, frame_times
from simulator.camera.load import Camera
from simulator.camera.patch import PatchPlan, Traces
from simulator.camera.recording import recorded, with_quantiser
from simulator.camera.rig import Rig, set_up
from simulator.camera.settling import State, rig_as_exposed, settle_camera
from simulator.errors import GeometryError
from simulator.judge.cycles import judge_cycles, judged_part
from simulator.judge.silhouette import find_silhouette
from simulator.judge.target import (
    JudgedTarget,
    JudgedText,
    find_target,
    find_text,
    mean_wavelength_nm,
    plan_patch,
)
from simulator.judge.trials import quick_veil, read_probability
from simulator.judge.verdict import verdict_word
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.units import Image

TRIALS = 90
PICTURE_SPLIT = 3
PICTURE_ROOM = 0.3


@dataclass(frozen=True)
class Quick:
    """Probability of the task with its sampling interval, and how the camera was set.

    `picture` (rows, columns, 3) shows the target with some room, None if not asked for.
    """

    probability: float
    low: float
    high: float
    verdict: str
    mode: str
    shutter_s: float
    gain_db: float
    f_number: float
    motion_px: float
    picture: NDArray[np.uint8] | None = None

    def row(self) -> dict[str, Any]:
        """Everything but the picture."""
        return {key: value for key, value in vars(self).items() if key != "picture"}


def quick(
    scene: Scene, camera: Camera, *, seed: int = 0, trials: int = TRIALS, picture: bool = False
) -> Quick:
    """Judge the task of a scene.

    Text is read in the finely traced patch alone; other tasks need the whole picture.

    Raises
    ------
    InputError
        As `predict` does.
    """
    model = scene.model
    rig = set_up(build_world(model), model.station, camera.model)
    thing = next(t for t in model.target if t.name == model.task.target)
    reads = model.task.name == "read"
    target = find_text(rig, thing) if reads else find_target(rig, thing)
    state = settle_camera(rig)
    rig = rig_as_exposed(rig, state)
    smear = rig.smear_px(state.exposure.shutter_s, target.card.centre_m)[target.card.group]
    motion = float(np.hypot(*smear))
    history: list[Image] = []
    if not isinstance(target, JudgedText) or rig.camera.stream.codec != "none":
        history, _ = frame_history(rig, state)
        state, _ = with_quantiser(rig, state, history, seed=seed)
    if isinstance(target, JudgedText):
        read = read_probability(rig, state, target, seed=seed, trials=trials)
        value, low, high = read.value, read.low, read.high
    else:
        part = judged_part(rig, target, model.task.name)
        silhouette = find_silhouette(rig, part, motion)
        if silhouette is None:
            raise GeometryError(
                "No part of the target can be seen.",
                file=scene.file,
                key="task.target",
                given=thing.name,
                allowed="a target that the camera sees",
                mend="move what stands before it, or the camera",
            )
        cycles = judge_cycles(rig, state, part, silhouette, history, model.task.name, seed=seed)
        value, low, high = cycles.value, cycles.low, cycles.high
    shown = target_picture(rig, state, target, seed=seed) if picture else None
    return Quick(
        value,
        low,
        high,
        verdict_word(value, low, high, model.task.wanted_probability),
        state.mode,
        state.exposure.shutter_s,
        state.exposure.gain_db,
        rig.camera.lens.f_number,
        motion,
        shown,
    )


def target_picture(rig: Rig, state: State, target: JudgedTarget, *, seed: int) -> NDArray[np.uint8]:
    """The target with some room, as the camera shows it (rows, columns, 3), pixel for pixel."""
    x0, y0, x1, y1 = target.box_px
    room = round(PICTURE_ROOM * max(x1 - x0, y1 - y0)) + 4
    box = (
        max(0, x0 - room),
        max(0, y0 - room),
        min(rig.view.width_px, x1 + room),
        min(rig.view.height_px, y1 + room),
    )
    margin = plan_patch(rig, state, target).margin_px if isinstance(target, JudgedText) else 8
    plan = PatchPlan(
        box, margin, PICTURE_SPLIT, target.card.centre_m, mean_wavelength_nm(rig, state, target)
    )
    veil, traces = quick_veil(rig, state), Traces()
    shutter = state.exposure.shutter_s
    times = [float(t) for t in frame_times(rig)]
    rates = exposed_patches(rig, state.mode, shutter, plan, veil, times, traces)
    return np.asarray(recorded(rig, state, rates, seed=seed, origin_px=box[:2])[0])


def fitted(picture: NDArray[np.uint8], rows: int, columns: int) -> NDArray[np.uint8]:
    """A picture enlarged by whole pixels, or made smaller, to fit into rows x columns."""
    factor = min(rows / picture.shape[0], columns / picture.shape[1])
    if factor >= 1.0:
        k = int(factor)
        size = (picture.shape[1] * k, picture.shape[0] * k)
        return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_NEAREST))
    size = (max(1, int(picture.shape[1] * factor)), max(1, int(picture.shape[0] * factor)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA))
