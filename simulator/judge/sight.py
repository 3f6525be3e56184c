"""One target of one task, looked at again and again while camera and light change.

What was traced is kept, so that asking what blur, noise, movement or light cost needs no new
tracing. There are two ways to ask for the probability: surely, by Monte Carlo, and quickly, from a
few pictures. Both send light through the whole camera.

Quickly, a text is judged by the reader's estimate from a few pictures (`quick_look`). Surely, the
reader itself reads `TRIAL_TEXTS` random texts. Cycles are counted on fewer pictures.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field

import numpy as np

from simulator.bounded import bytes_reached
from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import State
from simulator.camera.region_plan import RegionPlan
from simulator.camera.region_traces import Traces
from simulator.judge.colour_naming import Naming, judge_colour
from simulator.judge.cycles import PATCHES
from simulator.judge.parts import judged_part
from simulator.judge.people import FULL, QUICK, Effort, Observed, observed
from simulator.judge.quick_look import quick_probability
from simulator.judge.readers.reader import Reader
from simulator.judge.retakes import NamedTraces, Retakes, kept_by_name, region_of
from simulator.judge.silhouette import Silhouette, seen_silhouette
from simulator.judge.target import JudgedTarget, JudgedText, find_target, find_text, plan_region
from simulator.judge.tasks import judge_task
from simulator.judge.trials import quick_stray_light, read_probability, region_buffer
from simulator.scene.model import Target
from simulator.units import Image

TRIAL_TEXTS = 3
"""Random texts that trials read."""
FEW_PATCHES, FEWEST_PATCHES = 4, 2
"""Pictures of other targets that a quick look takes, and of large ones."""
LARGE_PX = 60_000
"""Pixels of a window from which a target counts as large: its noise shows in two pictures."""
TRIAL_PATCHES = 8


@dataclass(frozen=True)
class View:
    """What is kept of one world and view: patch, traced layers, and the pixels of the target;
    `others` are the layers of other texts on the same board, `named` those of this and other worlds
    by what `retakes` calls them, where the target is no text."""

    plan: RegionPlan
    traces: Traces
    silhouette: Silhouette | None
    others: dict[str, Traces] = field(default_factory=dict)
    named: NamedTraces = field(default_factory=kept_by_name)


MOST_VIEW_BYTES = 600_000_000
"""Bytes of traced layers that a sight keeps of all changes that were asked for."""


@dataclass
class Sight:
    """The task's target, ready to be looked at.

    `task` is "read", "detect", "recognise" or "identify"; `seed` steers all noise.
    """

    entry: Target
    task: str
    reader: Reader
    seed: int
    views: dict[Hashable, View] = field(default_factory=dict)
    stray_lights: dict[Hashable, Image] = field(default_factory=dict)

    @property
    def estimates_itself(self) -> bool:
        """Whether a text's quick look is by the very reader that is asked."""
        return self.task == "read" and self.reader.estimate is self.reader

    def find(self, in_scene: CameraInScene) -> JudgedTarget:
        """Where the target lies in the picture.

        Raises
        ------
        GeometryError
            If it cannot be seen.
        """
        if self.task == "read":
            return find_text(in_scene, self.entry)
        return judged_part(in_scene, find_target(in_scene, self.entry), self.task)

    def view(
        self,
        in_scene: CameraInScene,
        state: State,
        target: JudgedTarget,
        key: Hashable,
        min_split: int | None = None,
    ) -> View:
        """Patch and traced layers that belong to `key`; made where there are none yet."""
        if key not in self.views:
            self._make_room()
            if isinstance(target, JudgedText):
                plan = (
                    plan_region(in_scene, state, target)
                    if min_split is None
                    else plan_region(in_scene, state, target, min_split)
                )
                self.views[key] = View(plan, Traces(), None)
            else:
                self.views[key] = _cycles_view(in_scene, state, target)
        return self.views[key]

    def _make_room(self) -> None:
        """Give up the oldest views but for the first, that of the target as it is, where layers of
        a large target would fill gigabytes; they are traced again if they are asked for again."""
        while len(self.views) > 1 and bytes_reached(self.views) > MOST_VIEW_BYTES:
            del self.views[list(self.views)[1]]

    def quick(
        self, in_scene: CameraInScene, state: State, target: JudgedTarget, view: View
    ) -> float:
        """Probability of the task from a few pictures."""
        if not isinstance(target, JudgedText):
            assert view.silhouette is not None
            large = view.silhouette.inside.size > LARGE_PX
            return self._cycles(
                in_scene, state, target, view, FEWEST_PATCHES if large else FEW_PATCHES
            )
        return quick_probability(
            in_scene, state, target, self.reader, seed=self.seed,
            stray_light=self.stray_light(in_scene, state, view), plan=view.plan,
            traces=view.traces, others=view.others,
        ).value  # fmt: skip

    def by_trials(
        self,
        in_scene: CameraInScene,
        state: State,
        target: JudgedTarget,
        view: View,
        trials: tuple[int, ...],
    ) -> float:
        """Probability of the task by Monte Carlo.

        Parameters
        ----------
        trials
            Trials of growing number; where all or none succeed, no more are made.
        """
        if not isinstance(target, JudgedText):
            return self._cycles(in_scene, state, target, view, TRIAL_PATCHES)
        stray_light = self.stray_light(in_scene, state, view)
        for count in trials:
            value = read_probability(
                in_scene,
                state,
                target,
                seed=self.seed,
                trials=count,
                reader=self.reader,
                stray_light=stray_light,
                plan=view.plan,
                traces=view.traces,
                phases=1,
                texts=TRIAL_TEXTS,
                named=False,
                others=view.others,
            ).value
            if value in {0.0, 1.0}:
                break
        return value

    def observed(
        self, in_scene: CameraInScene, state: State, target: JudgedTarget, view: View
    ) -> Observed | Naming | None:
        """The task by the observer of verdicts, with all his pictures; None for a task that no
        observer of a region alone stands for."""
        return self._observed(in_scene, state, target, view, FULL, PATCHES)

    def _observed(
        self, in_scene: CameraInScene, state: State, target: JudgedTarget, view: View,
        effort: Effort, regions: int,
    ) -> Observed | Naming | None:  # fmt: skip
        assert view.silhouette is not None
        place = self._place(in_scene, state, view)
        if self.task == "colour":
            rates = self._rates(in_scene, state, view)
            return judge_colour(place, target, view.silhouette, rates, regions=regions)
        return observed(place, target, view.silhouette, self.task, effort)

    def _place(self, in_scene: CameraInScene, state: State, view: View) -> Retakes:
        stray_light = self.stray_light(in_scene, state, view)
        return Retakes(in_scene, state, view.plan, stray_light, self.seed, view.named)

    def _rates(self, in_scene: CameraInScene, state: State, view: View) -> list[Image]:
        return region_buffer(
            in_scene, state, view.plan, self.stray_light(in_scene, state, view), view.named("")
        )

    def _cycles(
        self, in_scene: CameraInScene, state: State, target: JudgedTarget, view: View, regions: int
    ) -> float:
        assert view.silhouette is not None
        seen = self._observed(in_scene, state, target, view, QUICK, regions)
        if seen is not None:
            return seen.value
        return judge_task(
            in_scene,
            state,
            target,
            view.silhouette,
            self._rates(in_scene, state, view),
            self.task,
            seed=self.seed,
            regions=regions,
            place=self._place(in_scene, state, view),
        ).value

    def stray_light(self, in_scene: CameraInScene, state: State, view: View) -> Image:
        """Stray light of the whole picture, kept; none is needed of a clean lens."""
        if in_scene.glare_index == 0.0:
            return np.zeros((2, 2, 3), np.float32)
        key = (id(view), state.mode, in_scene.camera.lens.f_number)
        if key not in self.stray_lights:
            plain = in_scene.with_switches(light_scale=1.0)
            self.stray_lights[key] = quick_stray_light(plain, state)
        return self.stray_lights[key] * np.float32(in_scene.switches.light_scale)


def _cycles_view(in_scene: CameraInScene, state: State, target: JudgedTarget) -> View:
    smear = in_scene.smear_px(state.exposure.shutter_s, target.card.centre_m)[target.card.group]
    silhouette = seen_silhouette(in_scene, target, float(np.hypot(*smear)))
    return View(region_of(in_scene, state, target, silhouette), Traces(), silhouette)
