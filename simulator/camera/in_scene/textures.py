"""Something else drawn on a card of the world: each drawing is made once and kept."""

from __future__ import annotations

import weakref
from collections.abc import Callable
from dataclasses import replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene.settings import WithSettings
from simulator.scene.kernels.pack import PackedScene, cards_with_texture, pack_cards

MOST_DRAWN = 16
"""Textures kept of the cards on which something else is drawn."""


class WithTextures(WithSettings):
    """A camera before cards on which something else is drawn."""

    def with_texture(self, card: int, name: str, draw: Callable[[], NDArray[np.uint8]]) -> Self:
        """The same with something else drawn on a card, of the same materials.

        Parameters
        ----------
        card
            Index of the card.
        name
            Names what is drawn; it is drawn once and kept.
        draw
            Gives the texture (rows, columns) of indices of materials.
        """
        if "_set_from" in self.__dict__:
            drawn: Self = self.__dict__["_set_from"].with_texture(card, name, draw)
            return drawn._as_set(self)
        cache: dict[tuple[int, str], Self] = self.__dict__.setdefault("_drawn", {})
        if (card, name) not in cache:
            if len(cache) >= MOST_DRAWN:
                del cache[next(iter(cache))]
            cache[card, name] = self._drawn_on(card, name, draw)
        return cache[card, name]

    def _drawn_on(self, card: int, name: str, draw: Callable[[], NDArray[np.uint8]]) -> Self:
        if self.written is not None:
            there = self.written.with_texture(card, name, draw)
            return there.relit(replace(there.world, lights=self.world.lights))
        cards = list(self.world.cards)
        cards[card] = replace(cards[card], texture=draw())
        self.__dict__.setdefault("_lights", {})
        other = self._shared(replace(self, world=replace(self.world, cards=cards)), "_lights")
        known = self.packed_scene
        if cards[card].texture.shape == self.world.cards[card].texture.shape:
            packed = cards_with_texture(known.cards, other.world, card)
        else:
            packed = pack_cards(other.world, other.view)
        other.__dict__["packed_scene"] = PackedScene(packed, known.bodies)
        # weak, for this one keeps the other: a ring would hold both until all is searched for rings
        other.__dict__["_drawn_from"] = (weakref.ref(self), card, name)
        return other
