"""Traced layers of single lights, kept, so that lights are dimmed and switched without tracing.

Light adds up, and so do movement, air, lens blur and stray light, which act after tracing:

    rate = sum over lights of strength x layer

A finely traced layer of one light alone serves every strength of it. Lights that are always changed
together share a layer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.light_parts import Part, swinging_parts
from simulator.camera.region_pixels import laid_on_pixels
from simulator.camera.region_plan import RegionPlan
from simulator.camera.region_traces import Drawn, Traces, kept_part
from simulator.scene.kernels.radiance import Layer, Sampling, trace_samples
from simulator.scene.radiosity.field import is_rough
from simulator.scene.world import World
from simulator.units import FloatArray, Image

MOST_BYTES = 150_000_000
"""Layers kept of one scene and camera; the oldest ones make room."""

MOST_PIXELS = 64
"""Patches on the pixels that are kept."""


@dataclass
class LightLayers:
    """Kept layers of one world and camera, by what of the lights made them."""

    kept: dict[tuple[object, ...], list[tuple[Sampling, Layer]]] = field(default_factory=dict)
    held: int = 0
    """Bytes of all that is kept."""
    drawn: dict[tuple[object, ...], Drawn] = field(default_factory=dict)
    """Layers of the first text, from which those of others on the same board are made."""

    pixels: dict[tuple[object, ...], Image] = field(default_factory=dict)
    """Patches on the pixels, for all lights at strength 1."""

    def keep_pixels(self, key: tuple[object, ...], pixels: Image) -> None:
        """Keep a patch; the oldest one is given up where there are many."""
        if len(self.pixels) >= MOST_PIXELS:
            del self.pixels[next(iter(self.pixels))]
        self.pixels[key] = pixels

    def find(self, key: tuple[object, ...], grid: Sampling) -> Layer | None:
        """A kept layer, or the part of a larger one, on a grid; None where there is none."""
        return kept_part(self.kept.get(key, ()), grid)

    def keep(self, key: tuple[object, ...], grid: Sampling, layer: Layer) -> None:
        """Keep a layer; the oldest ones are given up where all together would be too large."""
        self.held += _bytes(layer)
        while self.held > MOST_BYTES and self.kept:
            oldest = next(iter(self.kept))
            self.drawn.pop(oldest[:-1], None)
            for _, old in self.kept.pop(oldest):
                self.held -= _bytes(old)
        self.kept.setdefault(key, []).append((grid, layer))

    def traces(
        self,
        written: World,
        apart: Sequence[str],
        *,
        shown: str = "",
        variant: str = "",
        room_px: int = 0,
    ) -> RelitTraces:
        """Traces of a world under its lights at any strengths.

        Parameters
        ----------
        written
            The world with the lights as written.
        apart
            Owners of lights that stand at strengths of their own; all others go together.
        shown, variant, room_px
            As in `RelitTraces`.
        """
        lights = written.lights
        parts = [np.array([light.owner == owner for light in lights]) for owner in apart]
        rest = np.array([light.owner not in apart for light in lights])
        return RelitTraces(
            store=self,
            parts=[*parts, rest] if np.any(rest) else parts,
            written=np.array([light.strength for light in lights]),
            shown=shown,
            variant=variant,
            room_px=room_px,
        )


@dataclass
class RelitTraces(Traces):
    """Traces of a scene whose lights stand at other strengths than those written.

    Attributes
    ----------
    store
        Layers that all strengths share.
    parts
        Which lights (L,) change together, each light in one part.
    written
        Amounts (L,) of the lights at strength 1.
    shown
        Names what is drawn on the target's card, where it is not what the scene says.
    variant
        Names the world, where it is another than the one that the scene says.
    room_px
        Whole pixels that are traced around a grid for others that will be asked for.
    """

    store: LightLayers = field(default_factory=LightLayers)
    parts: Sequence[NDArray[np.bool_]] = ()
    written: FloatArray = field(default_factory=lambda: np.zeros(0))
    shown: str = ""
    variant: str = ""
    room_px: int = 0
    base_variant: str | None = None
    """The world that this one is made from, where one is known."""

    @property
    def _world(self) -> tuple[str, str]:
        """What tells the world of these traces from others that share the store."""
        return self.variant, self.shown

    def painted_over(self, other: Traces) -> None:
        """As in `Traces`."""
        super().painted_over(other)
        self._made_from(other)

    def reshaped(self, other: Traces, card: int) -> None:
        """As in `Traces`."""
        super().reshaped(other, card)
        self._made_from(other)

    def _made_from(self, other: Traces) -> None:
        if isinstance(other, RelitTraces):
            self.base_variant = other.variant

    def laid(
        self,
        in_scene: CameraInScene,
        mode: Mode,
        shutter_s: float,
        plan: RegionPlan,
        time_s: float,
        factors: FloatArray | None,
    ) -> Image:
        """The patch on the pixels; where all lights change together, from one kept at strength 1.

        Layers of single lights do not add up there to the last digit, for the rows of a rolling
        shutter are resampled without going below nothing.
        """
        if len(self.parts) != 1:
            return super().laid(in_scene, mode, shutter_s, plan, time_s, factors)
        times = self.strength(in_scene, mode, self.parts[0])
        lens, lights = in_scene.camera.lens, in_scene.lights(mode)
        nm = round(plan.wavelength_nm, 6)  # a mean over the light, equal in dimmer light to 1e-13
        key = (
            mode, shutter_s, plan.box_px, plan.sampling, nm, plan.point_m.tobytes(),
            time_s, None if factors is None else factors.tobytes(), lens.f_number,
            lens.relative_illumination_corner, lights.extinction, in_scene.switches,
            *self._world, is_rough(),
        )  # fmt: skip
        pixels = self.store.pixels.get(key)
        if pixels is None:
            # the store keeps it for all strengths: these traces need not as well
            pixels = laid_on_pixels(in_scene, mode, shutter_s, plan, time_s, self, factors)
            if times > 0.0:
                self.store.keep_pixels(key, pixels / np.float32(times))
            return pixels
        return np.asarray(pixels * np.float32(times))

    def _parts(
        self, in_scene: CameraInScene, mode: Mode, factors: FloatArray | None
    ) -> Sequence[tuple[Part, float]]:
        return [
            (both, self.strength(in_scene, mode, part))
            for part in self.parts
            for swinging in swinging_parts(in_scene, factors)
            if np.any(both := part & swinging)
        ]

    def strength(self, in_scene: CameraInScene, mode: Mode, part: NDArray[np.bool_]) -> float:
        """By how much the lights of a part are stronger than written; 1 for lights of nothing."""
        lit = part & (self.written > 0.0)
        if not np.any(lit):
            return 1.0
        first = int(np.argmax(lit))
        return float(in_scene.lights(mode).amount[first] / self.written[first])

    def _alone(
        self,
        in_scene: CameraInScene,
        mode: Mode,
        grid: Sampling,
        moment: float,
        group: int,
        weights: FloatArray,
    ) -> Layer:
        """The layer by the lights of one part as written."""
        lens, lights = in_scene.camera.lens, in_scene.lights(mode)
        # the iris acts on vignetting and all rates, the air on what reaches a thing
        exact: tuple[object, ...] = (
            mode, moment, group, grid.step, lens.f_number, lens.relative_illumination_corner,
            lights.extinction, weights.tobytes(), *self._world,
        )  # fmt: skip
        layer_here, key = self.store.find(exact, grid), exact
        if layer_here is None and is_rough():  # kept apart, so that no verdict takes it
            key = ("rough", *exact)
            layer_here = self.store.find(key, grid)
        if layer_here is not None:
            return layer_here
        made_from = self.variant if self.base_variant is None else self.base_variant
        drawn_as = (*key[: -len(self._world)], made_from)
        known = self.store.drawn.get(drawn_as)
        wide = grid.wider(self.room_px + (known is None))
        part = None if known is None else wide.part_of(known.grid)
        again = None if known is None or part is None else known.traced.part(part)
        traced = trace_samples(
            wide, in_scene.packed_scene, lights._replace(amount=self.written),
            in_scene.packed_view, mode=group, weights=weights, known=again,
            paints_follow=self.paints_follow, reshaped_card=self.reshaped_card,
            interpolated=key is not exact and not self.paints_follow,
        )  # fmt: skip
        if known is None:
            self.store.drawn[drawn_as] = Drawn(wide, traced)
        layer = traced.layer
        self.store.keep(key, wide, layer)
        layer_here = kept_part([(wide, layer)], grid)
        assert layer_here is not None
        return layer_here


def _bytes(layer: Layer) -> int:
    return sum(plane.nbytes for plane in layer)
