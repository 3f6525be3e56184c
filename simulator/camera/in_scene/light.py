"""The light of a world in electrons of a camera, shared with others that it falls on alike."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import Self

import numpy as np

from simulator.camera.in_scene.optics import Mode, Optics
from simulator.camera.response import coefficients, mean_wavelength_nm
from simulator.errors import NoLightError
from simulator.light.flicker import mean_over_exposure
from simulator.light.photometry import luminous_efficiency
from simulator.scene.air import Air, air_at
from simulator.scene.kernels.irradiance import incident
from simulator.scene.kernels.light_map import PackedMap
from simulator.scene.kernels.pack import PackedLights, pack_lights
from simulator.scene.radiosity.bands import band_masks
from simulator.scene.radiosity.field import LightField, light_field
from simulator.scene.radiosity.other_body import with_other_body
from simulator.scene.radiosity.packed import pack_map
from simulator.scene.world import World
from simulator.units import FloatArray

DAY_WAVELENGTH_NM = 550.0
"""Wavelength of the air's extinction by day, and where no light reaches the target."""


class Lit(Optics):
    """The lights of the world, weighed once with the response of the camera."""

    def lights(self, mode: Mode) -> PackedLights:
        """The lights with their coefficients in a mode, kept after the first call."""
        cache: dict[Mode, PackedLights] = self.__dict__.setdefault("_lights", {})
        if mode not in cache:
            written = self.written
            cache[mode] = (
                self._pack_lights(mode) if written is None else self._relit_lights(written, mode)
            )
        return cache[mode]

    def _relit_lights(self, written: Self, mode: Mode) -> PackedLights:
        """The lights of the same world at other strengths, without packing them again."""
        amount = np.array([light.strength for light in self.world.lights], dtype=np.float64)
        lights = written.lights(mode)._replace(amount=amount)
        return lights if self.world.air is None else self._with_air(mode, lights)

    def flicker(self, shutter_s: float, time_s: float = 0.0) -> FloatArray | None:
        """Factor on every light (L,) of an exposure with its middle at a moment; None if all are 1.

        The whole picture is exposed at once, as by a global shutter; for the bands of a rolling one
        see `rolling`. Metering looks at the mean light. Factors are rounded to 1e-9, so that
        moments of the same phase share what was traced.
        """
        lights = self.world.lights
        factors = mean_over_exposure(
            np.array([light.flicker_depth for light in lights]),
            np.array([light.flicker_hz for light in lights]) / 2.0,
            np.array([light.flicker_phase_deg for light in lights]),
            time_s - shutter_s / 2.0,
            shutter_s,
        ).round(9)
        return None if np.all(factors == 1.0) else np.asarray(factors)

    def air(self, mode: Mode) -> Air | None:
        """The air at the wavelength that stands for a mode; None if it is clear."""
        if self.world.air is None:
            return None
        return Air(self.lights(mode).extinction)

    def mean_wavelength_nm(self, mode: Mode) -> float:
        """Wavelength that stands for a mode in the blur of the whole picture [nm]."""
        cache: dict[Mode, float] = self.__dict__.setdefault("_wavelength", {})
        if mode not in cache:
            cache[mode] = self._air_wavelength_nm(mode, self.lights(mode))
        return cache[mode]

    def _air_wavelength_nm(self, mode: Mode, lights: PackedLights) -> float:
        """Green by day; by night the mean of the light that falls on the first target."""
        cards = [i for indices in self.world.targets.values() for i in indices]
        if mode == "day" or not cards:
            return DAY_WAVELENGTH_NM
        card = self.world.cards[cards[0]]
        amounts = incident(card.centre_m, card.normal, self.packed_scene, lights, cards[0])[0]
        power = amounts @ self.world.light_powers()
        try:
            response = self.response(mode).sum(axis=0)
            mean_nm = mean_wavelength_nm(power, np.ones_like(power), response)
        except NoLightError:
            return DAY_WAVELENGTH_NM
        return float(mean_nm)

    def _pack_lights(self, mode: Mode) -> PackedLights:
        moved_from = self.__dict__.get("_moved_from")
        rested: Self | None = None if moved_from is None else moved_from()
        if rested is not None:  # of the same colours, and the light field is kept
            known = rested.lights(mode)
            lights = pack_lights(
                self.world, known.coefficient, known.retro, light_map=known.light_map
            )
            return lights if self.world.air is None else self._with_air(mode, lights)
        powers, reflectances = self.world.light_powers(), self.world.reflectances()
        response = self.response(mode)
        area = self.pitch_m**2
        diffuse = coefficients(powers, reflectances, response, area) * self.image_factor
        weight = luminous_efficiency()
        mean = (reflectances @ weight) / weight.sum()
        tint = reflectances / np.maximum(mean, 1e-6)[:, None]
        sent_back = [0.0 if m.sheeting is None else 1.0 - m.soiling for m in self.world.materials]
        tint *= np.array(sent_back)[:, None]
        retro = coefficients(powers, tint, response, area) * self.image_factor
        lights = pack_lights(
            self.world,
            diffuse.astype(np.float32),
            retro.astype(np.float32),
            light_map=self._light_map(reflectances, response, area),
        )
        return lights if self.world.air is None else self._with_air(mode, lights)

    @cached_property
    def light_field(self) -> LightField:
        """Sky and bounced light of the world; moved on by a time, it keeps that of the moment
        judged."""
        return light_field(self.world)

    def _light_map(
        self, reflectances: FloatArray, response: FloatArray, area_m2: float
    ) -> PackedMap:
        """The light field for the kernels, in electrons of this camera."""
        field = self.light_field
        power = np.stack([self.world.lights[i].spectrum.power for i in field.slots.light])
        by_band = [
            coefficients(power * mask, reflectances, response, area_m2) for mask in band_masks()
        ]
        per_band = np.stack(by_band, axis=1) * self.image_factor
        return pack_map(field, self.world, per_band.astype(np.float32))

    def _with_air(self, mode: Mode, lights: PackedLights) -> PackedLights:
        assert self.world.air is not None
        # light that the lamp's own air takes on its way to the target is left out here
        clear = lights._replace(extinction=0.0)
        air = air_at(self.world.air, self._air_wavelength_nm(mode, clear))
        return lights._replace(extinction=air.extinction_per_m)

    @property
    def written(self) -> Self | None:
        """The same before the lights as written, where this one is `relit`."""
        written: Self | None = self.__dict__.get("_written")
        return written

    def relit(self, world: World) -> Self:
        """The same before a world that differs from this one by the amounts of its lights alone.

        What does not depend on them is shared: the view, packed cards, and the lights'
        coefficients.
        """
        _ = self.packed_scene, self.packed_view, self.light_field  # made once for all
        other = self._shared(replace(self, world=world), "packed_scene")
        other.__dict__["_written"] = self
        return other

    def under(self, field: LightField) -> Self:
        """The same camera before the same world, under a light field that is known already."""
        other = replace(self)
        other.__dict__["light_field"] = field
        return other

    def _shared(self, other: Self, *more: str) -> Self:
        """Another one that keeps what this one has found and what holds for both."""
        names = ("view", "packed_view", "daylight_colour", "light_field", *more)
        other.__dict__.update({key: self.__dict__[key] for key in names if key in self.__dict__})
        return other

    def before_other(self, world: World) -> Self:
        """The same camera before another world.

        Where only materials differ, or where the ground's grain lies, or the shape of one body,
        the light that all else throws is kept: one thing in another colour or shape hardly
        changes what the scene throws on it.
        """
        if world is self.world:
            return self
        other, own = replace(self, world=world), self.world
        if world.cards is own.cards and world.meshes is own.meshes:
            _ = self.light_field
            if world.materials is own.materials and world.lights is own.lights:
                self.__dict__.setdefault("_lights", {})
                return self._shared(other, "_lights")
            return self._shared(other)
        body = _other_body(own, world)
        if body is not None:
            other.__dict__["light_field"] = with_other_body(self.light_field, world, body)
        return other


def _other_body(one: World, other: World) -> int | None:
    """Number of the body in which two worlds differ, with its card; None if it is not just one."""
    if len(one.meshes) != len(other.meshes) or len(one.cards) != len(other.cards):
        return None
    bodies = [
        k for k, (a, b) in enumerate(zip(one.meshes, other.meshes, strict=True)) if a is not b
    ]
    cards = [k for k, (a, b) in enumerate(zip(one.cards, other.cards, strict=True)) if a is not b]
    if len(bodies) != 1 or not set(cards) <= {other.meshes[bodies[0]].card}:
        return None
    return bodies[0]
