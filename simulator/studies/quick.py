"""The probability alone, without whole picture and limits: for studies of many points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.history import exposed_patches, frame_history, frame_times, with_patch
from simulator.camera.light_field import Light
from simulator.camera.load import Camera
from simulator.camera.patch import PatchPlan, Traces
from simulator.camera.recording import recorded, with_quantiser
from simulator.camera.rig import Rig, set_up
from simulator.camera.settling import State, rig_as_exposed, settle_camera
from simulator.judge.lighting import contributions, totals
from simulator.judge.parts import judged_part
from simulator.judge.silhouette import look_of, luma_levels, seen_silhouette
from simulator.judge.target import (
    JudgedTarget,
    JudgedText,
    find_target,
    find_text,
    main_material,
    mean_wavelength_nm,
    plan_patch,
)
from simulator.judge.tasks import judge_task
from simulator.judge.trials import quick_veil, read_probability
from simulator.judge.verdict import verdict_word
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.units import Image

TRIALS = 90
PICTURE_SPLIT = 3
PICTURE_ROOM = 0.3
WHITE_LEVEL = 250
"""From here up in every channel a pixel counts as white [levels of 255]."""


@dataclass(frozen=True)
class Seen:
    """The whole picture and what it shows of the target, as a lesson wants it."""

    frame: NDArray[np.uint8]
    """The picture (rows, columns, 3)."""
    box_px: tuple[int, int, int, int]
    """Pixels that hold the target: x0, y0, x1, y1."""
    mean_level: float
    """Mean luma of the target [levels of 255]."""
    clipped_share: float
    """Share of the target's pixels that are white."""
    white_share: float
    """Share of the whole picture that is white (from `WHITE_LEVEL` up in every channel)."""
    noise_levels: float
    """How much the same pixel of the target differs from repetition to repetition, root mean
    square of the luma over sqrt 2 [levels]."""
    electrons: float
    """Mean light on the target during the exposure, green channel [e- per pixel]."""
    illuminance_lux: float
    irradiance_w_m2: float
    pixels_per_m: float
    character_px: float | None
    """Height of the characters [px]; None without text."""


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
    seen: Seen | None = None

    def row(self) -> dict[str, Any]:
        """Everything but the pictures."""
        return {key: value for key, value in vars(self).items() if key not in ("picture", "seen")}


def quick(
    scene: Scene,
    camera: Camera,
    *,
    seed: int = 0,
    trials: int = TRIALS,
    picture: bool = False,
    whole: bool = False,
) -> Quick:
    """Judge the task of a scene.

    Text is read in the finely traced patch alone; other tasks need the whole picture, and so does
    `whole`, which asks for `Quick.seen`.

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
    light: Light | None = None
    if whole or not isinstance(target, JudgedText) or rig.camera.stream.codec != "none":
        history, light = frame_history(rig, state)
        state, _ = with_quantiser(rig, state, history, seed=seed)
    if isinstance(target, JudgedText):
        read = read_probability(
            rig, state, target, seed=seed, trials=trials, reader=model.task.reader
        )
        value, low, high = read.value, read.low, read.high
    else:
        part = judged_part(rig, target, model.task.name)
        silhouette = seen_silhouette(rig, part, motion, scene.file)
        found = judge_task(rig, state, part, silhouette, history, model.task.name, seed=seed)
        value, low, high = found.value, found.low, found.high
    shown = target_picture(rig, state, target, seed=seed) if picture else None
    seen = None
    if whole and light is not None:
        seen = _seen(rig, state, target, history, light, motion, seed=seed)
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
        seen,
    )


def _seen(
    rig: Rig,
    state: State,
    target: JudgedTarget,
    history: list[Image],
    light: Light,
    motion_px: float,
    *,
    seed: int,
) -> Seen:
    """The whole picture, text traced finely, and the figures of the target in it."""
    if isinstance(target, JudgedText):
        plan = plan_patch(rig, state, target)
        shutter = state.exposure.shutter_s
        patch = exposed_patches(rig, state.mode, shutter, plan, light.veil, [0.0])[0]
        fine = with_patch(light, patch, plan.box_px[:2]).rate
        history = [fine if rate is light.rate else rate for rate in history]
    frames = recorded(rig, state, history, seed=seed, frames=2)
    silhouette = seen_silhouette(rig, find_target(rig, target.thing), motion_px)
    look = look_of(frames[0], silhouette)
    cut = [luma_levels(silhouette.cut(frame))[silhouette.inside] for frame in frames]
    card = target.card
    rows = contributions(
        rig, state.mode, card.centre_m, card.normal, main_material(card), target.card_index
    )
    lux, irradiance = totals(rows)
    x0, y0, x1, y1 = silhouette.window_px
    electrons = history[-1][y0:y1, x0:x1][silhouette.inside][:, 1].mean()
    return Seen(
        frames[0],
        target.box_px,
        look.mean_level,
        look.clipped_fraction,
        float(np.mean(frames[0].min(axis=2) >= WHITE_LEVEL)),
        float(np.sqrt(np.mean((cut[0] - cut[1]) ** 2) / 2.0)),
        float(electrons) * state.exposure.shutter_s,
        lux,
        irradiance,
        rig.view.pixels_per_m(target.depth_m),
        target.character_height_px if isinstance(target, JudgedText) else None,
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
