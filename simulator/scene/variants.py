"""The same scene with one thing other than it is: another person in a target's place, or nobody.

An observer who is to tell faces apart, or whether anything is there at all, compares such worlds:
light, place and camera stay, so that pictures differ by what the task is about and nothing else.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import fields, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from simulator.scene.geometry import CLEAR, Card
from simulator.scene.targets.face import head_texture
from simulator.scene.targets.head import DrawnHead, FaceMaterials, Look, look_of
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


_SHADES = {"skin": 12, "hair": 5, "lips": 3, "cloth": 6}
_SINGLE = ("white", "iris", "dark")


def _canonical() -> tuple[FaceMaterials, int]:
    """Materials numbered from 0 on, so that a drawing can be kept whatever world it is for."""
    values: dict[str, object] = {}
    start = 0
    for name, count in _SHADES.items():
        values[name] = np.arange(start, start + count, dtype=np.uint8)
        start += count
    for name in _SINGLE:
        values[name] = start
        start += 1
    return FaceMaterials(**values), start  # type: ignore[arg-type]


@lru_cache(maxsize=64)
def _drawn(look: Look, glasses: bool, headwear: str, back: bool, collar: bool) -> NDArray[np.uint8]:
    materials, _ = _canonical()
    return head_texture(DrawnHead(look, materials, glasses, headwear, back, collar))


def _texture(drawn: DrawnHead) -> NDArray[np.uint8]:
    """As `head_texture`; drawings are kept."""
    canonical, count = _canonical()
    to = np.full(256, CLEAR, np.uint8)
    for field in fields(FaceMaterials):
        to[getattr(canonical, field.name)] = getattr(drawn.materials, field.name)
    assert count < CLEAR
    return to[_drawn(drawn.look, drawn.glasses, drawn.headwear, drawn.back, drawn.collar)]


def with_look(world: World, name: str, look: Look) -> World:
    """The world with another look on the head of a face or person."""
    drawn = replace(world.heads[name], look=look)
    index = world.targets[name][-1]
    cards = list(world.cards)
    cards[index] = _with_texture(cards[index], _texture(drawn))
    return replace(world, cards=cards, heads={**world.heads, name: drawn})


def strangers(world: World, name: str, count: int, *, look_alike: bool = False) -> list[World]:
    """Worlds with other people's features on the head of a target; see `other_look`."""
    look = world.heads[name].look
    return [
        with_look(world, name, other_look(look, k, look_alike=look_alike)) for k in range(count)
    ]


def without(world: World, names: Collection[str]) -> World:
    """The world without the cards of some targets: neither seen nor casting shadows.

    Cards keep their numbers; lamps that a target carries stay, since what is asked is whether its
    body is seen.
    """
    gone = {i for name in names for i in world.targets.get(name, [])}
    gone |= {world.plates[name] for name in names if name in world.plates}
    cards = [
        _with_texture(card, np.full((1, 1), CLEAR, np.uint8)) if i in gone else card
        for i, card in enumerate(world.cards)
    ]
    return replace(world, cards=cards)


def _with_texture(card: Card, texture: NDArray[np.uint8]) -> Card:
    return replace(card, texture=texture)
