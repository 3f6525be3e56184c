"""The light ladder in pictures: the same charts as the light falls, through several cameras."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.bench.trails import measure_trail
from simulator.camera.auto_exposure import State, as_exposed, settle_exposure
from simulator.camera.frame_buffer import frame_buffer
from simulator.camera.in_scene import CameraInScene, place_camera
from simulator.camera.load import Camera
from simulator.camera.recording import recorded, with_quantiser
from simulator.judge.lighting import contributions, totals
from simulator.judge.target import find_target, main_material
from simulator.scene.build import build_world
from simulator.scene.geometry import Card
from simulator.scene.load import Scene
from simulator.studies.light_levels.study import STEPS_LUX, Rung, light_ladder
from simulator.studies.provenance import versions

Progress = Callable[[str, float], None]
TRAIL_CONTRAST = 0.6
"""Contrast of the bar whose trail is measured: light over ground, less one."""
TRAIL_SPEED_PX = 6
NOISE_PICTURES = 2
CHART_GRID = (4, 6)
"""Rows and columns of the colour chart."""
ROOM = 0.06


@dataclass(frozen=True)
class Step:
    """One camera on one step of the ladder.

    `picture` (rows, columns, 3) is the part of the frame that holds all targets;
    `noise_temporal_levels` the temporal noise of luma on the chart [levels of 255]; `chroma` the
    mean distance of the chart's colours from grey, C*ab; `trail_frames` how long temporal noise
    reduction drags a mover.
    """

    camera: str
    level: Rung
    picture: NDArray[np.uint8]
    noise_temporal_levels: float
    chroma: float
    trail_frames: float

    def row(self) -> dict[str, Any]:
        """What the table of the ladder says of it."""
        return {
            "camera": self.camera,
            "lux": self.level.lux,
            "mode": self.level.mode,
            "shutter_s": self.level.shutter_s,
            "gain_db": self.level.gain_db,
            "frames_added": self.level.accumulated,
            "limited_by": self.level.limited_by,
            "noise_temporal_levels": self.noise_temporal_levels,
            "chroma": self.chroma,
            "trail_frames": self.trail_frames,
        }


@dataclass(frozen=True)
class LightLevelPictures:
    """Every camera on every step, brightest first."""

    scene: Scene
    cameras: list[Camera]
    steps_lux: tuple[float, ...]
    steps: dict[tuple[str, float], Step]
    seed: int

    def to_dict(self) -> dict[str, Any]:
        """What verdict.json holds of a ladder."""
        night = {
            camera.name: [
                lux for lux in self.steps_lux if self.steps[camera.name, lux].level.mode == "night"
            ]
            for camera in self.cameras
        }
        said = []
        for name, dark in night.items():
            if dark:
                said.append(f"{name} turns to night at {max(dark):g} lx")
            else:
                said.append(f"{name} stays in colour")
        return {
            "schema_version": 1,
            "study": "light ladder",
            "scene": self.scene.name,
            "title": self.scene.model.title,
            "question": self.scene.model.question,
            "answer": "; ".join(said) + ".",
            "seed": self.seed,
            "versions": versions(),
            "conditions": [
                "All lights of the scene are dimmed together; every step is held until the camera"
                " has settled, coming from the brighter one.",
                "Noise: standard deviation of luma between two pictures over the square root of"
                " two, on the chart. Colour: mean C*ab of the chart's 24 patches, 0 for grey."
                " Trail: frames until less than a tenth is left of a bar of contrast"
                f" {TRAIL_CONTRAST:g} that moves {TRAIL_SPEED_PX} px a frame.",
            ],
            "tables": [
                {
                    "caption": "The ladder in figures",
                    "head": [
                        "camera", "lux", "mode", "shutter [s]", "gain [dB]", "noise [levels]",
                        "colour C*ab", "trail [frames]",
                    ],
                    "rows": [
                        [
                            s.camera, f"{s.level.lux:g}", s.level.mode, f"{s.level.shutter_s:.4g}",
                            f"{s.level.gain_db:.1f}", f"{s.noise_temporal_levels:.1f}",
                            f"{s.chroma:.1f}", f"{s.trail_frames:.1f}",
                        ]
                        for s in self.steps.values()
                    ],
                }
            ],
            "steps": [step.row() for step in self.steps.values()],
        }  # fmt: skip


def ladder_pictures(
    scene: Scene,
    cameras: Sequence[Camera],
    steps_lux: Sequence[float] = STEPS_LUX,
    *,
    seed: int = 0,
    progress: Progress | None = None,
) -> LightLevelPictures:
    """Pictures and figures of every camera on every step of falling light.

    Raises
    ------
    InputError
        For a scene without visible light on its target, or a step that is not possible.
    """
    say = progress or (lambda text, share: None)
    order = tuple(sorted(steps_lux, reverse=True))
    steps: dict[tuple[str, float], Step] = {}
    for i, camera in enumerate(cameras):
        levels = light_ladder(scene, camera, order, up=False)
        in_scene = place_camera(build_world(scene.model), scene.model.station, camera.model)
        now = _lux(in_scene, scene)
        for k, level in enumerate(levels):
            say(f"{camera.name} at {level.lux:g} lx", (i + k / len(levels)) / len(cameras))
            steps[camera.name, level.lux] = _step(
                in_scene, scene, camera, level, level.lux / now, seed
            )
    say("done", 1.0)
    return LightLevelPictures(scene, list(cameras), order, steps, seed)


def _lux(in_scene: CameraInScene, scene: Scene) -> float:
    entry = next(t for t in scene.model.target if t.name == scene.model.task.target)
    target = find_target(in_scene, entry)
    rows = contributions(
        in_scene, "day", target.card.centre_m, target.card.normal, main_material(target.card),
        target.card_index,
    )  # fmt: skip
    return totals(rows)[0]


def _step(
    in_scene: CameraInScene, scene: Scene, camera: Camera, level: Rung, scale: float, seed: int
) -> Step:
    dimmed = replace(in_scene, switches=replace(in_scene.switches, light_scale=scale))
    state = settle_exposure(dimmed, level.mode)
    dimmed = as_exposed(dimmed, state)
    buffer, _ = frame_buffer(dimmed, state)
    state, _ = with_quantiser(dimmed, state, buffer, seed=seed)
    pictures = [
        recorded(dimmed, state, buffer, seed=seed + 1000 * n)[0] for n in range(NOISE_PICTURES)
    ]
    chart = _chart(dimmed, scene)
    return Step(
        camera.name,
        level,
        _cut(dimmed, pictures[0]),
        _noise(dimmed, chart, pictures),
        _chroma(dimmed, chart, pictures[0]),
        _trail(dimmed, state, seed),
    )


def _chart(in_scene: CameraInScene, scene: Scene) -> Card:
    return in_scene.world.cards[in_scene.world.targets[scene.model.task.target][0]]


def _cut(in_scene: CameraInScene, picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The part of the frame that holds every target of the scene."""
    cards = [in_scene.world.cards[i] for found in in_scene.world.targets.values() for i in found]
    places = np.concatenate([in_scene.view.project(card.corners_m)[0] for card in cards])
    size = np.array([in_scene.view.width_px, in_scene.view.height_px])
    room = ROOM * float(np.ptp(places, axis=0).max())
    low = np.clip(np.floor(places.min(axis=0) - room), 0, size).astype(int)
    high = np.clip(np.ceil(places.max(axis=0) + room), 0, size).astype(int)
    return picture[low[1] : high[1], low[0] : high[0]]


def _regions(in_scene: CameraInScene, card: Card) -> list[tuple[slice, slice]]:
    """The inner part of each patch of the chart in the picture, where it has any pixels."""
    rows, columns = CHART_GRID
    out = []
    for j in range(rows):
        for i in range(columns):
            u = np.array([i + 0.32, i + 0.68]) / columns * card.width_m
            v = np.array([j + 0.32, j + 0.68]) / rows * card.height_m
            ends = np.stack([card.point_m(u[0], v[0]), card.point_m(u[1], v[1])])
            (x0, y0), (x1, y1) = in_scene.view.project(ends)[0]
            out.append(
                (
                    slice(round(y0), max(round(y0) + 1, round(y1))),
                    slice(round(x0), max(round(x0) + 1, round(x1))),
                )
            )
    return out


def _noise(in_scene: CameraInScene, card: Card, pictures: list[NDArray[np.uint8]]) -> float:
    weights = np.array([0.2126, 0.7152, 0.0722])
    a, b = (picture.astype(np.float64) @ weights for picture in pictures[:2])
    parts = [np.square(a[s] - b[s]).ravel() for s in _regions(in_scene, card)]
    return float(np.sqrt(np.concatenate(parts).mean() / 2.0))


def _chroma(in_scene: CameraInScene, card: Card, picture: NDArray[np.uint8]) -> float:
    from skimage.color import rgb2lab  # noqa: PLC0415

    means = np.array([picture[s].reshape(-1, 3).mean(axis=0) for s in _regions(in_scene, card)])
    lab = rgb2lab((means / 255.0)[None])[0]
    return float(np.hypot(lab[:, 1], lab[:, 2]).mean())


def _trail(in_scene: CameraInScene, state: State, seed: int) -> float:
    if in_scene.camera.processing.temporal_noise_reduction <= 0.0:
        return 0.0
    exposure = state.exposure
    return measure_trail(
        in_scene.camera, level=max(0.02, exposure.level), contrast=TRAIL_CONTRAST,
        speed_px=TRAIL_SPEED_PX, shutter_s=exposure.shutter_s, gain_db=exposure.gain_db, seed=seed,
    ).frames  # fmt: skip
