"""The light field of a world: sky that is seen, and light that bounces, at every place of it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from simulator.bounded import Bounded, bytes_of
from simulator.light.photometry import luminous_efficiency
from simulator.light.sources import LightSource
from simulator.scene.radiosity import kept
from simulator.scene.radiosity.bands import BANDS, band_power
from simulator.scene.radiosity.gather import FAR_GROUND, SKY, Scenery, Seen, look
from simulator.scene.radiosity.leaves import Leaves, cut
from simulator.scene.radiosity.solve import (
    BURIED,
    SETTLED,
    Slots,
    Views,
    bounced,
    direct_on_leaves,
    patch_reflectances,
    slots_of,
    views,
)
from simulator.scene.rays import RayCaster
from simulator.scene.world import World
from simulator.units import FloatArray

MOST_FIELDS, MOST_VIEWS = 120_000_000, 2
"""Bytes of light fields, and what places of how many geometries see, that are kept in memory."""
POINT_RAYS, MOST_POINT_RAYS = 1024, 1_500_000
"""Directions from points that are asked for, fewer where there are many points."""
LEAST_POINT_RAYS = 128
MOST_ASKED = 32
"""Lists of points whose light is kept with a field."""
MOST_CASTERS = 4
"""Trees of a world without one of its bodies that are kept with a field."""
ROUGH_COARSER, ROUGH_FEWER = 2.5, 4
"""By how much leaves are coarser and directions fewer in rough light fields."""
ROUGH_SETTLED = 1e-3
"""Share of the first bounce from which rough light fields take no more of them."""


@dataclass(frozen=True, eq=False)
class LightField:
    """Sky and bounced light of a world at any place; direct light of lamps and the sun is not here.

    Bounced light is told by slots (`solve.Slots`) and spectral bands, for one unit of the light
    that stands for the slot: it scales with it.

    Attributes
    ----------
    leaves
        Surfaces cut into patches with nodes.
    slots
        Which lights are told together.
    sky
        Share (nodes,) of the sky that nodes see, cosine-weighted: 1 is all that an open place of
        that tilt could get from above if it lay level.
    indirect
        Bounced light at nodes (nodes, slots, bands), far ground in it.
    sent
        What leaves send (leaves, slots, bands), as irradiance times reflectance.
    """

    world: World
    leaves: Leaves
    slots: Slots
    sky: NDArray[np.float32]
    indirect: NDArray[np.float32]
    sent: NDArray[np.float32]

    @cached_property
    def far(self) -> NDArray[np.float32]:
        """What ground beyond the modelled part sends (slots, bands)."""
        return far_ground(self.world.lights, self.slots)

    def _casting(self, card: int) -> tuple[RayCaster, Scenery]:
        """Ray caster of the world without the body that a card stands for."""
        known: dict[int, tuple[RayCaster, Scenery]] = self.__dict__.setdefault("_casters", {})
        if not any(mesh.card == card for mesh in self.world.meshes):
            card = -1
        if card not in known:
            if len(known) >= MOST_CASTERS:
                known.pop(next(iter(known)))
            caster = RayCaster.of(self.world, without=card)
            known[card] = caster, Scenery.of(caster, self.leaves)
        return known[card]

    def at(
        self, points_m: FloatArray, normals: FloatArray, card: int | None = None
    ) -> tuple[FloatArray, NDArray[np.float32]]:
        """Sky and bounced light at any points.

        Parameters
        ----------
        points_m
            Points (n, 3) [m]; on a surface or off it.
        normals
            Unit normals (n, 3) of the planes that are lit.
        card
            Number of the card they lie on, whose body stands in no way.

        Returns
        -------
        tuple
            Share of the sky that is seen (n,), and bounced light (n, slots, bands).
        """
        key = (points_m.tobytes(), normals.tobytes(), card)
        known: dict[object, tuple[FloatArray, NDArray[np.float32]]]
        known = self.__dict__.setdefault("_points", {})
        if key not in known:
            if len(known) >= MOST_ASKED:
                known.pop(next(iter(known)))
            known[key] = self._look(points_m, normals, -1 if card is None else card)
        return known[key]

    def _look(
        self, points_m: FloatArray, normals: FloatArray, card: int
    ) -> tuple[FloatArray, NDArray[np.float32]]:
        caster, scene = self._casting(card)
        many = int(np.clip(MOST_POINT_RAYS // max(1, len(points_m)), LEAST_POINT_RAYS, POINT_RAYS))
        seen = look(caster, self.leaves, points_m, normals, many, scene=scene)
        return seen.share(SKY), with_far(seen, self.sent, self.far)

    def units(
        self,
        points_m: FloatArray,
        normals: FloatArray,
        amount: FloatArray,
        card: int | None = None,
    ) -> FloatArray:
        """Units (n, lights) of sky and bounced light on points, as lux or W/m2 count them.

        Parameters
        ----------
        amount
            Strength (lights,) of every light.
        card
            As in `at`.
        """
        sky, indirect = self.at(points_m, normals, card)
        out = np.zeros((len(sky), len(amount)))
        for i, light in enumerate(self.world.lights):
            if light.kind == "sky":
                out[:, i] = amount[i] * sky
        by_light = amount[self.slots.light] * np.einsum("nsb,sb->ns", indirect, self.counted)
        for k in range(len(self.slots.light)):
            out[:, self.slots.of == k] += by_light[:, k, None] * self._parts(k, amount)
        return out

    def _parts(self, slot: int, amount: FloatArray) -> FloatArray:
        """Share of a slot's bounced light that is told with each of its lights: lamps of one owner
        by their strength, natural light with what is off the ground."""
        lights = np.flatnonzero(self.slots.of == slot)
        point = np.array([self.world.lights[i].kind == "point" for i in lights])
        total = float(amount[lights].sum())
        if np.all(point) and total > 0.0:
            return np.asarray(amount[lights] / total)
        return np.asarray((lights == self.slots.light[slot]).astype(float))

    def lent(self, world: World) -> LightField:
        """The same field for a world that stands as this one does, under lights of its own."""
        other = replace(self, world=world)
        for name in ("_points", "_casters"):
            other.__dict__[name] = self.__dict__.setdefault(name, {})
        return other

    @cached_property
    def counted(self) -> FloatArray:
        """Share (slots, bands) of a unit of each slot's light in every band, in its own unit."""
        lights = [self.world.lights[i] for i in self.slots.light]
        eye = luminous_efficiency()
        power = np.stack(
            [x.spectrum.power * (eye if x.spectrum.basis == "lux" else 1.0) for x in lights]
        )
        by_band = band_power(power)
        return np.asarray(by_band / np.maximum(by_band.sum(axis=1, keepdims=True), 1e-300))


def far_ground(lights: list[LightSource], slots: Slots) -> NDArray[np.float32]:
    """What far ground sends (slots, bands): natural light as in the open, of lamps none."""
    out = np.zeros((len(slots.light), BANDS), np.float32)
    for k, i in enumerate(slots.light):
        out[k] = float(lights[i].kind == "bounce")
    return out


def with_far(
    seen: Seen, sent: NDArray[np.float32], far: NDArray[np.float32]
) -> NDArray[np.float32]:
    gathered = seen.gathered(sent.reshape(len(sent), -1)).reshape(-1, *sent.shape[1:])
    gathered += seen.share(FAR_GROUND)[:, None, None].astype(np.float32) * far
    return gathered


class _Looked(NamedTuple):
    """What is kept of a geometry, whatever light falls on it."""

    caster: RayCaster
    views: Views


_FIELDS: Bounded[LightField] = Bounded(
    MOST_FIELDS, lambda f: bytes_of(f.leaves, f.sky, f.indirect, f.sent)
)
_VIEWS: Bounded[_Looked] = Bounded(MOST_VIEWS)


_ROUGH: ContextVar[bool] = ContextVar("rough", default=False)


@contextmanager
def rough() -> Iterator[None]:
    """Within it, light fields that are not known yet are made roughly, some ten times faster.

    For searches through places and materials, whose answers are coarser than the share of bounced
    light that this changes, and for estimates beside a verdict, such as that of a pass; never for
    what the verdict counts, or a picture.
    """
    before = _ROUGH.set(True)
    try:
        yield
    finally:
        _ROUGH.reset(before)


def is_rough() -> bool:
    """Whether a search runs, within `rough`."""
    return _ROUGH.get()


_LENT: ContextVar[LightField | None] = ContextVar("lent", default=None)


@contextmanager
def lending(field: LightField) -> Iterator[None]:
    """Within it, worlds that stand as that of a field does take its bounced light.

    For draws from tolerances: bounced light is told for one unit of each light, so that a stronger
    lamp bounces more. What a beam that is wider by its tolerance, or another reflectance, changes
    in a unit's share is of the second order, and is left out; never for a verdict or a picture.
    """
    before = _LENT.set(field)
    try:
        yield
    finally:
        _LENT.reset(before)


def _lent_to(world: World) -> LightField | None:
    """The field that is lent, if it fits a world."""
    field = _LENT.get()
    if field is None:
        return None
    own, slots = slots_of(world.lights), field.slots
    alike = np.array_equal(own.light, slots.light) and np.array_equal(own.of, slots.of)
    if not alike or kept.geometry(world) != kept.geometry(field.world):
        return None
    return field.lent(world)


def moved_on(field: LightField, world: World) -> LightField | None:
    """The same light on the same sides of things that stand elsewhere now, as it is kept for what
    moves within an exposure; None where other things stand there, or other lights.

    For the first glance at a scene of which something was moved: what things throw back, and how
    much of the sky they see, is still that of their places before. Never for a verdict.
    """
    before, own = field.world, slots_of(world.lights)
    alike = (
        _shapes(before) == _shapes(world)
        and np.array_equal(own.light, field.slots.light)
        and np.array_equal(own.of, field.slots.of)
    )
    return replace(field, world=world) if alike else None


def _shapes(world: World) -> tuple[object, ...]:
    """Of what kinds and sizes things are, wherever they stand."""
    cards = [(round(c.width_m, 6), round(c.height_m, 6), c.texture.shape) for c in world.cards]
    meshes = [(mesh.card, mesh.inside, len(mesh.triangles)) for mesh in world.meshes]
    return cards, meshes, len(world.materials)


def light_field(world: World) -> LightField:
    """The light field of a world, made once for its content and kept.

    Parameters
    ----------
    world
        The scene; things that move stand where it has them. How strong its lights are does not
        matter.

    Returns
    -------
    LightField
        Of this world or one of the same content.

    References
    ----------
    Radiosity: Goral, Torrance, Greenberg and Battaile, Modeling the interaction of light between
    diffuse surfaces, SIGGRAPH 1984.

    Examples
    --------
    >>> from simulator.scene import Scene, build_world
    >>> field = light_field(build_world(Scene.load("depot-gate-infrared").model))
    >>> up = np.array([[0.0, 0.0, 1.0]])
    >>> sky, _ = field.at(np.array([[-40.0, -60.0, 0.5]]), up)
    >>> bool(0.9 < sky[0] <= 1.0)
    True
    """
    key = kept.content(world)
    stored = _FIELDS.get(key)
    if stored is not None:
        return stored
    lent = _lent_to(world)
    if lent is not None:
        return lent
    if _ROUGH.get():
        return _rough_field(world, key)
    field = _read(world, key)
    if field is None:
        field = make(world)
        kept.write(key, {"sky": field.sky, "indirect": field.indirect, "sent": field.sent})
    _FIELDS.put(key, field)
    return field


def _rough_field(world: World, key: str) -> LightField:
    key = f"rough {key}"
    field = _FIELDS.get(key)
    return _FIELDS.put(key, make(world, rough=True)) if field is None else field


def _read(world: World, key: str) -> LightField | None:
    """The light field kept on disk, if it is there and fits."""
    stored = kept.read(key)
    if stored is None:
        return None
    leaves, slots = cut(world), slots_of(world.lights)
    nodes = len(leaves.place) + len(leaves.solids.nodes_m)
    many = (len(slots.light), BANDS)
    try:
        field = LightField(world, leaves, slots, stored["sky"], stored["indirect"], stored["sent"])
    except KeyError:
        return None
    fits = field.sky.shape == (nodes,) and field.indirect.shape == (nodes, *many)
    return field if fits and field.sent.shape == (leaves.many, *many) else None


def forget() -> None:
    """Give up what is kept in memory."""
    _FIELDS.known.clear()
    _VIEWS.known.clear()


def make(world: World, *, rough: bool = False) -> LightField:
    """The light field of a world, made anew.

    Parameters
    ----------
    world
        As for `light_field`.
    rough
        Whether coarser leaves and fewer directions do.
    """
    # rough leaves serve wherever lamps hang, so that a lamp that is moved casts no new rays
    key = f"{rough} {kept.geometry(world, lamps=not rough)}"
    looked = _VIEWS.get(key)
    if looked is None:
        caster = RayCaster.of(world)
        leaves = cut(world, ROUGH_COARSER if rough else 1.0, lamps=not rough)
        seen_from = views(caster, leaves, ROUGH_FEWER if rough else 1)
        looked = _VIEWS.put(key, _Looked(caster, seen_from))
    caster, seen = looked
    slots = slots_of(world.lights)
    direct = direct_on_leaves(world, caster, seen, slots)
    rho = patch_reflectances(world, seen.leaves, slots)
    settled = ROUGH_SETTLED if rough else SETTLED
    sent = bounced(direct, rho, seen.patch, settled).reshape(rho.shape)
    far = far_ground(world.lights, slots)
    both = [seen.node, seen.solid]
    sky = np.concatenate([one.share(SKY) for one in both]).astype(np.float32)
    indirect = np.concatenate([with_far(one, sent, far) for one in both])
    close = np.concatenate([one.close for one in both])
    _fill_buried(seen.leaves, close, sky, indirect)
    return LightField(world, seen.leaves, slots, sky, indirect, sent)


def _fill_buried(
    leaves: Leaves,
    close: FloatArray,
    sky: NDArray[np.float32],
    indirect: NDArray[np.float32],
) -> None:
    """Give nodes that are hidden the light of the nearest one of their side that is not."""
    begin = np.concatenate([leaves.begin, leaves.begin[-1] + leaves.solids.begin[1:]])
    flat = np.concatenate([leaves.place, np.zeros((len(leaves.place), 1))], axis=1)
    place = np.concatenate([flat, leaves.solids.nodes_m])
    for a, b in pairwise(begin):
        filled(place[a:b], close[a:b], sky[a:b], indirect[a:b])


def filled(
    place: FloatArray,
    close: FloatArray,
    sky: NDArray[np.float32],
    indirect: NDArray[np.float32],
) -> None:
    """As `_fill_buried`, the nodes of one side."""
    hidden = close > BURIED
    if not np.any(hidden) or np.all(hidden):
        return
    at, free = np.flatnonzero(hidden), np.flatnonzero(~hidden)
    source = free[cKDTree(place[free]).query(place[at])[1]]
    sky[at], indirect[at] = sky[source], indirect[source]
