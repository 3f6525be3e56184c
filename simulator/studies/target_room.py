"""The target with some room around it: what is shown of it, pixel for pixel."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.camera.auto_exposure import State
from simulator.camera.in_scene import CameraInScene
from simulator.camera.region_plan import RegionPlan
from simulator.judge.target import JudgedTarget, JudgedText, mean_wavelength_nm, plan_region
from simulator.units import Image

SPLIT = 3
"""Samples a side of a pixel."""
ROOM = 0.3
"""Room around a target, over its longer side."""


class TargetPictures(NamedTuple):
    """Delivered pictures of the target with some room.

    `frames` (n, rows, columns, 3) 8-bit levels; `box_px` their place in the whole picture and
    `target_box_px` that of the target: x0, y0, x1, y1.
    """

    frames: NDArray[np.uint8]
    box_px: tuple[int, int, int, int]
    target_box_px: tuple[int, int, int, int]


class TargetElectrons(NamedTuple):
    """Mean light of one exposure: `electrons` (rows, columns, 3) [e- per pixel]; boxes as in
    `TargetPictures`."""

    electrons: Image
    box_px: tuple[int, int, int, int]
    target_box_px: tuple[int, int, int, int]


def room_around(
    in_scene: CameraInScene, state: State, target: JudgedTarget, share: float = ROOM
) -> RegionPlan:
    """The target's box with room on every side, a share of its larger side, as far as the picture
    reaches."""
    x0, y0, x1, y1 = target.box_px
    view = in_scene.view
    room = round(share * max(x1 - x0, y1 - y0)) + 4
    box = (
        max(0, x0 - room), max(0, y0 - room),
        min(view.width_px, x1 + room), min(view.height_px, y1 + room),
    )  # fmt: skip
    margin = 8
    if isinstance(target, JudgedText):
        margin = plan_region(in_scene, state, target).margin_px
    wavelength = mean_wavelength_nm(in_scene, state, target)
    return RegionPlan(box, margin, SPLIT, target.card.centre_m, wavelength)
