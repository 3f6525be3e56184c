"""What would mend a picture: for every lever the least change that reaches the wanted probability.

The search runs on the true model. Every lever is tried at a few steps, the least change first, by a
quick look (`judge.sight`); probability need not grow with the change (light can wash a plate out),
so that the first step that serves counts, and the least change is then sought by halving between it
and the step before. What serves is proved by Monte Carlo on a fresh seed; where the proof fails the
next steps are tried. A lever that cannot reach what is wanted is told with its best probability.

Rows stand in the order of effort: a setting before lens and focus, these before a lamp, a lamp
before another mount, another mount before another camera, two levers after one; what reaches comes
before what does not, and that by probability.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from simulator.camera.history import frame_history
from simulator.camera.load import Camera
from simulator.camera.recording import with_quantiser
from simulator.camera.rig import Rig, set_up
from simulator.camera.rolling import with_row_zero
from simulator.camera.settling import State, rig_as_exposed, settle_camera
from simulator.errors import InputError
from simulator.judge.limits import LEAST_SHARE, Limit
from simulator.judge.readers import reader_of
from simulator.judge.sight import Sight
from simulator.scene.build import World, build_world
from simulator.scene.load import Scene
from simulator.studies.levers import (
    EXCHANGE,
    LIGHTS,
    SETTINGS,
    Lever,
    Site,
    Step,
    focus_sets,
    levers,
    with_lens,
)
from simulator.studies.overrides import apply_sets
from simulator.studies.quick import quick

FRESH_SEED = 7919
"""Added to the seed where a remedy is proved."""
PROOF_TRIALS = 90
RESERVE = 0.5
"""The search asks for this share of what the wanted probability lacks to certainty on top of it, so
that what it finds also holds on other noise."""
HALVINGS = 2
PROOFS = 2
"""Steps of one lever that are proved before it is given up."""
LOOKS = 60
"""Quick looks in all; what is left of levers after that is not tried."""
SINGLE_SHARE = 0.6
"""Share of the looks for single levers; the rest is for pairs and for other cameras."""
PAIRED = 2
"""Strong levers that are tried with every other where none serves alone."""
WASHED_OUT = frozenset({"clipping"})
WORKS_ALONE = 0.1
"""An impairment counts as there if it takes this much from a picture without any other."""


@dataclass(frozen=True)
class Remedy:
    """A change and the probability it brings.

    `sets` are texts for `--set` that make it; `camera` names another profile, if that is the
    change. `reaches` tells whether `probability`, by Monte Carlo on a fresh seed, is the wanted one
    or more; of a lever that does not reach it, it is the best that a quick look saw.
    """

    lever: str
    before: float | str
    to: float | str
    unit: str
    probability: float
    reaches: bool
    sets: tuple[str, ...]
    camera: str | None
    effort: int
    side_effects: tuple[str, ...]
    cautions: tuple[str, ...]

    def row(self) -> dict[str, Any]:
        """As it stands in verdict.json."""
        return {
            "lever": self.lever,
            "from": self.before,
            "to": self.to,
            "unit": self.unit,
            "probability": self.probability,
            "reaches": self.reaches,
            "sets": list(self.sets),
            "camera": self.camera,
            "side_effects": list(self.side_effects),
            "cautions": list(self.cautions),
        }


def applied(scene: Scene, camera: Camera, sets: Sequence[str]) -> tuple[Scene, Camera]:
    """Scene and camera with values set.

    Raises
    ------
    InputError
        For a value that is not possible.
    """
    scene_raw, camera_raw = apply_sets(scene.raw, camera.raw, sets)
    return (
        scene if scene_raw == scene.raw else Scene.from_raw(scene_raw, scene.name, scene.file),
        camera
        if camera_raw == camera.raw
        else Camera.from_raw(camera_raw, camera.name, camera.file),
    )


class Search:
    """Quick looks at changes of one scene and camera; at most `LOOKS` of them."""

    def __init__(self, site: Site, seed: int, looks: int = LOOKS) -> None:
        self.site, self.seed, self.left = site, seed, looks
        self.wanted = site.scene.model.task.wanted_probability
        self.aim = self.wanted + RESERVE * (1.0 - self.wanted)
        self._known: dict[tuple[str, tuple[str, ...]], float] = {}
        self._worlds: dict[str, World] = {}

    def look(self, sets: tuple[str, ...], camera: Camera | None = None) -> float:
        """Probability of the task with values set; 0 where that cannot be built or seen."""
        base = camera or self.site.camera
        key = (base.name, sets)
        if key not in self._known:
            if self.left <= 0:
                return 0.0
            self.left -= 1
            try:
                self._known[key] = self._looked(*applied(self.site.scene, base, sets))
            except InputError:
                self._known[key] = 0.0
        return self._known[key]

    def _looked(self, scene: Scene, camera: Camera) -> float:
        model = scene.model
        text = repr(scene.raw)
        if text not in self._worlds:
            self._worlds[text] = build_world(model)
        thing = next(t for t in model.target if t.name == model.task.target)
        rig = with_row_zero(set_up(self._worlds[text], model.station, camera.model), thing.name)
        state = settle_camera(rig)
        rig = rig_as_exposed(rig, state)
        state = self._coded(rig, state, camera)
        sight = Sight(thing, model.task.name, reader_of(model.task.reader), self.seed)
        target = sight.find(rig)
        return sight.quick(rig, state, target, sight.view(rig, state, target, ()))

    def _coded(self, rig: Rig, state: State, camera: Camera) -> State:
        """The quantiser of the stream: that of the picture as it is, unless the rate changes."""
        stream = camera.model.stream
        if stream.codec == "none":
            return state
        if stream == self.site.camera.model.stream:
            return replace(state, quantiser=self.site.state.quantiser)
        return with_quantiser(rig, state, frame_history(rig, state)[0], seed=self.seed)[0]

    def proved(self, sets: tuple[str, ...], camera: Camera | None = None) -> float:
        """Probability by Monte Carlo on a fresh seed."""
        try:
            pair = applied(self.site.scene, camera or self.site.camera, sets)
            return quick(*pair, seed=self.seed + FRESH_SEED, trials=PROOF_TRIALS).probability
        except InputError:
            return 0.0

    def least(self, lever: Lever) -> Remedy:
        """The least change of one lever that serves, or its best."""
        best: tuple[float, Step] | None = None
        proofs, before = 0, lever.now
        for step in lever.steps:
            chance, found = self.look(step.sets), step
            if chance >= self.aim and proofs < PROOFS:
                found = self._halved(lever, before, step)
                proofs += 1
                chance = self.proved(found.sets)
                if chance >= self.wanted:
                    return _remedy(lever, found, chance, True)
            if best is None or chance > best[0]:
                best = (chance, found)
            before = step.value
        assert best is not None
        return _remedy(lever, best[1], min(best[0], self.wanted), False)

    def _halved(self, lever: Lever, low: float | str, high: Step) -> Step:
        """A smaller change that still serves, between a step that does not and one that does."""
        if lever.between is None or isinstance(low, str) or isinstance(high.value, str):
            return high
        for _ in range(HALVINGS):
            a, b = float(low), float(high.value)
            middle = math.sqrt(a * b) if a > 0.0 and b > 0.0 else (a + b) / 2.0
            value = float(f"{middle:.3g}")
            if abs(b / max(a, 1e-12) - 1.0) < 0.15:
                break
            step = Step(value, lever.between(value))
            if self.look(step.sets) >= self.aim:
                high = step
            else:
                low = value
        return high


def _remedy(lever: Lever, step: Step, probability: float, reaches: bool) -> Remedy:
    return Remedy(
        lever.name, lever.now, step.value, lever.unit, probability, reaches, step.sets, None,
        lever.effort, lever.side_effects, lever.cautions,
    )  # fmt: skip


def _at_work(limits: Sequence[Limit], ideal: float) -> frozenset[str]:
    """Impairments that a lever may have to act on: with a share of the loss, or harmful alone."""
    return frozenset(
        row.factor
        for row in limits
        if row.share > LEAST_SHARE or row.probability_only < ideal - WORKS_ALONE
    )


def find_remedies(
    site: Site,
    limits: Sequence[Limit],
    seed: int,
    *,
    cameras: Sequence[Camera] = (),
    looks: int = LOOKS,
    progress: Callable[[float], None] | None = None,
) -> list[Remedy]:
    """Remedies for a task that does not reach its wanted probability; see the module's text.

    Parameters
    ----------
    limits
        What limits it; levers that act on nothing of this are not tried.
    cameras
        Other cameras to try, each with the field of view and focus of this one as far as its lens
        allows.
    looks
        Most quick looks, which is what bounds the time.
    progress
        Called with the share done.
    """
    say = progress or (lambda share: None)
    if site.scene.model.task.name == "colour":
        return []  # neither limits nor a quick look know colours yet
    search = Search(site, seed, looks)
    ideal = max((row.probability_only for row in limits), default=1.0)
    at_work = _at_work(limits, ideal) | WASHED_OUT
    first = {row.factor for row in limits[:1]}
    tried = [lever for lever in levers(site) if lever.helps & at_work]
    # what acts on the first limit is tried first, in case the looks do not suffice for all
    tried.sort(key=lambda lever: (not lever.helps & first, lever.effort))
    found = []
    for k, lever in enumerate(tried):
        if search.left <= looks * (1.0 - SINGLE_SHARE):
            break
        say(k / (len(tried) + 1))
        found.append(search.least(lever))
    if not any(row.reaches for row in found):
        pair = _paired(search, tried, found)
        found += pair or _exchanged(search, cameras)
    say(1.0)
    return sorted(found, key=lambda row: (not row.reaches, row.effort if row.reaches else 0,
                                          -row.probability))  # fmt: skip


def _exchanged(search: Search, cameras: Sequence[Camera]) -> list[Remedy]:
    """Other cameras in its place."""
    site, out = search.site, []
    own = site.camera.model
    width_mm = own.sensor.width_px * own.sensor.pixel_pitch_um
    for camera in cameras:
        lens, s = camera.model.lens, camera.model.sensor
        focal = own.lens.focal_length_mm * s.width_px * s.pixel_pitch_um / width_mm
        focal = min(max(focal, lens.focal_min_mm), lens.focal_max_mm)
        set_to = with_lens(camera.model, focal_length_mm=focal).lens
        f_number = max(lens.f_number, math.ceil(set_to.smallest_f_number * 100) / 100)
        sets = (
            f"lens.focal_length_mm={focal:.4g}", f"lens.f_number={f_number:g}",
            *focus_sets(site.rig.camera.lens.focus_m),
        )  # fmt: skip
        if search.left <= 0:
            break
        chance = search.look(sets, camera)
        proof = search.proved(sets, camera) if chance >= search.aim else 0.0
        reaches = proof >= search.wanted
        out.append(
            Remedy(
                "camera",
                site.camera.name,
                camera.name,
                "",
                proof if reaches else min(chance, search.wanted),
                reaches,
                sets,
                camera.name,
                EXCHANGE,
                ("another camera has to be bought, mounted and set up",),
                (),
            )
        )
    return out


def _paired(search: Search, tried: Sequence[Lever], found: Sequence[Remedy]) -> list[Remedy]:
    """Two levers together: a strong one at each of its steps, with another at its best or last.

    Strong are a lamp and what came nearest alone. Beside a lamp the metering is tried first: what a
    lamp beside the camera spoils is that the target turns white.
    """
    best = {row.lever: row for row in found}
    strong = sorted(
        (lever for lever in tried if lever.name in best),
        key=lambda v: (-round(best[v.name].probability, 1), v.effort != LIGHTS, v.effort),
    )
    for first in strong[:PAIRED]:
        others = sorted(
            (lever for lever in strong if lever is not first),
            key=lambda v: (not v.helps & WASHED_OUT, v.effort),
        )
        for other in others:
            second = Step(best[other.name].to, best[other.name].sets)
            if first.effort == LIGHTS and other.effort == SETTINGS:
                second = other.steps[-1]
            for step in first.steps:
                if search.left <= 0:
                    return []
                if set(_keys(step.sets)) & set(_keys(second.sets)):
                    continue
                sets = (*step.sets, *second.sets)
                if search.look(sets) < search.aim:
                    continue
                proof = search.proved(sets)
                if proof >= search.wanted:
                    return [_both((first, step), (other, second), sets, proof)]
    return []


def _keys(sets: Sequence[str]) -> list[str]:
    return [text.split("=")[0] for text in sets]


def _both(
    first: tuple[Lever, Step], second: tuple[Lever, Step], sets: tuple[str, ...], proof: float
) -> Remedy:
    pair = (first, second)

    def told(value: float | str, unit: str) -> str:
        return f"{value} {unit}" if unit else str(value)

    return Remedy(
        " and ".join(lever.name for lever, _ in pair),
        " and ".join(told(lever.now, lever.unit) for lever, _ in pair),
        " and ".join(told(step.value, lever.unit) for lever, step in pair),
        "",
        proof,
        True,
        sets,
        None,
        EXCHANGE + 1,
        tuple(text for lever, _ in pair for text in lever.side_effects),
        tuple(text for lever, _ in pair for text in lever.cautions),
    )
