"""Traced layers of the patch around a target, kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from scipy.fft import next_fast_len

from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.light_field import frame_light
from simulator.camera.light_parts import Part, added_up, swinging_parts
from simulator.camera.overflow import overflows
from simulator.camera.region_pixels import laid_on_pixels, seen_as
from simulator.camera.region_plan import RegionPlan
from simulator.scene.kernels.radiance import STATIC, Layer, Sampling, Traced, trace_samples
from simulator.scene.kernels.shading import NOTHING
from simulator.scene.radiosity.field import is_rough
from simulator.units import FloatArray, Image

MOST_PIXEL_BYTES = 50_000_000
"""Patches on the pixels that are kept of one world and view, about."""
MOST_BLURRED = 6
"""Layers behind the lens that are kept: of what moves and what stands still, for a few lights."""


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
    paints_follow: bool = False
    """Whether traces of the same world in other paints follow, see `painted_over`."""
    reshaped_card: int = NOTHING
    """The card whose body stands otherwise than in the traces that these are made from."""

    def painted_over(self, other: Traces) -> None:
        """Take what is seen, and what bodies do to its light, from the traces of a world that
        differs in the paint of things alone."""
        self.drawn = other.drawn
        self.paints_follow = other.paints_follow = True

    def reshaped(self, other: Traces, card: int) -> None:
        """Take all but one body, that of a card, from the traces of a world in which that body has
        another shape: what it throws on all else is kept."""
        self.drawn, self.reshaped_card = other.drawn, card

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
        part = kept_part(own, grid)
        if part is None:
            wide = grid._replace(
                rows=next_fast_len(grid.rows, real=True),
                columns=next_fast_len(grid.columns, real=True),
            )
            own.append((wide, make(wide)))
            part = kept_part(own[-1:], grid)
            assert part is not None
        return part

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
        layer_here = kept_part(own, grid)
        if layer_here is None:
            store = self.drawn.setdefault(key, [])
            layer_here = self._traced(in_scene, mode, grid, group, weights, store)
            own.append((grid, layer_here))
        return layer_here

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
                    known=known.traced.part(part), reshaped_card=self.reshaped_card,
                ).layer  # fmt: skip
        wide = grid.wider(1)
        traced = trace_samples(
            wide, scene, lights, view, mode=group, weights=weights,
            paints_follow=self.paints_follow, interpolated=is_rough() and not self.paints_follow,
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
        key = seen_as(in_scene, mode, shutter_s, plan, time_s, factors)
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
