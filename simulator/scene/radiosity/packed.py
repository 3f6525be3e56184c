"""A light field as plain arrays for the compiled kernels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.scene.geometry import CLEAR
from simulator.scene.kernels.light_map import PackedMap
from simulator.scene.radiosity.field import LightField
from simulator.scene.radiosity.leaves import Leaves
from simulator.scene.radiosity.solids import materials_of
from simulator.scene.world import World


def pack_map(field: LightField, world: World, by_band: NDArray[np.float32]) -> PackedMap:
    """The light field for the kernels, its tables still to be folded.

    Parameters
    ----------
    field
        The light field.
    world
        Its world, perhaps with something else drawn on a card, of materials that it has.
    by_band
        Rates (slots, bands, materials, 3) for what a unit of each slot's light has in every band.
    """
    leaves = field.leaves
    materials = _materials(world)
    cards = len(world.cards)
    solids = leaves.solids
    begin = np.concatenate([leaves.begin, leaves.begin[-1] + solids.begin[1:]])
    owner = [i // 2 for i in range(2 * cards + 1)]
    owner += [mesh.card for mesh in world.meshes for _ in range(2)]
    many = np.array([len(materials[i]) for i in owner], dtype=np.int64)
    row = np.concatenate([[0], np.cumsum(np.diff(begin) * many)])
    body = np.repeat(2 * cards + 1 + 2 * np.arange(len(world.meshes)), np.diff(solids.offset))
    local = np.full((len(materials), len(world.materials)), -1, np.int64)
    for i, numbers in enumerate(materials):
        local[i, numbers] = np.arange(len(numbers))
    size = np.array([[s.width_m, s.height_m] for s in leaves.sides])[leaves.side]
    ground = leaves.sides[-1]
    per_leaf = (leaves.cuts + 1) ** 2
    f = np.zeros((0, 3), np.float32)
    mirror_node, mirror_leaf = _leaves_of_nodes(leaves, begin, body)
    share = 1.0 / np.maximum(np.bincount(mirror_node, minlength=int(begin[-1])), 1.0)
    return PackedMap(
        np.ascontiguousarray(leaves.raster),
        np.ascontiguousarray(leaves.grid),
        np.ascontiguousarray(leaves.split),
        np.ascontiguousarray(leaves.child),
        np.array([*ground.corner_m[:2], ground.width_m, ground.height_m]),
        np.concatenate([leaves.box[:, :2] / size, size / leaves.box[:, 2:]], axis=1),
        leaves.cuts,
        leaves.first,
        (leaves.node - np.repeat(leaves.begin[leaves.side], per_leaf)).astype(np.int32),
        begin,
        row.astype(np.int64),
        many,
        np.array(owner, dtype=np.int64),
        local,
        solids.cuts,
        solids.first,
        solids.node,
        solids.back,
        body.astype(np.int64),
        field.slots.light,
        field.sky,
        np.ascontiguousarray(field.indirect),
        np.ascontiguousarray(field.sent),
        np.ascontiguousarray(field.far),
        np.ascontiguousarray(by_band, dtype=np.float32),
        f,
        f,
        mirror_node,
        mirror_leaf,
        share[mirror_node].astype(np.float32),
        f,
    )


def _leaves_of_nodes(
    leaves: Leaves, begin: NDArray[np.int64], body: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs (n,) of every node and a leaf that it belongs to."""
    solids, boxes = leaves.solids, len(leaves.box)
    of_leaf = np.repeat(np.arange(boxes), (leaves.cuts + 1) ** 2)
    many = (solids.cuts + 1) * (solids.cuts + 2) // 2
    outside = np.repeat(begin[body], many) + solids.node
    node = [leaves.node.astype(np.int64), outside, begin[body + 1] + solids.back]
    behind = boxes + solids.leaf.astype(np.int64)
    leaf = [of_leaf, np.repeat(behind, many), behind + 1]
    return np.concatenate(node).astype(np.int64), np.concatenate(leaf).astype(np.int64)


def _materials(world: World) -> list[NDArray[np.intp]]:
    """Materials that occur on every card, and last on the ground; kept with the world."""
    known: list[NDArray[np.intp]] | None = world.__dict__.get("_materials_of_cards")
    if known is not None:
        return known
    out = []
    for card in world.cards:
        numbers = np.unique(card.texture)
        numbers = numbers[numbers != CLEAR].astype(np.intp)
        out.append(numbers if len(numbers) else np.zeros(1, np.intp))
    for mesh in world.meshes:
        out[mesh.card] = materials_of(mesh)
    out.append(np.array([world.ground_material], dtype=np.intp))
    world.__dict__["_materials_of_cards"] = out
    return out
