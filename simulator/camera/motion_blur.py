"""Motion blur of what moves: every place by the movement of what is seen there, in depth.

A point P in camera axes that moves with V shifts on the picture by

    d/dt (x, y) = (f V_xy - (x, y) V_z) / P_z

so that of a car coming head-on what lies on the axis stays sharp and what lies off it is drawn out.
Where the movement is about the same all over a layer, one line kernel serves.
"""

from __future__ import annotations

import cv2
import numpy as np

from simulator.camera.blur import blur_fine
from simulator.camera.in_scene import CameraInScene
from simulator.camera.lens import box_otf
from simulator.scene.kernels.radiance import Layer, Sampling
from simulator.units import FloatArray, Image

UNLIKE_PX = 0.2
"""Differences of the movement within a layer that are still taken as one [px]."""
LEAST_PX = 0.05
"""Less movement is not made [px]."""
TAPS_PER_SAMPLE = 1.5
"""Places along a path that are added up, for each sample that it crosses."""
COARSE = 16
"""Distortion is followed on a grid of so many samples."""


def corner_flows(in_scene: CameraInScene, group: int) -> FloatArray:
    """Movement (n, 2) of the corners of all cards of a group that lie ahead [px/s]."""
    view, speed = in_scene.view, in_scene.world.velocities[group]
    corners = np.concatenate([c.corners_m for c in in_scene.world.cards if c.group == group])
    ahead = corners[view.project(corners)[1] > 0.1]
    return np.array([view.flow(p, speed) for p in ahead]).reshape(-1, 2)


def flow_at_unit_depth(in_scene: CameraInScene, group: int, s: Sampling) -> Image:
    """Movement (rows, columns, 2) that something of a group would have at a depth of 1 m [px/s].

    Over the depth [m] it is that of what is seen there.
    """
    view = in_scene.view
    speed = view.axes @ np.asarray(in_scene.world.velocities[group], dtype=np.float64)
    cell = 1 if view.distortion == 0.0 else COARSE
    x = s.x0 + (np.arange(0, s.columns + cell, cell) + 0.5) * s.step
    y = s.y0 + (np.arange(0, s.rows + cell, cell) + 0.5) * s.step
    if view.distortion == 0.0:
        x, y = x[: s.columns] - view.middle_px[0], y[: s.rows] - view.middle_px[1]
        out = np.empty((s.rows, s.columns, 2), np.float32)
        out[:, :, 0] = view.focal_px * speed[0] - x[None, :] * speed[2]
        out[:, :, 1] = view.focal_px * speed[1] - y[:, None] * speed[2]
        return out
    seen = np.stack(np.meshgrid(x, y), axis=-1)
    plane_px = view.undistorted(seen.reshape(-1, 2)).reshape(seen.shape)
    flow = view.focal_px * speed[:2] - (plane_px - view.middle_px) * speed[2]
    step = 0.01 * flow / np.maximum(np.linalg.norm(flow, axis=-1, keepdims=True), 1e-9)
    ends = [view.distort((plane_px + k * step).reshape(-1, 2)).reshape(seen.shape) for k in (-1, 1)]
    moved = (ends[1] - ends[0]) / 0.02 * np.linalg.norm(flow, axis=-1, keepdims=True)
    coarse = np.nan_to_num(moved).astype(np.float32)
    gx, gy = np.meshgrid(
        np.arange(s.columns, dtype=np.float32) / cell, np.arange(s.rows, dtype=np.float32) / cell
    )
    return np.asarray(cv2.remap(coarse, gx, gy, cv2.INTER_LINEAR))


def paths_px(
    in_scene: CameraInScene, group: int, layer: Layer, s: Sampling, shutter_s: float, line_s: float
) -> Image | None:
    """Path (rows, columns, 2) of every place during an exposure [px]; None where all is alike.

    Beside the thing the depth of its nearest parts counts, for they are drawn out over it. Behind a
    rolling shutter that reads a row after `line_s` a path is longer by 1 / (1 - speed down x line).
    """
    speeds = corner_flows(in_scene, group) * shutter_s
    if speeds.size == 0 or np.ptp(speeds, axis=0).max() <= UNLIKE_PX:
        return None
    inside = (layer.cover > 0.5) & np.isfinite(layer.depth) & (layer.depth > 0.0)
    if not np.any(inside):
        return None
    near = np.where(inside, 1.0 / np.where(inside, layer.depth, 1.0), 0.0).astype(np.float32)
    reach = 2 * int(np.ceil(np.abs(speeds).max() / 2.0 / s.step)) + 3
    total = cv2.blur(near, (reach, reach), borderType=cv2.BORDER_CONSTANT)
    count = cv2.blur(inside.astype(np.float32), (reach, reach), borderType=cv2.BORDER_CONSTANT)
    mean = np.float32(near[inside].mean())
    around = np.where(count > 1e-6, total / np.maximum(count, 1e-6), mean)
    per_depth = np.where(inside, near, around)[:, :, None]
    flow = flow_at_unit_depth(in_scene, group, s) * per_depth
    flow /= np.maximum(1.0 - flow[:, :, 1:] * np.float32(line_s), 0.1)
    paths = flow * np.float32(shutter_s)
    paths = np.asarray(paths, dtype=np.float32)
    mask = inside.view(np.uint8)
    for plane in cv2.split(paths):
        low, high = cv2.minMaxLoc(plane, mask)[:2]
        if high - low > UNLIKE_PX:
            return paths
    return None


def along_paths(layer: Layer, paths: Image, step_px: float) -> tuple[Image, Image]:
    """Rate and cover of a layer, averaged along the path (rows, columns, 2) [px] of every place."""
    rows, columns = layer.cover.shape
    both = np.dstack([layer.rate, layer.cover])
    longest = float(np.hypot(paths[..., 0], paths[..., 1]).max()) / step_px
    steps = max(2, int(np.ceil(TAPS_PER_SAMPLE * longest)))
    x, y = np.meshgrid(np.arange(columns, dtype=np.float32), np.arange(rows, dtype=np.float32))
    ahead_x, ahead_y = (np.ascontiguousarray(paths[..., k] / np.float32(step_px)) for k in range(2))
    out, tap = np.zeros_like(both), np.empty_like(both)
    at_x, at_y = np.empty_like(x), np.empty_like(y)
    for k in range(steps):
        t = np.float32((k + 0.5) / steps - 0.5)
        np.add(x, np.multiply(ahead_x, t, out=at_x), out=at_x)
        np.add(y, np.multiply(ahead_y, t, out=at_y), out=at_y)
        cv2.remap(both, at_x, at_y, cv2.INTER_LINEAR, dst=tap, borderMode=cv2.BORDER_REPLICATE)
        out += tap
    out /= np.float32(steps)
    return np.ascontiguousarray(out[:, :, :3]), np.ascontiguousarray(out[:, :, 3])


def along_line(layer: Layer, move_px: FloatArray, step_px: float) -> tuple[Image, Image]:
    """The same along one path (2,) [px] for all, with nothing beside the layer."""
    kernel = line_kernel(np.asarray(move_px) / step_px)
    if kernel is None:
        return layer.rate, layer.cover
    rate, cover = (
        cv2.filter2D(plane, cv2.CV_32F, kernel, borderType=cv2.BORDER_CONSTANT)
        for plane in (layer.rate, layer.cover)
    )
    return np.asarray(rate), np.asarray(cover)


def along_line_fine(
    layer: Layer, move_px: FloatArray, fx: FloatArray, fy: FloatArray
) -> tuple[Image, Image]:
    """The same on a fine grid of frequencies `fx`, `fy` [cycles/px], by its transfer function."""
    if np.hypot(*move_px) <= LEAST_PX:
        return layer.rate, layer.cover
    path = box_otf(fx * move_px[0] + fy * move_px[1], 1.0)
    rate, cover = blur_fine(layer.rate, path), layer.cover
    if not np.all(cover == 1.0):
        cover = blur_fine(cover[:, :, None], path)[:, :, 0]
    return rate, cover


def line_kernel(move: FloatArray) -> Image | None:
    """Kernel of a straight, even movement (dx, dy) [samples], sum one; None if negligible."""
    length = float(np.hypot(*move))
    if length < 0.05:
        return None
    reach_x, reach_y = (int(np.ceil(abs(m) / 2.0)) + 1 for m in move)
    kernel = np.zeros((2 * reach_y + 1, 2 * reach_x + 1))
    steps = max(8, int(np.ceil(length * 8)))
    for k in range(steps):
        t = (k + 0.5) / steps - 0.5
        x, y = reach_x + move[0] * t, reach_y + move[1] * t
        ix, iy = int(np.floor(x)), int(np.floor(y))
        fx, fy = x - ix, y - iy
        kernel[iy, ix] += (1 - fx) * (1 - fy)
        kernel[iy, ix + 1] += fx * (1 - fy)
        kernel[iy + 1, ix] += (1 - fx) * fy
        kernel[iy + 1, ix + 1] += fx * fy
    return (kernel / kernel.sum()).astype(np.float32)
