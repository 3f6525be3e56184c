"""Light on the sensor: the whole picture in electrons per second, traced at pixel scale.

Edges are split finely; movement is a line kernel, lens and defocus a point spread that follows
depth, stray light a wide veil. Rows of a rolling shutter see moving things and flickering lamps
each at its own moment (`rolling`). The patch around the target is traced finer still, in `region`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from simulator.camera.depth_blur import DefocusLevels, blur_by_depth, defocus_levels
from simulator.camera.frame_layers import FrameTraces, Shining, composed, with_lamps
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.motion_blur import corner_flows
from simulator.camera.overflow import overflows, spill
from simulator.camera.rolling import bands, drift, lamps_by_rows
from simulator.camera.stray_light import add_glare
from simulator.scene.emitters import add_emitters
from simulator.scene.kernels.radiance import STATIC, Layer, Sampling
from simulator.units import FloatArray, Image

GLARE_SHRINK = 8
MAX_BLUR_ROOM_PX = 16


@dataclass(frozen=True)
class Light:
    """Light on the sensor for one exposure.

    `rate` (rows, columns, 3) [e-/s per pixel and channel]; `stray_light` the same at
    1/`GLARE_SHRINK` of the whole picture's size, for a glare share of one; `depth` (rows,
    columns) [m]; `spill` (rows, columns) [e-/s] the part of `rate` that blooming and smear added,
    None without them.
    """

    rate: Image
    stray_light: Image
    depth: Image
    spill: Image | None = None


def frame_light(in_scene: CameraInScene, mode: Mode, shutter_s: float) -> Light:
    """The whole picture for one exposure."""
    return frame_series(in_scene, mode, shutter_s, [0.0])[1]


def frame_series(
    in_scene: CameraInScene,
    mode: Mode,
    shutter_s: float,
    times_s: Sequence[float],
    traces: FrameTraces | None = None,
) -> tuple[list[Image], Light]:
    """Pictures of light at several moments, and the whole of the last one.

    What stands still is traced once. Of the earlier pictures only the part that moving things touch
    is made anew; light that they throw on what stands still, glow in the air, and stray light, are
    kept from the last moment. Where nothing moves all moments share one picture. Moments at which
    flickering lights stand otherwise are made anew from the same layers; behind a rolling shutter
    every row is the sum of a few pictures (`rolling.Bands`). `traces` keeps layers for other
    exposures of the same frames.
    """
    times = [float(t) for t in times_s]
    traces = FrameTraces() if traces is None else traces
    mixed = bands(in_scene, shutter_s)
    if mixed is None:
        series, shown = _series(
            in_scene, mode, shutter_s, times, lambda t: in_scene.flicker(shutter_s, t), traces
        )
    else:
        parts, lights = zip(
            *(
                _series(in_scene, mode, shutter_s, times, lambda t, w=w: w, traces)  # type: ignore[misc]
                for w in mixed.weights
            ),
            strict=True,
        )
        series = [mixed.mix([part[k] for part in parts], time_s) for k, time_s in enumerate(times)]
        shown = replace(
            lights[-1], rate=series[-1], stray_light=mixed.mean([x.stray_light for x in lights])
        )
    return _with_spill(in_scene, shutter_s, series, shown)


def _with_spill(
    in_scene: CameraInScene, shutter_s: float, series: list[Image], shown: Light
) -> tuple[list[Image], Light]:
    """Blooming and smear added to every picture; pictures that were shared stay so."""
    if not overflows(in_scene.camera.sensor):
        return series, shown
    # a field camera reads out more often than its frame rate says: its longest shutter tells
    longest = min(
        1.0 / in_scene.camera.processing.frame_rate_hz, in_scene.camera.exposure.shutter_max_s
    )
    made: dict[int, Image] = {}
    for rate in series:
        if id(rate) not in made:
            extra = spill(rate, shutter_s, in_scene.camera.sensor, longest)
            assert extra is not None
            made[id(rate)] = rate + extra[:, :, None]
            if rate is shown.rate:
                shown_spill = extra
    shown = replace(shown, rate=made[id(shown.rate)], spill=shown_spill)
    return [made[id(rate)] for rate in series], shown


def _series(
    in_scene: CameraInScene,
    mode: Mode,
    shutter_s: float,
    times_s: list[float],
    factors: Callable[[float], FloatArray | None],
    traces: FrameTraces,
) -> tuple[list[Image], Light]:
    """`frame_series` with given factors on the lights at every moment."""

    def lit(then: CameraInScene, time_s: float) -> Shining:
        return Shining(then.lights(mode), factors(time_s))

    def phase_of(time_s: float) -> bytes:
        by = factors(time_s)
        return b"" if by is None else by.tobytes()

    last = times_s[-1]
    now = in_scene.at(last)
    moving = bool(np.any(in_scene.world.velocities))
    whole = _expose_light(now, mode, lit(now, last), shutter_s, last, traces)
    shown, phase = whole.light, phase_of(last)
    same = {phase: shown.rate}
    series = [shown.rate]
    for time_s in reversed(times_s[:-1]):
        then, other = in_scene.at(time_s), phase_of(time_s)
        if not moving and other in same:
            series.append(same[other])
        elif other != phase:
            shining = lit(then, time_s)
            older = _expose_light(then, mode, shining, shutter_s, time_s, traces).light.rate
            same[other] = older
            series.append(older)
        else:
            shining = lit(then, time_s)
            series.append(_older(then, now, mode, shining, shutter_s, whole, time_s, traces))
    return series[::-1], shown


class _Whole(NamedTuple):
    """A whole picture and what its earlier versions are made from."""

    light: Light
    static: Layer
    levels: DefocusLevels


def _expose_light(
    in_scene: CameraInScene,
    mode: Mode,
    shining: Shining,
    shutter_s: float,
    time_s: float,
    traces: FrameTraces,
) -> _Whole:
    sensor = in_scene.camera.sensor
    sampling = Sampling(0.0, 0.0, 1.0, sensor.height_px, sensor.width_px)
    static = traces.layer(in_scene, shining, sampling, STATIC, time_s)
    moving_s = shutter_s if in_scene.switches.motion else 0.0
    sharp, depth = composed(in_scene, mode, shining, sampling, moving_s, static, time_s, traces)
    stray_light = with_lamps(in_scene, sharp, depth, sampling, shining.now, moving_s, GLARE_SHRINK)
    scale = np.float32(in_scene.switches.light_scale)
    sharp *= scale
    stray_light *= scale
    levels = defocus_levels(in_scene, mode, depth)
    blurred = blur_by_depth(in_scene, mode, sharp, depth, levels)
    full = (sensor.width_px, sensor.height_px)
    rate = add_glare(blurred, stray_light, in_scene.stray_share, (0, 0), full)
    return _Whole(Light(rate, stray_light, depth), static, levels)


def _older(
    then: CameraInScene,
    now: CameraInScene,
    mode: Mode,
    shining: Shining,
    shutter_s: float,
    whole: _Whole,
    time_s: float,
    traces: FrameTraces,
) -> Image:
    """An earlier picture: the last one, but for what moving things touch at either moment."""
    shown, levels = whole.light, whole.levels
    full = (now.camera.sensor.width_px, now.camera.sensor.height_px)
    moving_s = shutter_s if now.switches.motion else 0.0
    box = _touched(then, now, moving_s, full)
    if box is None:
        return shown.rate
    x0, y0, x1, y1 = box
    part = Sampling(float(x0), float(y0), 1.0, y1 - y0, x1 - x0)
    cut = Layer(*(plane[y0:y1, x0:x1] for plane in whole.static))
    rate, near = composed(then, mode, shining, part, moving_s, cut, time_s, traces)
    view, world = then.view, lamps_by_rows(then)
    add_emitters(rate, near, part, world, view, then.packed_view, shining.now, moving_s)
    rate *= np.float32(now.switches.light_scale)
    rate = blur_by_depth(then, mode, rate, near, levels)
    rate = add_glare(rate, shown.stray_light, now.stray_share, (x0, y0), full)
    m = max(b.reach_px() for b in levels.blurs)
    inner = np.s_[
        (m if y0 > 0 else 0) : y1 - y0 - (m if y1 < full[1] else 0),
        (m if x0 > 0 else 0) : x1 - x0 - (m if x1 < full[0] else 0),
    ]
    older = shown.rate.copy()
    older[y0:y1, x0:x1][inner] = rate[inner]
    return older


def _touched(
    then: CameraInScene, now: CameraInScene, shutter_s: float, full: tuple[int, int]
) -> tuple[int, int, int, int] | None:
    """Box of the picture that moving things touch at either moment, with room for the blur."""
    boxes, smear = [], 0.0
    for in_scene in (then, now):
        scene, flow = in_scene.packed_scene, in_scene.smear_px(1.0)
        for group in range(1, len(flow)):
            lean = drift(in_scene, flow[group])
            seen = scene.seen_box[scene.group == group]
            boxes += [box if lean is None else lean.seen_box(box) for box in seen]
            flows = corner_flows(in_scene, group)
            smear = max(smear, float(np.abs(flows).max(initial=0.0)) * shutter_s)
    every = np.stack(boxes)
    room = smear / 2.0 + 2.0 * MAX_BLUR_ROOM_PX
    x0, y0 = np.floor(every[:, :2].min(axis=0) - room)
    x1, y1 = np.ceil(every[:, 2:].max(axis=0) + room)
    box = (
        int(np.clip(x0, 0, full[0])), int(np.clip(y0, 0, full[1])),
        int(np.clip(x1, 0, full[0])), int(np.clip(y1, 0, full[1])),
    )  # fmt: skip
    return box if box[2] > box[0] and box[3] > box[1] else None
