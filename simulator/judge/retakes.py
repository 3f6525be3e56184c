"""Delivered pictures of one place of the picture, again and again, of a world and of others.

Each picture is one of a camera of the same kind: its own noise, and the fixed pattern of one of a
few sensors. What observers compare, a scene with a target and without it, a face and other faces,
are the same place of the picture in worlds that differ in that alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from simulator.camera.auto_exposure import State
from simulator.camera.frame_buffer import exposed_regions, frame_times
from simulator.camera.in_scene import CameraInScene
from simulator.camera.recording import recorded
from simulator.camera.region_plan import RegionPlan
from simulator.camera.region_traces import Traces
from simulator.camera.small_picture import small_stray_light
from simulator.judge.silhouette import Silhouette
from simulator.judge.target import JudgedTarget, mean_wavelength_nm
from simulator.scene.world import World
from simulator.units import Image

Mask = NDArray[np.bool_]
PIECES = 4
"""Sensors of the kind, each with a fixed pattern of its own, that pictures are spread over."""
NamedTraces = Callable[[str], Traces]
"""Traced layers of a world by what it is called among those of one place; "" is the scene's."""
SPLIT = 2
"""Samples a side of a pixel on the patch around a target without text."""
LARGE_PX = 100_000
"""Pixels of a patch that is traced with one sample each: what is so large is not judged by its
finest edges."""


def kept_by_name() -> NamedTraces:
    """Traced layers that are kept as long as this is."""
    return defaultdict[str, Traces](Traces).__getitem__


def region_of(
    in_scene: CameraInScene, state: State, target: JudgedTarget, silhouette: Silhouette
) -> RegionPlan:
    """Where the region of a target without text lies, and how finely it is traced."""
    smear = in_scene.smear_px(state.exposure.shutter_s, target.card.centre_m)[target.card.group]
    wavelength = mean_wavelength_nm(in_scene, state, target)
    reach = in_scene.blur_at(target.depth_m, wavelength).reach_px()
    margin = int(np.abs(smear).max() / 2.0) + 3 + reach
    x0, y0, x1, y1 = silhouette.window_px
    split = 1 if (x1 - x0) * (y1 - y0) > LARGE_PX else SPLIT
    return RegionPlan(silhouette.window_px, margin, split, target.card.centre_m, wavelength)


@dataclass(frozen=True)
class Retakes:
    """A camera, settled, and the place of its picture that is looked at.

    `traces` holds what was traced of each world, for cameras that differ only in what acts after
    tracing; a session's holds it for lights of other strengths as well.
    """

    in_scene: CameraInScene
    state: State
    plan: RegionPlan
    stray_light: Image
    seed: int
    traces: NamedTraces = field(default_factory=kept_by_name)

    def pictures(
        self, world: World, counts: Sequence[int], group: int, name: str
    ) -> NDArray[np.uint8]:
        """Delivered pictures (sum of counts, rows, columns, 3) of a world.

        Parameters
        ----------
        counts
            Pictures of each series; every series is spread over `PIECES` sensors of its own.
        group
            Number of the world; noise of one is not that of another.
        name
            What the world is called among those of this place; "" that of the scene.
        """
        return self.pictures_of(self.light(world, name), world, counts, group)

    def light(self, world: World, name: str) -> list[Image]:
        """Light of the place in a world, the frames the camera remembers first [e-/s]; `name` as in
        `pictures`."""
        here = self.in_scene.before_other(world)
        times = [float(t) for t in frame_times(here)]
        shutter = self.state.exposure.shutter_s
        return exposed_regions(
            here, self.state.mode, shutter, self.plan, self.stray_light, times, self.traces(name)
        )

    def pictures_of(
        self, rates: list[Image], world: World, counts: Sequence[int], group: int
    ) -> NDArray[np.uint8]:
        """As `pictures`, of light that is known."""
        here, state = self.in_scene.before_other(world), self.state
        origin = self.plan.box_px[:2]
        out = []
        for series, count in enumerate(counts):
            for k, frames in enumerate(shared(count, PIECES)):
                number = (len(counts) * group + series) * PIECES + k
                piece = here.with_switches(sensor_piece=number)
                out.append(
                    recorded(
                        piece, state, rates, seed=self.seed + number, first=1 + 100 * number,
                        frames=frames, origin_px=origin,
                    )
                )  # fmt: skip
        return np.concatenate(out)

    def before(self, world: World) -> Retakes:
        """The same before another world, so that worlds that hardly differ from it share its
        light."""
        return replace(self, in_scene=self.in_scene.before_other(world))

    def around(self, area: Mask, margin_px: int, split: int) -> tuple[Retakes, Mask]:
        """The same for the part of the plan's box around an area (rows, columns) of it."""
        rows, columns = np.flatnonzero(area.any(axis=1)), np.flatnonzero(area.any(axis=0))
        x0, y0, x1, y1 = self.plan.box_px
        # on even pixels, so that the mosaic begins as the sensor's does
        left = max(0, int(columns[0]) - margin_px) // 2 * 2
        top = max(0, int(rows[0]) - margin_px) // 2 * 2
        right = min(x1 - x0, int(columns[-1]) + 1 + margin_px)
        bottom = min(y1 - y0, int(rows[-1]) + 1 + margin_px)
        plan = replace(
            self.plan, box_px=(x0 + left, y0 + top, x0 + right, y0 + bottom), split=split
        )
        return replace(self, plan=plan), area[top:bottom, left:right]


def shared(count: int, parts: int) -> list[int]:
    """`count` in as even parts as can be, none of them empty."""
    parts = min(count, parts)
    return [count * (k + 1) // parts - count * k // parts for k in range(parts)]


def retakes_of(
    in_scene: CameraInScene,
    state: State,
    target: JudgedTarget,
    silhouette: Silhouette,
    *,
    seed: int,
    stray_light: Image | None = None,
) -> Retakes:
    """Repetitions of a target's part of the picture.

    Parameters
    ----------
    stray_light
        Of the whole picture, if it is known already.
    """
    if stray_light is None:
        stray_light = small_stray_light(in_scene, state.mode)
    plan = region_of(in_scene, state, target, silhouette)
    return Retakes(in_scene, state, plan, stray_light, seed)
