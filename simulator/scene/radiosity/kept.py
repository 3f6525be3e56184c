"""Light fields kept between runs, under a name made of all that they depend on."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.disk_cache import LIGHT, folder_for, keep_arrays, read_arrays
from simulator.scene.world import World

Arrays = Mapping[str, NDArray[Any]]
MOST_BYTES = 200_000_000
"""Light fields kept on disk, all together."""
VERSION = 3
"""Raised whenever the same world gets another light field."""


def geometry(world: World, *, lamps: bool = True) -> str:
    """Hash of all that decides what places of a world see.

    Places of lamps do where leaves are finer near them.
    """
    digest = hashlib.sha256(f"{VERSION}".encode())
    for card in world.cards:
        place = np.concatenate([card.corners_m.ravel(), card.normal, np.array(card.texture.shape)])
        digest.update(place.tobytes())
        digest.update(bytes([card.casts_shadow, card.glow >= 0]))
        digest.update((card.texture == 255).tobytes())
    for mesh in world.meshes:
        digest.update(mesh.content)
        digest.update(f"{mesh.moved_m}|{mesh.card}|{mesh.inside}".encode())
    digest.update(np.array([m.transmittance for m in world.materials]).tobytes())
    for light in world.lights:
        if lamps and light.kind == "point" and light.position_m is not None:
            digest.update(np.asarray(light.position_m, dtype=np.float64).tobytes())
    for indices in world.targets.values():
        digest.update(np.array(indices).tobytes())
    return digest.hexdigest()


def content(world: World) -> str:
    """Hash of all that decides the light field of a world."""
    digest = hashlib.sha256(geometry(world).encode())
    for card in world.cards:
        digest.update(card.texture.tobytes())
    for material in world.materials:
        digest.update(material.reflectance.tobytes())
    strongest: dict[str, float] = {}
    for light in world.lights:
        strongest[light.owner] = max(strongest.get(light.owner, 0.0), light.strength)
    for light in world.lights:
        share = light.strength / strongest[light.owner] if strongest[light.owner] > 0.0 else 1.0
        parts: list[Any] = [light.position_m, light.direction, light.reference, light.web]
        digest.update(f"{light.owner}|{light.kind}|{light.beam}|{light.exponent}".encode())
        digest.update(f"{share:.9e}|{light.quantity}|{light.housing_m}".encode())
        digest.update(light.spectrum.power.tobytes())
        for part in parts:
            digest.update(b"-" if part is None else np.ascontiguousarray(part).tobytes())
    digest.update(f"{world.ground_material}|{world.air}".encode())
    return digest.hexdigest()


def read(key: str) -> Arrays | None:
    """Arrays that were kept under a key, None if there are none or they cannot be read."""
    place = folder_for(LIGHT)
    return None if place is None else read_arrays(place / f"{key}.npz")


def write(key: str, arrays: Arrays) -> None:
    """Keep arrays under a key; those asked for longest ago make room. A full disk is no fault."""
    place = folder_for(LIGHT)
    if place is not None:
        keep_arrays(place / f"{key}.npz", arrays, most=MOST_BYTES)
