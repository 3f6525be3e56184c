"""Light on the sensor: the picture in electrons per second, whole or around the target.

The whole picture is traced at pixel scale with edges split finely; the patch around the target is
traced several times finer, blurred there by the exact transfer functions of motion, lens and
defocus, and averaged over each pixel's aperture. Stray light comes from the whole picture.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from simulator.camera.lens import (
    add_glare,
    blur_fine,
    blur_image,
    box_otf,
    fine_frequencies,
    glare_veil,
)
from simulator.camera.rig import Mode, Rig
from simulator.scene.emitters import add_emitters
from simulator.scene.radiance import STATIC, Sampling, trace_layer
from simulator.units import FloatArray, Image

EDGE_SPLIT = 4
METER_COLUMNS = 160
GLARE_SHRINK = 8
DEFOCUS_STEP_PX = 0.6
MAX_DEPTH_LEVELS = 3
WAVELENGTH_NM = {"day": 550.0, "night": 850.0}
"""Wavelength that stands for a mode in the blur of what is not the target."""


@dataclass(frozen=True)
class Light:
    """Light on the sensor for one exposure.

    `rate` (rows, columns, 3) [e-/s per pixel and channel]; `veil` the same at 1/`GLARE_SHRINK` of
    the whole picture's size, for a glare share of one; `depth` (rows, columns) [m].
    """

    rate: Image
    veil: Image
    depth: Image


def meter_light(rig: Rig, mode: Mode) -> Image:
    """A small picture (rows, columns, 3) [e-/s per pixel], for metering and white balance."""
    sensor = rig.camera.sensor
    step = max(1.0, sensor.width_px / METER_COLUMNS)
    sampling = Sampling(0.0, 0.0, step, int(sensor.height_px / step), int(sensor.width_px / step))
    rate, _ = _composed(rig, mode, sampling, np.zeros((len(rig.world.velocities), 2)), 2)
    return rate


def frame_light(rig: Rig, mode: Mode, shutter_s: float) -> Light:
    """The whole picture for one exposure."""
    sensor = rig.camera.sensor
    sampling = Sampling(0.0, 0.0, 1.0, sensor.height_px, sensor.width_px)
    rate, depth = _composed(rig, mode, sampling, rig.smear_px(shutter_s), EDGE_SPLIT)
    rate = _blur_by_depth(rig, mode, rate, depth)
    veil = glare_veil(rate, GLARE_SHRINK)
    full = (sensor.width_px, sensor.height_px)
    return Light(add_glare(rate, veil, rig.camera.lens.glare_index, (0, 0), full), veil, depth)


@dataclass(frozen=True)
class PatchPlan:
    """Where the patch around a target lies and how finely it is traced.

    `box_px` x0, y0, x1, y1 in whole pixels of the picture; `split` samples a pixel each way;
    `point_m` the target's centre, `wavelength_nm` what its light is made of; `phase_px` shifts the
    pixel grid over the scene by part of a pixel (x, y).
    """

    box_px: tuple[int, int, int, int]
    split: int
    point_m: FloatArray
    wavelength_nm: float
    phase_px: tuple[float, float] = (0.0, 0.0)


def patch_light(
    rig: Rig, mode: Mode, shutter_s: float, plan: PatchPlan, veil: Image, time_s: float = 0.0
) -> Image:
    """Rate (rows, columns, 3) of the patch [e-/s per pixel], exposed around a moment."""
    now = rig.at(time_s)
    x0, y0, x1, y1 = plan.box_px
    smear = now.smear_px(shutter_s, plan.point_m)
    depth = float(now.view.project(plan.point_m)[1])
    blur = now.blur_at(depth, mode, plan.wavelength_nm)
    margin = blur.reach_px() + int(np.ceil(np.abs(smear).max() / 2.0)) + 2
    s = plan.split
    rows, columns = (y1 - y0 + 2 * margin) * s, (x1 - x0 + 2 * margin) * s
    left, top = x0 - margin + plan.phase_px[0], y0 - margin + plan.phase_px[1]
    sampling = Sampling(left, top, 1.0 / s, rows, columns)
    fx, fy = fine_frequencies(rows, columns, 1.0 / s)
    rate = _composed_fine(now, mode, sampling, smear, fx, fy)
    rate = blur_fine(rate, blur.otf(fx, fy))
    inner = rate[margin * s : rows - margin * s, margin * s : columns - margin * s]
    pixels = cv2.resize(
        np.ascontiguousarray(inner), (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA
    )
    pixels = np.maximum(pixels, 0.0, dtype=np.float32)
    sensor = rig.camera.sensor
    full = (sensor.width_px, sensor.height_px)
    return add_glare(pixels, veil, rig.camera.lens.glare_index, (x0, y0), full)


def _composed(
    rig: Rig, mode: Mode, sampling: Sampling, smear_px: FloatArray, split: int
) -> tuple[Image, Image]:
    """Static layer, moving layers smeared over it, lamps; without lens blur."""
    lights, cards, view = rig.lights(mode), rig.packed_cards, rig.packed_view
    static = trace_layer(sampling, cards, lights, view, mode=STATIC, fine=split)
    rate, depth = static.rate, static.depth
    for group in range(1, len(rig.world.velocities)):
        window = _window(rig, group, sampling, smear_px[group])
        if window is None:
            continue
        x, y, part = window
        layer = trace_layer(part, cards, lights, view, mode=group, fine=split)
        kernel = line_kernel(smear_px[group] / sampling.step)
        moved, cover = layer.rate, layer.cover
        if kernel is not None:
            moved = cv2.filter2D(moved, cv2.CV_32F, kernel, borderType=cv2.BORDER_CONSTANT)
            cover = cv2.filter2D(cover, cv2.CV_32F, kernel, borderType=cv2.BORDER_CONSTANT)
        area = np.s_[y : y + part.rows, x : x + part.columns]
        rate[area] = moved + (1.0 - cover[:, :, None]) * rate[area]
        depth[area] = np.where(cover > 0.5, layer.depth, depth[area])
    add_emitters(rate, depth, sampling, rig.world, rig.view, view, lights, smear_px)
    return rate, depth


def _composed_fine(
    rig: Rig, mode: Mode, s: Sampling, smear_px: FloatArray, fx: FloatArray, fy: FloatArray
) -> Image:
    """As `_composed` on a fine grid, movement by its exact transfer function."""
    lights, cards, view = rig.lights(mode), rig.packed_cards, rig.packed_view
    static = trace_layer(s, cards, lights, view, mode=STATIC, fine=1)
    rate = static.rate
    depth = static.depth
    for group in range(1, len(rig.world.velocities)):
        layer = trace_layer(s, cards, lights, view, mode=group, fine=1)
        planes = np.concatenate([layer.rate, layer.cover[:, :, None]], axis=2)
        move = smear_px[group]
        if np.hypot(*move) > 0.05:
            planes = blur_fine(planes, box_otf(fx * move[0] + fy * move[1], 1.0))
        rate = planes[:, :, :3] + (1.0 - planes[:, :, 3:]) * rate
        depth = np.where(layer.cover > 0.5, layer.depth, depth)
    add_emitters(rate, depth, s, rig.world, rig.view, view, lights, smear_px)
    return np.asarray(rate, dtype=np.float32)


def _window(
    rig: Rig, group: int, s: Sampling, move_px: FloatArray
) -> tuple[int, int, Sampling] | None:
    """Samples that a movement can touch: its left, top, and sampling; None outside the picture."""
    boxes = rig.packed_cards.box[rig.packed_cards.group == group]
    if len(boxes) == 0:
        return None
    grow = np.abs(move_px) / 2.0 + 2.0
    x0, y0 = boxes[:, 0].min() - grow[0], boxes[:, 1].min() - grow[1]
    x1, y1 = boxes[:, 2].max() + grow[0], boxes[:, 3].max() + grow[1]
    left = int(np.clip(np.floor((x0 - s.x0) / s.step), 0, s.columns))
    top = int(np.clip(np.floor((y0 - s.y0) / s.step), 0, s.rows))
    right = int(np.clip(np.ceil((x1 - s.x0) / s.step), 0, s.columns))
    bottom = int(np.clip(np.ceil((y1 - s.y0) / s.step), 0, s.rows))
    if right <= left or bottom <= top:
        return None
    part = Sampling(s.x0 + left * s.step, s.y0 + top * s.step, s.step, bottom - top, right - left)
    return left, top, part


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


def _blur_by_depth(rig: Rig, mode: Mode, rate: Image, depth: Image) -> Image:
    """Lens blur that follows depth: a few blurred copies, blended by the size of the blur disc."""
    wavelength = WAVELENGTH_NM[mode]
    coarse = depth[::8, ::8]
    spans = rig.defocus_px(coarse, wavelength)
    if not rig.switches.defocus:
        spans = np.zeros_like(spans)
    low, high = float(spans.min()), float(np.percentile(spans, 98))
    count = int(np.clip(np.ceil((high - low) / DEFOCUS_STEP_PX), 1, MAX_DEPTH_LEVELS))
    base = rig.blur_at(rig.camera.lens.focus_m, mode, wavelength)
    if count == 1:
        return blur_image(rate, replace(base, defocus_m=(low + high) / 2.0 * rig.pitch_m))
    levels = np.linspace(low, high, count)
    copies = [blur_image(rate, replace(base, defocus_m=x * rig.pitch_m)) for x in levels]
    size = cv2.resize(spans.astype(np.float32), (rate.shape[1], rate.shape[0]))
    place = np.clip((size - low) / (high - low) * (count - 1), 0.0, count - 1.0)
    out = copies[0]
    for i in range(1, count):
        share = np.clip(place - (i - 1), 0.0, 1.0)[:, :, None].astype(np.float32)
        out = out + share * (copies[i] - out)
    return np.asarray(out, dtype=np.float32)
