"""Light on the patch around a target, traced several times finer than the pixel.

Stray light comes from the whole picture. Rows of a rolling shutter see moving things and flickering
lamps each at its own moment (`rolling`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.region_plan import RegionPlan
from simulator.camera.region_traces import Traces
from simulator.camera.rolling import bands
from simulator.camera.stray_light import add_glare
from simulator.units import FloatArray, Image


def region_light(
    in_scene: CameraInScene,
    mode: Mode,
    shutter_s: float,
    plan: RegionPlan,
    stray_light: Image,
    time_s: float = 0.0,
    traces: Traces | None = None,
) -> Image:
    """Rate (rows, columns, 3) of the patch [e-/s per pixel], exposed around a moment."""
    return region_series(in_scene, mode, shutter_s, plan, stray_light, [time_s], traces)[0]


def region_series(
    in_scene: CameraInScene,
    mode: Mode,
    shutter_s: float,
    plan: RegionPlan,
    stray_light: Image,
    times_s: Sequence[float],
    traces: Traces | None = None,
) -> list[Image]:
    """Rates (rows, columns, 3) of the patch [e-/s per pixel], exposed around several moments.

    Moments at which nothing has moved and lamps stand alike share one picture. Stray light, and
    what blooming and smear add, are those of the whole picture, the same at every moment.
    """
    kept = traces or Traces()
    moving = bool(np.any(in_scene.world.velocities))
    extra = _spill_of(in_scene, mode, shutter_s, plan, kept)
    made: dict[tuple[object, ...], Image] = {}

    def picture(time_s: float, factors: FloatArray | None) -> Image:
        key = (time_s if moving else 0.0, None if factors is None else factors.tobytes())
        if key not in made:
            made[key] = _exposed(
                in_scene, mode, shutter_s, plan, stray_light, time_s, kept, factors
            )
        return made[key]

    mixed = bands(in_scene, shutter_s)
    out: dict[float, Image] = {}
    for t in (float(t) for t in times_s):
        if mixed is None:
            out[t] = picture(t, in_scene.flicker(shutter_s, t))
        else:
            out[t] = mixed.mix([picture(t, w) for w in mixed.weights], t, plan.box_px[1])
    if extra is not None:
        out = {t: rate + extra for t, rate in out.items()}
    return [out[float(t)] for t in times_s]


def _spill_of(
    in_scene: CameraInScene, mode: Mode, shutter_s: float, plan: RegionPlan, traces: Traces
) -> Image | None:
    """The patch's part (rows, columns, 1) of what blooming and smear add; 0 beside the picture."""
    whole = traces.spill(in_scene, mode, shutter_s)
    if whole is None:
        return None
    x0, y0, x1, y1 = plan.box_px
    out = np.zeros((y1 - y0, x1 - x0, 1), np.float32)
    left, top = max(0, -x0), max(0, -y0)
    part = whole[max(0, y0) : max(0, y1), max(0, x0) : max(0, x1)]
    out[top : top + part.shape[0], left : left + part.shape[1], 0] = part
    return out


def _exposed(
    in_scene: CameraInScene,
    mode: Mode,
    shutter_s: float,
    plan: RegionPlan,
    stray_light: Image,
    time_s: float,
    traces: Traces,
    factors: FloatArray | None,
) -> Image:
    """The patch around one moment with given factors on the lights, as one exposure."""
    pixels = traces.laid(in_scene, mode, shutter_s, plan, time_s, factors)
    x0, y0 = plan.box_px[:2]
    scale = np.float32(in_scene.switches.light_scale)
    pixels = np.maximum(pixels * scale, 0.0, dtype=np.float32)
    sensor = in_scene.camera.sensor
    full = (sensor.width_px, sensor.height_px)
    return add_glare(pixels, stray_light, in_scene.stray_share, (x0, y0), full)
