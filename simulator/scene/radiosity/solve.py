"""Radiosity: direct light on patches, and its bounces between them.

With X the irradiance of a patch, D what comes straight from lamps, sun and sky, rho the reflectance
and F the form factors seen from the patch,

    X = D + F (rho X)        (Goral et al. 1984, for matt surfaces)

which is iterated until a bounce changes nothing: one set of form factors serves all lights and all
bands of their spectra.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.light.sources import LightSource
from simulator.scene.geometry import CLEAR
from simulator.scene.kernels.irradiance import packed_for_light, unshaded
from simulator.scene.radiosity.bands import BANDS, band_power, band_reflectance
from simulator.scene.radiosity.gather import FAR_GROUND, SKY, Seen, look
from simulator.scene.radiosity.leaves import Leaves
from simulator.scene.rays import RayCaster, lifted
from simulator.scene.world import World
from simulator.units import FloatArray

PARTS = 3
"""Places a side of every leaf at which direct light and form factors are taken."""
PART_RAYS = 128
"""Directions of each of them."""
NODE_RAYS, CORNER_RAYS = 256, 128
"""Directions of each node, and of each corner of a body, fewer where there are many of them."""
MOST_CORNER_RAYS = 3_000_000
MOST_BOUNCES = 200
SETTLED = 1e-6
"""Bounces go on until one adds less than this share of all light."""
BURIED = 0.9
"""Nodes of which this share of directions meet something at once are hidden, and filled up from
their neighbours."""
LAMP_OFF_M = 0.002
"""What stands nearer than this to a light, its own housing, does not shade it [m]."""
SUN_AWAY_M = 1.0e4


class Slots(NamedTuple):
    """Lights whose bounced light is told together, in units of one of them.

    All lights of one owner are dimmed together, so that they share a slot: `light` (slots,) number
    of the light whose unit is used, `of` (lights,) slot of every light, -1 for bright panels, which
    light by their parts. Natural light is told in units of what open ground throws back of it.
    """

    light: NDArray[np.int64]
    of: NDArray[np.int64]


def slots_of(lights: list[LightSource]) -> Slots:
    """Slots of the lights of a world."""
    first: dict[str, int] = {}
    of = np.full(len(lights), -1, np.int64)
    keys = [light.owner or f"{i}" for i, light in enumerate(lights)]
    for i, (key, light) in enumerate(zip(keys, lights, strict=True)):
        if light.kind == "panel":
            continue
        if key not in first or light.kind == "bounce":
            first[key] = i
    order = {key: k for k, key in enumerate(first)}
    for i, (key, light) in enumerate(zip(keys, lights, strict=True)):
        if light.kind != "panel":
            of[i] = order[key]
    return Slots(np.array(list(first.values()), dtype=np.int64), of)


class Views(NamedTuple):
    """What patches and nodes see: all of a scene that does not depend on its light.

    `parts` (leaves x parts, 3) [m] and `normals` of the places on the leaves, `patch` what each
    leaf sees with all of them, `node` what each node sees and `solid` each node of bodies.
    """

    leaves: Leaves
    parts_m: FloatArray
    normals: FloatArray
    patch: Seen
    node: Seen
    solid: Seen


def views(caster: RayCaster, leaves: Leaves, fewer: int = 1) -> Views:
    """Cast all rays of a scene, or `fewer` by a factor."""
    sides = leaves.sides
    normal = np.array([s.normal for s in sides])
    place = leaves.places(np.arange(len(leaves.box)), PARTS)
    parts = np.concatenate(
        [sides[s].point_m(place[leaves.side == s].reshape(-1, 2)) for s in range(len(sides))]
    )
    many = PARTS * PARTS
    of_parts = np.repeat(normal[leaves.side], many, axis=0)
    solids = leaves.solids
    parts = np.concatenate([parts, solids.parts_m.reshape(-1, 3)])
    of_parts = np.concatenate([of_parts, solids.normals.reshape(-1, 3)])
    seen = look(caster, leaves, parts, of_parts, PART_RAYS // fewer, turns=many)
    # all places of a leaf together: one row
    patch = Seen(
        seen.met.reshape(leaves.many, -1),
        seen.weight.reshape(leaves.many, many, 2) / np.float32(many),
        seen.close.reshape(-1, many).mean(axis=1),
    )
    count = np.diff(leaves.begin)
    nodes = np.concatenate(
        [
            side.point_m(leaves.place[a:b])
            for side, a, b in zip(sides, leaves.begin[:-1], leaves.begin[1:], strict=True)
        ]
    )
    node = look(caster, leaves, nodes, np.repeat(normal, count, axis=0), NODE_RAYS // fewer)
    rays = corner_rays(len(solids.nodes_m)) // fewer
    solid = look(caster, leaves, solids.nodes_m, solids.facing, rays)
    return Views(leaves, parts, of_parts, patch, node, solid)


def corner_rays(nodes: int) -> int:
    """Directions from each node of the bodies of a world, by how many there are."""
    return int(np.clip(MOST_CORNER_RAYS // max(1, nodes), 48, CORNER_RAYS))


def patch_reflectances(world: World, leaves: Leaves, slots: Slots) -> NDArray[np.float32]:
    """Mean reflectance (leaves, slots, bands) of the opaque part of every leaf."""
    share = np.zeros((leaves.many, len(world.materials)))
    share[len(leaves.box) :] = leaves.solids.share
    cards = len(world.cards)
    for i, card in enumerate(world.cards):
        if card.glow >= 0:
            continue  # its light is told apart, and it throws none back
        front = np.flatnonzero(leaves.side == 2 * i)
        share[front] = _shares(card.texture, leaves.box[front], card.width_m, card.height_m,
                               len(world.materials))  # fmt: skip
        back = np.flatnonzero(leaves.side == 2 * i + 1)
        share[back] = _shares(card.texture, leaves.box[back], card.width_m, card.height_m,
                              len(world.materials))  # fmt: skip
    share[np.flatnonzero(leaves.side == 2 * cards), world.ground_material] = 1.0
    power = np.stack([world.lights[i].spectrum.power for i in slots.light])
    rho = band_reflectance(power, world.reflectances())
    return np.einsum("jm,sbm->jsb", share, rho, optimize=True).astype(np.float32)


def _shares(
    texture: NDArray[np.uint8], box: FloatArray, width_m: float, height_m: float, materials: int
) -> FloatArray:
    """Shares (leaves, materials) of what is opaque in each leaf; zeros where nothing is."""
    rows, columns = texture.shape
    out = np.zeros((len(box), materials))
    scale = np.array([columns / width_m, rows / height_m])
    low = np.floor(box[:, :2] * scale + 1e-6).astype(int)
    high = np.ceil((box[:, :2] + box[:, 2:]) * scale - 1e-6).astype(int)
    for k in range(len(box)):
        cell = texture[low[k, 1] : high[k, 1], low[k, 0] : high[k, 0]]
        counts = np.bincount(cell.ravel(), minlength=CLEAR + 1)[:materials]
        out[k] = counts / max(1, counts.sum())
    return out


def direct_on_leaves(
    world: World, caster: RayCaster, seen: Views, slots: Slots
) -> NDArray[np.float32]:
    """Irradiance (leaves, slots, bands) straight from all lights, in units of the slots' lights."""
    lights = world.lights
    many = PARTS * PARTS
    scene, packed = packed_for_light(world)
    amount = unit_amounts(lights, slots)
    units = unshaded(seen.parts_m, seen.normals, scene.cards, packed._replace(amount=amount))
    for i, light in enumerate(lights):
        if light.kind not in ("sun", "point"):
            continue
        lit = np.flatnonzero(units[:, i] > 0.0)
        start = lifted(seen.parts_m[lit], seen.normals[lit])
        end = light.position_m
        if light.kind == "sun":
            assert light.direction is not None
            end = start + SUN_AWAY_M * light.direction
        assert end is not None
        off = max(LAMP_OFF_M, light.housing_m)
        units[lit[caster.blocked(start, end, end_off_m=off)], i] = 0.0
    units = units.reshape(-1, many, len(lights)).mean(axis=1)
    sky, far = seen.patch.share(SKY), seen.patch.share(FAR_GROUND)
    out = np.zeros((len(units), len(slots.light), BANDS), np.float32)
    ratio = band_ratios(lights, slots)
    for i, light in enumerate(lights):
        if slots.of[i] < 0:
            continue
        light_here = units[:, i]
        if light.kind in ("sky", "bounce"):
            light_here = amount[i] * (sky if light.kind == "sky" else far)
        out[:, slots.of[i]] += light_here[:, None] * ratio[i]
    return out


def unit_amounts(lights: list[LightSource], slots: Slots) -> FloatArray:
    """Amounts (lights,) for one unit of the light of each slot; in the dark each of them is one."""
    strength = np.array([light.strength for light in lights], dtype=np.float64)
    out = np.ones(len(lights))
    for i, k in enumerate(slots.of):
        if k >= 0 and strength[slots.light[k]] > 0.0:
            out[i] = strength[i] / strength[slots.light[k]]
    return out


def band_ratios(lights: list[LightSource], slots: Slots) -> FloatArray:
    """Power (lights, bands) of a unit of every light over that of a unit of its slot's light."""
    power = band_power(np.stack([light.spectrum.power for light in lights]))
    own = power[slots.light[np.maximum(slots.of, 0)]]
    least = 1e-7 * own.max(axis=1, keepdims=True)
    return np.where(own > least, power / np.where(own > least, own, 1.0), 0.0)


def bounced(
    direct: NDArray[np.float32],
    reflectance: NDArray[np.float32],
    seen: Seen,
    settled: float = SETTLED,
) -> NDArray[np.float32]:
    """What patches send (leaves, slots x bands) once all bounces are in it: rho X.

    A bounce that adds no more than the share `settled` of the first is the last.
    """
    n = len(direct)
    direct, rho = direct.reshape(n, -1), reflectance.reshape(n, -1)
    sent = rho * direct
    whole = float(np.abs(sent).sum(axis=0).max())
    last = sent
    for _ in range(MOST_BOUNCES):
        last = rho * seen.gathered(last)
        sent = sent + last
        if not float(np.abs(last).sum(axis=0).max()) > settled * whole:
            break
    return sent
