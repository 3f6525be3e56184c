"""The light field of a world in which one body has another shape: a head with another face."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from simulator.bounded import Bounded
from simulator.scene.radiosity import kept
from simulator.scene.radiosity.field import LightField, filled, with_far
from simulator.scene.radiosity.gather import SKY, look
from simulator.scene.radiosity.solids import Solids, solids_of
from simulator.scene.radiosity.solve import corner_rays
from simulator.scene.rays import RayCaster
from simulator.scene.world import World

LIKE_M = 0.1
"""A patch that looks the other way is as unlike as one so far away, by half [m]."""
SAME_M = 0.002
"""Nodes so near each other get the same light: as near as they are, they face the same way to
1.1 degrees [m]."""
MOST_BODIES = 16
"""Bodies in another shape whose light is kept in memory."""


class _Body(NamedTuple):
    """Of one body in another shape: patches and nodes of all, and what its own send and get."""

    solids: Solids
    sent: NDArray[np.float32]
    sky: NDArray[np.float32]
    indirect: NDArray[np.float32]


_BODIES: Bounded[_Body] = Bounded(MOST_BODIES)


def with_other_body(field: LightField, world: World, body: int) -> LightField:
    """The light field of a world in which one body has another shape, and all else is as it was.

    The body's own light is told anew; what it throws on others is kept, and what they throw back.

    Parameters
    ----------
    field
        Of the world before.
    body
        Number of the mesh that is another now.
    """
    key = f"{kept.content(field.world)} {kept.content(world)}"
    found = _BODIES.get(key)
    before = field.leaves.solids
    patch = len(field.leaves.box) + 2 * np.diff(before.begin)[1::2].cumsum()
    first, last = patch[body] - 2 * np.diff(before.begin)[2 * body + 1], patch[body]
    if found is None:
        found = _BODIES.put(key, _other_body(field, world, body, int(first), int(last)))
    leaves = field.leaves._replace(solids=found.solids)
    sent = np.concatenate([field.sent[:first], found.sent, field.sent[last:]])
    start, end = len(leaves.place) + before.begin[[2 * body, 2 * body + 2]]
    sky = np.concatenate([field.sky[:start], found.sky, field.sky[end:]])
    indirect = np.concatenate([field.indirect[:start], found.indirect, field.indirect[end:]])
    return LightField(world, leaves, field.slots, sky, indirect, sent)


def _other_body(field: LightField, world: World, body: int, first: int, last: int) -> _Body:
    before, after = field.leaves.solids, solids_of(world)
    many = 2 * np.diff(after.begin)[1::2]
    start, begin = first - len(field.leaves.box), int(many[:body].sum())
    old, new = (
        np.concatenate([s.parts_m[a:b].mean(axis=1), LIKE_M * s.normals[a:b].mean(axis=1)], axis=1)
        for s, a, b in (
            (before, start, start + last - first),
            (after, begin, begin + int(many[body])),
        )
    )
    # each patch sends what the one did that lay there and looked that way
    own = field.sent[first:last][cKDTree(old).query(new)[1]]
    sent = np.concatenate([field.sent[:first], own, field.sent[last:]])
    sky, indirect = _light_on_nodes(field, world, after, body, sent)
    return _Body(after, own, sky, indirect)


def _light_on_nodes(
    field: LightField, world: World, after: Solids, body: int, sent: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Sky (nodes,) and indirect light (nodes, slots, bands) on the nodes of the other body.

    Nodes that lie and look as one of the body before keep its light.
    """
    before, leaves = field.leaves.solids, field.leaves._replace(solids=after)
    a, b = after.begin[[2 * body, 2 * body + 2]]
    c, d = before.begin[[2 * body, 2 * body + 2]]
    old, new = (
        np.concatenate([s.nodes_m[first:last], LIKE_M * s.facing[first:last]], axis=1)
        for s, first, last in ((before, c, d), (after, a, b))
    )
    apart, like = cKDTree(old).query(new)
    first = len(leaves.place) + c
    sky, indirect = field.sky[first + like].copy(), field.indirect[first + like].copy()
    anew, close = np.flatnonzero(apart > SAME_M), np.zeros(len(new))
    seen = look(
        RayCaster.of(world), leaves, after.nodes_m[a:b][anew], after.facing[a:b][anew],
        corner_rays(len(after.nodes_m)),
    )  # fmt: skip
    sky[anew] = seen.share(SKY)
    indirect[anew] = with_far(seen, sent, field.far)
    close[anew] = seen.close
    middle = int(after.begin[2 * body + 1] - a)
    for side in (slice(0, middle), slice(middle, None)):
        filled(after.nodes_m[a:b][side], close[side], sky[side], indirect[side])
    return sky, indirect
