"""Light on the sensor: the whole picture in electrons per second, traced at pixel scale.

Edges are split finely; movement is a line kernel, lens and defocus a point spread that follows
depth, stray light a wide veil. Rows of a rolling shutter see moving things and flickering lamps
each at its own moment (`rolling`). The patch around the target is traced finer still, in `region`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np

from simulator.camera.bounds import check_smear
from simulator.camera.depth_blur import DefocusLevels, blur_by_depth, defocus_levels
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.light_parts import added_up, swinging_parts
from simulator.camera.motion_blur import along_line, along_paths, corner_flows, paths_px
from simulator.camera.overflow import overflows, spill
from simulator.camera.rolling import (
    Drift,
    bands,
    drift,
    lamps_by_rows,
    layer_by_rows,
    line_time_s,
    smear_by_rows,
)
from simulator.camera.stray_light import add_glare, source_stray_light, veiling_glare
from simulator.scene.air import GLOW_COLUMNS, add_air
from simulator.scene.emitters import add_emitters, stray_totals
from simulator.scene.kernels.pack import PackedLights
from simulator.scene.kernels.radiance import STATIC, Layer, Sampling, trace_layer
from simulator.scene.radiosity.field import is_rough
from simulator.units import FloatArray, Image

EDGE_SPLIT = 3
METER_COLUMNS = 160
SMALL_SPLIT = 2
MOST_SMALL_PARTS = 24
"""Small pictures of some of the lights that are kept with a camera."""
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


def meter_light(in_scene: CameraInScene, mode: Mode) -> Image:
    """A small picture (rows, columns, 3) [e-/s per pixel], for metering and white balance.

    Lights that flicker count with their mean. Stray light is in it.
    """
    rate, stray_light = _small(in_scene, mode)
    return add_glare(rate, stray_light, in_scene.stray_share, (0, 0), rate.shape[1::-1])


def small_stray_light(in_scene: CameraInScene, mode: Mode) -> Image:
    """Stray light for a glare share of one, at the size of `meter_light`."""
    return _small(in_scene, mode).stray_light


class _Small(NamedTuple):
    """A small picture without stray light, and its stray light for a glare share of one."""

    rate: Image
    stray_light: Image


def _small(in_scene: CameraInScene, mode: Mode) -> _Small:
    """The small picture in a mode; it is kept with the camera, for a scale of the light of one."""
    kept: dict[tuple[Mode, bool], _Small] = in_scene.__dict__.setdefault("_small", {})
    key = (mode, is_rough())  # what a search made serves no verdict
    if key not in kept:
        kept[key] = _weighed_small(in_scene, mode) or _traced_small(
            in_scene, mode, in_scene.lights(mode), interpolated=is_rough()
        )
    scale = np.float32(in_scene.switches.light_scale)
    return _Small(*(plane * scale for plane in kept[key]))


def _weighed_small(in_scene: CameraInScene, mode: Mode) -> _Small | None:
    """The small picture of a scene that was lit anew, from kept ones of lights that changed alike.

    None where they do not add up: light that the air takes away depends on its colour.
    """
    written = in_scene.written
    if written is None:
        return None
    base, own = written.lights(mode), in_scene.lights(mode)
    if own.extinction != base.extinction:
        return None
    lit = base.amount > 0.0
    ratio = np.ones(len(lit))
    ratio[lit] = (own.amount[lit] / base.amount[lit]).round(12)
    parts = written.__dict__.setdefault("_small_parts", {})
    rate: Image | None = None
    stray_light = np.zeros((1, 1, 3), np.float32)
    for times in np.unique(ratio[lit]):
        which = lit & (ratio == times)
        key = mode, which.tobytes()
        if key not in parts:
            if len(parts) >= MOST_SMALL_PARTS:
                del parts[next(iter(parts))]
            if np.array_equal(which, lit):
                parts[key] = _small(written.with_switches(light_scale=1.0), mode)
            else:
                some = base._replace(amount=base.amount * which)
                parts[key] = _traced_small(written, mode, some)
        part = parts[key]
        if rate is None:
            rate, stray_light = np.zeros_like(part.rate), np.zeros_like(part.stray_light)
        rate += np.float32(times) * part.rate
        stray_light = stray_light + np.float32(times) * part.stray_light
    return None if rate is None else _Small(rate, stray_light)


def _traced_small(
    in_scene: CameraInScene, mode: Mode, lights: PackedLights, *, interpolated: bool = False
) -> _Small:
    sensor = in_scene.camera.sensor
    step = max(1.0, sensor.width_px / METER_COLUMNS)
    sampling = Sampling(0.0, 0.0, step, int(sensor.height_px / step), int(sensor.width_px / step))
    traces, shining = FrameTraces(SMALL_SPLIT, interpolated), Shining(lights, None)
    static = traces.layer(in_scene, shining, sampling, STATIC, 0.0)
    rate, depth = _composed(in_scene, mode, shining, sampling, 0.0, static, 0.0, traces)
    stray_light = _with_lamps(in_scene, rate, depth, sampling, lights, 0.0, 1)
    return _Small(rate, stray_light)


class Shining(NamedTuple):
    """Lights of a scene, and by how much each shines more at a moment (L,); None as it is."""

    lights: PackedLights
    factors: FloatArray | None

    @property
    def now(self) -> PackedLights:
        """The lights as strong as they are at the moment."""
        if self.factors is None:
            return self.lights
        return self.lights._replace(amount=self.lights.amount * self.factors)


@dataclass
class FrameTraces:
    """Layers of the whole picture, kept for all phases of its lamps and all its exposures.

    `split` samples a side of an edge; without `interpolated` even parts are lit sample by sample.
    """

    split: int = EDGE_SPLIT
    interpolated: bool = True
    kept: dict[tuple[object, ...], Layer] = field(default_factory=dict)

    def layer(
        self, in_scene: CameraInScene, shining: Shining, grid: Sampling, group: int, time_s: float
    ) -> Layer:
        """One layer of a grid, added up from those of the parts of the lights."""
        parts = swinging_parts(in_scene, shining.factors)

        def alone(weights: FloatArray) -> Layer:
            key = (grid, group, 0.0 if group == STATIC else time_s, weights.tobytes())
            if key in self.kept:
                return self.kept[key]
            made = trace_layer(
                grid, in_scene.packed_scene, shining.lights, in_scene.packed_view, mode=group,
                fine=self.split, weights=weights, interpolated=self.interpolated,
            )  # fmt: skip
            if group == STATIC or len(parts) > 1:
                self.kept[key] = made
            return made

        return added_up([(part, 1.0) for part in parts], shining.factors, alone)


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
    found = bands(in_scene, shutter_s)
    if found is None:
        series, shown = _series(
            in_scene, mode, shutter_s, times, lambda t: in_scene.flicker(shutter_s, t), traces
        )
    else:
        parts, lights = zip(
            *(
                _series(in_scene, mode, shutter_s, times, lambda t, w=w: w, traces)  # type: ignore[misc]
                for w in found.weights
            ),
            strict=True,
        )
        series = [found.mix([part[k] for part in parts], time_s) for k, time_s in enumerate(times)]
        shown = replace(
            lights[-1], rate=series[-1], stray_light=found.mean([x.stray_light for x in lights])
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
    sharp, depth = _composed(in_scene, mode, shining, sampling, moving_s, static, time_s, traces)
    stray_light = _with_lamps(in_scene, sharp, depth, sampling, shining.now, moving_s, GLARE_SHRINK)
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
    rate, near = _composed(then, mode, shining, part, moving_s, cut, time_s, traces)
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
            found = scene.seen_box[scene.group == group]
            boxes += [box if lean is None else lean.seen_box(box) for box in found]
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


def _composed(
    in_scene: CameraInScene,
    mode: Mode,
    shining: Shining,
    sampling: Sampling,
    shutter_s: float,
    static: Layer,
    time_s: float,
    traces: FrameTraces,
) -> tuple[Image, Image]:
    """Moving layers smeared over the static one, air before them; without lamps and lens blur."""
    rate, depth = static.rate.copy(), static.depth.copy()
    flow = in_scene.smear_px(1.0)
    for group in range(1, len(in_scene.world.velocities)):
        lean = drift(in_scene, flow[group]) if shutter_s > 0.0 else None
        smear = smear_by_rows(lean, flow[group] * shutter_s)
        check_smear(float(np.abs(smear).max(initial=0.0)), in_scene.camera)
        widest = np.abs(corner_flows(in_scene, group) * shutter_s).max(axis=0, initial=0.0)
        window = _window(in_scene, group, sampling, np.maximum(np.abs(smear), widest), lean)
        if window is None:
            continue
        x, y, part = window

        def trace(grid: Sampling, group: int = group) -> Layer:
            return traces.layer(in_scene, shining, grid, group, time_s)

        layer = layer_by_rows(lean, part, trace)
        paths = paths_px(in_scene, group, layer, part, shutter_s, line_time_s(in_scene))
        if paths is None:
            moved, cover = along_line(layer, smear, sampling.step)
        else:
            moved, cover = along_paths(layer, paths, sampling.step)
        area = np.s_[y : y + part.rows, x : x + part.columns]
        rate[area] = moved + (1.0 - cover[:, :, None]) * rate[area]
        depth[area] = np.where(cover > 0.5, layer.depth, depth[area])
    air = in_scene.air(mode)
    if air is not None:
        cell = max(1.0, in_scene.camera.sensor.width_px / GLOW_COLUMNS, 2.0 * sampling.step)
        add_air(rate, depth, sampling, air, in_scene.packed_view, shining.now, cell)
    return rate, depth


def _with_lamps(
    in_scene: CameraInScene,
    rate: Image,
    depth: Image,
    sampling: Sampling,
    lights: PackedLights,
    shutter_s: float,
    shrink: int,
) -> Image:
    """Add lamps and sun to a whole picture, in place; returns the stray light of it all.

    Surfaces throw stray light as if the picture went on as a mirror image beyond its edges; lamps
    and sun throw it from where they stand, inside the picture or beside it.
    """
    stray_light = veiling_glare(rate, shrink)
    view = in_scene.packed_view
    glints = add_emitters(
        rate, depth, sampling, lamps_by_rows(in_scene), in_scene.view, view, lights, shutter_s
    )
    if glints:
        totals = stray_totals(glints, in_scene.view.position_m, in_scene.packed_scene, lights)
        places = np.stack([glint.place_px for glint in glints])
        radii = np.array([glint.radius_px for glint in glints])
        full = (in_scene.camera.sensor.width_px, in_scene.camera.sensor.height_px)
        stray_light += source_stray_light(
            places, radii, totals, full, (stray_light.shape[0], stray_light.shape[1])
        )
    return stray_light


def _window(
    in_scene: CameraInScene, group: int, s: Sampling, move_px: FloatArray, lean: Drift | None
) -> tuple[int, int, Sampling] | None:
    """Samples that a movement can touch: its left, top, and sampling; None outside the picture."""
    boxes = in_scene.packed_scene.seen_box[in_scene.packed_scene.group == group]
    if len(boxes) == 0:
        return None
    box = np.concatenate([boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)])
    if lean is not None:
        box = lean.seen_box(box)
    grow = np.abs(move_px) / 2.0 + 2.0
    (x0, y0), (x1, y1) = box[:2] - grow, box[2:] + grow
    left = int(np.clip(np.floor((x0 - s.x0) / s.step), 0, s.columns))
    top = int(np.clip(np.floor((y0 - s.y0) / s.step), 0, s.rows))
    right = int(np.clip(np.ceil((x1 - s.x0) / s.step), 0, s.columns))
    bottom = int(np.clip(np.ceil((y1 - s.y0) / s.step), 0, s.rows))
    if right <= left or bottom <= top:
        return None
    part = Sampling(s.x0 + left * s.step, s.y0 + top * s.step, s.step, bottom - top, right - left)
    return left, top, part
