"""Lamps switched and dimmed after the picture is traced: one stored layer for every light.

Light adds up, rate = sum over lights of weight x layer, and so do movement, air, lens blur and
stray light, which are linear. A scene is traced once for each light; any setting of the lamps is
then a weighted sum, without tracing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from simulator.camera.auto_exposure import with_iris
from simulator.camera.in_scene import CameraInScene
from simulator.camera.light_field import EDGE_SPLIT, lit_by
from simulator.camera.pipeline import State
from simulator.errors import InputError, NameNotFoundError
from simulator.units import Image


@dataclass(frozen=True)
class LightLayers:
    """The picture by each light alone.

    `names` (L,) of the lights, in the order of the world; `rates` (L, rows, columns, 3) [e-/s per
    pixel] of each at full strength.
    """

    names: tuple[str, ...]
    rates: Image

    def picture(self, weights: Mapping[str, float] | None = None) -> Image:
        """Rates (rows, columns, 3) [e-/s per pixel] with lights dimmed or switched.

        Parameters
        ----------
        weights
            Factor, 0 or more, by name of light; a light that is not named keeps its full strength.

        Raises
        ------
        NameNotFoundError
            For a name that no light has.
        InputError
            For a factor that is negative or not finite.
        """
        factors = np.ones(len(self.names), np.float32)
        for name, factor in (weights or {}).items():
            if name not in self.names:
                raise NameNotFoundError(
                    "There is no such light.", given=name, allowed=", ".join(self.names)
                )
            if not 0.0 <= factor < np.inf:
                raise InputError(
                    f"The factor of {name!r} is not possible.", given=factor, allowed="0 or more"
                )
            factors[[i for i, known in enumerate(self.names) if known == name]] = factor
        flat = self.rates.reshape(len(self.names), -1)
        return np.asarray(factors @ flat, dtype=np.float32).reshape(self.rates.shape[1:])


def light_layers(in_scene: CameraInScene, state: State, *, split: int = EDGE_SPLIT) -> LightLayers:
    """Trace the whole picture once for each light, at the mode, iris and shutter of a state.

    Flicker counts as in a frame with its middle at time 0. The camera keeps its exposure; settle
    it anew where a lamp would change it.

    Parameters
    ----------
    split
        Samples on an edge of things; 1 lights every sample by itself, more interpolates even
        parts, so that the layers add up to the picture within 0.5 %.
    """
    in_scene = with_iris(in_scene, state.exposure)
    shutter = state.exposure.shutter_s
    lights = in_scene.lights_at(state.mode, shutter)
    count = len(lights.amount)
    sensor = in_scene.camera.sensor
    rates = np.empty((count, sensor.height_px, sensor.width_px, 3), np.float32)
    for i in range(count):
        alone = np.zeros(count)
        alone[i] = lights.amount[i]
        rates[i] = lit_by(in_scene, state.mode, lights._replace(amount=alone), shutter, split).rate
    return LightLayers(tuple(light.name for light in in_scene.world.lights), rates)
