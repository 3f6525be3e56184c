"""What falls on the place of a light budget, light by light: the renderer is asked.

The renderer is linear in its lights and materials. With every material a perfect diffuser of one
electron a second per unit of light it gives the light itself: lamp by lamp, and bounced light band
by band. So shadows, bodies and bounces are those of the picture, not an estimate of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.camera.auto_exposure import State
from simulator.camera.in_scene import CameraInScene
from simulator.light.photometry import luminous_efficiency
from simulator.light.sources import LightSource
from simulator.scene.kernels.pack import KINDS, PackedLights, PackedScene
from simulator.scene.kernels.radiance import trace_samples
from simulator.scene.radiosity.bands import BANDS, band_masks
from simulator.studies.budget.place import Place
from simulator.units import FloatArray, Image

CHANNELS = 3


class Share(NamedTuple):
    """Amounts of one light in its own unit: `even` alike at all wavelengths, `bands` (bands,) by
    spectral band."""

    even: float
    bands: FloatArray

    def spectrum(self, light: LightSource) -> FloatArray:
        """Spectral irradiance (721,) [W m^-2 nm^-1]."""
        return np.asarray(light.spectrum.power * (self.even + self.bands @ band_masks()))

    @property
    def any(self) -> bool:
        """Whether there is any of it."""
        return self.even > 0.0 or bool(np.any(self.bands > 0.0))


@dataclass(frozen=True)
class Falling:
    """One light at the place, directly or bounced.

    `on_plane` falls on the plane of the surface; `mirrored` and `returned` are pi times the
    radiance that a glossy coat and retroreflective sheeting send to the camera, as irradiances, the
    latter before the tint of the sheeting.
    """

    light: int
    source: LightSource
    bounced: bool
    on_plane: Share
    mirrored: Share
    returned: float


@dataclass(frozen=True)
class Asked:
    """The renderer at one place of the picture, asked with lights and materials of one's own."""

    in_scene: CameraInScene
    lights: PackedLights
    place: Place
    fall_off: float

    def rates(
        self, lights: PackedLights, only: int | None = None, *, grain: bool = False
    ) -> FloatArray:
        """Rates (3,) at the place under one light, or all, without lens fall-off."""
        weights = np.ones(len(lights.kind)) if only is None else np.zeros(len(lights.kind))
        if only is not None:
            weights[only] = 1.0
        scene = self.in_scene.packed_scene if grain else self._smooth
        layer = trace_samples(
            self.place.sampling, scene, lights, self.in_scene.packed_view,
            mode=self.place.group, weights=weights,
        ).layer  # fmt: skip
        return np.asarray(layer.rate[1, 1], dtype=np.float64) / self.fall_off

    @property
    def _smooth(self) -> PackedScene:
        scene = self.in_scene.packed_scene
        rough = np.zeros_like(scene.cards.rough)
        return scene._replace(cards=scene.cards._replace(rough=rough))

    def grain(self) -> float:
        """Factor of the surface's patches at the place."""
        plain = self.rates(self.lights).sum()
        return float(self.rates(self.lights, grain=True).sum() / plain) if plain > 0.0 else 1.0


def ask(in_scene: CameraInScene, state: State, place: Place, fall_off: float) -> Asked:
    """The renderer at a place, under the light of the exposure."""
    return Asked(in_scene, exposed_lights(in_scene, state), place, fall_off)


def exposed_lights(in_scene: CameraInScene, state: State) -> PackedLights:
    """The lights as the exposure at the moment judged sees them flicker."""
    factors = in_scene.flicker(state.exposure.shutter_s)
    lights = in_scene.lights(state.mode)
    return lights if factors is None else lights._replace(amount=lights.amount * factors)


def falling(asked: Asked) -> list[Falling]:
    """Every light that reaches the place, directly and bounced."""
    world = asked.in_scene.world
    out = []
    for i, light in enumerate(world.lights):
        if asked.lights.amount[i] > 0.0:
            out.append(Falling(i, light, False, *_direct(asked, i)))
    slots = asked.lights.light_map.slot
    for slot, i in enumerate(slots):
        if asked.lights.amount[i] > 0.0:
            plane, mirrored = _bounced(asked, slot, int(i))
            out.append(Falling(int(i), world.lights[i], True, plane, mirrored, 0.0))
    return [one for one in out if one.on_plane.any or one.mirrored.any]


def _probe(
    lights: PackedLights,
    *,
    diffuse: float = 0.0,
    sheeting: float = 0.0,
    coat: bool = False,
    by_band: NDArray[np.float32] | None = None,
) -> PackedLights:
    """Lights whose rates are amounts: materials as asked, everything else dark."""
    even = np.full_like(lights.coefficient, diffuse)
    table = lights.light_map.by_band
    light_map = lights.light_map._replace(
        by_band=np.zeros_like(table) if by_band is None else by_band
    )
    return lights._replace(
        coefficient=even,
        retro=np.full_like(lights.retro, sheeting),
        sheeting=lights.sheeting if sheeting else np.full_like(lights.sheeting, -1),
        gloss=lights.gloss if coat else np.zeros_like(lights.gloss),
        light_map=light_map,
    )


def _direct(asked: Asked, light: int) -> tuple[Share, Share, float]:
    """What one light does without a bounce: on the plane, mirrored, returned."""
    own, place = asked.lights, asked.place
    plane = asked.rates(_probe(own, diffuse=1.0), light)[1]
    mirrored = 0.0
    if own.gloss[place.material, 1] > 0.0:
        mirrored = asked.rates(_probe(own, diffuse=1.0, coat=True), light)[1] - plane
    returned = 0.0
    if own.sheeting[place.material] >= 0 and own.kind[light] == KINDS["point"]:
        returned = asked.rates(_probe(own, sheeting=1.0), light)[1]
    none = np.zeros(BANDS)
    return Share(float(plane), none), Share(max(0.0, float(mirrored)), none), float(returned)


def _bounced(asked: Asked, slot: int, light: int) -> tuple[Share, Share]:
    """What lights of one slot do after bounces, band by band: on the plane, and mirrored."""
    own = asked.lights
    matt = _by_bands(asked, slot, light, coat=False)
    glossy = matt
    if own.gloss[asked.place.material, 1] > 0.0:
        glossy = _by_bands(asked, slot, light, coat=True)
    return Share(0.0, matt), Share(0.0, np.maximum(glossy - matt, 0.0))


def _by_bands(asked: Asked, slot: int, light: int, *, coat: bool) -> FloatArray:
    """Amounts (bands,), three bands a picture: one for each of its channels."""
    out = np.zeros(BANDS)
    # a light without strength adds nothing, and its share of the map is not gathered
    alone = np.where(np.arange(len(asked.lights.amount)) == light, asked.lights.amount, 0.0)
    lights = asked.lights._replace(amount=alone)
    for first, table in _tables(lights.light_map.by_band, slot):
        rates = asked.rates(_probe(lights, by_band=table, coat=coat), light)
        many = min(CHANNELS, BANDS - first)
        out[first : first + many] = rates[:many]
    return out


def _tables(like: NDArray[np.float32], slot: int) -> Iterator[tuple[int, Image]]:
    """Tables (slots, bands, materials, 3) that show bands from each first one on as channels."""
    for first in range(0, BANDS, CHANNELS):
        table = np.zeros_like(like)
        for channel in range(min(CHANNELS, BANDS - first)):
            table[slot, first + channel, :, channel] = 1.0
        yield first, table


def tint(asked: Asked) -> FloatArray:
    """Spectral tint (721,) of the place's sheeting: its reflectance over what the eye makes of it,
    as the renderer has it."""
    reflectance = asked.in_scene.world.materials[asked.place.material].reflectance
    weight = luminous_efficiency()
    return np.asarray(reflectance / max(float(reflectance @ weight / weight.sum()), 1e-6))
