"""Which pixels show a target, which lie around it, and what the frame shows there."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene
from simulator.errors import GeometryError
from simulator.judge.figures import CLIP_LEVEL, CRUSH_LEVEL
from simulator.judge.target import JudgedTarget
from simulator.scene.kernels.radiance import surfaces_at
from simulator.units import Image

RING_SHARE = 0.25
"""Width of the ring over the square root of the seen area."""
MIN_RING_PX, MAX_RING_PX = 3, 60
GUARD_PX = 2
"""Pixels between target and ring, where edges are blurred, besides the movement."""
FINE_AREA_PX = 40_000
"""Smaller boxes are looked at with 3 x 3 places a pixel."""
LUMA = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)


@dataclass(frozen=True)
class Silhouette:
    """Pixels of a target within a window of the picture.

    `window_px` x0, y0, x1, y1; `inside` and `ring` (rows, columns) over the window; the ring is
    empty where the target fills the picture. `area_px` is the seen area, parts of pixels counted.
    """

    window_px: tuple[int, int, int, int]
    inside: NDArray[np.bool_]
    ring: NDArray[np.bool_]
    area_px: float

    def cut(self, picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """The window of a whole picture."""
        x0, y0, x1, y1 = self.window_px
        return picture[y0:y1, x0:x1]


def find_silhouette(
    in_scene: CameraInScene, target: JudgedTarget, smear_px: float = 0.0
) -> Silhouette | None:
    """The pixels that show a target at the moment of the picture; None if no place of it is seen.

    A pixel belongs to the target if at least half of it does, or, of a target smaller than that,
    if it holds the most of it.
    """
    x0, y0, x1, y1 = target.box_px
    if x0 >= x1 or y0 >= y1:
        return None
    # the ring is as wide as the box asks for; the seen part may ask for less
    grow = int(np.clip(RING_SHARE * np.sqrt((x1 - x0) * (y1 - y0)), MIN_RING_PX, MAX_RING_PX))
    guard = GUARD_PX + int(np.ceil(smear_px / 2.0))
    wide = grow + guard
    window = (
        max(0, x0 - wide),
        max(0, y0 - wide),
        min(in_scene.view.width_px, x1 + wide),
        min(in_scene.view.height_px, y1 + wide),
    )
    shape = (window[3] - window[1], window[2] - window[0])
    split = 3 if (x1 - x0) * (y1 - y0) <= FINE_AREA_PX else 1
    xs = x0 + (np.arange((x1 - x0) * split) + 0.5) / split
    ys = y0 + (np.arange((y1 - y0) * split) + 0.5) / split
    places = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    cards = surfaces_at(places, in_scene.packed_scene, in_scene.packed_view)
    own = np.isin(cards, target.indices).reshape(y1 - y0, split, x1 - x0, split)
    share = own.mean(axis=(1, 3))
    if not np.any(share > 0.0):
        return None
    inside = np.zeros(shape, dtype=bool)
    part = inside[y0 - window[1] : y1 - window[1], x0 - window[0] : x1 - window[0]]
    part[:] = share >= min(0.5, float(share.max()))
    area = float(share.sum())
    ring_px = int(np.clip(RING_SHARE * np.sqrt(area), MIN_RING_PX, grow))
    # what belongs to the target in part belongs to neither
    touched = np.zeros(shape, dtype=np.uint8)
    touched[y0 - window[1] : y1 - window[1], x0 - window[0] : x1 - window[0]] = share > 0.0
    near = _grown(touched, guard)
    far = _grown(touched, guard + ring_px)
    return Silhouette(window, inside, (far > 0) & (near == 0), area)


def seen_silhouette(
    in_scene: CameraInScene, target: JudgedTarget, smear_px: float, file: str | Path | None = None
) -> Silhouette:
    """As `find_silhouette`, of a target that has to be seen.

    Raises
    ------
    GeometryError
        If no place of it is; it names `file`.
    """
    silhouette = find_silhouette(in_scene, target, smear_px)
    if silhouette is None:
        raise GeometryError(
            "No part of the target can be seen.",
            file=file,
            key="task.target",
            given=target.entry.name,
            allowed="a target that the camera sees",
            fix="move what stands before it, or the camera",
        )
    return silhouette


def _grown(mask: NDArray[np.uint8], by_px: int) -> NDArray[np.uint8]:
    size = 2 * by_px + 1
    return np.asarray(cv2.dilate(mask, np.ones((size, size), np.uint8)))


def luma_levels(frames: NDArray[np.uint8]) -> Image:
    """Luma (..., rows, columns) of eight-bit pictures [levels of 255] (BT.709 weights)."""
    return np.asarray(frames.astype(np.float32) @ LUMA)


class Look(NamedTuple):
    """What one frame shows of a target."""

    mean_level: float
    """Mean luma of the target [levels of 255]."""
    contrast_to_surround: float | None
    """(target - ring) / (target + ring) of their mean levels; None without a ring."""
    clipped_fraction: float
    crushed_fraction: float


def look_of(frame: NDArray[np.uint8], silhouette: Silhouette) -> Look:
    """Levels of a target in a whole frame (rows, columns, 3)."""
    cut = silhouette.cut(frame)
    luma = luma_levels(cut)
    inside = cut[silhouette.inside]
    mean = float(luma[silhouette.inside].mean())
    contrast = None
    if np.any(silhouette.ring):
        around = float(luma[silhouette.ring].mean())
        contrast = (mean - around) / (mean + around) if mean + around > 0.0 else 0.0
    return Look(
        mean,
        contrast,
        float(np.mean(inside.min(axis=1) >= CLIP_LEVEL)),
        float(np.mean(inside.max(axis=1) <= CRUSH_LEVEL)),
    )
