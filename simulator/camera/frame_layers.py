"""Layers of the whole picture put together: what moves over what stands still, air, lamps."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from simulator.camera.bounds import check_smear
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.kept_layers import traced_layer
from simulator.camera.light_parts import added_up, swinging_parts
from simulator.camera.motion_blur import along_line, along_paths, corner_flows, paths_px
from simulator.camera.rolling import (
    Drift,
    drift,
    lamps_by_rows,
    layer_by_rows,
    line_time_s,
    smear_by_rows,
)
from simulator.camera.stray_light import source_stray_light, veiling_glare
from simulator.scene.air import GLOW_COLUMNS, add_air
from simulator.scene.emitters import add_emitters, stray_totals
from simulator.scene.kernels.pack import PackedLights
from simulator.scene.kernels.radiance import STATIC, Layer, Sampling
from simulator.units import FloatArray, Image

EDGE_SPLIT = 3


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
            made = traced_layer(
                grid, in_scene.packed_scene, shining.lights, in_scene.packed_view, mode=group,
                fine=self.split, weights=weights, interpolated=self.interpolated,
            )  # fmt: skip
            if group == STATIC or len(parts) > 1:
                self.kept[key] = made
            return made

        return added_up([(part, 1.0) for part in parts], shining.factors, alone)


def composed(
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


def with_lamps(
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
