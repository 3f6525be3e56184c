"""Everything that moves, moved on by a time: each moment is made once and kept."""

from __future__ import annotations

import weakref
from dataclasses import replace
from typing import Self

import numpy as np

from simulator.camera.in_scene.textures import WithTextures
from simulator.scene.geometry import Card
from simulator.units import FloatArray

MOST_MOMENTS = 16
"""Moments kept of a scene in which things move: more than a camera remembers frames."""


class AtMoments(WithTextures):
    """A camera before a world in which things move."""

    def at(self, time_s: float) -> Self:
        """The same with everything moved on by a time [s], kept after the first call."""
        if time_s == 0.0 or not np.any(self.world.velocities):
            return self
        cache: dict[float, Self] = self.__dict__.setdefault("_at", {})
        if time_s not in cache:
            if len(cache) >= MOST_MOMENTS:
                del cache[next(iter(cache))]
            cache[time_s] = self._moved(time_s)
        return cache[time_s]

    def _moved(self, time_s: float) -> Self:
        if "_set_from" in self.__dict__:  # so that all settings share what moves and its light
            there: Self = self.__dict__["_set_from"].at(time_s)
            return there._as_set(self)
        if self.written is not None:
            then = self.written.at(time_s)
            lights = [
                replace(own, position_m=light.position_m)
                for light, own in zip(then.world.lights, self.world.lights, strict=True)
            ]
            return then.relit(replace(then.world, lights=lights))
        drawn = self._drawn_there(time_s)
        if drawn is not None:
            return drawn
        move = self.world.velocities * time_s
        w = self.world
        cards = [_moved_card(c, move[c.group]) for c in w.cards]
        lights = [
            light
            if light.position_m is None
            else replace(light, position_m=light.position_m + move[light.group])
            for light in w.lights
        ]
        emitters = [replace(e, position_m=e.position_m + move[e.group]) for e in w.emitters]
        meshes = tuple(mesh.moved(move[mesh.group]) for mesh in w.meshes)
        moved = replace(w, cards=cards, lights=lights, emitters=emitters, meshes=meshes)
        _ = self.light_field  # things that move keep the light of the moment judged
        other = self._shared(replace(self, world=moved))
        other.__dict__["_moved_from"] = weakref.ref(self)  # which keeps it: no ring
        return other

    def _drawn_there(self, time_s: float) -> Self | None:
        """The one that this was drawn on, moved on and drawn on as this one is, so that all that is
        drawn shares lights and bodies; None where nobody keeps it, or there is none."""
        made_from, card, name = self.__dict__.get("_drawn_from", (None, 0, ""))
        plain: Self | None = None if made_from is None else made_from()
        if plain is None:
            return None
        texture = self.world.cards[card].texture
        return plain.at(time_s).with_texture(card, name, lambda: texture)


def _moved_card(card: Card, move: FloatArray) -> Card:
    return replace(card, corner_m=card.corner_m + move) if np.any(move) else card
