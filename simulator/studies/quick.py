"""The probability alone, without whole picture and limits: for studies of many points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.frame_buffer import exposed_regions, with_region
from simulator.camera.load import Camera
from simulator.camera.recording import recorded
from simulator.judge.lighting import contributions, totals
from simulator.judge.silhouette import look_of, luma_levels, seen_silhouette
from simulator.judge.target import (
    JudgedText,
    find_target,
    main_material,
    plan_region,
)
from simulator.judge.verdict import verdict_word
from simulator.scene.load import Scene
from simulator.studies.quick_look import observer_look
from simulator.studies.session import TRIALS, Session, open_session

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


class Job(NamedTuple):
    """One call of `quick` as a point of a study."""

    scene: Scene
    camera: Camera
    seed: int
    trials: int
    whole: bool = False
    picture: bool = False


def judge_job(job: Job) -> Quick:
    """Do one judgement; another process or machine can call it.

    Raises
    ------
    InputError
        As `quick` does.
    """
    return quick(
        job.scene, job.camera, seed=job.seed, trials=job.trials, picture=job.picture,
        whole=job.whole,
    )  # fmt: skip


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
    return quick_of(
        open_session(scene, camera, seed=seed),
        trials=trials, picture=picture, whole=whole, proof=proof,
    )  # fmt: skip


def quick_of(
    session: Session,
    *,
    trials: int = TRIALS,
    picture: bool = False,
    whole: bool = False,
    proof: bool = False,
) -> Quick:
    """As `quick`, of a session that is open; what is no text is looked at in the layers that the
    session keeps (`observer_look`) unless `whole` asks for the whole picture."""
    kept = not (whole or isinstance(session.part, JudgedText))
    judgement = observer_look(session) if kept else session.probability(trials, proof=proof)
    state, wanted = session.state, session.scene.model.task.wanted_probability
    return Quick(
        judgement.value,
        min(judgement.low, judgement.value),  # rounding at the ends of the scale
        max(judgement.high, judgement.value),
        verdict_word(judgement.value, judgement.low, judgement.high, wanted),
        state.mode,
        state.exposure.shutter_s,
        state.exposure.gain_db,
        session.in_scene.camera.lens.f_number,
        session.motion_blur_px,
        judgement.trials,
        session.pictures().frames[0] if picture else None,
        seen_of(session) if whole else None,
    )


def seen_of(session: Session) -> Seen:
    """The whole picture, text traced finely, and the figures of the target in it."""
    in_scene, state, target = session.in_scene, session.coded, session.target
    buffer, light = session.whole
    if isinstance(target, JudgedText):
        plan = plan_region(in_scene, state, target)
        shutter = state.exposure.shutter_s
        region = exposed_regions(in_scene, state.mode, shutter, plan, light.stray_light, [0.0])[0]
        fine = with_region(light, region, plan.box_px[:2]).rate
        buffer = [fine if rate is light.rate else rate for rate in buffer]
    frames = recorded(in_scene, state, buffer, seed=session.seed, frames=2)
    silhouette = seen_silhouette(
        in_scene, find_target(in_scene, target.entry), session.motion_blur_px
    )
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


def fitted(picture: NDArray[np.uint8], rows: int, columns: int) -> NDArray[np.uint8]:
    """A picture enlarged by whole pixels, or made smaller, to fit into rows x columns."""
    factor = min(rows / picture.shape[0], columns / picture.shape[1])
    if factor >= 1.0:
        k = int(factor)
        size = (picture.shape[1] * k, picture.shape[0] * k)
        return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_NEAREST))
    size = (max(1, int(picture.shape[1] * factor)), max(1, int(picture.shape[0] * factor)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA))
