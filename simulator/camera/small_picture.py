"""A small picture of the light on the sensor, for metering and white balance."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from simulator.camera.frame_layers import FrameTraces, Shining, composed, with_lamps
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.stray_light import add_glare
from simulator.scene.kernels.pack import PackedLights
from simulator.scene.kernels.radiance import STATIC, Sampling
from simulator.scene.radiosity.field import is_rough
from simulator.units import Image

METER_COLUMNS = 160
SMALL_SPLIT = 2
MOST_SMALL_PARTS = 24
"""Small pictures of some of the lights that are kept with a camera."""


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
    rate, depth = composed(in_scene, mode, shining, sampling, 0.0, static, 0.0, traces)
    stray_light = with_lamps(in_scene, rate, depth, sampling, lights, 0.0, 1)
    return _Small(rate, stray_light)
