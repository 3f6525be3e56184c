"""Collects what a scene is made of while it is read: materials, cards, lights, movements."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numpy as np

from simulator.errors import FileFormatError, NightproofError
from simulator.light.sources import Emitter, LightSource
from simulator.scene.geometry import Card, heading_velocity
from simulator.scene.materials import Material, material
from simulator.scene.model import SceneModel
from simulator.units import WAVELENGTH_NM, FloatArray, kmh_to_m_s

Found = TypeVar("Found")


class Builder:
    def __init__(self, scene: SceneModel) -> None:
        self.scene = scene
        self.materials: list[Material] = [
            Material(
                "perfect diffuser",
                np.ones_like(WAVELENGTH_NM),
                sheeting=None,
                status="computed",
                origin="definition",
            )
        ]
        self.index: dict[tuple[str, str | None], int] = {}
        self.cards: list[Card] = []
        self.lights: list[LightSource] = []
        self.emitters: list[Emitter] = []
        self.velocities: list[FloatArray] = [np.zeros(3)]
        self.plates: dict[str, int] = {}
        self.assumptions: list[str] = []

    def material(self, name: str, key: str, sheeting: str | None = None) -> int:
        """Index of a material, with the sheeting it carries here."""
        wanted = (name, sheeting)
        if wanted not in self.index:
            found = named(key, lambda: material(name))
            self.materials.append(
                Material(found.name, found.reflectance, sheeting, found.status, found.origin)
            )
            self.index[wanted] = len(self.materials) - 1
        return self.index[wanted]

    def group(self, speed_kmh: float, heading_deg: float) -> int:
        """Index of the movement; things of one movement share a group."""
        velocity = heading_velocity(kmh_to_m_s(speed_kmh), heading_deg)
        for i, known in enumerate(self.velocities):
            if np.allclose(known, velocity):
                return i
        self.velocities.append(velocity)
        return len(self.velocities) - 1


def named(key: str, make: Callable[[], Found]) -> Found:
    """Run a look-up by name, adding the dotted key to its error."""
    try:
        return make()
    except NightproofError as error:
        if getattr(error, "key", None) in (None, "design") and hasattr(error, "problem"):
            raise FileFormatError(
                error.problem,
                file=getattr(error, "file", None),
                key=key,
                given=getattr(error, "given", None),
                allowed=getattr(error, "allowed", None),
                mend=getattr(error, "mend", None),
            ) from None
        raise
