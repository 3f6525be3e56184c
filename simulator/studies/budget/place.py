"""The place of a target whose pixel a light budget follows."""

from __future__ import annotations

import math
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene
from simulator.errors import GeometryError
from simulator.judge.target import JudgedTarget
from simulator.scene.kernels.radiance import STATIC
from simulator.scene.kernels.seen import Sampling, Seen, seen_at
from simulator.units import FloatArray

MOST_SAMPLES = 90_000
"""Samples of the target among which the place is sought."""
FINEST_PX = 1.0 / 3.0
"""Finest step between them [px]."""
DEEP = 0.7
"""Among places that lie at least this share of the deepest one's distance from an edge, the one
nearest to the target's middle is taken."""


class Place(NamedTuple):
    """One pixel of the target: what stands there, and how the camera looks at it.

    `pixel` column and row in the whole picture; `point_m` in the world, `normal` the unit normal
    that faces the camera; `body` whether a solid body is seen there rather than a card; `angle_deg`
    between the normal and the way to the camera, `field_deg` between that way and the lens's axis.
    """

    pixel: tuple[int, int]
    card: int
    group: int
    material: int
    body: bool
    point_m: FloatArray
    normal: FloatArray
    distance_m: float
    angle_deg: float
    field_deg: float

    @property
    def sampling(self) -> Sampling:
        """Three by three samples about the middle of the pixel, the middle one on it."""
        return Sampling(self.pixel[0], self.pixel[1], FINEST_PX, 3, 3)


def even_place(in_scene: CameraInScene, target: JudgedTarget, shutter_s: float) -> Place:
    """The pixel of a target that lies deepest inside one of its materials.

    Blur and movement mix what lies around a pixel into it; here they change it least, and the least
    of all where what lies around is no brighter: of materials that are about as wide, the brightest
    one is taken.

    Raises
    ------
    GeometryError
        If no pixel shows the target.
    """
    x0, y0, x1, y1 = target.box_px
    step = max(FINEST_PX, math.sqrt((x1 - x0) * (y1 - y0) / MOST_SAMPLES))
    x = np.arange(x0 + step / 2.0, x1, step)
    y = np.arange(y0 + step / 2.0, y1, step)
    seen = seen_at(x, y, in_scene.packed_scene, in_scene.packed_view, False, grid=True)
    on_target = np.isin(seen.card, target.indices)
    if not np.any(on_target):
        raise GeometryError("No pixel of the picture shows the target.", key="target")
    smear_px = in_scene.smear_px(shutter_s, target.card.centre_m)[target.card.group]
    depths = {
        int(one): _depths(on_target & (seen.mats == one), smear_px, step)
        for one in np.unique(seen.mats[on_target])
    }
    least = DEEP * max(float(deep.max()) for deep in depths.values())
    wide = [one for one, deep in depths.items() if deep.max() >= least]
    material = max(wide, key=lambda one: in_scene.world.materials[one].reflectance.mean())
    row, column = _nearest(depths[material])
    pixel = int(x[column]), int(y[row])
    middle = np.array([pixel[0] + 0.5]), np.array([pixel[1] + 0.5])
    at = seen_at(*middle, in_scene.packed_scene, in_scene.packed_view, False)
    if at.card[0] not in target.indices or at.mats[0] != material:
        at = seen.at(([row], [column]))  # type: ignore[arg-type]
        middle = x[[column]], y[[row]]
    return _place(in_scene, pixel, at, float(middle[0][0]), float(middle[1][0]))


def _depths(inside: NDArray[np.bool_], smear_px: FloatArray, step: float) -> NDArray[np.float32]:
    """How far (rows, columns) every sample lies from what shows something else, in samples, while
    it moves."""
    mask = np.pad(inside, 1).astype(np.uint8)
    across, down = (int(abs(move) / step) | 1 for move in smear_px)
    steady = cv2.erode(mask, np.ones((down, across), np.uint8))
    depths = cv2.distanceTransform(steady if steady.any() else mask, cv2.DIST_L2, 5)
    return np.asarray(depths[1:-1, 1:-1], dtype=np.float32)


def _nearest(deep: NDArray[np.float32]) -> tuple[int, int]:
    """Row and column of a deep sample, the one nearest to the middle."""
    rows, columns = np.nonzero(deep >= DEEP * deep.max())
    middle = (np.array(deep.shape) - 1.0) / 2.0
    nearest = int(np.hypot(rows - middle[0], columns - middle[1]).argmin())
    return int(rows[nearest]), int(columns[nearest])


def _place(
    in_scene: CameraInScene, pixel: tuple[int, int], seen: Seen, x_px: float, y_px: float
) -> Place:
    view, card = in_scene.view, int(seen.card[0])
    flat = view.undistorted(np.array([[x_px, y_px]]))[0]
    ray = view.ray_matrix @ np.array([flat[0], flat[1], 1.0])
    point = view.position_m + ray * float(seen.depth[0])
    away = view.position_m - point
    distance = float(np.linalg.norm(away))
    towards = away / distance
    normal = in_scene.world.cards[card].normal
    body = seen.normal is not None and bool(np.any(seen.normal[0, :3] != 0.0))
    if body:
        assert seen.normal is not None
        normal = seen.normal[0, :3].astype(np.float64)
        normal = normal / np.linalg.norm(normal)
    if normal @ towards < 0.0:
        normal = -normal
    off_axis = math.hypot(flat[0] - view.width_px / 2.0, flat[1] - view.height_px / 2.0)
    return Place(
        pixel,
        card,
        in_scene.world.cards[card].group or STATIC,
        int(seen.mats[0]),
        body,
        point,
        normal,
        distance,
        math.degrees(math.acos(min(1.0, float(normal @ towards)))),
        math.degrees(math.atan(off_axis / view.focal_px)),
    )
