"""A camera settled before its scene: exposure, target, light, found when they are first asked for.

What is found is kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np

from simulator.camera.auto_exposure import State, as_exposed, settle_exposure
from simulator.camera.frame_buffer import frame_buffer
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.light_field import Light
from simulator.camera.light_layers import LightLayers, RelitTraces
from simulator.camera.load import Camera
from simulator.camera.recording import with_quantiser
from simulator.camera.region_traces import Traces
from simulator.judge.parts import judged_part
from simulator.judge.target import JudgedTarget, JudgedText, find_target, find_text
from simulator.judge.texts import random_texts
from simulator.scene.load import Scene
from simulator.scene.model import Target
from simulator.studies.placing import judged_entry
from simulator.studies.target_room import ROOM
from simulator.units import Image

TEXTS = 4
"""Random texts that the probability of reading is that of."""
MOST_ROOM_PX = 24
"""Most that is traced around a region for longer shutters."""


class WholePicture(NamedTuple):
    """Light of the whole picture: of the frames that the camera remembers, oldest first and the
    shown one last (rows, columns, 3) [e-/s per pixel], and all of the shown one."""

    rates: list[Image]
    light: Light


@dataclass(frozen=True)
class SettledScene:
    """What a session knows of its scene; `session.Session` asks it and tells its fields."""

    scene: Scene
    camera: Camera
    mounted: CameraInScene
    seed: int = 0
    mode: Mode | None = None
    before: Mode = "day"
    strengths: Mapping[str, float] = field(default_factory=dict)
    layers: LightLayers = field(default_factory=LightLayers, repr=False)
    room: float = ROOM

    @property
    def entry(self) -> Target:
        """The entry of the scene's file that the task asks about."""
        return judged_entry(self.scene.model)

    @cached_property
    def target(self) -> JudgedTarget:
        """The judged target in the picture; a `JudgedText` where the task is to read.

        Raises
        ------
        GeometryError
            If it cannot be seen.
        """
        find = find_text if self.scene.model.task.name == "read" else find_target
        return find(self.mounted, self.entry)

    @cached_property
    def part(self) -> JudgedTarget:
        """What of the target the task looks at: the head of a person to be known by it, all else as
        a whole."""
        return judged_part(self.mounted, self.target, self.scene.model.task.name)

    @cached_property
    def state(self) -> State:
        """What the camera settles on before the scene; the stream's quantiser is in `coded`.

        Raises
        ------
        NoLightError
            If no light at all reaches the sensor.
        """
        return settle_exposure(self.mounted, self.mode, before=self.before)

    @cached_property
    def in_scene(self) -> CameraInScene:
        """The camera in its scene as it takes the picture: iris and added-up frames in it."""
        return as_exposed(self.mounted, self.state)

    def settle(self) -> None:
        """Find exposure and target now, so that what is wrong with either is raised here.

        Raises
        ------
        InputError
            For a target that cannot be seen, or a scene without light.
        """
        _ = self.in_scene, self.part

    @cached_property
    def whole(self) -> WholePicture:
        """Light of the whole picture, of every frame that the camera remembers."""
        return WholePicture(*frame_buffer(self.in_scene, self.state))

    @cached_property
    def coded(self) -> State:
        """The state with the quantiser that the stream finds on the whole picture, if it has a
        codec.

        Raises
        ------
        InputError
            If the codec is not installed.
        """
        if self.in_scene.camera.stream.codec == "none":
            return self.state
        return with_quantiser(self.in_scene, self.state, self.whole.rates, seed=self.seed)[0]

    @cached_property
    def traces(self) -> RelitTraces:
        """Traced layers of the target's part of the picture under this session's light."""
        return self._traces("")

    @cached_property
    def others(self) -> dict[str, Traces]:
        """The same with other texts on the target's board, by text."""
        if not isinstance(self.target, JudgedText):
            return {}
        return {text: self._traces(text) for text in random_texts(self.target, TEXTS, self.seed)}

    def traces_of(self, variant: str) -> RelitTraces:
        """Traced layers of the target's part of the picture with somebody else, or nobody, in its
        place: `variant` names who."""
        return self._traces("", variant)

    def _traces(self, text: str, variant: str = "") -> RelitTraces:
        world = (self.mounted.written or self.mounted).world
        room_px = self._room_px if self.strengths else 0
        return self.layers.traces(world, self._apart, shown=text, variant=variant, room_px=room_px)

    @property
    def _apart(self) -> list[str]:
        """Owners of lights that stand at a strength of their own."""
        owners = {light.owner for light in self.mounted.world.lights}
        openings = [one.opening for one in self.mounted.world.openings]
        held = {o.name for o in openings if o.luminance_ratio is not None}
        strengths = {self.strengths.get(owner, 1.0) for owner in owners - held}
        if not self.strengths or len(strengths) == 1:
            # what all changes alike goes together, so that it is traced once; openings at a ratio
            # to what they light follow
            return []
        return sorted({*self.strengths, *held})

    @property
    def _room_px(self) -> int:
        """How much the target's part of the picture grows at the longest shutter [px]."""
        card, longest = self.target.card, self.camera.model.exposure.shutter_max_s
        now, most = (
            float(np.abs(self.in_scene.smear_px(shutter, card.centre_m)).max())
            for shutter in (self.state.exposure.shutter_s, longest)
        )
        return int(min(max(0.0, most - now) + 1.0, MOST_ROOM_PX))

    @property
    def motion_blur_px(self) -> float:
        """Movement of the target on the picture during the exposure [px]."""
        card = self.target.card
        smear = self.in_scene.smear_px(self.state.exposure.shutter_s, card.centre_m)[card.group]
        return float(np.hypot(*smear))
