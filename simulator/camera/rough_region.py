"""The patch around a target for searches: what is blurred once serves every moment.

Movement along the target's own path and the lens are one transfer, laid on each thing alone at the
shown moment. Frames that the camera remembers take the blurred things from there, moved and grown
(`earlier`), and lean as the rows of the shutter see them in the same step. Edges are blurred before
one thing stands before the other instead of after.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from simulator.camera.blur import Blur, blur_fine, fine_transfer
from simulator.camera.earlier import earlier_grid
from simulator.camera.in_scene import CameraInScene
from simulator.camera.lens import box_otf, fine_frequencies
from simulator.camera.motion_blur import LEAST_PX, along_paths, paths_px
from simulator.camera.rolling import drift, lamps_by_rows, line_time_s, resampled, smear_by_rows
from simulator.scene.air import Air, add_air
from simulator.scene.emitters import add_emitters
from simulator.scene.kernels.pack import PackedLights
from simulator.scene.kernels.radiance import STATIC, Layer, Sampling
from simulator.units import FloatArray, Image

UNLIKE_SHARE, UNLIKE_PX = 0.25, 0.4
"""Differences of the movement over a target that are still taken as one: as a share, and [px]."""
COVERED = 0.999
"""Where moving things hide so much of what stands still, it is left out."""

Ask = Callable[[Sampling, int], Layer]
"""Gives the layer of a grid and group at the shown moment."""
Keep = Callable[[tuple[object, ...], Sampling, Callable[[Sampling], Layer]], Layer]
"""Gives a kept layer of a grid by its key, or makes and keeps one."""


def _alike(
    in_scene: CameraInScene,
    speed_m_s: FloatArray,
    shutter_s: float,
    point_m: FloatArray,
    size_px: tuple[int, int],
) -> bool:
    """Whether something moves the same way all over a target, near enough for a search."""
    view = in_scene.view
    depth = float(view.project(point_m)[1])
    half = [0.5 * n * depth / view.focal_px for n in size_px]
    corners = [
        point_m + x * half[0] * view.axes[0] + y * half[1] * view.axes[1]
        for x in (-1.0, 1.0)
        for y in (-1.0, 1.0)
    ]
    moves = np.array([view.flow(p, speed_m_s) for p in corners]) * shutter_s
    most = float(np.hypot(*np.ptp(moves, axis=0)))
    return most <= max(UNLIKE_PX, UNLIKE_SHARE * float(np.hypot(*moves.mean(axis=0))))


def laid_roughly(
    in_scene: CameraInScene,
    lights: PackedLights,
    air: Air | None,
    glow_cell_px: float,
    shutter_s: float,
    time_s: float,
    point_m: FloatArray,
    size_px: tuple[int, int],
    blur: Blur,
    sampling: Sampling,
    ask: Ask,
    keep: Keep,
) -> Image:
    """Rate (rows, columns, 3) of a fine grid behind the lens [e-/s per pixel].

    Parameters
    ----------
    in_scene
        The camera at the shown moment.
    lights, air, glow_cell_px
        As strong as they are at the moment that is asked for; squares [px] of the glow in the air.
    time_s
        That moment.
    point_m, size_px
        A point of the target and how large it is in the picture, across and down.
    ask, keep
        Where layers come from.
    """
    smear, flow = (in_scene.smear_px(t, point_m) for t in (shutter_s, 1.0))
    moving_s = shutter_s if in_scene.switches.motion else 0.0
    moving: list[Layer] = []
    left = np.ones((sampling.rows, sampling.columns), np.float32)
    for group in range(1, len(in_scene.world.velocities)):
        speed, lean = in_scene.world.velocities[group], drift(in_scene, flow[group])
        grid, back, farther = sampling, np.eye(2, 3), 0.0
        if lean is not None:
            grid = lean.source(sampling)
            back = lean.back(grid, sampling)
        if time_s != 0.0 and np.any(speed):
            grid, earlier, farther = earlier_grid(in_scene, point_m, speed * time_s, grid)
            back = np.column_stack(
                [earlier[:, :2] @ back[:, :2], earlier[:, :2] @ back[:, 2] + earlier[:, 2]]
            )
        alike = _alike(in_scene, speed, moving_s, point_m, size_px)
        path = smear_by_rows(lean, smear[group])

        def made(
            wide: Sampling, group: int = group, alike: bool = alike, path: FloatArray = path
        ) -> Layer:
            layer = ask(wide, group)
            drawn = None if alike else _along_paths(in_scene, layer, wide, group, moving_s)
            return _blurred(drawn or layer, wide, blur, path if drawn is None else None)

        layer = keep((group, blur, moving_s), grid, made)
        if not np.any(layer.cover):
            continue
        if grid != sampling or np.any(back != np.eye(2, 3)):
            layer = resampled(layer, back, sampling)
        if farther:
            layer = layer._replace(depth=layer.depth + np.float32(farther))
        moving.append(layer)
        left *= 1.0 - layer.cover
    rate = np.zeros((sampling.rows, sampling.columns, 3), np.float32)
    nearest = np.full(left.shape, np.inf, np.float32)
    if left.max() > 1.0 - COVERED:
        still = keep(
            (STATIC, blur), sampling, lambda wide: _blurred(ask(wide, STATIC), wide, blur, None)
        )
        rate, nearest = still.rate.copy(), still.depth.copy()
    for layer in moving:
        rate *= 1.0 - layer.cover[:, :, None]
        rate += layer.rate
        np.copyto(nearest, layer.depth, where=layer.cover > 0.5)
    if air is not None:
        add_air(rate, nearest, sampling, air, in_scene.packed_view, lights, glow_cell_px)
    return _with_lamps(in_scene, rate, nearest, sampling, lights, time_s, moving_s, blur)


def _along_paths(
    in_scene: CameraInScene, layer: Layer, grid: Sampling, group: int, shutter_s: float
) -> Layer | None:
    """A layer drawn out at every place along its own path; None where all paths are alike."""
    paths = paths_px(in_scene, group, layer, grid, shutter_s, line_time_s(in_scene))
    if paths is None:
        return None
    rate, cover = along_paths(layer, paths, grid.step)
    return layer._replace(rate=rate, cover=cover)


def _blurred(layer: Layer, grid: Sampling, blur: Blur, path_px: FloatArray | None) -> Layer:
    """A layer behind the lens, drawn out along its path (2,) [px]."""
    if not np.any(layer.cover):
        return layer
    transfer = fine_transfer(blur, grid.rows, grid.columns, grid.step)
    if path_px is not None and np.hypot(*path_px) > LEAST_PX:
        fx, fy = fine_frequencies(grid.rows, grid.columns, grid.step)
        drawn_out = box_otf(fx * path_px[0] + fy * path_px[1], 1.0)
        transfer = transfer * drawn_out.astype(np.float32)
    if np.all(layer.cover == 1.0):
        return layer._replace(rate=blur_fine(layer.rate, transfer))
    both = blur_fine(np.dstack([layer.rate, layer.cover]), transfer)
    return layer._replace(rate=both[:, :, :3], cover=both[:, :, 3])


def _with_lamps(
    in_scene: CameraInScene,
    rate: Image,
    nearest: Image,
    sampling: Sampling,
    lights: PackedLights,
    time_s: float,
    shutter_s: float,
    blur: Blur,
) -> Image:
    """The picture with the lamps that shine into the lens, where they are at a moment."""
    world = in_scene.world
    emitters = [
        replace(e, position_m=e.position_m + world.velocities[e.group] * time_s)
        for e in world.emitters
    ]
    then = replace(in_scene, world=replace(world, emitters=emitters))
    then.__dict__["view"] = in_scene.view
    shining = np.zeros_like(rate)
    glints = add_emitters(
        shining, nearest, sampling, lamps_by_rows(then), in_scene.view, in_scene.packed_view,
        lights, shutter_s,
    )  # fmt: skip
    if not any(glint.seen > 0.0 for glint in glints):
        return rate
    transfer = fine_transfer(blur, sampling.rows, sampling.columns, sampling.step)
    return np.asarray(rate + np.maximum(blur_fine(shining, transfer), 0.0))
