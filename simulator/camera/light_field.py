"""Light on the sensor: the whole picture in electrons per second, traced at pixel scale.

Edges are split finely; movement is a line kernel, lens and defocus a point spread that follows
depth, stray light a wide veil. The patch around the target is traced finer still, in `patch`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import cv2
import numpy as np

from simulator.camera.lens import (
    Blur,
    add_far_diffraction,
    add_glare,
    blur_image,
    glare_veil,
    source_veil,
)
from simulator.camera.rig import Mode, Rig
from simulator.scene.air import GLOW_COLUMNS, add_air
from simulator.scene.emitters import add_emitters, stray_totals
from simulator.scene.pack import PackedLights
from simulator.scene.radiance import STATIC, Layer, Sampling, trace_layer
from simulator.units import FloatArray, Image

EDGE_SPLIT = 3
METER_COLUMNS = 160
GLARE_SHRINK = 8
DEFOCUS_STEP_PX = 0.6
DEPTH_SHRINK = 8
MAX_BLUR_ROOM_PX = 16
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
    """A small picture (rows, columns, 3) [e-/s per pixel], for metering and white balance.

    Lights that flicker count with their mean. Stray light is in it.
    """
    rate, veil = _small(rig, mode)
    return add_glare(rate, veil, rig.glare_index, (0, 0), rate.shape[1::-1])


def small_veil(rig: Rig, mode: Mode) -> Image:
    """Stray light for a glare share of one, at the size of `meter_light`."""
    return _small(rig, mode)[1]


def _small(rig: Rig, mode: Mode) -> tuple[Image, Image]:
    """A small picture without stray light, and its stray light."""
    sensor = rig.camera.sensor
    step = max(1.0, sensor.width_px / METER_COLUMNS)
    sampling = Sampling(0.0, 0.0, step, int(sensor.height_px / step), int(sensor.width_px / step))
    lights, cards, view = rig.lights(mode), rig.packed_cards, rig.packed_view
    static = trace_layer(sampling, cards, lights, view, mode=STATIC, fine=2)
    still = np.zeros((len(rig.world.velocities), 2))
    rate, depth = _composed(rig, mode, lights, sampling, still, static, 2)
    veil = _with_lamps(rig, rate, depth, sampling, lights, still, 1)
    scale = np.float32(rig.switches.light_scale)
    return rate * scale, veil * scale


def frame_light(rig: Rig, mode: Mode, shutter_s: float) -> Light:
    """The whole picture for one exposure."""
    return frame_series(rig, mode, shutter_s, [0.0])[1]


def frame_series(
    rig: Rig, mode: Mode, shutter_s: float, times_s: Sequence[float]
) -> tuple[list[Image], Light]:
    """Pictures of light at several moments, and the whole of the last one.

    What stands still is traced once. Of the earlier pictures only the part that moving things touch
    is made anew; light that they throw on what stands still, glow in the air, and stray light, are
    kept from the last moment. Where nothing moves all moments share one picture. Moments at which
    flickering lights stand otherwise are made anew as a whole. The whole picture is exposed at
    once: the bands that flicker leaves behind a rolling shutter are not made.
    """
    last = float(times_s[-1])
    now = rig.at(last)
    moving = bool(np.any(rig.world.velocities))
    whole = _expose_light(now, mode, now.lights_at(mode, shutter_s, last), shutter_s, EDGE_SPLIT)
    shown, phase = whole.light, _phase(rig, shutter_s, last)
    same = {phase: shown.rate}
    series = [shown.rate]
    for time_s in (float(t) for t in reversed(times_s[:-1])):
        then, other = rig.at(time_s), _phase(rig, shutter_s, time_s)
        if not moving and other in same:
            series.append(same[other])
        elif other != phase:
            lights = then.lights_at(mode, shutter_s, time_s)
            older = _expose_light(then, mode, lights, shutter_s, EDGE_SPLIT).light.rate
            same[other] = older
            series.append(older)
        else:
            lights = then.lights_at(mode, shutter_s, time_s)
            series.append(_older(then, now, mode, lights, shutter_s, whole))
    return series[::-1], shown


def lit_by(
    rig: Rig, mode: Mode, lights: PackedLights, shutter_s: float, split: int = EDGE_SPLIT
) -> Light:
    """The whole picture for one exposure by given lights; `split` 1 interpolates nothing."""
    return _expose_light(rig, mode, lights, shutter_s, split).light


def _phase(rig: Rig, shutter_s: float, time_s: float) -> bytes:
    """What tells moments apart at which flickering lights stand otherwise."""
    factors = rig.flicker(shutter_s, time_s)
    return b"" if factors is None else factors.tobytes()


class _Whole(NamedTuple):
    """A whole picture and what its earlier versions are made from."""

    light: Light
    static: Layer
    levels: DefocusLevels


def _expose_light(
    rig: Rig, mode: Mode, lights: PackedLights, shutter_s: float, split: int
) -> _Whole:
    sensor = rig.camera.sensor
    sampling = Sampling(0.0, 0.0, 1.0, sensor.height_px, sensor.width_px)
    static = trace_layer(
        sampling, rig.packed_cards, lights, rig.packed_view, mode=STATIC, fine=split
    )
    smear = rig.smear_px(shutter_s)
    sharp, depth = _composed(rig, mode, lights, sampling, smear, static, split)
    veil = _with_lamps(rig, sharp, depth, sampling, lights, smear, GLARE_SHRINK)
    scale = np.float32(rig.switches.light_scale)
    sharp *= scale
    veil *= scale
    levels = _defocus_levels(rig, mode, depth)
    blurred = _blur_by_depth(rig, mode, sharp, depth, levels)
    full = (sensor.width_px, sensor.height_px)
    rate = add_glare(blurred, veil, rig.glare_index, (0, 0), full)
    return _Whole(Light(rate, veil, depth), static, levels)


def _older(
    then: Rig, now: Rig, mode: Mode, lights: PackedLights, shutter_s: float, whole: _Whole
) -> Image:
    """An earlier picture: the last one, but for what moving things touch at either moment."""
    shown, levels = whole.light, whole.levels
    full = (now.camera.sensor.width_px, now.camera.sensor.height_px)
    box = _touched(then, now, now.smear_px(shutter_s), full)
    if box is None:
        return shown.rate
    x0, y0, x1, y1 = box
    part = Sampling(float(x0), float(y0), 1.0, y1 - y0, x1 - x0)
    cut = Layer(*(plane[y0:y1, x0:x1] for plane in whole.static))
    smear = then.smear_px(shutter_s)
    rate, near = _composed(then, mode, lights, part, smear, cut, EDGE_SPLIT)
    add_emitters(rate, near, part, then.world, then.view, then.packed_view, lights, smear)
    rate *= np.float32(now.switches.light_scale)
    rate = _blur_by_depth(then, mode, rate, near, levels)
    rate = add_glare(rate, shown.veil, now.glare_index, (x0, y0), full)
    m = max(b.reach_px() for b in levels.blurs)
    inner = np.s_[
        (m if y0 > 0 else 0) : y1 - y0 - (m if y1 < full[1] else 0),
        (m if x0 > 0 else 0) : x1 - x0 - (m if x1 < full[0] else 0),
    ]
    older = shown.rate.copy()
    older[y0:y1, x0:x1][inner] = rate[inner]
    return older


def _touched(
    then: Rig, now: Rig, smear_px: FloatArray, full: tuple[int, int]
) -> tuple[int, int, int, int] | None:
    """Box of the picture that moving things touch at either moment, with room for the blur."""
    boxes = []
    for rig in (then, now):
        cards = rig.packed_cards
        boxes.append(cards.seen_box[cards.group > 0])
    every = np.concatenate(boxes)
    room = np.abs(smear_px).max() / 2.0 + 2.0 * MAX_BLUR_ROOM_PX
    x0, y0 = np.floor(every[:, :2].min(axis=0) - room)
    x1, y1 = np.ceil(every[:, 2:].max(axis=0) + room)
    box = (
        int(np.clip(x0, 0, full[0])), int(np.clip(y0, 0, full[1])),
        int(np.clip(x1, 0, full[0])), int(np.clip(y1, 0, full[1])),
    )  # fmt: skip
    return box if box[2] > box[0] and box[3] > box[1] else None


def _composed(
    rig: Rig,
    mode: Mode,
    lights: PackedLights,
    sampling: Sampling,
    smear_px: FloatArray,
    static: Layer,
    split: int,
) -> tuple[Image, Image]:
    """Moving layers smeared over the static one, air before them; without lamps and lens blur."""
    cards, view = rig.packed_cards, rig.packed_view
    rate, depth = static.rate.copy(), static.depth.copy()
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
    air = rig.air(mode)
    if air is not None:
        cell = max(1.0, rig.camera.sensor.width_px / GLOW_COLUMNS, 2.0 * sampling.step)
        add_air(rate, depth, sampling, air, view, lights, cell)
    return rate, depth


def _with_lamps(
    rig: Rig,
    rate: Image,
    depth: Image,
    sampling: Sampling,
    lights: PackedLights,
    smear_px: FloatArray,
    shrink: int,
) -> Image:
    """Add lamps and sun to a whole picture, in place; returns the stray light of it all.

    Surfaces throw stray light as if the picture went on as a mirror image beyond its edges; lamps
    and sun throw it from where they stand, inside the picture or beside it.
    """
    veil = glare_veil(rate, shrink)
    view = rig.packed_view
    glints = add_emitters(rate, depth, sampling, rig.world, rig.view, view, lights, smear_px)
    if glints:
        totals = stray_totals(glints, rig.view.position_m, rig.packed_cards, lights)
        places = np.stack([glint.place_px for glint in glints])
        radii = np.array([glint.radius_px for glint in glints])
        full = (rig.camera.sensor.width_px, rig.camera.sensor.height_px)
        veil += source_veil(places, radii, totals, full, (veil.shape[0], veil.shape[1]))
    return veil


def _window(
    rig: Rig, group: int, s: Sampling, move_px: FloatArray
) -> tuple[int, int, Sampling] | None:
    """Samples that a movement can touch: its left, top, and sampling; None outside the picture."""
    boxes = rig.packed_cards.seen_box[rig.packed_cards.group == group]
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


@dataclass(frozen=True)
class DefocusLevels:
    """Blurs that stand for the depths of a picture, from the sharpest on; diameters [px]."""

    low_px: float
    high_px: float
    blurs: tuple[Blur, ...]


def _defocus_levels(rig: Rig, mode: Mode, depth: Image) -> DefocusLevels:
    wavelength = WAVELENGTH_NM[mode]
    spans = _spans(rig, mode, depth)
    low, high = float(spans.min()), float(np.percentile(spans, 98))
    count = int(np.clip(np.ceil((high - low) / DEFOCUS_STEP_PX), 1, MAX_DEPTH_LEVELS))
    diameters = [(low + high) / 2.0] if count == 1 else list(np.linspace(low, high, count))
    base = rig.blur_at(rig.camera.lens.focus_m, wavelength)
    return DefocusLevels(
        low, high, tuple(replace(base, defocus_m=float(d) * rig.pitch_m) for d in diameters)
    )


def _spans(rig: Rig, mode: Mode, depth: Image) -> FloatArray:
    """Diameter of the blur disc on a coarse grid [px]."""
    coarse = depth[::DEPTH_SHRINK, ::DEPTH_SHRINK].astype(np.float64)
    if not rig.switches.defocus:
        return np.zeros_like(coarse)
    return rig.defocus_px(coarse, WAVELENGTH_NM[mode])


def _blur_by_depth(rig: Rig, mode: Mode, rate: Image, depth: Image, levels: DefocusLevels) -> Image:
    """Lens blur that follows depth: a few blurred copies, blended by the size of the blur disc."""
    copies = [blur_image(rate, blur) for blur in levels.blurs]
    count = len(copies)
    if count == 1:
        return add_far_diffraction(rate, copies[0], levels.blurs[0])
    spans = _spans(rig, mode, depth).astype(np.float32)
    size = cv2.resize(spans, (rate.shape[1], rate.shape[0]))
    place = (size - np.float32(levels.low_px)) * np.float32(
        (count - 1) / (levels.high_px - levels.low_px)
    )
    out = copies[0]
    for i in range(1, count):
        share = np.clip(place - np.float32(i - 1), 0.0, 1.0)
        out = cv2.blendLinear(copies[i], out, share, np.float32(1.0) - share)
    return add_far_diffraction(rate, np.asarray(out, dtype=np.float32), levels.blurs[0])
