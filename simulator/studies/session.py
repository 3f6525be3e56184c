"""One scene before one camera, settled: what every study judges, opened in one place.

A session fixes the moment that is judged. The target stands where the scene file puts it, and the
frames of a rolling shutter take their moment from the target's own row. Exposure, target, the light
of the whole picture and the quantiser of the stream are found when they are first asked for, and
kept.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from simulator.camera.auto_exposure import State, as_exposed, settle_exposure
from simulator.camera.frame_buffer import frame_buffer
from simulator.camera.in_scene import CameraInScene, Mode, place_camera
from simulator.camera.light_field import Light
from simulator.camera.load import Camera
from simulator.camera.model import CameraModel
from simulator.camera.recording import with_quantiser
from simulator.camera.rolling import with_row_zero
from simulator.judge.parts import judged_part
from simulator.judge.target import JudgedTarget, find_target, find_text
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.scene.model import SceneModel, Target
from simulator.scene.world import World
from simulator.units import Image


class WholePicture(NamedTuple):
    """Light of the whole picture: of the frames that the camera remembers, oldest first and the
    shown one last (rows, columns, 3) [e-/s per pixel], and all of the shown one."""

    rates: list[Image]
    light: Light


def judged_entry(scene: SceneModel) -> Target:
    """The entry of a scene's file that its task asks about."""
    return next(target for target in scene.target if target.name == scene.task.target)


def placed(scene: SceneModel, camera: CameraModel, *, world: World | None = None) -> CameraInScene:
    """A camera mounted in its scene, its iris open, its frames timed by the judged target's row.

    Parameters
    ----------
    world
        The world of this scene, if it is built already.

    Raises
    ------
    InputError
        For a scene that cannot be built.
    """
    world = build_world(scene) if world is None else world
    return with_row_zero(place_camera(world, scene.station, camera), scene.task.target)


@dataclass(frozen=True)
class Session:
    """A scene before a camera; `open_session` makes it.

    Attributes
    ----------
    mounted
        The camera in its scene with its iris open, as it meters.
    seed
        Steers all noise.
    mode
        Day or night, if it is forced; otherwise the camera decides.
    before
        The mode in which the camera stays between its thresholds.
    """

    scene: Scene
    camera: Camera
    mounted: CameraInScene
    seed: int = 0
    mode: Mode | None = None
    before: Mode = "day"

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

    @property
    def motion_blur_px(self) -> float:
        """Movement of the target on the picture during the exposure [px]."""
        card = self.target.card
        smear = self.in_scene.smear_px(self.state.exposure.shutter_s, card.centre_m)[card.group]
        return float(np.hypot(*smear))


def open_session(
    scene: Scene, camera: Camera, *, seed: int = 0, world: World | None = None
) -> Session:
    """Open a scene before a camera.

    Parameters
    ----------
    scene, camera
        What stands there, and what looks at it.
    seed
        Steers every random draw.
    world
        The world of this scene, if it is built already.

    Returns
    -------
    Session
        The scene before the camera; exposure, target and light are found when they are asked for.

    Raises
    ------
    InputError
        For a scene that cannot be built. What is asked of the session may raise more.

    Examples
    --------
    >>> from simulator import Camera, Scene, open_session
    >>> at = open_session(Scene.load("yard-noon"), Camera.load("fixed-2mp-lowlight"))
    >>> at.state.mode
    'day'
    """
    scene, camera = Scene.of(scene, "scene"), Camera.of(camera, "camera")
    return Session(scene, camera, placed(scene.model, camera.model, world=world), seed)
