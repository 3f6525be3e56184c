"""Rolling shutter: rows are exposed one after another, so that moving things lean and lamps band.

The row at y [px] of the picture is exposed later than the frame's own moment by

    (y - y0) x line time

where y0 is the row of the judged target (or the middle of the picture), so that the target lies
where it is at that moment. Every row still integrates over the whole shutter.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np

from simulator.camera.in_scene import CameraInScene
from simulator.scene.kernels.radiance import Layer, Sampling
from simulator.scene.world import World
from simulator.units import FloatArray, Image

LEAST_SHIFT_PX = 0.02
"""Less movement between the first and last row of a grid is not made."""
LARGEST_DRIFT = 0.9
"""Movement down the picture from row to row that is still followed [px]."""
THIRDS = 2.0 * np.pi / 3.0 * np.arange(3)
HALVES = np.array([0.0, np.pi])


def line_time_s(in_scene: CameraInScene) -> float:
    """Time from row to row; 0 for a global shutter.

    Without a value in the profile the rows fill the frame time.

    Parameters
    ----------
    in_scene
        The camera in its scene.

    Returns
    -------
    float
        Line time [s].

    References
    ----------
    1 / (frame rate x rows) where the profile says nothing: assumed, no blanking.

    Examples
    --------
    >>> from simulator.camera import Camera, place_camera
    >>> from simulator.scene import Scene, build_world
    >>> scene = Scene.load("depot-gate-infrared").model
    >>> camera = Camera.load("fixed-2mp-lowlight").model
    >>> in_scene = place_camera(build_world(scene), scene.station, camera)
    >>> round(1e6 * line_time_s(in_scene), 1)
    29.6
    """
    sensor = in_scene.camera.sensor
    if sensor.shutter == "global":
        return 0.0
    if sensor.line_time_us is not None:
        return sensor.line_time_us * 1e-6
    return 1.0 / in_scene.camera.processing.frame_rate_hz / sensor.height_px


def row_zero_px(in_scene: CameraInScene) -> float:
    """The row y0 that is exposed at the moment of the frame [px]."""
    if in_scene.row_zero_m is not None:
        place, depth = in_scene.view.project(np.asarray(in_scene.row_zero_m))
        if depth > 0.0:
            return float(np.clip(place[1], 0.0, in_scene.view.height_px))
    return in_scene.view.height_px / 2.0


def with_row_zero(in_scene: CameraInScene, target: str) -> CameraInScene:
    """The camera whose frames take their moment from the row of a target."""
    if in_scene.camera.sensor.shutter == "global":
        return in_scene
    centre = in_scene.world.cards[in_scene.world.targets[target][0]].centre_m
    return replace(in_scene, row_zero_m=(float(centre[0]), float(centre[1]), float(centre[2])))


@dataclass(frozen=True)
class Drift:
    """Movement of something on the picture from row to row (dx, dy) [px], and the row y0 [px]."""

    step_px: FloatArray
    row_px: float

    def seen(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where a place of the frame's moment is recorded: row y' with y' = y + dy (y' - y0)."""
        down = (y - self.step_px[1] * self.row_px) / (1.0 - self.step_px[1])
        return x + self.step_px[0] * (down - self.row_px), down

    def seen_box(self, box_px: FloatArray) -> FloatArray:
        """Box (x0, y0, x1, y1) around a recorded box."""
        x, y = self.seen(box_px[[0, 0, 2, 2]], box_px[[1, 3, 1, 3]])
        return np.array([x.min(), y.min(), x.max(), y.max()])

    def source(self, s: Sampling) -> Sampling:
        """Grid of the frame's moment that holds all that a grid of the picture shows."""
        top, bottom = s.y0 - self.row_px, s.y0 + s.rows * s.step - self.row_px
        move = -np.outer([top, bottom], self.step_px)
        low = np.floor(move.min(axis=0) / s.step).astype(int) - 2
        high = np.ceil(move.max(axis=0) / s.step).astype(int) + 2
        return Sampling(
            s.x0 + low[0] * s.step,
            s.y0 + low[1] * s.step,
            s.step,
            s.rows + int(high[1] - low[1]),
            s.columns + int(high[0] - low[0]),
        )

    def warp(self, layer: Layer, source: Sampling, s: Sampling) -> Layer:
        """A layer of the frame's moment as the rows of a grid see it, one after another."""
        return resampled(layer, self.back(source, s), s)

    def back(self, source: Sampling, s: Sampling) -> FloatArray:
        """Matrix (2, 3) from samples of a grid to samples of the frame's moment that they show."""
        dx, dy = self.step_px
        first = 0.5 + (s.y0 - self.row_px) / s.step
        return np.array(
            [
                [1.0, -dx, (s.x0 - source.x0) / s.step - dx * first],
                [0.0, 1.0 - dy, (s.y0 - source.y0) / s.step - dy * first],
            ]
        )


def resampled(layer: Layer, back: FloatArray, s: Sampling) -> Layer:
    """A layer on another grid; `back` (2, 3) leads from samples of that to samples of its own."""

    def moved(plane: Image, how: int) -> Image:
        out = cv2.warpAffine(
            plane, back, (s.columns, s.rows), flags=how | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        return np.asarray(out)

    return Layer(
        np.maximum(moved(layer.rate, cv2.INTER_CUBIC), 0.0),
        np.clip(moved(layer.cover, cv2.INTER_CUBIC), 0.0, 1.0),
        moved(layer.depth, cv2.INTER_NEAREST),
    )


def drift(in_scene: CameraInScene, flow_px_s: FloatArray) -> Drift | None:
    """Drift of what moves over the picture at so many pixels a second; None if nothing leans."""
    step = np.asarray(flow_px_s) * line_time_s(in_scene)
    if np.hypot(*step) * in_scene.view.height_px < LEAST_SHIFT_PX:
        return None
    step[1] = np.clip(step[1], -LARGEST_DRIFT, LARGEST_DRIFT)
    return Drift(step, row_zero_px(in_scene))


def seen_px(
    in_scene: CameraInScene, group: int, point_m: FloatArray, places_px: FloatArray
) -> FloatArray:
    """Where a rolling shutter records places (..., 2) [px] of something that moves.

    `point_m` the point of it whose movement counts for all of it.
    """
    lean = drift(in_scene, in_scene.smear_px(1.0, point_m)[group])
    if lean is None:
        return places_px
    return np.stack(lean.seen(places_px[..., 0], places_px[..., 1]), axis=-1)


def layer_by_rows(
    lean: Drift | None, sampling: Sampling, trace: Callable[[Sampling], Layer]
) -> Layer:
    """Trace a moving layer as the rows of a grid see it, exposed for a moment each.

    The thing is taken to move evenly over the picture, and what stands before it to hide what it
    hides at the frame's moment.
    """
    if lean is None:
        return trace(sampling)
    source = lean.source(sampling)
    return lean.warp(trace(source), source, sampling)


def smear_by_rows(lean: Drift | None, smear_px: FloatArray) -> FloatArray:
    """Movement on the picture during an exposure, as it is after `layer_by_rows` (2,) [px]."""
    return smear_px if lean is None else smear_px / (1.0 - lean.step_px[1])


def lamps_by_rows(in_scene: CameraInScene) -> World:
    """The world with every moving lamp where it is when its own row is exposed."""
    line = line_time_s(in_scene)
    world = in_scene.world
    if line == 0.0 or not in_scene.switches.motion or not np.any(world.velocities):
        return world
    zero = row_zero_px(in_scene)
    emitters = []
    for emitter in world.emitters:
        speed, place, late = world.velocities[emitter.group], emitter.position_m, 0.0
        for _ in range(4 if np.any(speed) else 0):
            xy, depth = in_scene.view.project(place)
            if depth <= 0.0:
                break
            late = (float(np.clip(xy[1], 0.0, in_scene.view.height_px)) - zero) * line
            place = emitter.position_m + speed * late
        emitters.append(replace(emitter, position_m=place) if late else emitter)
    return replace(world, emitters=emitters)


@dataclass(frozen=True)
class Bands:
    """Light of flickering lamps by the row, made up of a few pictures.

    For light(t) = 1 + d cos(w t + phi) the mean over a shutter T about t is

        1 + d s cos(w t + phi) = 1/3 sum_k P_k + 2/3 s sum_k cos(w t - a_k) P_k,
        P_k = 1 + d cos(a_k + phi), a_k = 0, 120, 240 degrees, s = sinc(w T / 2 pi)

    so that three pictures with every lamp dimmed by its P_k, none of them negative, give every row
    of every moment. Where all lamps of a frequency swing together or against one another two do, at
    a_k = -phi and half a turn on, with 1/2 for both 1/3 and 2/3. Lamps of another frequency need
    pictures of their own, without the first term.
    """

    weights: FloatArray
    """(pictures, lights) factors P_k on the lights."""
    light_hz: FloatArray
    """(pictures,) frequency of the light [Hz]."""
    angle_rad: FloatArray
    """(pictures,) a_k."""
    swing: FloatArray
    """(pictures,) what the shutter leaves of the wave times its factor, 2/3 s."""
    steady: FloatArray
    """(pictures,) the first term, 1/3; 0 but for the first frequency."""
    line_s: float
    row_px: float

    def shares(self, time_s: float, first_row: int, rows: int) -> FloatArray:
        """Share (pictures, rows) of every picture in rows of a frame at a moment."""
        y = first_row + np.arange(rows) + 0.5
        t = time_s + (y - self.row_px) * self.line_s
        turn = 2.0 * np.pi * self.light_hz[:, None] * t
        wave = np.cos(turn - self.angle_rad[:, None])
        return np.asarray(self.steady[:, None] + self.swing[:, None] * wave)

    def mix(self, pictures: list[Image], time_s: float, first_row: int = 0) -> Image:
        """The picture (rows, columns, 3) of a moment, every row at its own."""
        shares = self.shares(time_s, first_row, len(pictures[0])).astype(np.float32)
        out = np.zeros_like(pictures[0])
        for share, picture in zip(shares, pictures, strict=True):
            out += share[:, None, None] * picture
        return np.maximum(out, 0.0)

    def mean(self, pictures: list[Image]) -> Image:
        """The picture without flicker."""
        out = np.zeros_like(pictures[0])
        for share, picture in zip(self.steady.astype(np.float32), pictures, strict=True):
            out += share * picture
        return out


def bands(in_scene: CameraInScene, shutter_s: float) -> Bands | None:
    """What makes bands behind a rolling shutter; None if nothing flickers or all is averaged."""
    line = line_time_s(in_scene)
    lights = in_scene.world.lights
    depth = np.array([light.flicker_depth for light in lights])
    hz = np.array([light.flicker_hz for light in lights])
    phase = np.radians([light.flicker_phase_deg for light in lights])
    swing = np.sinc(hz * shutter_s)
    lively = np.round(depth * swing, 9) != 0.0
    if line == 0.0 or not np.any(lively):
        return None
    rows = []
    for first, f in enumerate(np.unique(hz[lively])):
        which = lively & (hz == f)
        lead = phase[which][0]
        together = np.allclose(np.sin(phase[which] - lead), 0.0, atol=1e-9)
        angles, part = (HALVES - lead, 0.5) if together else (THIRDS, 2.0 / 3.0)
        for a in angles:
            weights = np.where(which, 1.0 + depth * np.cos(phase + a), 1.0)
            base = 1.0 / len(angles) if first == 0 else 0.0
            rows.append((weights, f, a, part * np.sinc(f * shutter_s), base))
    weights, hz, angle, swing, steady = (np.array(column) for column in zip(*rows, strict=True))
    return Bands(weights, hz, angle, swing, steady, line, row_zero_px(in_scene))
