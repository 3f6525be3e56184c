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
    other = _BODIES.get(key)
    before = field.leaves.solids
    patch = len(field.leaves.box) + 2 * np.diff(before.begin)[1::2].cumsum()
    first, last = patch[body] - 2 * np.diff(before.begin)[2 * body + 1], patch[body]
    if other is None:
        other = _BODIES.put(key, _other_body(field, world, body, int(first), int(last)))
    leaves = field.leaves._replace(solids=other.solids)
    sent = np.concatenate([field.sent[:first], other.sent, field.sent[last:]])
    start, end = len(leaves.place) + before.begin[[2 * body, 2 * body + 2]]
    sky = np.concatenate([field.sky[:start], other.sky, field.sky[end:]])
    indirect = np.concatenate([field.indirect[:start], other.indirect, field.indirect[end:]])
    return LightField(world, leaves, field.slots, sky, indirect, sent)


def _other_body(field: LightField, world: World, body: int, first: int, last: int) -> _Body:
    before, after = field.leaves.solids, solids_of(world)
    leaves = field.leaves._replace(solids=after)
    many = 2 * np.diff(after.begin)[1::2]
    start, begin = first - len(leaves.box), int(many[:body].sum())
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
    a, b = after.begin[[2 * body, 2 * body + 2]]
    seen = look(
        RayCaster.of(world), leaves, after.nodes_m[a:b], after.facing[a:b],
        corner_rays(len(after.nodes_m)),
    )  # fmt: skip
    sky = seen.share(SKY).astype(np.float32)
    indirect = with_far(seen, sent, field.far)
    middle = int(after.begin[2 * body + 1] - a)
    for side in (slice(0, middle), slice(middle, None)):
        filled(after.nodes_m[a:b][side], seen.close[side], sky[side], indirect[side])
    return _Body(after, own, sky, indirect)
