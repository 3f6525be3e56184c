"""Light on the patch around a target, traced several times finer than the pixel.

Movement, lens and defocus act on the fine grid by their exact transfer functions; then every pixel
averages over its aperture. Stray light comes from the whole picture. Rows of a rolling shutter see
moving things and flickering lamps each at its own moment (`rolling`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import cv2
import numpy as np
from scipy.fft import next_fast_len

from simulator.camera.blur import blur_fine, fine_transfer
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.lens import fine_frequencies
from simulator.camera.light_field import frame_light
from simulator.camera.light_parts import Part, added_up, swinging_parts
from simulator.camera.motion_blur import along_line_fine, along_paths, paths_px
from simulator.camera.overflow import overflows
from simulator.camera.rolling import (
    bands,
    drift,
    lamps_by_rows,
    layer_by_rows,
    line_time_s,
    smear_by_rows,
)
from simulator.camera.rough_region import laid_roughly
from simulator.camera.stray_light import add_glare
from simulator.scene.air import add_air
from simulator.scene.emitters import add_emitters
from simulator.scene.kernels.radiance import STATIC, Layer, Sampling, Traced, trace_samples
from simulator.scene.kernels.shading import NOTHING
from simulator.scene.radiosity.field import is_rough
from simulator.units import FloatArray, Image

NOTHING_LEFT = 1e-5
"""Where moving things leave no more than this to be seen of what stands still, it is not traced."""
MOST_PIXEL_BYTES = 50_000_000
"""Patches on the pixels that are kept of one world and view, about."""
MOST_BLURRED = 6
"""Layers behind the lens that are kept: of what moves and what stands still, for a few lights."""
GLOW_CELL_PX = 2.0
"""The glow of lamps in the air is computed on squares of this side."""


@dataclass(frozen=True)
class RegionPlan:
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


class Drawn(NamedTuple):
    """A traced layer with what its samples show, from which those of other texts are made."""

    grid: Sampling
    traced: Traced


def kept_part(kept: Iterable[tuple[Sampling, Layer]], grid: Sampling) -> Layer | None:
    """The kept layer of a grid, or the part of a larger one; None where there is none."""
    for known, layer in kept:
        part = grid.part_of(known)
        if part is not None:
            return Layer(*(plane[part] for plane in layer))
    return None


@dataclass
class Traces:
    """Traced layers of one world and view, kept so that only what changed is made again.

    Blur, movement, glare, noise and the strength of all light together act after tracing, so
    that asking what each of them costs needs no new tracing. Nor does another place of the pixel
    grid by whole samples, or another text on the board, but for the samples that show it. Lamps
    that swing share one layer for all their phases (`light_parts`).
    """

    layers: dict[tuple[object, ...], Layer] = field(default_factory=dict)
    alone: dict[tuple[object, ...], list[tuple[Sampling, Layer]]] = field(default_factory=dict)
    """Layers of the parts of the lights, and their grids."""
    spills: dict[tuple[object, ...], Image | None] = field(default_factory=dict)
    drawn: dict[tuple[object, ...], list[Drawn]] = field(default_factory=dict)
    """Layers that traces of all texts share."""
    pixels: dict[tuple[object, ...], Image] = field(default_factory=dict)
    """Patches on the pixels; the last ones, for they are large."""
    blurred: dict[tuple[object, ...], list[tuple[Sampling, Layer]]] = field(default_factory=dict)
    """Layers behind the lens, for searches alone; the last few."""
    for_paints: bool = False
    """Whether traces of the same world in other paints follow, see `painted_over`."""
    anew: int = NOTHING
    """The card whose body stands otherwise than in the traces that these are made from."""

    def painted_over(self, other: Traces) -> None:
        """Take what is seen, and what bodies do to its light, from the traces of a world that
        differs in the paint of things alone."""
        self.drawn = other.drawn
        self.for_paints = other.for_paints = True

    def reshaped(self, other: Traces, card: int) -> None:
        """Take all but one body, that of a card, from the traces of a world in which that body has
        another shape: what it throws on all else is kept."""
        self.drawn, self.anew = other.drawn, card

    def of_other_text(self) -> Traces:
        """For the same world and view with another text on the target's board."""
        return Traces(drawn=self.drawn)

    def layer(
        self,
        in_scene: CameraInScene,
        mode: Mode,
        grid: Sampling,
        time_s: float,
        group: int,
        factors: FloatArray | None,
    ) -> Layer:
        """One layer of a grid at a moment, added up from those of the parts of the lights.

        The static one is shared by all moments. `factors` (L,) on the lights, one if not given.
        """
        moment = 0.0 if group == STATIC else time_s
        by = None if factors is None else factors.tobytes()
        key = (mode, grid, moment, group, by, is_rough())
        if key not in self.layers:
            self.layers[key] = added_up(
                self._parts(in_scene, mode, factors),
                factors,
                lambda weights: self._alone(in_scene, mode, grid, moment, group, weights),
            )
        return self.layers[key]

    def behind_lens(
        self, key: tuple[object, ...], grid: Sampling, make: Callable[[Sampling], Layer]
    ) -> Layer:
        """A layer of a grid behind the lens, or the part of a larger one; made where there is none.

        Kept for the moments and exposures of one picture.
        """
        own = self.blurred.get(key)
        if own is None:
            while len(self.blurred) >= MOST_BLURRED:
                del self.blurred[next(iter(self.blurred))]
            own = self.blurred.setdefault(key, [])
        found = kept_part(own, grid)
        if found is None:
            wide = grid._replace(
                rows=next_fast_len(grid.rows, real=True),
                columns=next_fast_len(grid.columns, real=True),
            )
            own.append((wide, make(wide)))
            found = kept_part(own[-1:], grid)
            assert found is not None
        return found

    def _parts(
        self, in_scene: CameraInScene, mode: Mode, factors: FloatArray | None
    ) -> Sequence[tuple[Part, float]]:
        """Parts of the lights, and how much stronger each stands than its layer has it."""
        return [(part, 1.0) for part in swinging_parts(in_scene, factors)]

    def _alone(
        self,
        in_scene: CameraInScene,
        mode: Mode,
        grid: Sampling,
        moment: float,
        group: int,
        weights: FloatArray,
    ) -> Layer:
        """The layer by the lights of one part; what they shine at is shared by all texts."""
        key = (mode, grid.step, moment, group, weights.tobytes(), is_rough())
        own = self.alone.setdefault(key, [])
        found = kept_part(own, grid)
        if found is None:
            store = self.drawn.setdefault(key, [])
            found = self._traced(in_scene, mode, grid, group, weights, store)
            own.append((grid, found))
        return found

    def _traced(
        self,
        in_scene: CameraInScene,
        mode: Mode,
        grid: Sampling,
        group: int,
        weights: FloatArray,
        store: list[Drawn],
    ) -> Layer:
        """A layer, from one of the store if there is one that holds its grid."""
        scene, view, lights = in_scene.packed_scene, in_scene.packed_view, in_scene.lights(mode)
        for known in store:
            part = grid.part_of(known.grid)
            if part is not None:
                return trace_samples(
                    grid, scene, lights, view, mode=group, weights=weights,
                    known=known.traced.part(part), anew=self.anew,
                ).layer  # fmt: skip
        wide = grid.wider(1)
        traced = trace_samples(
            wide, scene, lights, view, mode=group, weights=weights, for_paints=self.for_paints,
            interpolated=is_rough() and not self.for_paints,
        )  # fmt: skip
        store.append(Drawn(wide, traced))
        part = grid.part_of(wide)
        assert part is not None
        return traced.part(part).layer

    def laid(
        self,
        in_scene: CameraInScene,
        mode: Mode,
        shutter_s: float,
        plan: RegionPlan,
        time_s: float,
        factors: FloatArray | None,
    ) -> Image:
        """The patch on the pixels, see `laid_on_pixels`; kept, for noise, gain, processing and the
        strength of all light act after it."""
        key = _seen_as(in_scene, mode, shutter_s, plan, time_s, factors)
        pixels = self.pixels.get(key)
        if pixels is None:
            pixels = laid_on_pixels(in_scene, mode, shutter_s, plan, time_s, self, factors)
            pixels.flags.writeable = False
            while self.pixels and pixels.nbytes * (len(self.pixels) + 1) > MOST_PIXEL_BYTES:
                del self.pixels[next(iter(self.pixels))]
            self.pixels[key] = pixels
        return pixels

    def spill(self, in_scene: CameraInScene, mode: Mode, shutter_s: float) -> Image | None:
        """What blooming and smear add to the whole picture (rows, columns) [e-/s]."""
        sensor = in_scene.camera.sensor
        if not overflows(sensor):
            return None
        key = (mode, shutter_s, in_scene.switches.light_scale, sensor.width_px)
        if key not in self.spills:
            self.spills[key] = frame_light(in_scene, mode, shutter_s).spill
        return self.spills[key]


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

    found = bands(in_scene, shutter_s)
    out: dict[float, Image] = {}
    for t in (float(t) for t in times_s):
        if found is None:
            out[t] = picture(t, in_scene.flicker(shutter_s, t))
        else:
            out[t] = found.mix([picture(t, w) for w in found.weights], t, plan.box_px[1])
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


def laid_on_pixels(
    in_scene: CameraInScene,
    mode: Mode,
    shutter_s: float,
    plan: RegionPlan,
    time_s: float,
    traces: Traces,
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
    depth = float(now.view.project(plan.point_m)[1])
    sampling = plan.sampling
    fx, fy = fine_frequencies(sampling.rows, sampling.columns, sampling.step)
    lights, view = now.lights(mode), now.packed_view
    if factors is not None:
        lights = lights._replace(amount=lights.amount * factors)
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
    blur = now.blur_at(depth, plan.wavelength_nm)
    rate = blur_fine(rate, fine_transfer(blur, sampling.rows, sampling.columns, sampling.step))
    return _on_pixels(rate, plan)


def _seen_as(
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


def _rough(
    in_scene: CameraInScene,
    mode: Mode,
    shutter_s: float,
    plan: RegionPlan,
    time_s: float,
    traces: Traces,
    factors: FloatArray | None,
) -> Image:
    """The fine grid behind the lens for a search, see `rough_region`."""
    lights, by = in_scene.lights(mode), None
    if factors is not None:
        lights, by = lights._replace(amount=lights.amount * factors), factors.tobytes()
    depth = float(in_scene.view.project(plan.point_m)[1])
    size = (plan.box_px[2] - plan.box_px[0], plan.box_px[3] - plan.box_px[1])
    return laid_roughly(
        in_scene, lights, in_scene.air(mode), GLOW_CELL_PX, shutter_s, time_s, plan.point_m, size,
        in_scene.blur_at(depth, plan.wavelength_nm), plan.sampling,
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
