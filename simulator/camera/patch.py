"""Light on the patch around a target, traced several times finer than the pixel.

Movement, lens and defocus act on the fine grid by their exact transfer functions; then every pixel
averages over its aperture. Stray light comes from the whole picture.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

from simulator.camera.lens import add_glare, blur_fine, box_otf, fine_frequencies
from simulator.camera.rig import Mode, Rig
from simulator.scene.air import add_air
from simulator.scene.emitters import add_emitters
from simulator.scene.radiance import STATIC, Layer, Sampling, trace_layer
from simulator.units import FloatArray, Image

GLOW_CELL_PX = 2.0
"""The glow of lamps in the air is computed on squares of this side."""


@dataclass(frozen=True)
class PatchPlan:
    """Where the patch around a target lies and how finely it is traced.

    `box_px` x0, y0, x1, y1 in whole pixels of the picture; `margin_px` is traced around it and
    takes up what the blur wraps; `split` samples a pixel each way; `point_m` the target's centre,
    `wavelength_nm` what its light is made of; `phase_px` shifts the pixel grid over the scene by
    part of a pixel (x, y).
    """

    box_px: tuple[int, int, int, int]
    margin_px: int
    split: int
    point_m: FloatArray
    wavelength_nm: float
    phase_px: tuple[float, float] = (0.0, 0.0)

    @property
    def sampling(self) -> Sampling:
        """Grid of the patch with its margin."""
        x0, y0, x1, y1 = self.box_px
        m, s = self.margin_px, self.split
        return Sampling(
            x0 - m + self.phase_px[0],
            y0 - m + self.phase_px[1],
            1.0 / s,
            (y1 - y0 + 2 * m) * s,
            (x1 - x0 + 2 * m) * s,
        )


@dataclass
class Traces:
    """Traced layers of one world and view, kept so that only what changed is made again.

    Blur, movement, glare, noise and the strength of all light together act after tracing, so
    that asking what each of them costs needs no new tracing.
    """

    layers: dict[tuple[object, ...], Layer] = field(default_factory=dict)

    def layer(
        self,
        rig: Rig,
        mode: Mode,
        plan: PatchPlan,
        time_s: float,
        group: int,
        shutter_s: float | None = None,
    ) -> Layer:
        """One layer of the patch at a moment; the static one is shared by all moments.

        `shutter_s` tells what the exposure averages of lights that flicker; without it they are
        steady.
        """
        moment = 0.0 if group == STATIC else time_s
        factors = None if shutter_s is None else rig.flicker(shutter_s, time_s)
        lights = rig.lights(mode)
        key = (
            mode, plan.box_px, plan.margin_px, plan.split, plan.phase_px, moment, group,
            None if factors is None else factors.tobytes(),
        )  # fmt: skip
        if key not in self.layers:
            self.layers[key] = trace_layer(
                plan.sampling,
                rig.packed_cards,
                lights,
                rig.packed_view,
                mode=group,
                fine=1,
                weights=factors,
            )
        return self.layers[key]


def patch_light(
    rig: Rig,
    mode: Mode,
    shutter_s: float,
    plan: PatchPlan,
    veil: Image,
    time_s: float = 0.0,
    traces: Traces | None = None,
) -> Image:
    """Rate (rows, columns, 3) of the patch [e-/s per pixel], exposed around a moment."""
    traces = traces or Traces()
    now = rig.at(time_s)
    x0, y0, x1, y1 = plan.box_px
    smear = now.smear_px(shutter_s, plan.point_m)
    depth = float(now.view.project(plan.point_m)[1])
    sampling = plan.sampling
    fx, fy = fine_frequencies(sampling.rows, sampling.columns, sampling.step)
    lights, view = now.lights_at(mode, shutter_s, time_s), now.packed_view
    static = traces.layer(now, mode, plan, time_s, STATIC, shutter_s)
    rate, nearest = static.rate.copy(), static.depth.copy()
    for group in range(1, len(now.world.velocities)):
        layer = traces.layer(now, mode, plan, time_s, group, shutter_s)
        if not np.any(layer.cover):
            continue
        moved, cover = layer.rate, layer.cover
        move = smear[group]
        if np.hypot(*move) > 0.05:
            path = box_otf(fx * move[0] + fy * move[1], 1.0)
            moved = blur_fine(moved, path)
            cover = blur_fine(cover[:, :, None], path)[:, :, 0]
        rate = moved + (1.0 - cover[:, :, None]) * rate
        nearest = np.where(layer.cover > 0.5, layer.depth, nearest)
    air = now.air(mode)
    if air is not None:
        add_air(rate, nearest, sampling, air, view, lights, GLOW_CELL_PX)
    add_emitters(rate, nearest, sampling, now.world, now.view, view, lights, smear)
    rate = blur_fine(rate, now.blur_at(depth, plan.wavelength_nm).otf(fx, fy))
    m, s = plan.margin_px, plan.split
    inner = rate[m * s : sampling.rows - m * s, m * s : sampling.columns - m * s]
    pixels = cv2.resize(
        np.ascontiguousarray(inner), (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA
    )
    scale = np.float32(rig.switches.light_scale)
    pixels = np.maximum(pixels * scale, 0.0, dtype=np.float32)
    sensor = rig.camera.sensor
    full = (sensor.width_px, sensor.height_px)
    return add_glare(pixels, veil, rig.glare_index, (x0, y0), full)
