"""What several cameras show of one target as the light falls, and how well the task is done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.bench.trails import measure_trail
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.judge.silhouette import luma_levels
from simulator.scene.load import Scene
from simulator.studies.light_levels.study import (
    LEVELS_LUX,
    LightLevel,
    settled_levels,
    target_lux,
)
from simulator.studies.quick import Quick, Seen, quick_of, seen_of
from simulator.studies.session import TRIALS, Session, open_session

Progress = Callable[[str, float], None]
ROOM = 1.0
"""Room around the target in its picture, as a share of its larger side."""
AGAIN = 1000
"""What is added to the seed for the second picture that shows the noise."""
TRAIL_CONTRAST = 0.6
"""Contrast of the bar whose trail is measured: light over ground, less one."""
TRAIL_SPEED_PX = 6


@dataclass(frozen=True)
class View:
    """One camera under one level of light.

    `picture` (rows, columns, 3) shows the target with room around it, pixel by pixel, and `box_px`
    where in it the target is: x0, y0, x1, y1. `noise_temporal_levels` is the temporal noise of the
    luma there [levels of 255], `chroma` the distance of the picture's mean colour from grey, C*ab;
    `trail_frames` how long temporal noise reduction drags a mover behind itself.
    """

    camera: str
    level: LightLevel
    judged: Quick
    picture: NDArray[np.uint8]
    box_px: tuple[int, int, int, int]
    noise_temporal_levels: float
    chroma: float
    trail_frames: float

    def row(self) -> dict[str, Any]:
        """Its figures."""
        level, judged = self.level, self.judged
        return {
            "camera": self.camera,
            "illuminance_lux": level.lux,
            "probability": judged.probability,
            "probability_low": judged.probability_low,
            "probability_high": judged.probability_high,
            "verdict": judged.verdict,
            "mode": level.mode,
            "shutter_s": level.shutter_s,
            "gain_db": level.gain_db,
            "accumulated_frames": level.accumulated,
            "limited_by": level.limited_by,
            "motion_blur_px": judged.motion_blur_px,
            "trials": judged.trials,
            "noise_temporal_levels": self.noise_temporal_levels,
            "chroma": self.chroma,
            "trail_frames": self.trail_frames,
        }


@dataclass(frozen=True)
class LightLevelViews:
    """Every camera under every level of light, the brightest first.

    `cameras` stand in the order of the light that a pixel gathers, most first; `overview` is the
    whole picture of the first one in the brightest light, and where in it the target is.
    """

    scene: Scene
    cameras: list[Camera]
    levels_lux: tuple[float, ...]
    views: dict[tuple[str, float], View]
    overview: Seen
    seed: int

    def least_lux(self, camera: str) -> float | None:
        """The lowest level down to which the camera does the task at every level [lx].

        None where it does not even in the brightest light.
        """
        least = None
        for lux in self.levels_lux:
            if self.views[camera, lux].judged.verdict != "legible":
                break
            least = lux
        return least

    def night_lux(self, camera: str) -> float | None:
        """The highest level under which the camera is in night mode [lx]; None if it never is."""
        return next(
            (lux for lux in self.levels_lux if self.views[camera, lux].level.mode == "night"), None
        )


def light_levels(
    scene: Scene,
    cameras: Sequence[Camera],
    levels_lux: Sequence[float] = LEVELS_LUX,
    *,
    seed: int = 0,
    trials: int = TRIALS,
    progress: Progress | None = None,
) -> LightLevelViews:
    """Judge the task of a scene through every camera as all lights are dimmed together.

    Parameters
    ----------
    cameras
        Each with its own lens as set.
    levels_lux
        Illuminances on the target [lx], in any order.
    seed
        Steers every random draw.
    trials
        Repetitions of the camera for each probability.

    Raises
    ------
    InputError
        For no camera, a scene without visible light on its target, or a level that is not possible.
    """
    if not cameras:
        raise InputError(
            "No camera is named.", key="cameras", allowed="one or more", fix="name one"
        )
    say = progress or (lambda text, share: None)
    order = sorted(cameras, key=lambda camera: -camera.model.light_per_pixel_um2)
    lux_order = tuple(sorted(set(levels_lux), reverse=True))
    views: dict[tuple[str, float], View] = {}
    overview: Seen | None = None
    for i, camera in enumerate(order):
        levels = settled_levels(scene, camera, lux_order, up=False)
        session = replace(open_session(scene, camera, seed=seed), room=ROOM)
        now_lux = target_lux(session.mounted, scene)
        for k, level in enumerate(levels):
            say(f"{camera.name} at {level.lux:g} lx", (i + k / len(levels)) / len(order))
            dimmed = replace(session.relit(every=level.lux / now_lux), mode=level.mode)
            views[camera.name, level.lux] = _view(dimmed, level, trials)
            if overview is None:
                overview = seen_of(dimmed)
    assert overview is not None
    say("done", 1.0)
    return LightLevelViews(scene, order, lux_order, views, overview, seed)


def _view(session: Session, level: LightLevel, trials: int) -> View:
    judged = quick_of(session, trials=trials, proof=True)
    shown = session.pictures()
    again = session.with_seed(session.seed + AGAIN).pictures()
    left, top = shown.box_px[:2]
    x0, y0, x1, y1 = shown.target_box_px
    box = (x0 - left, y0 - top, x1 - left, y1 - top)
    first, second = (
        luma_levels(one.frames[0][box[1] : box[3], box[0] : box[2]]) for one in (shown, again)
    )
    return View(
        session.camera.name,
        level,
        judged,
        shown.frames[0],
        box,
        float(np.sqrt(np.mean(np.square(first - second)) / 2.0)),
        _chroma(shown.frames[0]),
        _trail(session),
    )


def _chroma(picture: NDArray[np.uint8]) -> float:
    from skimage.color import rgb2lab  # noqa: PLC0415

    lab = rgb2lab(picture)
    return float(np.hypot(lab[..., 1].mean(), lab[..., 2].mean()))


def _trail(session: Session) -> float:
    camera, exposure = session.in_scene.camera, session.state.exposure
    if camera.processing.temporal_noise_reduction <= 0.0:
        return 0.0
    return measure_trail(
        camera, level=max(0.02, exposure.level), contrast=TRAIL_CONTRAST,
        speed_px=TRAIL_SPEED_PX, shutter_s=exposure.shutter_s, gain_db=exposure.gain_db,
        seed=session.seed,
    ).frames  # fmt: skip
