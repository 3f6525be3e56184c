"""A camera with other settings or switches: light and view are shared where they stay the same."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import replace
from typing import Any, Self

import numpy as np

from simulator.camera.in_scene.light import Lit
from simulator.camera.model import CameraModel, Exposure

BLURS = ("glare_index", "aberration_sigma_um")
"""Of a lens what acts after the light."""
MOST_KIN = 8
"""Other worlds, or sensors, that are kept with a camera for all its settings."""


class WithSettings(Lit):
    """A camera that gives others with other settings; they share what holds for all of them."""

    def with_exposure(self, exposure: Exposure) -> Self:
        """The same camera with other settings of its exposure: no light depends on them."""
        return self.with_settings(self.camera.model_copy(update={"exposure": exposure}))

    def with_settings(self, camera: CameraModel) -> Self:
        """The same place with other values of the camera.

        What neither its light nor its view depends on is shared: exposure, processing, stream, what
        the sensor adds, and what lens and cover blur and scatter.
        """
        return self._set(camera=camera)

    def with_switches(self, **values: Any) -> Self:
        """The same with parts of the physics switched otherwise (`Switches`)."""
        return self._set(switches=replace(self.switches, **values))

    def at_rest(self) -> Self:
        """The same before a world in which all stands still; light and view are shared."""
        if not np.any(self.world.velocities):
            return self

        def rested(self: Self) -> Self:
            world = replace(self.world, velocities=np.zeros_like(self.world.velocities))
            return self._lit_as_this(replace(self, world=world))

        return self.kin("at rest", rested)

    def kin(self, key: Hashable, make: Callable[[Self], Self]) -> Self:
        """The same before another world, with this one's settings; made once for all settings.

        Parameters
        ----------
        key
            Names the other world.
        make
            Gives it from this one, or from one with other settings.
        """
        return self._first_kin(key, make)._as_set(self)

    def _first_kin(self, key: Hashable, make: Callable[[Self], Self]) -> Self:
        """The first that was made of a name; all settings keep the same few."""
        first: Self = self.__dict__.get("_set_from", self)
        kept: dict[Hashable, Self] = first.__dict__.setdefault("_kin", {})
        if key not in kept:
            if len(kept) >= MOST_KIN:
                del kept[next(iter(kept))]
            kept[key] = make(first)
        return kept[key]

    def _lit_as_this(self, other: Self) -> Self:
        """Another one on whose sensor the same light falls, and which shares it."""
        for name in ("_lights", "_small"):
            self.__dict__.setdefault(name, {})
        return self._shared(other, "packed_scene", "_lights", "_small")

    def _as_set(self, other: Self) -> Self:
        """This one with the settings of another one."""
        return self._set(camera=other.camera, switches=other.switches, row_zero_m=other.row_zero_m)

    def _set(self, **values: Any) -> Self:
        other = replace(self, **values)
        light = _light_on(other.camera)
        if light != _light_on(self.camera):
            first = self._first_kin(("camera", light), lambda _: other)
            return other if first is other else first._as_set(other)
        self._lit_as_this(other)
        if self.written is not None:
            other.__dict__["_written"] = self.written._set(**values)
        other.__dict__["_set_from"] = self.__dict__.get("_set_from", self)
        return other


def _light_on(camera: CameraModel) -> tuple[Hashable, ...]:
    """What of a camera the light on its sensor depends on: all but stray light and blur."""
    lens = {key: value for key, value in camera.lens if key not in BLURS}
    sensor = camera.sensor
    return (
        *lens.values(), camera.cover.passed, sensor.width_px, sensor.height_px,
        sensor.pixel_pitch_um, sensor.quantum_efficiency,
    )  # fmt: skip
