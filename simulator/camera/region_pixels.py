"""Light on the pixels of the patch around a target.

Movement, lens and defocus act on a fine grid by their exact transfer functions; then every pixel
averages over its aperture.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import cv2
import numpy as np

from simulator.camera.blur import Blur, blur_fine, fine_transfer
from simulator.camera.frame_layers import Shining
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.lens import fine_frequencies
from simulator.camera.motion_blur import along_line_fine, along_paths, paths_px
from simulator.camera.region_plan import RegionPlan
from simulator.camera.rolling import drift, lamps_by_rows, layer_by_rows, line_time_s, smear_by_rows
from simulator.camera.rough_region import laid_roughly
from simulator.scene.air import add_air
from simulator.scene.emitters import add_emitters
from simulator.scene.kernels.pack import PackedLights
from simulator.scene.kernels.radiance import STATIC, Layer, Sampling
from simulator.scene.radiosity.field import is_rough
from simulator.units import FloatArray, Image

NOTHING_LEFT = 1e-5
"""Where moving things leave no more than this to be seen of what stands still, it is not traced."""
GLOW_CELL_PX = 2.0
"""The glow of lamps in the air is computed on squares of this side."""


class KeptLayers(Protocol):
    """Where layers of a grid come from, as `region_traces.Traces` keeps them."""

    def layer(
        self,
        in_scene: CameraInScene,
        mode: Mode,
        grid: Sampling,
        time_s: float,
        group: int,
        factors: FloatArray | None,
    ) -> Layer:
        """One layer of a grid at a moment."""

    def behind_lens(
        self, key: tuple[object, ...], grid: Sampling, make: Callable[[Sampling], Layer]
    ) -> Layer:
        """A layer of a grid behind the lens."""


def laid_on_pixels(
    in_scene: CameraInScene,
    mode: Mode,
    shutter_s: float,
    plan: RegionPlan,
    time_s: float,
    traces: KeptLayers,
    factors: FloatArray | None,
) -> Image:
    """Light (rows, columns, 3) of the patch on the pixels, before stray light [e-/s].

    It grows with the strength of all lights together.
    """
    if is_rough():
        return _on_pixels(_rough(in_scene, mode, shutter_s, plan, time_s, traces, factors), plan)
    now = in_scene.at(time_s)
    smear, flow = (now.smear_px(t, plan.point_m) for t in (shutter_s, 1.0))
    moving_s = shutter_s if now.switches.motion else 0.0
    sampling = plan.sampling
    fx, fy = fine_frequencies(sampling.rows, sampling.columns, sampling.step)
    (lights, blur), view = _lights_and_blur(now, mode, plan, factors), now.packed_view
    moving: list[tuple[Image, Image, Layer]] = []
    left = np.ones((sampling.rows, sampling.columns), np.float32)
    for group in range(1, len(now.world.velocities)):
        lean = drift(now, flow[group])

        def trace(grid: Sampling, group: int = group) -> Layer:
            return traces.layer(now, mode, grid, time_s, group, factors)

        layer = layer_by_rows(lean, sampling, trace)
        if not np.any(layer.cover):
            continue
        paths = paths_px(now, group, layer, sampling, moving_s, line_time_s(now))
        if paths is None:
            move = smear_by_rows(lean, smear[group])
            moved, cover = along_line_fine(layer, move, fx, fy)
        else:
            moved, cover = along_paths(layer, paths, sampling.step)
        moving.append((moved, cover, layer))
        left *= 1.0 - cover
    if left.max() > NOTHING_LEFT:
        static = traces.layer(now, mode, sampling, time_s, STATIC, factors)
        rate, nearest = static.rate.copy(), static.depth.copy()
    else:
        rate = np.zeros((sampling.rows, sampling.columns, 3), np.float32)
        nearest = np.full(left.shape, np.inf, np.float32)
    for moved, cover, layer in moving:
        rate = moved + (1.0 - cover[:, :, None]) * rate
        nearest = np.where(layer.cover > 0.5, layer.depth, nearest)
    air = now.air(mode)
    if air is not None:
        add_air(rate, nearest, sampling, air, view, lights, GLOW_CELL_PX)
    add_emitters(rate, nearest, sampling, lamps_by_rows(now), now.view, view, lights, moving_s)
    rate = blur_fine(rate, fine_transfer(blur, sampling.rows, sampling.columns, sampling.step))
    return _on_pixels(rate, plan)


def seen_as(
    in_scene: CameraInScene,
    mode: Mode,
    shutter_s: float,
    plan: RegionPlan,
    time_s: float,
    factors: FloatArray | None,
) -> tuple[object, ...]:
    """What a patch on the pixels depends on, beside what its layers show."""
    lights, world, camera = in_scene.lights(mode), in_scene.world, in_scene.camera
    switches = in_scene.switches
    moving = switches.motion and bool(np.any(world.velocities))
    return (
        mode, shutter_s if moving else 0.0, plan.box_px, plan.sampling, plan.wavelength_nm,
        plan.point_m.tobytes(), time_s, None if factors is None else factors.tobytes(),
        tuple(camera.lens), camera.sensor.shutter, line_time_s(in_scene), in_scene.row_zero_m,
        (switches.diffraction, switches.defocus, moving), world.velocities.tobytes(),
        lights.amount.tobytes(), lights.extinction, is_rough(),
    )  # fmt: skip


def _lights_and_blur(
    in_scene: CameraInScene, mode: Mode, plan: RegionPlan, factors: FloatArray | None
) -> tuple[PackedLights, Blur]:
    """Lights as strong as they are at a moment, and the blur of lens and focus at the target."""
    lights = Shining(in_scene.lights(mode), factors).now
    depth_m = float(in_scene.view.project(plan.point_m)[1])
    return lights, in_scene.blur_at(depth_m, plan.wavelength_nm)


def _rough(
    in_scene: CameraInScene,
    mode: Mode,
    shutter_s: float,
    plan: RegionPlan,
    time_s: float,
    traces: KeptLayers,
    factors: FloatArray | None,
) -> Image:
    """The fine grid behind the lens for a search, see `rough_region`."""
    lights, blur = _lights_and_blur(in_scene, mode, plan, factors)
    by = None if factors is None else factors.tobytes()
    size = (plan.box_px[2] - plan.box_px[0], plan.box_px[3] - plan.box_px[1])
    return laid_roughly(
        in_scene, lights, in_scene.air(mode), GLOW_CELL_PX, shutter_s, time_s, plan.point_m, size,
        blur, plan.sampling,
        lambda grid, group: traces.layer(in_scene, mode, grid, 0.0, group, factors),
        lambda key, grid, make: traces.behind_lens((mode, by, in_scene.switches, *key), grid, make),
    )  # fmt: skip


def _on_pixels(rate: Image, plan: RegionPlan) -> Image:
    """The mean of a fine grid over every pixel of the patch, its margin left out."""
    x0, y0, x1, y1 = plan.box_px
    m, s = plan.margin_px, plan.split
    inner = rate[m * s : rate.shape[0] - m * s, m * s : rate.shape[1] - m * s]
    pixels = cv2.resize(
        np.ascontiguousarray(inner), (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA
    )
    return np.asarray(pixels)
