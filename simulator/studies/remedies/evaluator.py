"""Looking at one site again and again while values of its scene and camera are set.

What was built and traced is kept: a world for every scene, and traced layers for every world, lens
and sensor, so that another exposure, level or processing needs no new tracing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from simulator.bounded import bytes_reached
from simulator.camera.auto_exposure import State
from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera
from simulator.camera.region_plan import RegionPlan
from simulator.errors import InputError
from simulator.judge.readers import reader_of
from simulator.judge.sight import Sight, View
from simulator.judge.target import JudgedText, plan_region
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.scene.radiosity.field import rough
from simulator.scene.world import World
from simulator.studies.overrides import set_pair
from simulator.studies.quick import quick
from simulator.studies.remedies.lever import Site
from simulator.studies.remedies.loop import gets_there, needs_loop
from simulator.studies.session import Session, open_session
from simulator.units import Image

FRESH_SEED = 7919
"""Added to the seed where something is proved."""
PROOF_TRIALS = 180
RESERVE = 0.5
"""The search asks for this share of what the wanted probability lacks to certainty on top of it, so
that what it finds also holds on other noise."""
LARGER = 1.6
"""Kept layers serve a patch that needs no less than one part in so many of their area."""
MOST_WORLDS = 6
"""Worlds kept at a time."""
MOST_VIEWS = 12
"""Views kept at a time, with all that was traced of them."""
MOST_VIEW_BYTES = 300_000_000
"""Bytes of traced layers in them before another one comes."""


def applied(scene: Scene, camera: Camera, sets: Sequence[str]) -> tuple[Scene, Camera]:
    """Scene and camera with values set.

    Raises
    ------
    InputError
        For a value that is not possible.
    """
    return set_pair(scene, camera, sets)


@dataclass
class Evaluator:
    """Quick looks at changes of one scene and camera; at most `left` of them.

    `wanted` is the probability wanted, `aim` what a quick look must show to be worth a proof.
    """

    site: Site
    seed: int
    left: int
    _known: dict[tuple[str, tuple[str, ...]], float] = field(default_factory=dict)
    _worlds: dict[str, World] = field(default_factory=dict)
    _views: list[tuple[str, View]] = field(default_factory=list)
    _mounted: dict[str, CameraInScene] = field(default_factory=dict)
    _metered: dict[tuple[str, str], dict[float, Image]] = field(default_factory=dict)

    @property
    def wanted(self) -> float:
        """Probability that the task wants."""
        return self.site.scene.model.task.wanted_probability

    @property
    def aim(self) -> float:
        """What a quick look must show: more than is wanted, by `RESERVE`."""
        return self.wanted + RESERVE * (1.0 - self.wanted)

    def look(self, sets: tuple[str, ...], camera: Camera | None = None) -> float:
        """Probability of the task with values set; 0 where that cannot be built or seen."""
        base = camera or self.site.camera
        key = (base.name, tuple(sorted(sets)))
        if key not in self._known:
            if self.left <= 0:
                return 0.0
            self.left -= 1
            try:
                with rough():  # what serves is proved without
                    self._known[key] = self._looked(*applied(self.site.scene, base, sets))
            except InputError:
                self._known[key] = 0.0
        return self._known[key]

    def settled(self, sets: tuple[str, ...], camera: Camera | None = None) -> Session | None:
        """The settled site with values set; None where that cannot be built or seen."""
        try:
            return self._settled(*applied(self.site.scene, camera or self.site.camera, sets))
        except InputError:
            return None

    def proof(self, sets: tuple[str, ...], camera: Camera | None = None) -> float:
        """Probability by Monte Carlo on a fresh seed; 0 where it cannot be built or seen."""
        try:
            pair = applied(self.site.scene, camera or self.site.camera, sets)
            self._settled(*pair)
            return quick(
                *pair, seed=self.seed + FRESH_SEED, trials=PROOF_TRIALS, proof=True
            ).probability
        except InputError:
            return 0.0

    def serves(self, proof: float) -> bool:
        """Whether a proved probability reaches the target by its own standard error or more."""
        return proof - math.sqrt(proof * (1.0 - proof) / PROOF_TRIALS) >= self.wanted

    def _settled(self, scene: Scene, camera: Camera) -> Session:
        world = _kept(
            self._worlds, _world_key(scene.table()), lambda: build_world(scene.model), MOST_WORLDS
        )
        key = _sight_key(scene, camera)
        mounted = self._mounted.get(key)
        session = open_session(scene, camera, seed=self.seed, world=world, mounted=mounted)
        if mounted is None:
            _kept(self._mounted, key, lambda: session.mounted, MOST_WORLDS)
        session.settle()
        if (
            needs_loop(session)
            and not needs_loop(self._as_it_is)
            and not gets_there(session, self._metered.setdefault((key, session.state.mode), {}))
        ):
            raise InputError(
                "The camera's loop does not get to this exposure while the target passes.",
                key="exposure.metering", given=camera.model.exposure.metering,
            )  # fmt: skip
        return session

    @cached_property
    def _as_it_is(self) -> Session:
        return open_session(self.site.scene, self.site.camera, seed=self.seed)

    def _looked(self, scene: Scene, camera: Camera) -> float:
        session, task = self._settled(scene, camera), scene.model.task
        sight = Sight(session.entry, task.name, reader_of(task.reader), self.seed)
        in_scene, state, target = session.in_scene, self._coded(session), session.part
        key = f"{_sight_key(scene, camera)} {in_scene.camera.lens.f_number}"
        views = [view for of, view in self._views if of == key]
        if isinstance(target, JudgedText):
            needed = plan_region(in_scene, state, target)
            view = next((v for v in views if _serves(v.plan, needed)), None)
            if view is None:
                view = sight.view(in_scene, state, target, ())
                self._keep(key, view)
            return sight.quick(in_scene, state, target, view)
        # what is traced of a place serves all settings; which pixels show the target, its own
        view = sight.view(in_scene, state, target, ())
        known = next((v for v in views if _same_place(v.plan, view.plan)), None)
        if known is None:
            self._keep(key, view)
        else:
            view = replace(view, traces=known.traces, named=known.named)
        return sight.quick(in_scene, state, target, view)

    def _keep(self, key: str, view: View) -> None:
        """Keep a view; the oldest ones leave where there are many, or all are too large."""
        while len(self._views) >= MOST_VIEWS or (
            self._views and bytes_reached(self._views) > MOST_VIEW_BYTES
        ):
            del self._views[0]
        self._views.append((key, view))

    def _coded(self, session: Session) -> State:
        """The quantiser of the stream: that of the picture as it is, unless the rate changes."""
        if session.camera.model.stream == self.site.camera.model.stream:
            return replace(session.state, quantiser=self.site.state.quantiser)
        return session.coded


def _world_key(raw: dict[str, Any]) -> str:
    """What of a scene file its world depends on: all but focus and task."""
    station = {k: v for k, v in raw.get("station", {}).items() if k != "focus_m"}
    rest = {k: v for k, v in raw.items() if k not in ("station", "task")}
    return repr((station, rest))


def _sight_key(scene: Scene, camera: Camera) -> str:
    """What the light on the sensor depends on, but for the iris."""
    model = camera.model
    return repr((_world_key(scene.table()), scene.model.station, model.lens, model.sensor,
                 model.cover, model.day_night))  # fmt: skip


def _kept(store: dict[str, Any], key: str, make: Any, most: int) -> Any:
    """An entry of a store, made if there is none; the oldest one leaves a full store."""
    if key not in store:
        if len(store) >= most:
            del store[next(iter(store))]
        store[key] = make()
    return store[key]


def _same_place(one: RegionPlan, other: RegionPlan) -> bool:
    """Whether two patches are the same, but for the room around them."""
    return one.box_px == other.box_px and one.split == other.split


def _serves(plan: RegionPlan, needed: RegionPlan) -> bool:
    """Whether layers of one patch do for another that lies in it and is not much smaller."""
    a, b = plan.box_px, needed.box_px
    inside = a[0] <= b[0] and a[1] <= b[1] and a[2] >= b[2] and a[3] >= b[3]
    area = (a[2] - a[0]) * (a[3] - a[1]) / max(1, (b[2] - b[0]) * (b[3] - b[1]))
    return (
        inside
        and area <= LARGER
        and plan.split == needed.split
        and plan.margin_px >= needed.margin_px
    )
