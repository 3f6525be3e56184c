"""The same scene with one thing other than it is: another person in a target's place, or nobody.

An observer who is to tell faces apart, or whether anything is there at all, compares such worlds:
light, place and camera stay, so that pictures differ by what the task is about and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from simulator.scene.bodies.head import head_card, head_of
from simulator.scene.geometry import CLEAR, Card
from simulator.scene.targets.head import Look, look_of
from simulator.scene.world import World

FIRST_OTHER = 5_000
"""Number of the first invented person who stands in for a target."""
OUTLINE = ("half_width", "jaw", "hair", "iris")
"""What strangers share with the target: the outline of the head, which light from behind would
tell, and colours, which depend on light."""
HAIR = ("hairline", "style", "beard")
"""What look-alikes share with him besides."""


def other_look(look: Look, number: int, *, look_alike: bool = False) -> Look:
    """Somebody else's features on the same head.

    Parameters
    ----------
    number
        Which of the invented people.
    look_alike
        Somebody with the same hair and beard, who differs in eyes, brows, nose and mouth alone.
    """
    other = look_of(FIRST_OTHER + number, "light")
    kept = {name: getattr(look, name) for name in (*OUTLINE, *(HAIR if look_alike else ()))}
    if not look_alike and (look.style == "long") != (other.style == "long"):
        kept |= {"style": look.style, "beard": "none" if look.style == "long" else other.beard}
    return replace(other, **kept)


def with_look(world: World, name: str, look: Look) -> World:
    """The world with another look on the head of a face or person."""
    before = world.heads[name]
    drawn = replace(before, look=look)
    index = world.targets[name][-1]
    cards, meshes = list(world.cards), list(world.meshes)
    at = next(k for k, mesh in enumerate(meshes) if mesh.card == index)
    # the world may have moved on since the head was put in its place
    move = meshes[at].vertices_m[0] - head_of(before).vertices_m[0]
    meshes[at] = replace(
        head_of(drawn).moved(move), name=meshes[at].name, card=index, group=meshes[at].group
    )
    cards[index] = _with_texture(cards[index], head_card(name, drawn, 0).texture)
    return replace(world, cards=cards, meshes=tuple(meshes), heads={**world.heads, name: drawn})


def strangers(world: World, name: str, count: int, *, look_alike: bool = False) -> list[World]:
    """Worlds with other people's features on the head of a target; see `other_look`."""
    look = world.heads[name].look

    def other(k: int) -> World:
        return kept_with(
            world,
            ("look", name, look_alike, k),
            lambda: with_look(world, name, other_look(look, k, look_alike=look_alike)),
        )

    return [other(k) for k in range(count)]


def kept_with(world: World, key: tuple[object, ...], make: Callable[[], World]) -> World:
    """A variant of a world, made once and kept with it, so that what it takes to trace it is kept
    as well."""
    known: dict[tuple[object, ...], World] = world.__dict__.setdefault("_variants", {})
    if key not in known:
        known[key] = make()
    return known[key]


def elsewhere(world: World, grain: int) -> World:
    """The world with the grain of its ground in another of many places."""
    return kept_with(world, ("grain", grain), lambda: replace(world, grain_shift=grain))


def without(world: World, names: Collection[str]) -> World:
    """The world without the cards and bodies of some targets: neither seen nor casting shadows.

    Cards keep their numbers; lamps that a target carries stay, since what is asked is whether its
    body is seen.
    """
    return kept_with(world, ("without", *names), lambda: _without(world, names))


def _without(world: World, names: Collection[str]) -> World:
    gone = {i for name in names for i in world.targets.get(name, [])}
    gone |= {world.plates[name] for name in names if name in world.plates}
    cards = [
        _with_texture(card, np.full((1, 1), CLEAR, np.uint8)) if i in gone else card
        for i, card in enumerate(world.cards)
    ]
    meshes = tuple(mesh for mesh in world.meshes if mesh.card not in gone)
    return replace(world, cards=cards, meshes=meshes)


def _with_texture(card: Card, texture: NDArray[np.uint8]) -> Card:
    return replace(card, texture=texture)
