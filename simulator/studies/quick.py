"""The probability alone, without whole picture and limits: for studies of many points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.auto_exposure import State
from simulator.camera.frame_buffer import exposed_regions, frame_times, with_region
from simulator.camera.in_scene import CameraInScene
from simulator.camera.light_field import Light
from simulator.camera.load import Camera
from simulator.camera.recording import recorded
from simulator.camera.region import RegionPlan, Traces
from simulator.judge.lighting import contributions, totals
from simulator.judge.parts import judged_part
from simulator.judge.readers import reader_of
from simulator.judge.silhouette import look_of, luma_levels, seen_silhouette
from simulator.judge.target import (
    JudgedTarget,
    JudgedText,
    find_target,
    main_material,
    mean_wavelength_nm,
    plan_region,
)
from simulator.judge.tasks import judge_task
from simulator.judge.trials import quick_stray_light, read_probability
from simulator.judge.verdict import verdict_word
from simulator.scene.load import Scene
from simulator.studies.session import open_session
from simulator.units import Image

TRIALS = 90
TEXTS = 4
"""Random texts that the probability is that of."""
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
    clipped_fraction: float
    """Share of the target's pixels that are white."""
    white_fraction: float
    """Share of the whole picture that is white (from `WHITE_LEVEL` up in every channel)."""
    noise_temporal_levels: float
    """How much the same pixel of the target differs from repetition to repetition, root mean
    square of the luma over sqrt 2 [levels]."""
    electrons: float
    """Mean light on the target during the exposure, green channel [e- per pixel]."""
    illuminance_lux: float
    irradiance_w_m2: float
    pixels_per_m: float
    character_height_px: float | None
    """Height of the characters [px]; None without text."""


@dataclass(frozen=True)
class Quick:
    """Probability of the task with its sampling interval, and how the camera was set.

    `picture` (rows, columns, 3) shows the target with some room, None if not asked for.
    """

    probability: float
    probability_low: float
    probability_high: float
    verdict: str
    mode: str
    shutter_s: float
    gain_db: float
    f_number: float
    motion_blur_px: float
    trials: int = 0
    """Repetitions that were judged, fewer than asked for where the task needs the whole target."""
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
    proof: bool = False,
) -> Quick:
    """Judge the task of a scene.

    Text is read in the finely traced patch alone; other tasks need the whole picture, and so does
    `whole`, which asks for `Quick.seen`. With `proof` the task's own reader reads the pictures;
    else its quick estimate does.

    Raises
    ------
    InputError
        As `predict` does.
    """
    model, session = scene.model, open_session(scene, camera, seed=seed)
    target, in_scene, state = session.target, session.in_scene, session.state
    motion = session.motion_blur_px
    buffer: list[Image] = []
    light: Light | None = None
    if whole or not isinstance(target, JudgedText) or in_scene.camera.stream.codec != "none":
        buffer, light = session.whole
        state = session.coded
    if isinstance(target, JudgedText):
        reader = reader_of(model.task.reader)
        read = read_probability(
            in_scene, state, target, seed=seed, trials=trials, texts=TEXTS, named=False,
            reader=reader if proof else reader.estimate,
        )  # fmt: skip
        value, low, high, made = read.value, read.low, read.high, read.trials
    else:
        part = judged_part(in_scene, target, model.task.name)
        silhouette = seen_silhouette(in_scene, part, motion, scene.file)
        found = judge_task(in_scene, state, part, silhouette, buffer, model.task.name, seed=seed)
        value, low, high, made = found.value, found.low, found.high, found.trials
    shown = target_picture(in_scene, state, target, seed=seed) if picture else None
    seen = None
    if whole and light is not None:
        seen = _seen(in_scene, state, target, buffer, light, motion, seed=seed)
    return Quick(
        value,
        low,
        high,
        verdict_word(value, low, high, model.task.wanted_probability),
        state.mode,
        state.exposure.shutter_s,
        state.exposure.gain_db,
        in_scene.camera.lens.f_number,
        motion,
        made,
        shown,
        seen,
    )


def _seen(
    in_scene: CameraInScene,
    state: State,
    target: JudgedTarget,
    buffer: list[Image],
    light: Light,
    motion_blur_px: float,
    *,
    seed: int,
) -> Seen:
    """The whole picture, text traced finely, and the figures of the target in it."""
    if isinstance(target, JudgedText):
        plan = plan_region(in_scene, state, target)
        shutter = state.exposure.shutter_s
        region = exposed_regions(in_scene, state.mode, shutter, plan, light.stray_light, [0.0])[0]
        fine = with_region(light, region, plan.box_px[:2]).rate
        buffer = [fine if rate is light.rate else rate for rate in buffer]
    frames = recorded(in_scene, state, buffer, seed=seed, frames=2)
    silhouette = seen_silhouette(in_scene, find_target(in_scene, target.entry), motion_blur_px)
    look = look_of(frames[0], silhouette)
    cut = [luma_levels(silhouette.cut(frame))[silhouette.inside] for frame in frames]
    card = target.card
    rows = contributions(
        in_scene, state.mode, card.centre_m, card.normal, main_material(card), target.card_index
    )
    lux, irradiance = totals(rows)
    x0, y0, x1, y1 = silhouette.window_px
    electrons = buffer[-1][y0:y1, x0:x1][silhouette.inside][:, 1].mean()
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
        in_scene.view.pixels_per_m(target.depth_m),
        target.character_height_px if isinstance(target, JudgedText) else None,
    )


def target_picture(
    in_scene: CameraInScene, state: State, target: JudgedTarget, *, seed: int
) -> NDArray[np.uint8]:
    """The target with some room, as the camera shows it (rows, columns, 3), pixel for pixel."""
    x0, y0, x1, y1 = target.box_px
    room = round(PICTURE_ROOM * max(x1 - x0, y1 - y0)) + 4
    box = (
        max(0, x0 - room),
        max(0, y0 - room),
        min(in_scene.view.width_px, x1 + room),
        min(in_scene.view.height_px, y1 + room),
    )
    margin = plan_region(in_scene, state, target).margin_px if isinstance(target, JudgedText) else 8
    plan = RegionPlan(
        box,
        margin,
        PICTURE_SPLIT,
        target.card.centre_m,
        mean_wavelength_nm(in_scene, state, target),
    )
    stray_light, traces = quick_stray_light(in_scene, state), Traces()
    shutter = state.exposure.shutter_s
    times = [float(t) for t in frame_times(in_scene)]
    rates = exposed_regions(in_scene, state.mode, shutter, plan, stray_light, times, traces)
    return np.asarray(recorded(in_scene, state, rates, seed=seed, origin_px=box[:2])[0])


def fitted(picture: NDArray[np.uint8], rows: int, columns: int) -> NDArray[np.uint8]:
    """A picture enlarged by whole pixels, or made smaller, to fit into rows x columns."""
    factor = min(rows / picture.shape[0], columns / picture.shape[1])
    if factor >= 1.0:
        k = int(factor)
        size = (picture.shape[1] * k, picture.shape[0] * k)
        return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_NEAREST))
    size = (max(1, int(picture.shape[1] * factor)), max(1, int(picture.shape[0] * factor)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA))
