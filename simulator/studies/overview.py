"""What a live view shows: the whole picture on few pixels, and the target as it passes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.camera.auto_exposure import Meter, State, as_exposed, settle_exposure
from simulator.camera.frame_layers import FrameTraces, Shining
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.light_field import frame_series
from simulator.camera.light_layers import RelitTraces
from simulator.camera.light_parts import added_up, swinging_parts
from simulator.camera.pipeline import frame_times
from simulator.camera.recording import recorded
from simulator.camera.region import region_series
from simulator.camera.region_traces import Traces, kept_part
from simulator.camera.sensor_readout import readout
from simulator.camera.small_picture import meter_light
from simulator.errors import GeometryError
from simulator.judge.passes import moments_of_pass
from simulator.judge.removal import other_pixels
from simulator.judge.target import JudgedText, find_text, plan_region
from simulator.judge.trials import quick_stray_light
from simulator.scene.kernels.radiance import STATIC, Layer, Sampling, trace_layer
from simulator.studies.session import Session
from simulator.units import FloatArray, Image

GLANCE_SPLIT = 2
"""Samples a side of an edge in a first glance."""
MOVING_ROOM_PX = 6
"""Coarse pixels traced around what moves, for longer shutters."""


def coarser(in_scene: CameraInScene, state: State, columns: int) -> tuple[CameraInScene, State]:
    """A camera with about so many columns of larger pixels on the same area, and its state.

    Pixels taken together have as much light, well and noise for their area, so that levels stay as
    they are; no stream.
    """
    side = max(1, in_scene.camera.sensor.width_px // columns)
    if side == 1:
        return in_scene, replace(state, quantiser=None)
    coarse = _coarser(in_scene, side)
    tones = state.tones and replace(state.tones, meter_px=state.tones.meter_px / side)
    chain = readout(coarse.camera.sensor, state.exposure.gain_db)
    return coarse, replace(state, chain=chain, tones=tones, quantiser=None)


def _coarser(in_scene: CameraInScene, side: int) -> CameraInScene:
    """The camera with pixels `side` times as wide."""
    sensor = in_scene.camera.sensor
    return other_pixels(
        in_scene, sensor.width_px // side // 2 * 2, sensor.height_px // side // 2 * 2, side
    )


def coarse_picture(session: Session, columns: int) -> NDArray[np.uint8]:
    """The whole picture (rows, columns, 3) at about so many columns, as the camera exposes it.

    Detail of less than a large pixel is lost, and so are trails of what moves; exposure, noise for
    the area, colour and tone are those of the camera.

    Raises
    ------
    InputError
        For a target that cannot be seen, or a scene without light.
    """
    in_scene, state = coarser(session.in_scene, session.state, columns)
    mode, traces = state.mode, LiveTraces(of=session.traces, mode=state.mode)
    light = frame_series(in_scene, mode, state.exposure.shutter_s, [0.0], traces)[1]
    return recorded(in_scene, state, [light.rate], seed=session.seed)[0]


class Glance(NamedTuple):
    """A first picture (rows, columns, 3) of 8-bit levels, and what the camera settled on by it."""

    picture: NDArray[np.uint8]
    state: State


def glance(session: Session, columns: int) -> Glance:
    """The whole picture at about so many columns, metered on as many: the quickest there is.

    Metering sees no finer than the picture, so that the exposure may differ from that of the
    session by some tenths of a decibel; for the rest as `coarse_picture`.

    Raises
    ------
    InputError
        For a scene without light.
    """
    mounted = session.mounted
    sensor, field = mounted.camera.sensor, mounted.light_field
    side = max(1, sensor.width_px // columns)
    small = _coarser(mounted, side).under(field)
    meter = _CoarseMeter(mounted, small, side)
    state = settle_exposure(mounted, session.mode, before=session.before, meter=meter)
    exposed = as_exposed(mounted, state)
    in_scene, state = coarser(exposed, state, columns)
    # with the iris open and frames not added up its light is the metered one's
    in_scene = small if in_scene.camera == small.camera else in_scene.under(field)
    traces = FrameTraces(GLANCE_SPLIT)
    light = frame_series(in_scene, state.mode, state.exposure.shutter_s, [0.0], traces)[1]
    return Glance(recorded(in_scene, state, [light.rate], seed=session.seed)[0], state)


class _CoarseMeter(Meter):
    """Meters on the light of larger pixels."""

    def __init__(self, in_scene: CameraInScene, small: CameraInScene, side: int) -> None:
        super().__init__(in_scene)
        self._small, self._area = small, np.float32(side**2)

    def picture(self, mode: Mode) -> Image:
        """As in `Meter`."""
        if mode not in self._pictures:
            self._pictures[mode] = meter_light(self._small, mode) / self._area
        return self._pictures[mode]


@dataclass
class LiveTraces(FrameTraces):
    """Layers of a coarse picture by single lights, kept with the session for all strengths of them
    and all shutters: what a slider of light or exposure moves is then weighed, not traced.

    Even parts are interpolated by what lights them, so that layers add up within a level or so.
    """

    of: RelitTraces = field(default_factory=RelitTraces)
    mode: Mode = "day"

    def layer(
        self, in_scene: CameraInScene, shining: Shining, grid: Sampling, group: int, time_s: float
    ) -> Layer:
        """As in `FrameTraces`."""
        parts = [
            (both, self.of.strength(in_scene, self.mode, part))
            for part in self.of.parts
            for swinging in swinging_parts(in_scene, shining.factors)
            if np.any(both := part & swinging)
        ]
        written = shining.lights._replace(amount=self.of.written)

        def alone(weights: FloatArray) -> Layer:
            sensor, lens = in_scene.camera.sensor, in_scene.camera.lens
            key = (
                "coarse", sensor.width_px, self.mode, group, time_s, lens.f_number,
                lens.relative_illumination_corner, written.extinction, weights.tobytes(),
            )  # fmt: skip
            layer = self.of.store.find(key, grid)
            if layer is not None:
                return layer
            wide = grid if group == STATIC else grid.wider(MOVING_ROOM_PX)
            made = trace_layer(
                wide, in_scene.packed_scene, written, in_scene.packed_view, mode=group,
                fine=self.split, weights=weights,
            )  # fmt: skip
            self.of.store.keep(key, wide, made)
            layer = kept_part([(wide, made)], grid)
            assert layer is not None
            return layer

        return added_up(parts, shining.factors, alone)


class Passing(NamedTuple):
    """The target in one frame of its pass: `time_s` from the moment judged, `distance_m` from the
    camera, `picture` (rows, columns, 3) 8-bit levels."""

    time_s: float
    distance_m: float
    picture: NDArray[np.uint8]


def passing(session: Session) -> Iterator[Passing]:
    """Delivered pictures of a text in several frames of its pass; none of one that stands still.

    The exposure is that of the moment judged, as in the verdict over a pass.
    """
    in_scene, state, entry = session.in_scene, session.state, session.entry
    if not isinstance(session.target, JudgedText):
        return
    stray_light = quick_stray_light(in_scene, state)
    for n, time_s in enumerate(moments_of_pass(in_scene, entry)):
        now = in_scene.at(float(time_s))
        try:
            target = find_text(now, entry)
        except GeometryError:  # something stands before it at that moment
            continue
        plan = plan_region(now, state, target)
        rates = region_series(
            now, state.mode, state.exposure.shutter_s, plan, stray_light,
            [float(t) for t in frame_times(in_scene)], Traces(),
        )  # fmt: skip
        frames = recorded(
            now, replace(state, quantiser=None), rates, seed=session.seed + n,
            origin_px=plan.box_px[:2],
        )  # fmt: skip
        yield Passing(float(time_s), target.distance_m, frames[0])
