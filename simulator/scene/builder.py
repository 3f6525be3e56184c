"""Collects what a scene is made of while it is read: materials, cards, lights, movements."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from simulator.errors import FileFormatError, NightproofError
from simulator.light.sources import Emitter, LightSource
from simulator.messages import Message
from simulator.scene.bodies.stand_in import stand_in
from simulator.scene.geometry import CLEAR, Card, heading_velocity
from simulator.scene.materials import Material, material
from simulator.scene.mesh import Mesh
from simulator.scene.model import SceneModel
from simulator.scene.targets.head import DrawnHead
from simulator.units import WAVELENGTH_NM, FloatArray, kmh_to_m_s

Made = TypeVar("Made")


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
        self.index: dict[tuple[str, str | None, float, float], int] = {}
        self.cards: list[Card] = []
        self.lights: list[LightSource] = []
        self.emitters: list[Emitter] = []
        self.velocities: list[FloatArray] = [np.zeros(3)]
        self.plates: dict[str, int] = {}
        self.targets: dict[str, list[int]] = {}
        self.assumptions: list[Message] = []
        self.heads: dict[str, DrawnHead] = {}
        self.meshes: list[Mesh] = []

    def material(
        self,
        name: str,
        key: str,
        sheeting: str | None = None,
        factor: float = 1.0,
        soiling: float = 0.0,
    ) -> int:
        """Index of a material, with the sheeting it carries here, its reflectance scaled, and dirt
        over a share of it.

        Raises
        ------
        FileFormatError
            If there is no such material, or the scene needs more than a card can tell apart.
        """
        wanted = (name, sheeting, factor, soiling)
        if wanted not in self.index:
            made = named(key, lambda: material(name))
            if len(self.materials) >= CLEAR:
                raise FileFormatError(
                    "The scene needs too many materials.",
                    key=key,
                    given=name,
                    allowed=f"{CLEAR - 1} materials, shades of faces and clothes counted",
                    fix="use fewer different skins, fabrics and paints",
                )
            clean = replace(made.scaled(factor), sheeting=_coloured(sheeting, made.sheeting_colour))
            self.materials.append(clean.soiled(soiling))
            self.index[wanted] = len(self.materials) - 1
        return self.index[wanted]

    def shades(self, name: str, key: str, factors: tuple[float, ...]) -> NDArray[np.uint8]:
        """Indices (n,) of one material in several shades, for drawn relief."""
        return np.array([self.material(name, key, factor=f) for f in factors], dtype=np.uint8)

    def add(self, target: str, cards: list[Card]) -> None:
        """Cards of a target, to be found again by its name."""
        first = len(self.cards)
        self.cards.extend(cards)
        self.targets.setdefault(target, []).extend(range(first, len(self.cards)))

    def add_body(
        self, target: str, mesh: Mesh, facing_deg: float, *, group: int = 0, behind_m: float = 0.0
    ) -> None:
        """A body, and the card that stands for it with its front looking a way; see `stand_in`."""
        mesh = replace(mesh, group=group)
        card = stand_in(mesh, self.materials, facing_deg, behind_m=behind_m)
        self.add_with_card(target, mesh, card)

    def add_with_card(self, target: str, mesh: Mesh, card: Card) -> None:
        """A body, and the card that stands for it."""
        self.meshes.append(replace(mesh, name=card.name, group=card.group, card=len(self.cards)))
        self.add(target, [card])

    def add_plain(self, mesh: Mesh, facing_deg: float, variation: float = 0.0) -> None:
        """A body that stands still and is no target."""
        card = stand_in(mesh, self.materials, facing_deg, variation=variation)
        self.meshes.append(replace(mesh, card=len(self.cards)))
        self.cards.append(card)

    def group(self, speed_kmh: float, heading_deg: float) -> int:
        """Index of the movement; things of one movement share a group."""
        velocity = heading_velocity(kmh_to_m_s(speed_kmh), heading_deg)
        for i, known in enumerate(self.velocities):
            if np.allclose(known, velocity):
                return i
        self.velocities.append(velocity)
        return len(self.velocities) - 1


def _coloured(sheeting: str | None, colour: str | None) -> str | None:
    """Name of a sheeting under a coloured layer."""
    if sheeting is None or colour is None or sheeting.endswith(f"-{colour}"):
        return sheeting
    return f"{sheeting}-{colour}"


def named(key: str, make: Callable[[], Made]) -> Made:
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
                fix=getattr(error, "fix", None),
            ) from None
        raise
